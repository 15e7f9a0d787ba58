"""The materials at a year's end: how much of each was there, and what it counts at."""

import datetime
from collections.abc import Hashable
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from catalogue.calc.supplies.year_end import YearEndValue, year_end_value
from catalogue.materials.models import Material
from catalogue.stock.inputs import ledger_state
from catalogue.stock.models import StockEntry
from maker.calc.money import minor_digits, with_working_precision
from maker.exact_sums import Millionths, from_millionths
from maker.kept import Kept, as_stored
from maker.workshop.models import Workshop

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class RawStock:
    """A material at the year's end: how much, and its value by the lower of cost and market."""

    material_id: int
    quantity: Decimal
    worth: YearEndValue


# of workshops and days; with some thousand materials a MB each
_STOCK: Kept[tuple[RawStock, ...]] = Kept(8)


def raw_stock(workshop: Workshop, on: datetime.date) -> tuple[RawStock, ...]:
    """Return the materials of which there was something at the end of a day, by name.

    Only their keys: who shows some reads those, and a total reads none. Kept as long as ledger and
    materials are the same (at most seven queries).
    """

    def content() -> Hashable:
        told = ("pk", "name", "fetches_each", "is_sold_above_cost")
        materials = Material.objects.of(workshop).order_by("pk").values_list(*told)
        return on, workshop.currency, as_stored(materials), *ledger_state(workshop)

    return _STOCK.result_of(content, lambda: _raw_stock(workshop, on))


@with_working_precision
def _raw_stock(workshop: Workshop, on: datetime.date) -> tuple[RawStock, ...]:

    def latest(column: str) -> Millionths:
        entries = StockEntry.objects.filter(material=models.OuterRef("pk"), moved_on__lte=on)
        in_order = entries.order_by("-moved_on", "-pk")
        return Millionths(models.Subquery(in_order.values(column)[:1]))

    rows = (
        Material.objects.of(workshop)
        .by_name()
        .values_list(
            "pk",
            latest("balance"),
            latest("balance_value"),
            "fetches_each",
            "is_sold_above_cost",
        )
    )
    digits = minor_digits(workshop.currency)
    found = []
    for key, was_there, was_worth, fetches_each, is_sold_above_cost in rows:
        if not was_there and not was_worth:
            continue
        quantity = from_millionths(was_there)
        worth = year_end_value(
            from_millionths(was_worth),
            quantity,
            fetches_each or ZERO,
            sold_above_cost=is_sold_above_cost or fetches_each is None,
            digits=digits,
        )
        found.append(RawStock(key, quantity, worth))
    return tuple(found)
