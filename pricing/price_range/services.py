"""Works out how sure the price of one ask is. Stores nothing."""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc.refusal import Refusal
from pricing.calc.certainty.cost_range import (
    CostRange,
    chance_of_wage,
    cost_range_of,
    price_for_chance,
)
from pricing.calc.certainty.spares import SpareChance, spare_chance
from pricing.calc.price.price import JobPrice, price_at
from pricing.costs.services import Answer


@dataclass(frozen=True, slots=True)
class Certainty:
    """The range of a job, the chance that the judged price pays her, and the price that does.

    `spares` is None where the recipe expects no rejects.
    """

    answer: Answer
    cost_range: CostRange
    judged: JobPrice
    chance: Decimal
    wanted: Decimal
    price_wanted: JobPrice
    spares: SpareChance | None


def certainty_of(*, answer: Answer, asked_price: Decimal | None, wanted: Decimal) -> Certainty:
    """Return how sure a price is; the worked-out one when none is named.

    Refused when no price can be asked, or a step's low, likely and high minutes are not in order.
    """
    price = answer.price
    if price is None:
        raise answer.no_price or Refusal("No price is possible.")
    job = (answer.cost, answer.ask, answer.channel, answer.rates)
    if asked_price is not None:
        price = price_at(asked_price, *job)
    cost_range = cost_range_of(answer.cost, price, answer.rates)
    return Certainty(
        answer=answer,
        cost_range=cost_range,
        judged=price,
        chance=chance_of_wage(cost_range, price),
        wanted=wanted,
        price_wanted=price_for_chance(wanted, cost_range, *job),
        spares=_spares(answer, wanted),
    )


def _spares(answer: Answer, wanted: Decimal) -> SpareChance | None:
    share = answer.recipe.reject_share
    if not share:
        return None
    parts = answer.cost.parts
    return spare_chance(parts.quantity, parts.spares, float(share), float(wanted))
