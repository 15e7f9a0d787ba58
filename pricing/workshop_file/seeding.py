"""Makes a workshop many times as large as the demo, to measure pages and reports with."""

import copy
import datetime
from typing import Any

from django.db import models, transaction

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.designs.models import Design
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material, Pack
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import (
    Colourway,
    ColourwayMaterial,
    DesignVersion,
    Fixing,
    Option,
    OptionChoice,
    Packing,
    Piece,
    Role,
    Step,
    Wear,
)
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.customers.models import Customer
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote, QuoteLine
from pricing.times.models import TimedRun
from pricing.workshop_file.demo import demo_document
from pricing.workshop_file.services import import_workshop

BATCH = 1000

# each after those it points to: the way from a row to its workshop, and columns set afterwards
_COPIED: tuple[tuple[type[models.Model], str, tuple[str, ...]], ...] = (
    (Supplier, "workshop", ()),
    (Material, "workshop", ("latest_line",)),
    (Pack, "material__workshop", ()),
    (Purchase, "workshop", ()),
    (PurchaseLine, "purchase__workshop", ()),
    (Expense, "workshop", ("repeat_of",)),
    (StockEntry, "material__workshop", ("takes_back",)),
    (Design, "workshop", ()),
    (DesignVersion, "design__workshop", ()),
    (Role, "version__design__workshop", ()),
    (Option, "version__design__workshop", ()),
    (OptionChoice, "option__version__design__workshop", ()),
    *((row, "version__design__workshop", ()) for row in (Piece, Fixing, Step, Wear, Packing)),
    (Colourway, "version__design__workshop", ()),
    (ColourwayMaterial, "colourway__version__design__workshop", ()),
    (PriceListEntry, "design__workshop", ()),
    (Customer, "workshop", ()),
    (Quote, "customer__workshop", ("replaces",)),
    (QuoteLine, "quote__customer__workshop", ()),
    (TimedRun, "design__workshop", ()),
    (TagPrint, "entry__design__workshop", ()),
    (PriceDecision, "workshop", ()),
    (CuttingPlan, "workshop", ()),
    (Offcut, "material__workshop", ()),
    (OffcutEntry, "offcut__material__workshop", ("takes_back",)),
)
# these are named once in a workshop
_NAMED = (Supplier, Material, Design, Customer)

Copies = dict[type[models.Model], dict[tuple[int, int], int]]


@transaction.atomic
def seed_large(
    *, times: int, today: datetime.date, name: str = "Large workshop", owner: User | None = None
) -> Workshop:
    """Import the demo and copy what it holds until it is `times` it.

    Catalogue, receipts, ledger, prices, customers and quotes are copied; channels and settings
    are there once. It is an example workshop, removed as such.
    """
    workshop = import_workshop(demo_document(today=today), name=name, owner=owner, is_demo=True)
    copies: Copies = {}
    for model, way, _ in _COPIED:
        _copy_rows(model, model._default_manager.filter(**{way: workshop}), times, copies)
    for model, way, later in _COPIED:
        for column in later:
            _point_to_copies(model, way, workshop, column, copies)
    return workshop


def _references(model: type[models.Model], copies: Copies) -> list[tuple[str, Any]]:
    """Return the columns that point to rows that are copied too, and those rows' model."""
    return [
        (column.attname, column.related_model)
        for column in model._meta.concrete_fields
        if column.is_relation and column.related_model in copies
    ]


def _copy_rows(
    model: type[models.Model], rows: models.QuerySet[Any], times: int, copies: Copies
) -> None:
    sources = list(rows.order_by("pk"))
    references = _references(model, copies)
    later = {name for other, _, names in _COPIED if other is model for name in names}
    copies[model] = {}
    for number in range(2, times + 1):
        made = []
        for source in sources:
            row = copy.copy(source)
            row.pk, row._state = None, models.base.ModelState()
            for name in later:
                setattr(row, f"{name}_id", None)
            for attname, target in references:
                key = getattr(source, attname)
                if key is not None:
                    setattr(row, attname, copies[target][key, number])
            if model in _NAMED:
                row.name = f"{source.name} {number}"
            if isinstance(row, Quote) and row.number:
                row.number = f"{source.number}/{number}"
                row.frozen = source.frozen | {"number": row.number} if source.frozen else {}
            made.append(row)
        model._default_manager.bulk_create(made, batch_size=BATCH)
        copies[model] |= {
            (source.pk, number): row.pk for source, row in zip(sources, made, strict=True)
        }


def _point_to_copies(
    model: type[models.Model], way: str, workshop: Workshop, column: str, copies: Copies
) -> None:
    """Set a column that points forward, or to its own model, once everything has its number."""
    target: Any = model._meta.get_field(column).related_model
    sources = {
        pk: there
        for pk, there in model._default_manager.filter(**{way: workshop}).values_list(
            "pk", f"{column}_id"
        )
        if there is not None
    }
    rows = []
    for (pk, number), made in copies[model].items():
        if pk in sources:
            row = model(pk=made)
            setattr(row, f"{column}_id", copies[target][sources[pk], number])
            rows.append(row)
    model._default_manager.bulk_update(rows, [column], batch_size=BATCH // 4)
