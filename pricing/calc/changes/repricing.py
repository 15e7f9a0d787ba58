"""Whether a price is still true: what it costs now, what is left, and what would put it right."""

import datetime
from calendar import monthrange
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from maker.calc import sums
from maker.calc.explanation import Line, shown
from maker.calc.money import HAIR, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.changes.history import PriceStep, cost_history
from pricing.calc.price.ingredients import Ingredients

ZERO = Decimal(0)
# common practice, no source: less than a twentieth is not worth a new price tag
THRESHOLD = Decimal("0.05")
_FOUR_PLACES = Decimal("0.0001")


class DifferentQuantities(Refusal):
    """A price can only be compared with the cost of as many pieces."""


class Trigger(StrEnum):
    """Why a price should be looked at again."""

    COST = "cost"
    TERMS = "terms"
    TIMING = "timing"
    AGE = "age"


@dataclass(frozen=True, slots=True)
class Repricing:
    """A price beside its cost of today. Money is for one piece: costs net, prices as shown.

    `cost_drift` is how much more it costs to make (below zero: less), `price_drift` the same for
    the price that keeps the wanted margin; both are shares, unrounded. `margin_then` and
    `margin_now` are what `price_each` really leaves of the net price, `price_needed` restores the
    wanted margin. `causes` add up to the change of the cost, the largest first.
    """

    price_each: Decimal
    cost_then: Decimal
    cost_now: Decimal
    cost_drift: Decimal
    price_drift: Decimal
    margin_then: Decimal | None
    margin_now: Decimal | None
    profit_now: Decimal
    price_needed: Decimal
    floor_now: Decimal
    is_below_floor: bool
    triggers: tuple[Trigger, ...]
    causes: tuple[PriceStep, ...]
    line: Line

    @property
    def is_off(self) -> bool:
        """Whether anything says that the price should be looked at again."""
        return bool(self.triggers)


@with_working_precision
def reprice(
    then: Ingredients,
    now: Ingredients,
    *,
    threshold: Decimal = THRESHOLD,
    margin: Decimal | None = None,
    timing_drift: Decimal = ZERO,
    timing_threshold: Decimal = Decimal("0.1"),
    is_old: bool = False,
) -> Repricing:
    """Lay a price beside the cost of today.

    `then` is what the price was set against, `now` the same job at today's costs, rates and terms.
    The price is off when the cost, or the price the wanted margin asks, moved by MORE than the
    threshold, up or down; when the minutes timed for its steps differ from those of the recipe by
    more than theirs (`timing_drift`, a share of the minutes); or when it is old. `margin` is the
    one to restore, the channel's when not given. Errors: DifferentQuantities, ImpossibleMargin.
    """
    _check_quantities(then, now)
    wanted = now if margin is None else _at_margin(now, margin)
    before = then if margin is None else _at_margin(then, margin)
    left, left_then = now.left_at(then.price_each), then.left_at(then.price_each)
    exact = wanted.price_exact
    cost_drift = _drift(then.cost_each, now.cost_each)
    price_drift = _drift(before.price_exact, exact)
    triggers = _triggers(
        cost_drift,
        price_drift,
        threshold=threshold,
        timing_drift=timing_drift,
        timing_threshold=timing_threshold,
        is_old=is_old,
    )
    history = cost_history(then, now)
    causes = tuple(sorted(history.steps, key=lambda step: -abs(step.exact)))
    needed = up_to_step(max(exact, left.floor_each), wanted.terms.step)
    return Repricing(
        price_each=then.price_each,
        cost_then=then.cost_each,
        cost_now=now.cost_each,
        cost_drift=cost_drift,
        price_drift=price_drift,
        margin_then=left_then.margin,
        margin_now=left.margin,
        profit_now=left.profit / now.quantity,
        price_needed=needed,
        floor_now=left.floor_each,
        is_below_floor=left.is_below_floor,
        triggers=triggers,
        causes=causes,
        line=_line(then, wanted, left.margin, needed, history.line),
    )


@with_working_precision
def triggers_of(
    then: Ingredients,
    now: Ingredients,
    *,
    threshold: Decimal = THRESHOLD,
    timing_drift: Decimal = ZERO,
    timing_threshold: Decimal = Decimal("0.1"),
    is_old: bool = False,
) -> tuple[Trigger, ...]:
    """Return the triggers `reprice` would find, without saying why: quick, for long lists.

    Errors: DifferentQuantities, ImpossibleMargin.
    """
    _check_quantities(then, now)
    return _triggers(
        _drift(then.cost_each, now.cost_each),
        _drift(then.price_exact, now.price_exact),
        threshold=threshold,
        timing_drift=timing_drift,
        timing_threshold=timing_threshold,
        is_old=is_old,
    )


def _triggers(
    cost_drift: Decimal,
    price_drift: Decimal,
    *,
    threshold: Decimal,
    timing_drift: Decimal,
    timing_threshold: Decimal,
    is_old: bool,
) -> tuple[Trigger, ...]:
    triggers = []
    # a drift of just the threshold is not more than it, whatever its last digit
    if abs(cost_drift) - threshold > HAIR:
        triggers.append(Trigger.COST)
    elif abs(price_drift) - threshold > HAIR:
        triggers.append(Trigger.TERMS)
    if abs(timing_drift) - timing_threshold > HAIR:
        triggers.append(Trigger.TIMING)
    if is_old:
        triggers.append(Trigger.AGE)
    return tuple(triggers)


def _check_quantities(then: Ingredients, now: Ingredients) -> None:
    if then.quantity != now.quantity:
        raise DifferentQuantities(
            f"The price is for {then.quantity} items and the cost for {now.quantity}.",
            where="quantity",
        )


def _at_margin(side: Ingredients, margin: Decimal) -> Ingredients:
    tier = replace(side.tier, margin=margin)
    return replace(side, channel=replace(side.channel, tiers=(tier,)))


def _drift(before: Decimal, after: Decimal) -> Decimal:
    """Return the change as a share; from nothing to something is all of it."""
    if not before:
        return Decimal(1) if after else ZERO
    return after / before - 1


def _line(
    then: Ingredients, now: Ingredients, margin: Decimal | None, needed: Decimal, cost: Line
) -> Line:
    lines = [cost, Line("current price", then.price_each, "money", key="reprice.price")]
    if margin is not None:
        four = margin.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
        left = "(net - fees - cost of today) / net"
        lines.append(Line("margin at the current price", four, "share", left, "reprice.margin"))
    exact, step = sums.money(now.price_exact), sums.money(now.terms.step)
    how = sums.say("{} rounded up to {}", exact, step)
    lines.append(
        Line(
            f"price that restores a margin of {shown(now.tier.margin * 100)}%",
            needed,
            "money",
            how,
            "reprice.needed",
        )
    )
    return Line(
        "price to review",
        needed - then.price_each,
        "money",
        "needed - current price",
        "reprice",
        tuple(lines),
    )


def is_due(set_on: datetime.date, on: datetime.date, after_months: int) -> bool:
    """Say whether a price set on one day is so many calendar months old on another.

    The last day of a shorter month stands for the days it lacks.
    """
    months = set_on.year * 12 + set_on.month - 1 + after_months
    year, month = divmod(months, 12)
    day = min(set_on.day, monthrange(year, month + 1)[1])
    return on >= datetime.date(year, month + 1, day)
