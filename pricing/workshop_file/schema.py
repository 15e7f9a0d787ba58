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
from catalogue.closed_months.models import ClosedMonth
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.designs.models import Design
from catalogue.expenses.models import Expense
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
from pricing.consignment.models import SettledItem, Settlement, Shop
from pricing.customer_pages.models import QuoteMessage
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry, EnquiryDrop
from pricing.fair_sales.models import TablePrice
from pricing.fairs.models import (
    Fair,
    FairBundle,
    FairBundleItem,
    FairCoin,
    FairCost,
    FairDay,
    FairDesign,
    FairHour,
    FairOrder,
    FairSale,
    FairSaleLine,
)
from pricing.finished_stock.models import (
    BatchMaterial,
    BatchSpoiled,
    FinishedBatch,
    FinishedItem,
    FinishedMove,
    Place,
)
from pricing.letters.models import Letter
from pricing.orders.models import (
    Invoice,
    Order,
    OrderApproval,
    OrderChange,
    OrderChangeLess,
    OrderDelivery,
    OrderDeliveryLine,
    OrderExpense,
    OrderNeed,
    OrderPayment,
)
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import DocumentSeries, Quote, QuoteDrop, QuoteExtra, QuoteLine
from pricing.spending.models import Budget
from pricing.times.models import TimedRun

FORMAT = "pleat-and-penny workshop"
VERSION = 6

PEOPLE = "people belong to the installation, not to a workshop's file"
OWN = "belongs to this installation's database"
PICTURES = "uploaded pictures lie in a zip beside the file, see pictures.py"
REPLAYED = "worked out again from the stock movements"

# columns whose numbers may be below zero: goods leave the shelf, offcuts the box
BELOW_ZERO = frozenset(
    {
        *("change", "change_at_count", "received", "net", "tax_paid", "cost"),
        "till_difference",
        *("added_material", "added_wage", "added_overhead"),
        *("total_change", "changes_total", "changes_minutes"),
    }
)
# largest value of each kind of whole number, the same on every database
_LARGEST = {
    "PositiveSmallIntegerField": 32_767,
    "PositiveIntegerField": 2_147_483_647,
    "IntegerField": 2_147_483_647,
}
_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z", re.ASCII
)
_TIME = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]", re.ASCII)


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
        "second_step_since": "about the people of an installation, who are not in the file",
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
        **dict.fromkeys(("picture", "picture_width_mm"), PICTURES),
    },
)
PACK = FileTable(Pack, _KEY)
PURCHASE = FileTable(
    Purchase,
    {
        **_EDITED,
        **_FORM,
        "recorded_by": PEOPLE,
        "import_key": "an import is undone in the installation that took it in",
    },
)
PURCHASE_LINE = FileTable(PurchaseLine, _KEY)
CLOSED_MONTH = FileTable(
    ClosedMonth,
    {
        **_KEY,
        "closed_by": PEOPLE,
        "reopened_by": PEOPLE,
        "figures": "read apart: an object of figures, each as text",
    },
)
EXPENSE = FileTable(Expense, {**_EDITED, **_FORM, "added_by": PEOPLE})
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
    DesignVersion,
    {
        **_EDITED,
        **dict.fromkeys(HEAD, "in the recipe's own document"),
        "places": "read apart, beside the recipe",
        "recipe_stamp": "made anew when the recipe is written",
        **dict.fromkeys(("places_before", "places_edit_number"), "what undo needs here"),
    },
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
LETTER = FileTable(Letter, _KEY)
BUDGET = FileTable(Budget, _KEY)
CUSTOMER = FileTable(Customer, _EDITED)
DOCUMENT_SERIES = FileTable(DocumentSeries, _KEY)
QUOTE = FileTable(
    Quote,
    {
        **_EDITED,
        **_FORM,
        "sent_by": PEOPLE,
        "frozen": "read apart: what a sent quote said, see the module of sent quotes",
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
ENQUIRY = FileTable(Enquiry, {**_EDITED, **_FORM})
ENQUIRY_DROP = FileTable(EnquiryDrop, _KEY)
QUOTE_EXTRA = FileTable(QuoteExtra, _KEY)
QUOTE_DROP = FileTable(QuoteDrop, _KEY)
QUOTE_MESSAGE = FileTable(QuoteMessage, {**_KEY, "link": "links open this installation only"})
ORDER = FileTable(
    Order,
    {**_EDITED, **dict.fromkeys(("deposit", "quoted_minutes"), "a part of what the quote froze")},
)
ORDER_CHANGE = FileTable(
    OrderChange, {**_EDITED, "document": "read apart: what it said when it was offered"}
)
ORDER_CHANGE_LESS = FileTable(OrderChangeLess, _KEY)
ORDER_APPROVAL = FileTable(OrderApproval, _KEY)
ORDER_DELIVERY = FileTable(OrderDelivery, _KEY)
ORDER_DELIVERY_LINE = FileTable(OrderDeliveryLine, _KEY)
ORDER_NEED = FileTable(OrderNeed, _KEY)
ORDER_EXPENSE = FileTable(OrderExpense, _KEY)
ORDER_PAYMENT = FileTable(OrderPayment, {**_KEY, **_FORM})
INVOICE = FileTable(
    Invoice, {**_KEY, **_FORM, "document": "read apart: lines by their place in the quote"}
)
SHOP = FileTable(Shop, _EDITED)
SETTLEMENT = FileTable(Settlement, {**_KEY, **_FORM})
SETTLED_ITEM = FileTable(
    SettledItem, {**_KEY, "choices": "read apart: an object of option and choice keys"}
)
FAIR = FileTable(Fair, _EDITED)
FAIR_DAY = FileTable(FairDay, _EDITED)
FAIR_HOUR = FileTable(FairHour, _KEY)
TABLE_PRICE = FileTable(TablePrice, _KEY)
FAIR_DESIGN = FileTable(
    FairDesign, {**_KEY, "choices": "read apart: an object of option and choice keys"}
)
FAIR_BUNDLE = FileTable(FairBundle, _KEY)
FAIR_BUNDLE_ITEM = FileTable(FairBundleItem, _KEY)
FAIR_SALE = FileTable(FairSale, {**_KEY, "uuid": "belongs to the phone that sent it"})
FAIR_SALE_LINE = FileTable(FairSaleLine, _KEY)
FAIR_COIN = FileTable(FairCoin, _KEY)
FAIR_COST = FileTable(FairCost, _KEY)
FAIR_ORDER = FileTable(FairOrder, _KEY)
PLACE = FileTable(Place, _KEY)
FINISHED_ITEM = FileTable(
    FinishedItem, {**_KEY, "choices": "read apart: an object of option and choice keys"}
)
FINISHED_BATCH = FileTable(FinishedBatch, {**_KEY, **_FORM, "made_by": PEOPLE})
BATCH_MATERIAL = FileTable(BatchMaterial, _KEY)
BATCH_SPOILED = FileTable(BatchSpoiled, _KEY)
FINISHED_MOVE = FileTable(
    FinishedMove,
    {
        **_KEY,
        **_FORM,
        "made_by": PEOPLE,
        **dict.fromkeys(
            ("material_value", "wage_value", "overhead_value"),
            "worked out again from the movements",
        ),
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
    if isinstance(value, datetime.time):
        return f"{value:%H:%M}"
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
        # money comes back in expenses below zero
        is_signed = column.name in BELOW_ZERO or column.model is Expense
        least = None if is_signed else 0
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
    if isinstance(column, models.TimeField):
        return _time(raw, path)
    if isinstance(column, (models.CharField, models.TextField)):
        return text(raw, path)
    raise TypeError(f"A workshop file cannot hold a {type(column).__name__} ({path}).")


def _time(raw: Any, path: str) -> datetime.time:
    if not isinstance(raw, str) or not _TIME.fullmatch(raw):
        raise WrongJson(f'This must be a time such as "09:30", found {shown(raw)}.', where=path)
    return datetime.time.fromisoformat(raw)


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
