"""Works out the list of a design, and puts rows of it on the price list."""

import json
import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields

from django.core.cache import caches

from catalogue.calc.recipes.recipe import Recipe
from catalogue.calc.sheets.use import PlanSheets
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.sheet_plans.services import MoreToPlan, sheet_planner
from maker.accounts.models import User
from maker.calc.json_values import value_of, written
from maker.calc.strict_json import WrongJson, parse
from maker.slow_work.models import Work
from maker.slow_work.services import key_of
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.quantities.cliffs import Cliff, Reason
from pricing.calc.quantities.every_quantity import (
    EveryQuantity,
    QuantityRow,
    asked_for,
    every_quantity_of,
)
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates
from pricing.prices.models import PriceListEntry
from pricing.prices.services import ask_prices, refuse_below_lowest, work_out_price

# What an answer of a page may take, as counted work: about two seconds on a small machine.
MOST_SIZE_AT_ONCE = 6_000
MOST_NEW_PLANS_AT_ONCE = 160

Each = Callable[[Sequence[int]], Iterable[int]]


@dataclass(frozen=True, slots=True)
class WorkedQuantities:
    """A list with the rates it was worked out with."""

    every_quantity: EveryQuantity
    rates: WorkshopRates
    channel: ChannelRates


@dataclass(frozen=True, slots=True)
class QuantitiesQuestion:
    """All a list is worked out from, as values: the same question has the same answer."""

    recipe: Recipe
    ask: Ask
    rates: WorkshopRates
    channel: ChannelRates
    up_to: int

    @property
    def size(self) -> int:
        """How much there is to work out but for new cutting plans."""
        return self.up_to * (4 + len(self.recipe.pieces))

    def key(self) -> uuid.UUID:
        """Return what tells this question from others, and from those of other versions of us."""
        return key_of("quantities", _SHAPE, repr(self))

    def answer(self, plan_sheets: PlanSheets, each: Each = iter) -> WorkedQuantities:
        """Cost and price every quantity; refused as the cost page refuses, for any of them."""
        every_quantity = every_quantity_of(
            self.recipe,
            self.ask,
            self.channel,
            self.rates,
            plan_sheets,
            up_to=self.up_to,
            each=each,
        )
        return WorkedQuantities(every_quantity, self.rates, self.channel)

    def answer_at_once(self) -> WorkedQuantities | None:
        """Return the answer if it does not take long, or was given a moment ago; else None."""
        if self.size > MOST_SIZE_AT_ONCE:
            return None
        key = str(self.key())
        every_quantity = caches["figures"].get(key)
        if every_quantity is not None:
            return WorkedQuantities(every_quantity, self.rates, self.channel)
        try:
            worked = self.answer(sheet_planner(most_new=MOST_NEW_PLANS_AT_ONCE))
        except MoreToPlan:
            return None
        caches["figures"].set(key, worked.every_quantity)
        return worked


_SHAPE = [
    f"{kind.__qualname__}:{','.join(field.name for field in fields(kind))}"
    for kind in (EveryQuantity, QuantityRow, Cliff, Reason)
]
_read = value_of(EveryQuantity)


def quantities_question(
    *,
    version: DesignVersion,
    workshop: Workshop,
    ask: Ask,
    channel: Channel | None,
    colourway: Colourway | None,
    up_to: int,
) -> QuantitiesQuestion:
    """Return the question of a list as values."""
    recipe = recipe_values(version, workshop, colourway=colourway)
    rates, values = workshop_rates(workshop), channel_rates(channel)
    return QuantitiesQuestion(recipe, ask.sold_through(values), rates, values, up_to)


def written_answer(worked: WorkedQuantities) -> bytes:
    """Return a list as it is kept: as JSON, every number with its decimals."""
    return json.dumps(written(worked.every_quantity, "{:f}".format)).encode()


def kept_answer(work: Work, question: QuantitiesQuestion) -> WorkedQuantities | None:
    """Return the list that a worker worked out; None where there is none that can be read."""
    if work.state != Work.State.DONE or work.file is None:
        return None
    try:
        every_quantity = _read(parse(bytes(work.file)), "")
    except WrongJson:
        return None  # by another version of the program
    return WorkedQuantities(every_quantity, question.rates, question.channel)


def listed_rows(every_quantity: EveryQuantity, steps: Sequence[int]) -> list[QuantityRow]:
    """Return the rows of a short list: the quantities wanted that are on the list."""
    first, last = every_quantity.rows[0].quantity, every_quantity.rows[-1].quantity
    return [every_quantity.row(step) for step in steps if first <= step <= last]


def publish(
    *,
    every_quantity: EveryQuantity,
    quantity_rows: Sequence[QuantityRow],
    version: DesignVersion,
    workshop: Workshop,
    channel: Channel,
    ask: Ask,
    colourway: Colourway | None,
    by: User,
    below_is_meant: bool = False,
) -> list[PriceListEntry]:
    """Ask the published prices of these rows from their quantities on, all or none.

    Each is kept with the cost of its own quantity. Refused as `work_out_price` and `ask_prices`,
    and when a price is below the lowest of any quantity it holds for, unless that is meant.
    """
    for held in every_quantity.short_list(quantity_rows):
        if held.highest_floor is not None and not below_is_meant:
            refuse_below_lowest(version.design, held.price_each, held.highest_floor)
    plan_sheets, ask = sheet_planner(), ask.sold_through(channel_rates(channel))
    worked = [
        work_out_price(
            version=version,
            workshop=workshop,
            channel=channel,
            ask=asked_for(ask, quantity_row.quantity),
            price=quantity_row.price_each,
            colourway=colourway,
            plan_sheets=plan_sheets,
        )
        for quantity_row in quantity_rows
    ]
    return ask_prices(worked=worked, by=by, below_is_meant=below_is_meant)
