"""What holds the words of a search, kind by kind: designs, customers, quotes and the rest."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse

from catalogue.designs.models import Design
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.suppliers.models import Supplier
from maker.calc.dates import say_date
from maker.workshop.models import Workshop
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry
from pricing.orders.models import Order
from pricing.quotes.models import Quote

MOST = 10  # of a kind; its list has all of them
LONGEST = 100  # letters of a search


@dataclass(frozen=True, slots=True)
class Found:
    """A row that holds the words."""

    label: str
    detail: str
    url: str


@dataclass(frozen=True, slots=True)
class FoundKind:
    """What was found of a kind; `more` leads to all of it when there is more than is shown."""

    label: str
    rows: tuple[Found, ...]
    more: str


@dataclass(frozen=True, slots=True)
class _Kind:
    label: str
    rows: Callable[[Workshop, str], QuerySet[Any]]
    page: str
    listed: str
    detail: Callable[[Any], str]


KINDS = (
    _Kind(
        "Designs",
        lambda shop, text: Design.objects.of(shop).matching(text).by_name(),
        "catalogue:design",
        "catalogue:design_list",
        lambda row: "archived" if row.retired_on else "",
    ),
    _Kind(
        "Materials",
        lambda shop, text: (
            Material.objects.of(shop).matching(text).select_related("supplier").by_name()
        ),
        "catalogue:material",
        "catalogue:material_list",
        lambda row: "archived" if row.retired_on else str(row.supplier or ""),
    ),
    _Kind(
        "Customers",
        lambda shop, text: Customer.objects.of(shop).matching(text).by_name(),
        "pricing:customer",
        "pricing:customer_list",
        lambda row: "archived" if row.retired_on else row.contact,
    ),
    _Kind(
        "Enquiries",
        lambda shop, text: (
            Enquiry.objects.of(shop).matching(text).select_related("customer").newest_first()
        ),
        "pricing:enquiry",
        "pricing:enquiry_list",
        lambda row: "archived" if row.retired_on else row.customer.name,
    ),
    _Kind(
        "Quotes",
        lambda shop, text: Quote.objects.of(shop).matching(text).for_list().newest_first(),
        "pricing:quote",
        "pricing:quote_list",
        lambda row: ", ".join(part for part in (row.customer.name, row.title) if part),
    ),
    _Kind(
        "Orders",
        lambda shop, text: Order.objects.of(shop).matching(text).for_list().most_urgent_first(),
        "pricing:order",
        "pricing:order_list",
        lambda row: ", ".join(part for part in (row.quote.customer.name, row.quote.title) if part),
    ),
    _Kind(
        "Receipts",
        lambda shop, text: (
            Purchase.objects.of(shop).matching(text).select_related("supplier").newest_first()
        ),
        "catalogue:purchase",
        "catalogue:purchase_list",
        lambda row: " ".join(part for part in (say_date(row.bought_on), row.reference) if part),
    ),
    _Kind(
        "Expenses",
        lambda shop, text: Expense.objects.of(shop).counted().matching(text).newest_first(),
        "catalogue:expense",
        "catalogue:expense_list",
        lambda row: say_date(row.paid_on),
    ),
    _Kind(
        "Suppliers",
        lambda shop, text: Supplier.objects.of(shop).matching(text).by_name(),
        "catalogue:supplier",
        "catalogue:supplier_list",
        lambda row: "archived" if row.retired_on else "",
    ),
)


def find(workshop: Workshop, text: str) -> list[FoundKind]:
    """Return what holds the text, kind by kind (a query each); nothing for no text."""
    wanted = text.strip()[:LONGEST]
    if not wanted:
        return []
    found = []
    for kind in KINDS:
        rows = list(kind.rows(workshop, wanted)[: MOST + 1])
        if rows:
            found.append(_shown(kind, rows, workshop))
    return found


def _shown(kind: _Kind, rows: list[Any], workshop: Workshop) -> FoundKind:
    return FoundKind(
        label=kind.label,
        rows=tuple(
            Found(_name(row), kind.detail(row), reverse(kind.page, args=[workshop.slug, row.pk]))
            for row in rows[:MOST]
        ),
        more=reverse(kind.listed, args=[workshop.slug]) if len(rows) > MOST else "",
    )


def _name(row: Any) -> str:
    return str(row.supplier) if isinstance(row, Purchase) else str(row)
