"""Writes a workshop out as one document and makes a workshop from such a document, or not at all.

The format is told in README.md beside this file.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

from babel import Locale
from django.db import IntegrityError, connection, transaction
from django.utils.text import slugify

from catalogue.stock.services import replay_workshop
from maker.accounts.models import Membership, User
from maker.calc.currencies import LOCALES
from maker.calc.strict_json import Fields, WrongJson, anything, shown
from maker.workshop.models import Workshop
from pricing.workshop_file import schema
from pricing.workshop_file.cutting import write_cutting_plans, write_offcuts
from pricing.workshop_file.enquiries import write_enquiries
from pricing.workshop_file.expenses import write_closed_months, write_expenses
from pricing.workshop_file.fairs import write_fairs
from pricing.workshop_file.finished import write_finished_items, write_places
from pricing.workshop_file.inputs import workshop_document
from pricing.workshop_file.ledger import write_receipts, write_stock_entries
from pricing.workshop_file.older import as_version_4, as_version_6
from pricing.workshop_file.orders import write_orders
from pricing.workshop_file.quotes import (
    quote_line,
    write_customers,
    write_document_series,
    write_quotes,
)
from pricing.workshop_file.shops import write_shops
from pricing.workshop_file.timings import write_timed_runs
from pricing.workshop_file.true_prices import write_price_decisions, write_tag_prints
from pricing.workshop_file.writing import (
    colourways_of,
    create,
    read_columns,
    refuse_unpayable,
    write_budgets,
    write_calendar_dates,
    write_channels,
    write_designs,
    write_file_columns,
    write_label_sheets,
    write_letters,
    write_materials,
    write_overhead_items,
    write_prices,
    write_suppliers,
)

_LISTS_OF_1 = (
    "overhead_items", "suppliers", "materials", "receipts", "stock_entries",
    "designs", "channels", "prices", "label_sheets",
)  # fmt: skip
_LISTS_OF_2 = (*_LISTS_OF_1, "budgets", "customers", "document_series", "quotes")
_LISTS_OF_3 = (
    *_LISTS_OF_2,
    "cutting_plans", "offcuts", "timed_runs", "tag_prints", "price_decisions",
)  # fmt: skip
_LISTS_OF_4 = (*_LISTS_OF_3, "file_columns", "calendar_dates")
LISTS = (
    *_LISTS_OF_4,
    "enquiries", "orders", "expenses", "closed_months",
    "finished_places", "finished_items", "fairs", "shops", "letters",
)  # fmt: skip
# the lists each version of the format that is read may hold
_LISTS_OF = {
    1: _LISTS_OF_1,
    2: _LISTS_OF_2,
    3: _LISTS_OF_3,
    4: _LISTS_OF_4,
    5: LISTS,
    schema.VERSION: LISTS,
}
WIDTH = 100
WIDTH_OF_A_ROW = 240  # an object without lists in it reads best on one line


def export_workshop(workshop: Workshop) -> dict[str, Any]:
    """Return everything of a workshop but its people, as it was at one moment."""
    outermost = not connection.in_atomic_block
    with transaction.atomic():
        if outermost and connection.vendor == "postgresql":
            # each query would otherwise see what others have saved since the one before
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        return workshop_document(workshop)


def document_text(document: dict[str, Any]) -> str:
    """Write a document as JSON text for people too: what fits on a line stays on one."""
    return "".join(_laid_out(document, "")) + "\n"


def _laid_out(value: Any, indent: str) -> str:
    line = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, (dict, list)):
        return line
    parts = value.values() if isinstance(value, dict) else value
    is_row = isinstance(value, dict) and not any(isinstance(part, (dict, list)) for part in parts)
    if len(indent) + len(line) <= (WIDTH_OF_A_ROW if is_row else WIDTH):
        return line
    inner = indent + " "
    if isinstance(value, dict):
        parts = [
            f"{inner}{json.dumps(key, ensure_ascii=False)}: {_laid_out(part, inner)}"
            for key, part in value.items()
        ]
        return "{\n" + ",\n".join(parts) + f"\n{indent}}}"
    return "[\n" + ",\n".join(inner + _laid_out(part, inner) for part in value) + f"\n{indent}]"


@transaction.atomic
def import_workshop(
    document: Any,
    *,
    name: str | None = None,
    owner: User | None = None,
    is_demo: bool = False,
) -> Workshop:
    """Make a workshop from a document, whole or not at all.

    `name` replaces the one in the document; `owner` becomes its owner. Refused, with the path
    of the first thing wrong: WrongJson. A real workshop's name must be new among those of its
    owner, without one among all.
    """
    workshop = begin_workshop(document, name=name, owner=owner, is_demo=is_demo)
    fill_workshop(workshop, document)
    return workshop


@transaction.atomic
def begin_workshop(
    document: Any, *, name: str | None, owner: User | None, is_demo: bool
) -> Workshop:
    """Make the workshop of a document with nothing in it yet. Errors: as `import_workshop`."""
    with _refusals_of_the_database():
        workshop = _write_profile(
            _fields_of(document).take("workshop", Fields), name=name, owner=owner, is_demo=is_demo
        )
        if owner is not None:
            Membership.objects.create(workshop=workshop, user=owner, role=Membership.Role.OWNER)
    return workshop


@transaction.atomic
def fill_workshop(workshop: Workshop, document: Any) -> None:
    """Write everything else of a document into its empty workshop. Errors: WrongJson."""
    with _refusals_of_the_database():
        _write(workshop, _fields_of(document))


@contextmanager
def _refusals_of_the_database() -> Iterator[None]:
    try:
        yield
    except IntegrityError as error:
        # every rule of the database is checked above with its path; this is the last door
        raise WrongJson(f"The database refuses it: {error}.", where="file") from error


def _fields_of(document: Any) -> Fields:
    fields = Fields(document, "")
    version = _check_format(fields)
    if version < 4:
        fields = Fields(as_version_4(fields.values), "")
    if version < 6:
        fields = Fields(as_version_6(fields.values), "")
    return fields


def _check_format(fields: Fields) -> int:
    """Return the version; refused when it is not read here or holds what it does not know."""
    if fields.take("format", anything) != schema.FORMAT:
        raise fields.refuse(f"This isn't a “{schema.FORMAT}” file.", "format")
    version = fields.take("version", anything)
    if type(version) is not int or version not in _LISTS_OF:
        *others, last = (str(number) for number in _LISTS_OF)
        known = f"{', '.join(others)} and {last}"
        raise fields.refuse(
            f"This reads versions {known} of the format, not {shown(version)}.", "version"
        )
    for key in ("workshop", *_LISTS_OF[version]):
        fields.has(key)
    fields.nothing_else()
    return version


def _write(workshop: Workshop, fields: Fields) -> None:
    write_overhead_items(workshop, fields.rows("overhead_items"))
    write_calendar_dates(workshop, fields.rows("calendar_dates"))
    suppliers = write_suppliers(workshop, fields.rows("suppliers"))
    materials, packs = write_materials(workshop, fields.rows("materials"), suppliers)
    lines, receipts = write_receipts(workshop, fields.rows("receipts"), suppliers, materials, packs)
    expenses = write_expenses(workshop, fields.rows("expenses"), suppliers, receipts, lines)
    write_closed_months(workshop, fields.rows("closed_months"))
    entries = write_stock_entries(fields.rows("stock_entries"), materials, lines)
    designs, versions = write_designs(workshop, fields.rows("designs"))
    channels = write_channels(workshop, fields.rows("channels"))
    colourways = colourways_of(designs)
    by_name = {name: material.pk for name, material in materials.rows.items()}
    prices = write_prices(fields.rows("prices"), designs, versions, channels, colourways, by_name)
    write_label_sheets(workshop, fields.rows("label_sheets"))
    write_letters(workshop, fields.rows("letters"))
    write_budgets(workshop, fields.rows("budgets"))
    customers = write_customers(workshop, fields.rows("customers"))
    numbers = write_document_series(workshop, fields.rows("document_series"))
    quotes = write_quotes(
        fields.rows("quotes"), customers, channels, designs, versions, colourways, numbers, by_name
    )
    enquiries = write_enquiries(fields.rows("enquiries"), customers, quotes)
    read_line = partial(
        quote_line, designs=designs, versions=versions, colourways=colourways, also=("frozen",)
    )
    orders = write_orders(fields.rows("orders"), quotes, materials, expenses, numbers, read_line)
    places = write_places(workshop, fields.rows("finished_places"))
    fair_lines = write_fairs(
        workshop,
        fields.rows("fairs"),
        channels,
        designs,
        versions,
        colourways,
        quotes,
        expenses,
        places,
        enquiries,
    )
    plans = write_cutting_plans(workshop, fields.rows("cutting_plans"), materials)
    write_offcuts(fields.rows("offcuts"), materials, plans)
    write_tag_prints(fields.rows("tag_prints"), prices)
    write_price_decisions(workshop, fields.rows("price_decisions"), prices, quotes)
    write_file_columns(workshop, fields.rows("file_columns"), suppliers)
    replay_workshop(workshop=workshop)
    settled = write_shops(fields.rows("shops"), places, designs, versions)
    batches = write_finished_items(
        workshop,
        fields.rows("finished_items"),
        designs,
        versions,
        orders,
        entries,
        places,
        fair_lines,
        settled,
    )
    write_timed_runs(fields.rows("timed_runs"), designs, batches)


def _write_profile(
    fields: Fields, *, name: str | None, owner: User | None, is_demo: bool
) -> Workshop:
    values = read_columns(schema.WORKSHOP, fields)
    if name is not None:
        column = Workshop._meta.get_field("name")
        values["name"] = schema.read(column, name, "name")
    workshop = Workshop(is_demo=is_demo, **values)
    if workshop.currency not in Locale("en").currencies:
        raise fields.refuse(f"There is no currency {shown(workshop.currency)}.", "currency")
    if workshop.locale not in LOCALES:
        raise fields.refuse(
            f"Numbers cannot be written the {shown(workshop.locale)} way.", "locale"
        )
    refuse_unpayable(workshop.currency, fields, workshop, ("cash_step",))
    days = workshop.carrier_weekdays
    if not days or list(days) != sorted(set(days)) or set(days) - set("1234567"):
        raise fields.refuse(
            "Weekdays are digits from 1 (Monday) to 7, in order.", "carrier_weekdays"
        )
    if not any(workshop.weekday_minutes):
        raise fields.refuse("At least one weekday needs minutes to work.", "monday_minutes")
    same = Workshop.objects.filter(name=workshop.name, is_demo=False)
    if owner is not None:
        # what others call theirs is not hers to know
        same = same.filter(memberships__user=owner)
    if not is_demo and same.exists():
        raise WrongJson(
            f"There is a workshop {shown(workshop.name)} already. Give this one another name.",
            where="name" if name is not None else "workshop.name",
        )
    workshop.slug = _free_slug(workshop.name)
    create(Workshop, [workshop])
    return workshop


def _free_slug(name: str) -> str:
    """Return an address no workshop has, made from the name."""
    base = slugify(name)[:50] or "workshop"
    taken = set(Workshop.objects.filter(slug__startswith=base).values_list("slug", flat=True))
    slug, number = base, 1
    while slug in taken:
        number += 1
        slug = f"{base}-{number}"
    return slug
