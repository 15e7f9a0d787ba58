"""Lays a design's channels side by side. Stores nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost, cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.price.channel_comparison import (
    Comparison,
    at_one_price,
    at_own_prices,
    for_same_profit,
    shelf_price,
)
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.services import Answer


@dataclass(frozen=True, slots=True)
class SideBySide:
    """The same job in every channel: at one price, at its own price, and for the same profit."""

    customer_each: Decimal
    one_price: Comparison
    own_prices: Comparison
    same_profit: Comparison
    profit: Decimal


def compare_channels(
    *, answer: Answer, channels: Sequence[Channel], customer_each: Decimal | None
) -> SideBySide:
    """Compare the channels, `with_tiers()`, by what they leave of an answer's job.

    Refused when no price is named and the answer's own channel has none.
    """
    rates = [channel_rates(channel) for channel in channels] or [answer.channel]
    if customer_each is None:
        if answer.price is None:
            raise answer.no_price or Refusal("No price is possible.")
        customer_each = shelf_price(answer.price.price_each, answer.channel, answer.rates)
    profit = answer.price.profit if answer.price else Decimal(0)
    plan_sheets, costs = sheet_planner(), {answer.ask.bought: answer.cost}

    def cost_for(asked: Ask) -> JobCost:
        if asked.bought not in costs:
            costs[asked.bought] = cost_of(answer.recipe, asked, answer.rates, plan_sheets)
        return costs[asked.bought]

    job = (cost_for, answer.ask, rates, answer.rates)
    return SideBySide(
        customer_each=customer_each,
        one_price=at_one_price(customer_each, *job),
        own_prices=at_own_prices(*job),
        same_profit=for_same_profit(profit, *job),
        profit=profit,
    )
