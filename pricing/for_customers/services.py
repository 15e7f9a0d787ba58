"""Works out what a customer may hear of a price. Stores nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import cost_of
from pricing.calc.papers.defence import Defence, defence_of
from pricing.calc.price.price import price_at, price_for
from pricing.calc.quantities.every_quantity import asked_for
from pricing.costs.services import Answer
from pricing.prices.inputs import price_at_quantity
from pricing.prices.models import PriceListEntry

MOST_OFFERS = 3


@dataclass(frozen=True, slots=True)
class CustomerOffer:
    """The price of one, as shown, when so many are bought."""

    quantity: int
    price_each: Decimal


@dataclass(frozen=True, slots=True)
class Explained:
    """A price as one buyer may hear it; the only money in it is what that buyer pays.

    `is_listed`: it is the one of the price list.
    """

    defence: Defence
    price_each: Decimal
    total: Decimal
    tax: Decimal
    tax_rate: Decimal
    prices_include_tax: bool
    offers: tuple[CustomerOffer, ...]
    is_listed: bool


def explain_price(
    *,
    answer: Answer,
    asked_price: Decimal | None,
    listed: Sequence[PriceListEntry],
    steps: Sequence[int],
) -> Explained:
    """Return what may be told of a price: one that is named, else the list's, else worked out.

    `listed` are the item's prices on the list; those for more that lower the price of one are
    offered. Where the list has none, `steps` are the quantities to offer, at what a quote would
    say. Refused when no price can be asked.
    """
    price = answer.price
    entry = price_at_quantity(listed, answer.ask.bought)
    is_listed = asked_price is None and entry is not None
    if entry is not None and asked_price is None:
        asked_price = entry.price
    if asked_price is not None:
        price = price_at(asked_price, answer.cost, answer.ask, answer.channel, answer.rates)
    if price is None:
        raise answer.no_price or Refusal("No price is possible.")
    return Explained(
        defence=defence_of(answer.cost, answer.ask.bought),
        price_each=price.price_each,
        total=price.sales[0].totals.gross,
        tax=price.sales[0].totals.tax,
        tax_rate=answer.rates.tax_rate,
        prices_include_tax=answer.rates.prices_include_tax,
        offers=_offers(answer, price.price_each, listed, steps),
        is_listed=is_listed,
    )


def _offers(
    answer: Answer,
    price_each: Decimal,
    listed: Sequence[PriceListEntry],
    steps: Sequence[int],
) -> tuple[CustomerOffer, ...]:
    """Return larger quantities with a lower price of one: the list's, else as worked out."""
    asked = answer.ask.bought
    if not steps:
        return ()
    if listed:
        larger = [(each.bought_at_once, each.price) for each in listed]
    else:
        larger = _worked_out(answer, [step for step in sorted(steps) if step > asked])
    return tuple(
        CustomerOffer(quantity, price)
        for quantity, price in larger
        if quantity > asked and price < price_each
    )[:MOST_OFFERS]


def _worked_out(answer: Answer, quantities: Sequence[int]) -> list[tuple[int, Decimal]]:
    plan_sheets, found = sheet_planner(), []
    for quantity in quantities[:MOST_OFFERS]:
        ask = asked_for(answer.ask, quantity)
        try:
            cost = cost_of(answer.recipe, ask, answer.rates, plan_sheets)
            price = price_for(cost, ask, answer.channel, answer.rates)
        except Refusal:
            # one that cannot be made is no reason to hide the rest
            continue
        found.append((quantity, price.price_each))
    return found
