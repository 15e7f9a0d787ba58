"""A workshop with many priced designs, each price kept with what it was set against.

The designs are variations of the order costed by hand: other quantities, minutes and amounts, with
and without badge and core, so that no two figures are alike. Each is really costed; only the rows
are stored in bulk, and the recipes themselves are left out because keeping prices true reads none.
"""

import datetime
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from django.conf import settings

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Recipe
from catalogue.calc.sheets.counts import SheetCounts
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.purchases.services import (
    ReceiptInput,
    ReceiptLineInput,
    draft_purchase,
    record_purchase,
)
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import DesignVersion
from catalogue.suppliers.models import Supplier
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.price.ingredients import Ingredients, as_plain, ingredients_of
from pricing.calc.price.price import JobPrice, price_for
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates
from pricing.prices.models import PriceListEntry
from pricing.workshop_file.services import import_workshop

MOST_PIECES = 250
MOVED = "Patterned card, one-way design"
# some prices are off by it and some are not
TIMES_DEARER = Decimal("2.3")
_LEFT_OUT = ((), ("S",), ("T",), ("S", "T"))
_BATCH = 500


@dataclass(frozen=True, slots=True)
class Priced:
    """One variation at its worked-out price."""

    kept: Ingredients
    price: JobPrice


def priced_workshop(designs: int, owner: User | None = None) -> Workshop:
    """Return a workshop in which so many designs have a price on the list."""
    case = settings.BASE_DIR / "fixtures" / "worked_case.json"
    document = json.loads(case.read_text(encoding="utf-8"))
    workshop = import_workshop(document, name=f"{designs} designs", owner=owner)
    channel = Channel.objects.of(workshop).with_tiers().get()
    version = DesignVersion.objects.of(workshop).with_recipe().get()
    recipe, rates = recipe_values(version, workshop), workshop_rates(workshop)
    variations = list(priced_variations(designs, recipe, channel_rates(channel), rates))
    made = Design.objects.bulk_create(
        Design(workshop=workshop, name=f"Favour bag {number:05}") for number in range(designs)
    )
    versions = DesignVersion.objects.bulk_create(
        DesignVersion(design=design, number=1) for design in made
    )
    PriceListEntry.objects.bulk_create(
        [
            _entry(version, channel, priced)
            for version, priced in zip(versions, variations, strict=True)
        ],
        batch_size=_BATCH,
    )
    return workshop


def _entry(version: DesignVersion, channel: Channel, priced: Priced) -> PriceListEntry:
    kept, price = priced.kept, priced.price
    six = Decimal("0.000001")
    return PriceListEntry(
        design_id=version.design_id,
        version=version,
        channel=channel,
        made_at_once=kept.quantity,
        price=price.price_each,
        includes_tax=kept.rates.prices_include_tax,
        tax_rate=kept.rates.tax_rate,
        cost_each=kept.cost_each.quantize(six),
        floor_each=price.floor_each.quantize(six),
        target_each=price.price_each,
        basis=as_plain(kept),
    )


def priced_variations(
    count: int, recipe: Recipe, channel: ChannelRates, rates: WorkshopRates
) -> Iterator[Priced]:
    """Cost and price so many variations of a recipe; sheets are planned once for their counts."""
    sheets = SheetCounts(plan_cuts)
    cost_of(recipe, Ask(MOST_PIECES), rates, sheets)
    for number in range(count):
        ask = Ask(1 + number * 37 % MOST_PIECES)
        cost = cost_of(_varied(recipe, number), ask, rates, sheets)
        price = price_for(cost, ask, channel, rates)
        yield Priced(ingredients_of(cost, price, ask, channel, rates), price)


def _varied(recipe: Recipe, number: int) -> Recipe:
    slower = Decimal(70 + number % 67) / 100
    more = Decimal(50 + number % 101) / 100
    left_out = _LEFT_OUT[number % len(_LEFT_OUT)]
    return replace(
        recipe,
        pieces=tuple(piece for piece in recipe.pieces if piece.role not in left_out),
        fixings=tuple(replace(each, amount=each.amount * more) for each in recipe.fixings),
        steps=tuple(
            replace(step, minutes=step.minutes * slower)
            for step in recipe.steps
            if step.role not in left_out
        ),
    )


def buy_dearer(workshop: Workshop, on: datetime.date) -> tuple[str, Decimal]:
    """Record a receipt for one sheet material at a multiple of its cost; return it and its cost."""
    material = Material.objects.get(workshop=workshop, name=MOVED)
    assert material.average_cost is not None
    purchase = draft_purchase(
        workshop=workshop,
        receipt=ReceiptInput(
            supplier=Supplier.objects.filter(workshop=workshop).get(),
            bought_on=on,
            lines=(
                ReceiptLineInput(
                    material=material,
                    quantity=Decimal(1000),
                    amount=(material.average_cost * 1000 * TIMES_DEARER).quantize(Decimal("0.01")),
                ),
            ),
        ),
    )
    record_purchase(purchase=purchase, today=on)
    material.refresh_from_db()
    assert material.average_cost is not None
    return str(material.pk), material.average_cost
