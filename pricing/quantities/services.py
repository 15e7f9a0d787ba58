"""Works out the ladder of a design, and puts rows of it on the price list."""

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.sheet_plans.services import sheet_planner
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.quantities.ladder import Ladder, Rung, asked_for, ladder_of
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates
from pricing.prices.models import PriceListEntry
from pricing.prices.services import ask_prices, refuse_below_lowest, work_out_price


@dataclass(frozen=True, slots=True)
class WorkedLadder:
    """A ladder with the rates it was worked out with."""

    ladder: Ladder
    rates: WorkshopRates
    channel: ChannelRates


def ladder_for(
    *,
    version: DesignVersion,
    workshop: Workshop,
    ask: Ask,
    channel: Channel | None,
    colourway: Colourway | None,
    up_to: int,
) -> WorkedLadder:
    """Cost and price every quantity; refused as the cost page refuses, for any of them."""
    recipe = recipe_values(version, workshop, colourway=colourway)
    rates, values = workshop_rates(workshop), channel_rates(channel)
    ask = ask.sold_through(values)
    ladder = ladder_of(recipe, ask, values, rates, sheet_planner(), up_to=up_to)
    return WorkedLadder(ladder, rates, values)


def list_rungs(ladder: Ladder, steps: Sequence[int]) -> list[Rung]:
    """Return the rungs of a short list: the quantities wanted that are on the ladder."""
    first, last = ladder.rungs[0].quantity, ladder.rungs[-1].quantity
    return [ladder.rung(step) for step in steps if first <= step <= last]


def publish(
    *,
    ladder: Ladder,
    rungs: Sequence[Rung],
    version: DesignVersion,
    workshop: Workshop,
    channel: Channel,
    ask: Ask,
    colourway: Colourway | None,
    by: User,
    below_is_meant: bool = False,
) -> list[PriceListEntry]:
    """Ask the published prices of these rungs from their quantities on, all or none.

    Each is kept with the cost of its own quantity. Refused as `work_out_price` and `ask_prices`,
    and when a price is below the lowest of any quantity it holds for, unless that is meant.
    """
    for held in ladder.short_list(rungs):
        if held.highest_floor is not None and not below_is_meant:
            refuse_below_lowest(version.design, held.price_each, held.highest_floor)
    plan_sheets, ask = sheet_planner(), ask.sold_through(channel_rates(channel))
    worked = [
        work_out_price(
            version=version,
            workshop=workshop,
            channel=channel,
            ask=asked_for(ask, rung.quantity),
            price=rung.price_each,
            colourway=colourway,
            plan_sheets=plan_sheets,
        )
        for rung in rungs
    ]
    return ask_prices(worked=worked, by=by, below_is_meant=below_is_meant)
