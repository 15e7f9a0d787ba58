"""Answers what would happen if: other figures, a price to reach, a tool to buy. Stores nothing."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.recipes.recipe import Recipe
from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import cost_of
from pricing.calc.price.price import JobPrice, price_at, price_for
from pricing.calc.quantities.every_quantity import EveryQuantity, every_quantity_of
from pricing.calc.what_if.attack import Attack, attack_list
from pricing.calc.what_if.break_even import BreakEven, tool_break_even
from pricing.calc.what_if.changes import JobChange, changed
from pricing.calc.what_if.targets import (
    Floors,
    Target,
    floors_of,
    margin_for,
    minutes_for,
    quantity_for,
    size_for,
    unit_cost_for,
    wage_for,
)
from pricing.costs.services import Answer

QUANTITIES_TO = 250


@dataclass(frozen=True, slots=True)
class Changed:
    """The answer with the change made, and what today's price would then leave.

    `kept` is None when nothing is asked today.
    """

    answer: Answer
    kept: JobPrice | None


def answer_with(answer: Answer, change: JobChange) -> Changed:
    """Cost and price the same ask with a change; sheets are planned at most once.

    A cost that cannot be worked out is refused; a margin no price can reach is told in the answer.
    """
    recipe, rates, channel = changed(answer.recipe, answer.rates, answer.channel, change)
    ask = answer.ask
    cost = cost_of(recipe, ask, rates, sheet_planner())
    price, refusal = None, None
    try:
        price = price_for(cost, ask, channel, rates)
    except Refusal as no:
        refusal = no
    kept = None
    if answer.price is not None:
        kept = price_at(answer.price.price_each, cost, ask, channel, rates)
    return Changed(Answer(ask, recipe, rates, channel, cost, price, refusal), kept)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to a wanted price: what would have to be, or why it cannot be."""

    label: str
    target: Target | None
    why_not: str = ""


def ways_to(answer: Answer, wanted_each: Decimal) -> tuple[Way, ...]:
    """Return every way to a wanted price of one, each by itself.

    The three steps and the three materials that cost most are tried, then wage, margin, quantity
    and size. Refused when no price can be asked.
    """
    price, job, rates = _priced(answer), answer.cost, answer.rates
    ways: list[tuple[str, Callable[[], Target]]] = []
    attacks = attack_list(job, price, rates)
    steps = [one.label for one in attacks if one.key.startswith("step.")][:3]
    for name in dict.fromkeys(steps):
        ways.append((f"Minutes of “{name}”", _minutes_way(name, wanted_each, answer, price)))
    dear = sorted(
        (one for one in attacks if one.key.startswith(("sheet.", "use."))),
        key=lambda one: -one.cost,
    )
    for one in dear[:3]:
        role = one.key.partition(".")[2]
        ways.append((f"Price of {one.label}", _material_way(role, wanted_each, answer, price)))
    ways += [
        ("Your hourly wage", lambda: wage_for(wanted_each, job, price, rates)),
        ("Your margin", lambda: margin_for(wanted_each, job, price)),
        ("Bought at once", lambda: _quantity_way(wanted_each, answer)),
        ("Size of every piece", lambda: size_for(wanted_each, answer.recipe, _pricer(answer))),
    ]
    return tuple(_try(label, find) for label, find in ways)


def _minutes_way(
    name: str, wanted: Decimal, answer: Answer, price: JobPrice
) -> Callable[[], Target]:
    return lambda: minutes_for(wanted, name, answer.cost, price, answer.rates)


def _material_way(
    role: str, wanted: Decimal, answer: Answer, price: JobPrice
) -> Callable[[], Target]:
    return lambda: unit_cost_for(wanted, role, answer.cost, price)


def _quantity_way(wanted: Decimal, answer: Answer) -> Target:
    return replace(quantity_for(wanted, _every_quantity(answer)), now=Decimal(answer.ask.bought))


def _try(label: str, find: Callable[[], Target]) -> Way:
    try:
        return Way(label, find())
    except Refusal as refusal:
        return Way(label, None, refusal.message)


def _priced(answer: Answer) -> JobPrice:
    if answer.price is None:
        raise answer.no_price or Refusal("No price is possible.")
    return answer.price


def _every_quantity(answer: Answer) -> EveryQuantity:
    return every_quantity_of(
        answer.recipe,
        answer.ask,
        answer.channel,
        answer.rates,
        sheet_planner(),
        up_to=max(QUANTITIES_TO, answer.ask.quantity),
    )


def _pricer(answer: Answer) -> Callable[[Recipe], Decimal]:
    plan_sheets: PlanSheets = sheet_planner()

    def price_of(recipe: Recipe) -> Decimal:
        cost = cost_of(recipe, answer.ask, answer.rates, plan_sheets)
        return price_for(cost, answer.ask, answer.channel, answer.rates).price_each

    return price_of


def floors(answer: Answer) -> Floors:
    """Return floor, walk-away price and bills only. Refused when no price can be asked."""
    return floors_of(answer.cost, _priced(answer), answer.rates)


def attacks(answer: Answer) -> tuple[Attack, ...]:
    """Return what to make cheaper first. Refused when no price can be asked."""
    return attack_list(answer.cost, _priced(answer), answer.rates)


def tool_pays(
    answer: Answer, *, price: Decimal, minutes: Decimal, saved_cost: Decimal
) -> BreakEven:
    """Return after how many pieces a tool has paid for itself. Refused when it never does."""
    return tool_break_even(
        price, saved_minutes_each=minutes, saved_cost_each=saved_cost, rates=answer.rates
    )
