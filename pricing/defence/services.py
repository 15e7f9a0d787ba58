"""Works out what a customer may hear of a price. Stores nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.cutting.services import sheet_planner
from maker.calc.refusal import Refusal
from pricing.calc.defence import Defence, defence_of
from pricing.calc.ladder import ladder_of
from pricing.calc.price import price_at
from pricing.costs.services import Answer

# beyond this a ladder takes longer than a page should
LARGEST_LADDER = 1_000
MOST_OFFERS = 3


@dataclass(frozen=True, slots=True)
class Offer:
    """The price of one, as shown, when so many are bought."""

    quantity: int
    price_each: Decimal


@dataclass(frozen=True, slots=True)
class Explained:
    """A price as a customer may hear it; the only money in it is what she pays."""

    defence: Defence
    price_each: Decimal
    total: Decimal
    tax: Decimal
    tax_rate: Decimal
    prices_include_tax: bool
    offers: tuple[Offer, ...]


def explain_price(
    *, answer: Answer, asked_price: Decimal | None, steps: Sequence[int]
) -> Explained:
    """Return what may be told of an answer's price, or of one she names.

    `steps` are the quantities to offer; those that lower the price of one are told. Refused when
    no price can be asked.
    """
    price = answer.price
    if asked_price is not None:
        price = price_at(asked_price, answer.cost, answer.ask, answer.channel, answer.rates)
    if price is None:
        raise answer.no_price or Refusal("No price can be asked.")
    return Explained(
        defence=defence_of(answer.cost),
        price_each=price.price_each,
        total=price.total,
        tax=price.tax,
        tax_rate=answer.rates.tax_rate,
        prices_include_tax=answer.rates.prices_include_tax,
        offers=_offers(answer, price.price_each, steps),
    )


def _offers(answer: Answer, price_each: Decimal, steps: Sequence[int]) -> tuple[Offer, ...]:
    """Return larger quantities with a lower price of one, as the published ladder has them."""
    asked = answer.ask.quantity
    wanted = [step for step in sorted(steps) if asked < step <= LARGEST_LADDER][:MOST_OFFERS]
    if not wanted:
        return ()
    try:
        ladder = ladder_of(
            answer.recipe,
            answer.ask,
            answer.channel,
            answer.rates,
            sheet_planner(),
            up_to=wanted[-1],
        )
        rungs = [ladder.rung(step) for step in wanted]
    except Refusal:
        # a quantity on the way that cannot be made is no reason to hide the rest
        return ()
    return tuple(
        Offer(rung.quantity, rung.price_each) for rung in rungs if rung.price_each < price_each
    )
