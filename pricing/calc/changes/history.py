"""Why a price changed: from the old one to the new one in steps that add up to the cent.

One ingredient after another is put in place of the old one and the job priced again: the price of
each material, its use, wear, packing, minutes, wage, overhead, fees, commission, tax, margin, rush.
What a step changes depends on what was changed before it (a sheet that costs more matters more at
a higher margin), so the order is fixed and said. The last step is what rounding to price steps, or
a price she named herself, adds on both sides.

In cents each step is the difference of the rounded prices before and after it; such differences
add up whatever was rounded.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc import sums
from maker.calc.explanation import Line, sum_line
from maker.calc.money import to_minor, up_to_step, with_working_precision
from pricing.calc.changes.history_states import PriceState, states_between
from pricing.calc.price.ingredients import Ingredients
from pricing.calc.price.terms import ImpossibleMargin, terms_at_any_price

ZERO = Decimal(0)
# the last of 34 digits may differ when the same cost is shared over another quantity
_NOTHING = Decimal("1e-20")
_ORDER = "changes are applied in this order"


@dataclass(frozen=True, slots=True)
class PriceStep:
    """One cause. `change` is in whole minor units (of a total: exact), `exact` unrounded."""

    key: str
    label: str
    how: sums.How | str
    change: Decimal
    exact: Decimal


@dataclass(frozen=True, slots=True)
class History:
    """From an old figure to a new one; the changes of the steps add up to the difference."""

    old: Decimal
    new: Decimal
    steps: tuple[PriceStep, ...]
    line: Line

    @property
    def change(self) -> Decimal:
        """New - old."""
        return self.new - self.old


@with_working_precision
def price_history(
    old: Ingredients, new: Ingredients, *, with_options: Ingredients | None = None
) -> History:
    """Return the price history between two prices of one piece, as shown.

    Two dates, two versions, two quantities or two quotes: whatever the ingredients came from.
    `with_options` is the old job with the new choices, at old prices and rates; with it the
    choices are a step of their own, without it they show in the materials and minutes they take.
    Errors: ImpossibleMargin, when either of the two prices has no sum behind it.
    """
    digits = new.rates.currency_digits
    steps = [
        PriceStep(
            state.key,
            state.label,
            state.how,
            to_minor(after, digits) - to_minor(before, digits),
            after - before,
        )
        for state, before, after in _walk(old, new, with_options, lambda side: side.price_exact)
    ]
    steps = [step for step in steps if step.change or abs(step.exact) > _NOTHING]
    exact_change = new.price_each - old.price_each - (new.price_exact - old.price_exact)
    change = new.price_each - old.price_each - sum((step.change for step in steps), ZERO)
    if change or abs(exact_change) > _NOTHING:
        steps.append(PriceStep("rounding", *_say_rounding(old, new), change, exact_change))
    return _history("price each", old.price_each, new.price_each, steps)


@with_working_precision
def cost_history(
    old: Ingredients, new: Ingredients, *, with_options: Ingredients | None = None
) -> History:
    """Return the price history between the net costs of one good piece; nothing is rounded."""
    steps = [
        PriceStep(state.key, state.label, state.how, after - before, after - before)
        for state, before, after in _walk(old, new, with_options, lambda side: side.cost_each)
        if abs(after - before) > _NOTHING
    ]
    return _history("cost each", old.cost_each, new.cost_each, steps)


@with_working_precision
def total_history(
    old: Ingredients, new: Ingredients, *, with_options: Ingredients | None = None
) -> History:
    """Return the price history between two totals to pay, delivery and tax included.

    More or fewer pieces are counted at the old price of one, every other step for the new
    quantity; then delivery and, where prices are shown without it, tax on top.
    """
    of_one = price_history(old, new, with_options=with_options)
    before, after = old.left_at(old.price_each), new.left_at(new.price_each)
    steps = []
    if new.quantity != old.quantity:
        more = (new.quantity - old.quantity) * old.price_each
        counts = sums.say("{} instead of {}", sums.number(new.quantity), sums.number(old.quantity))
        how = counts * sums.money(old.price_each)
        steps.append(
            PriceStep("pieces", "more items" if more > 0 else "fewer items", how, more, more)
        )
    steps += [
        replace(step, change=step.change * new.quantity, exact=step.exact * new.quantity)
        for step in of_one.steps
    ]
    for key, label, was, now in (
        ("delivery", "delivery", _delivery(old), _delivery(new)),
        ("tax_on_top", "tax added", _tax_on_top(old, before.tax), _tax_on_top(new, after.tax)),
    ):
        if now != was:
            how = sums.say("{} instead of {}", sums.money(now), sums.money(was))
            steps.append(PriceStep(key, label, how, now - was, now - was))
    return _history("total to pay", before.total, after.total, steps)


def _delivery(side: Ingredients) -> Decimal:
    terms = terms_at_any_price(side.ask, side.channel, side.rates)
    each = terms.delivery_gross if side.rates.prices_include_tax else terms.delivery
    return terms.sales * each


def _tax_on_top(side: Ingredients, tax: Decimal) -> Decimal:
    return ZERO if side.rates.prices_include_tax else tax


def _history(label: str, old: Decimal, new: Decimal, steps: list[PriceStep]) -> History:
    lines = [
        Line(step.label, step.change, "money", step.how, f"history.{step.key}") for step in steps
    ]
    return History(
        old,
        new,
        tuple(steps),
        Line(
            label,
            new,
            "money",
            sums.say("from {}", sums.money(old)),
            "history",
            (
                Line("before", old, "money"),
                sum_line("what changed", lines, unit="money", key="history.change", how=_ORDER),
            ),
        ),
    )


def _say_rounding(old: Ingredients, new: Ingredients) -> tuple[str, sums.How | str]:
    named = [
        said
        for said, side in (("old", old), ("new", new))
        if side.price_each != up_to_step(side.price_exact, side.terms.step)
    ]
    if named:
        return "you set this price yourself", " and ".join(named)
    return "rounding up", sums.say("up to {}", sums.money(new.terms.step))


def _walk(
    old: Ingredients,
    new: Ingredients,
    with_options: Ingredients | None,
    value_of: Callable[[Ingredients], Decimal],
) -> Iterator[tuple[PriceState, Decimal, Decimal]]:
    """Yield each change with the value before and after it.

    A state in between may leave nothing for the cost (a fee that rose before the margin fell);
    its change is then told together with the next one.
    """
    before = value_of(old)
    waiting: PriceState | None = None
    for state in states_between(old, new, with_options):
        if waiting is not None:
            state = replace(
                state,
                key=f"{waiting.key}+{state.key}",
                label=f"{waiting.label} and {state.label}",
                how=sums.say("{}; {}", waiting.how, state.how),
            )
        try:
            after = value_of(state.ingredients)
        except ImpossibleMargin:
            waiting = state
            continue
        waiting = None
        yield state, before, after
        before = after
