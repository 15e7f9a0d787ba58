"""Which columns of which rows are in a workshop file, and how each is written and read.

The columns come from the models, so that a new one is in the file from the day it exists;
what is left out is named here with its reason.
"""

import datetime
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property, partial
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from catalogue.calc.recipes.columns import HEAD
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import DesignVersion
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import FileColumns, Supplier
from maker.calc.explanation import plain_text
from maker.calc.strict_json import Fields, WrongJson, day, decimal, shown, text, whole, yes_no
from maker.workshop.models import CalendarDate, OverheadItem, Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.customers.models import Customer
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import DocumentSeries, Quote, QuoteLine
from pricing.spending.models import Budget
from pricing.times.models import TimedRun

FORMAT = "pleat-and-penny workshop"
VERSION = 4

PEOPLE = "people belong to the installation, not to a workshop's file"
OWN = "belongs to this installation's database"
REPLAYED = "worked out again from the ledger"

# columns whose numbers may be below zero: goods leave the shelf, offcuts the box
BELOW_ZERO = frozenset({"change", "change_at_count"})
# largest value of each kind of whole number, the same on every database
_LARGEST = {
    "PositiveSmallIntegerField": 32_767,
    "PositiveIntegerField": 2_147_483_647,
    "IntegerField": 2_147_483_647,
}
_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z", re.ASCII
)


@dataclass(frozen=True)
class FileTable:
    """The plain columns of one model; rows it points to are written by name or key."""

    model: type[models.Model]
    left_out: dict[str, str]

    @cached_property
    def columns(self) -> tuple[Any, ...]:
        """The columns written as plain values, in the order of the model."""
        return tuple(
            column
            for column in self.model._meta.concrete_fields
            if not column.is_relation and column.name not in self.left_out
        )

    def written(self, row: models.Model) -> dict[str, Any]:
        """Return the row's columns as JSON values."""
        return {column.name: written(getattr(row, column.name)) for column in self.columns}

    def read(self, fields: Fields) -> dict[str, Any]:
        """Return the columns an object of the file gives; one left out has its default."""
        values = {}
        for column in self.columns:
            if fields.has(column.name):
                values[column.name] = fields.take(column.name, partial(read, column))
            elif not (column.has_default() or column.null or column.blank):
                raise fields.refuse(f"“{column.name}” is missing.", column.name)
        return values


_KEY = {"id": OWN}
_EDITED = {**_KEY, "edit_number": "counts saves in this installation"}
_FORM = {"form_key": "belongs to a form that was sent"}

WORKSHOP = FileTable(
    Workshop,
    {
        **_EDITED,
        "slug": "made from the name",
        "is_demo": "said by whoever loads the file",
        "delete_after": "a wish about this copy of it",
    },
)
OVERHEAD_ITEM = FileTable(OverheadItem, _KEY)
CALENDAR_DATE = FileTable(CalendarDate, _KEY)
SUPPLIER = FileTable(Supplier, _KEY)
FILE_COLUMNS = FileTable(FileColumns, _KEY)
MATERIAL = FileTable(
    Material,
    {
        **_EDITED,
        **dict.fromkeys(
            ("on_hand", "stock_value", "average_cost", "fifo_cost", "latest_cost"), REPLAYED
        ),
        "latest_line": REPLAYED,
    },
)
PACK = FileTable(Pack, _KEY)
PURCHASE = FileTable(Purchase, {**_EDITED, **_FORM, "recorded_by": PEOPLE})
PURCHASE_LINE = FileTable(PurchaseLine, _KEY)
STOCK_ENTRY = FileTable(
    StockEntry,
    {
        **_KEY,
        **_FORM,
        "made_by": PEOPLE,
        **dict.fromkeys(("unit_cost", "balance", "balance_value"), REPLAYED),
    },
)
DESIGN = FileTable(Design, _EDITED)
DESIGN_VERSION = FileTable(
    DesignVersion, {**_EDITED, **dict.fromkeys(HEAD, "in the recipe's own document")}
)
CUTTING_PLAN = FileTable(
    CuttingPlan,
    {
        **_KEY,
        **_FORM,
        "asked_by": PEOPLE,
        **dict.fromkeys(("asked", "jobs", "plans"), "read apart: see cutting.py"),
        "content_key": "worked out from the jobs",
        "cut_key": "belongs to movements of this installation",
        **dict.fromkeys(
            ("stage", "percent", "cancel_asked", "started_at"),
            "how far the work is here",
        ),
    },
)
OFFCUT = FileTable(Offcut, {**_KEY, "count": REPLAYED})
OFFCUT_ENTRY = FileTable(OffcutEntry, {**_KEY, **_FORM, "made_by": PEOPLE})
CHANNEL = FileTable(Channel, _EDITED)
CHANNEL_TIER = FileTable(ChannelTier, _KEY)
PRICE = FileTable(
    PriceListEntry,
    {
        **_KEY,
        "set_by": PEOPLE,
        "choices": "read apart: an object of option and choice keys",
        "basis": "read apart: what it was worked out from, see bases.py",
    },
)
LABEL_SHEET = FileTable(LabelSheet, _KEY)
BUDGET = FileTable(Budget, _KEY)
CUSTOMER = FileTable(Customer, _EDITED)
DOCUMENT_SERIES = FileTable(DocumentSeries, _KEY)
QUOTE = FileTable(
    Quote,
    {
        **_EDITED,
        **_FORM,
        "sent_by": PEOPLE,
        "frozen": "read apart: what a sent quote said, see frozen.py",
        **dict.fromkeys(("seen_total", "seen_edit"), "what was looked at in this installation"),
    },
)
QUOTE_LINE = FileTable(
    QuoteLine,
    {
        **_KEY,
        "choices": "read apart: an object of option and choice keys",
        "frozen": "a part of what the quote froze",
    },
)
TAG_PRINT = FileTable(TagPrint, {**_KEY, "printed_by": PEOPLE})
PRICE_DECISION = FileTable(PriceDecision, {**_KEY, "decided_by": PEOPLE})
TIMED_RUN = FileTable(TimedRun, {**_EDITED, **_FORM, "timed_by": PEOPLE})


def written(value: Any) -> Any:
    """Return a column's value for JSON: numbers with decimals as text, days and instants ISO."""
    if isinstance(value, Decimal):
        return plain_text(value)
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.UTC).replace(tzinfo=None).isoformat() + "Z"
    if isinstance(value, datetime.date):
        return value.isoformat()
    return value


def read(column: Any, raw: Any, path: str) -> Any:
    """Return a JSON value as the column's own type, checked as strictly as the column says."""
    if raw is None:
        if not column.null:
            raise WrongJson("This must not be null.", where=path)
        return None
    value = _typed(column, raw, path)
    if value == "" and column.blank:
        return value
    if isinstance(value, str) and not value.strip() and not column.blank:
        raise WrongJson("This must not be empty.", where=path)
    if isinstance(value, str) and column.max_length and len(value) > column.max_length:
        raise WrongJson(f"The text is longer than {column.max_length} characters.", where=path)
    try:
        column.clean(value, None)
    except ValidationError as error:
        raise WrongJson(" ".join(error.messages), where=path) from error
    return value


def _typed(column: Any, raw: Any, path: str) -> Any:
    if isinstance(column, models.DecimalField):
        least = None if column.name in BELOW_ZERO else 0
        return decimal(least, places=column.decimal_places)(raw, path)
    if isinstance(column, models.BooleanField):
        return yes_no(raw, path)
    if isinstance(column, models.IntegerField):
        largest = _LARGEST[column.get_internal_type()]
        return whole(-largest if column.name in BELOW_ZERO else 0, largest)(raw, path)
    if isinstance(column, models.DateTimeField):
        return _instant(raw, path)
    if isinstance(column, models.DateField):
        return day(raw, path)
    if isinstance(column, (models.CharField, models.TextField)):
        return text(raw, path)
    raise TypeError(f"A workshop file cannot hold a {type(column).__name__} ({path}).")


def _instant(raw: Any, path: str) -> datetime.datetime:
    if not isinstance(raw, str) or not _INSTANT.fullmatch(raw):
        raise WrongJson(
            f'This must be an instant such as "2026-03-31T09:30:00Z", found {shown(raw)}.',
            where=path,
        )
    try:
        return datetime.datetime.fromisoformat(raw)
    except ValueError as error:
        raise WrongJson(f"{shown(raw)} is not an instant.", where=path) from error
