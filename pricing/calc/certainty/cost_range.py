"""How sure a price is: the cost in one of ten good and one of ten bad cases, and what then is left.

The minutes of a step are an estimate. If it is wrong it is wrong for every piece alike, so the
error grows with the number of pieces and does NOT average out over them. The estimates of two
steps are taken as independent, so their spreads add as squares. The cost is taken as normal, which
the sum of a few such estimates is nearly; one case in ten lies more than 1.2816 spreads below (or
above) the expected cost (`statistics.NormalDist().inv_cdf(0.9)`).
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from statistics import NormalDist

from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import HAIR, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.certainty.pert import expected, spread, three_points
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.minutes import StepMinutes
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.price.price import JobPrice, least_price
from pricing.calc.price.terms import terms_at_any_price

ZERO = Decimal(0)
ONE_IN_TEN = Decimal("1.2816")
_FOUR_PLACES = Decimal("0.0001")


class NoSuchChance(Refusal):
    """Nothing is certain: a chance lies between 0 and 1."""


@dataclass(frozen=True, slots=True)
class StepRange:
    """One estimated step. `mean` and `spread` are minutes of one count; the rest is for the job.

    `doubt_share` is its share of the variance of the job, 0 to 1: what timing it would clear up.
    """

    name: str
    mean: Decimal
    spread: Decimal
    job_shift: Decimal
    job_spread: Decimal
    doubt_share: Decimal
    line: Line


@dataclass(frozen=True, slots=True)
class CostRange:
    """A cost and a price with a range: `low` is one case in ten below, `high` one in ten above.

    Costs are net, of the whole job; prices are of one, as shown, before rounding, and keep the
    wanted margin at that cost. Margins are those at the quoted price (None at a price of nothing).
    `steps` come with the greatest doubt first; steps without low and high have no spread.
    """

    steps: tuple[StepRange, ...]
    extra_minutes: Decimal
    spread_minutes: Decimal
    cost_likely: Decimal
    cost_expected: Decimal
    cost_spread: Decimal
    cost_low: Decimal
    cost_high: Decimal
    price_low: Decimal
    price_expected: Decimal
    price_high: Decimal
    margin_expected: Decimal | None
    margin_bad: Decimal | None
    line: Line

    @property
    def is_certain(self) -> bool:
        """Whether no step has a low and a high value."""
        return not self.cost_spread


@with_working_precision
def cost_range_of(job_cost: JobCost, price: JobPrice, rates: WorkshopRates) -> CostRange:
    """Return the range of a job's cost and price; `price` is the quoted one.

    Refuses a low value above the likely one and a high value below it (BadEstimate), and a wanted
    margin that leaves nothing for the cost.
    """
    if price.terms.kept <= 0:
        raise Refusal("This margin leaves nothing for cost, so no price can reach it.")
    steps = _step_ranges(job_cost.work.steps)
    rate = (rates.wage_per_hour + rates.overhead_per_hour) / 60
    extra = sum((step.job_shift for step in steps), ZERO)
    minutes_spread = sum((step.job_spread**2 for step in steps), ZERO).sqrt()
    mid, cost_spread = job_cost.cost + extra * rate, minutes_spread * rate
    low, high = mid - ONE_IN_TEN * cost_spread, mid + ONE_IN_TEN * cost_spread
    needed = [price.terms.shown_each(cost, job_cost.quantity) for cost in (low, mid, high)]
    margins = [
        (price.net - price.fees - cost) / price.net if price.net else None for cost in (mid, high)
    ]
    per_piece = sum((step.spread**2 for step in steps), ZERO).sqrt()
    lines = (
        *(step.line for step in steps),
        Line(
            "expected minutes, one of each step",
            sum((s.mean for s in steps), ZERO),
            "min",
            key="b.mean",
        ),
        Line(
            "spread of the expected minutes", per_piece, "min", "root of the sum of squares", "b.sd"
        ),
        Line("extra minutes expected in the batch", extra, "min", "expected - likely", "b.shift"),
        Line(
            "spread of the batch's minutes",
            minutes_spread,
            "min",
            "root of the sum of squares; it does not shrink in a larger batch",
            "b.sdjob",
        ),
        Line(
            "expected cost",
            mid,
            "money",
            sums.money(job_cost.cost) + sums.number(extra) * sums.money(rate),
            "b.cost",
        ),
        *_cost_lines(low, high, cost_spread),
        *_price_lines(needed, margins),
    )
    return CostRange(
        steps=steps,
        extra_minutes=extra,
        spread_minutes=minutes_spread,
        cost_likely=job_cost.cost,
        cost_expected=mid,
        cost_spread=cost_spread,
        cost_low=low,
        cost_high=high,
        price_low=needed[0],
        price_expected=needed[1],
        price_high=needed[2],
        margin_expected=margins[0],
        margin_bad=margins[1],
        line=Line("range of the cost", cost_spread, "money", "one spread", "b", lines),
    )


def _step_ranges(done: tuple[StepMinutes, ...]) -> tuple[StepRange, ...]:
    estimates = []
    for each in done:
        step = each.step
        points = three_points(step.minutes, step.minutes_low, step.minutes_high, where=step.name)
        if not points.is_certain and each.factor:
            estimates.append((each, points))
    doubt = sum(((each.factor * spread(points)) ** 2 for each, points in estimates), ZERO)
    step_ranges = []
    for each, points in estimates:
        mean, deviation, name = expected(points), spread(points), each.step.name
        low, likely, high = map(sums.number, (points.low, points.likely, points.high))
        six = sums.number(6)
        lines = (
            Line(
                f"{name}: expected minutes",
                mean,
                "min",
                (low + sums.number(4) * likely + high) / six,
                f"b.{name}.mean",
            ),
            Line(f"{name}: spread", deviation, "min", (high - low) / six, f"b.{name}.sd"),
        )
        job_spread = each.factor * deviation
        source = ("step", each.step.id) if each.step.id is not None else None
        step_ranges.append(
            StepRange(
                name=name,
                mean=mean,
                spread=deviation,
                job_shift=each.factor * (mean - points.likely),
                job_spread=job_spread,
                doubt_share=job_spread**2 / doubt,
                line=Line(name, job_spread, "min", "spread in the batch", "", lines, source),
            )
        )
    return tuple(sorted(step_ranges, key=lambda cost_range: -cost_range.job_spread))


def _cost_lines(low: Decimal, high: Decimal, cost_spread: Decimal) -> tuple[Line, ...]:
    mid, spreads = sums.literal("expected"), sums.factor(ONE_IN_TEN) * sums.money(cost_spread)
    return (
        Line("cost, 10% chance lower", low, "money", mid - spreads, "b.lo"),
        Line("cost, 10% chance higher", high, "money", mid + spreads, "b.hi"),
    )


def _price_lines(needed: list[Decimal], margins: list[Decimal | None]) -> tuple[Line, ...]:
    names = (("lo", "1 in 10 best"), ("mid", "expected"), ("hi", "1 in 10 worst"))
    lines = [
        Line(
            f"price each that keeps the margin at the {said} cost",
            _four(value),
            "money",
            "before rounding",
            f"b.unit.{key}",
        )
        for (key, said), value in zip(names, needed, strict=True)
    ]
    for (key, said), margin in zip(names[1:], margins, strict=True):
        if margin is not None:
            label = f"margin at the quoted price and the {said} cost"
            lines.append(Line(label, _four(margin), "share", "", f"b.margin.{key}"))
    return tuple(lines)


def _four(value: Decimal) -> Decimal:
    return value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)


@with_working_precision
def chance_of_wage(cost_range: CostRange, price: JobPrice) -> Decimal:
    """Return the chance that the price pays wage, overhead and bills, 0 to 1, four decimals.

    That is the chance that net - fees is not below the cost, whose wage is a part of it.
    """
    return _four(_chance(cost_range, price))


def _chance(cost_range: CostRange, price: JobPrice) -> Decimal:
    left = price.net - price.fees - cost_range.cost_expected
    if cost_range.is_certain:
        return Decimal(1) if left >= -HAIR else ZERO
    return Decimal(NormalDist().cdf(float(left / cost_range.cost_spread)))


@with_working_precision
def price_for_chance(
    chance: Decimal,
    cost_range: CostRange,
    job_cost: JobCost,
    ask: Ask,
    channel: ChannelRates,
    rates: WorkshopRates,
) -> JobPrice:
    """Return the lowest price, in whole price steps, that pays her wage with this chance.

    The price asks for no margin: it is the floor at the cost that is not exceeded with that
    chance. Refuses a chance that is not between 0 and 1 (NoSuchChance).
    """
    if not 0 < chance < 1:
        raise NoSuchChance("A chance must be above 0% and below 100%.", where="chance")
    terms = terms_at_any_price(ask, channel, rates)
    spreads = Decimal(NormalDist().inv_cdf(float(chance)))
    cost = cost_range.cost_expected + spreads * cost_range.cost_spread
    net = (cost + terms.settled_fixed_fees) / terms.kept_at_floor

    def is_enough(price: JobPrice) -> bool:
        return _chance(cost_range, price) >= chance

    return least_price(net, is_enough, job_cost, ask, channel, rates)
