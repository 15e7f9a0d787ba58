"""Spending over ten years: 5,000 and 50,000 receipt lines, beside a bare table of 25 rows."""

import datetime
import logging
from collections.abc import Iterable, Iterator
from decimal import Decimal

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

import tests.benchmarks
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.accounts.models import Membership
from maker.workshop.models import Workshop
from pricing.spending.kept import keep_sums
from tests.benchmarks import Row, measured
from tests.benchmarks.bare_table import open_bare_table, site_with_bare_table
from tests.benchmarks.many_workshops import settle
from tests.benchmarks.memory import peak_of
from tests.factories import make_member, make_workshop

FEW, MANY, LINES, MATERIALS = 500, 5_000, 10, 200
LAST = datetime.date(2026, 11, 20)
# as the pages of other lists may take (`bench --only pages`)
AT_MOST = 3
DECADE = f"first={LAST.year - 10}-12&last={LAST:%Y-%m}"


def run() -> Iterable[Row]:
    """Measure a month, a year and its stock, ten years by year and by month; then how they grow."""
    logging.getLogger("maker.requests").propagate = False
    few_receipts, many_receipts = (10, 20) if tests.benchmarks.is_once else (FEW, MANY)
    with site_with_bare_table():
        few = []
        for row in _rows(few_receipts):
            few.append(row)
            yield row
        many = []
        for row in _rows(many_receipts):
            many.append(row)
            yield row
    times = many_receipts // few_receipts
    for small, large in zip(few, many, strict=True):
        name = large.name.rpartition(", ")[0]
        note = f"{times} times the lines; baseline is the row of {few_receipts * LINES:,}"
        yield Row(f"growth: {name}", large.seconds, small.seconds, note)


def _rows(receipts: int) -> Iterator[Row]:
    """Measure each page over so many receipts, before and after the worker kept their sums."""
    workshop = make_workshop(name=f"{receipts} receipts", slug=f"receipts-{receipts}")
    _fill(workshop, receipts)
    settle()
    client = Client(HTTP_HOST="localhost")
    user = make_member(workshop, Membership.Role.OWNER, f"{workshop.slug}@example.test")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    for kept in (", nothing kept", ""):
        if not kept:
            keep_sums(workshop=workshop, today=LAST)
        base = reverse("pricing:spending", args=[workshop.slug])
        for name, address in (
            ("one month", reverse("pricing:spending_month", args=[workshop.slug, 2026, 10])),
            ("12 months", base),
            ("12 months, in stock", reverse("pricing:spending_stock", args=[workshop.slug])),
            ("10 years, by year", f"{base}?{DECADE}&each=year"),
            ("10 years, by month", f"{base}?{DECADE}"),
        ):
            yield _row(client, f"{name}{kept}, {receipts * LINES:,} lines", address, not kept)


def _row(client: Client, name: str, address: str, has_aim: bool) -> Row:
    with CaptureQueriesContext(connection) as queries:
        response = client.get(address)
    assert response.status_code == 200

    def show() -> None:
        client.get(address)

    return measured(
        name,
        show,
        lambda: open_bare_table(client),
        repeats=7,
        warm_up=1,
        note=f"{len(queries)} queries, {len(response.content) // 1024} KiB, {peak_of(show)}",
        at_most=AT_MOST if has_aim else None,
    )


def _fill(workshop: Workshop, count: int) -> None:
    """Store receipts of ten lines and their ledger; every entry buys ten units for 5.00."""
    suppliers = Supplier.objects.bulk_create(
        Supplier(workshop=workshop, name=f"Supplier {number}") for number in range(8)
    )
    categories = Material.Category.values
    materials = Material.objects.bulk_create(
        Material(
            workshop=workshop,
            name=f"Material {number}",
            kind="count",
            category=categories[number % len(categories)],
        )
        for number in range(MATERIALS)
    )
    receipts = Purchase.objects.bulk_create(
        Purchase(
            workshop=workshop,
            supplier=suppliers[number % len(suppliers)],
            bought_on=LAST - datetime.timedelta(days=number * 3_650 // count),
            state=Purchase.State.RECORDED,
        )
        for number in reversed(range(count))
    )
    lines = PurchaseLine.objects.bulk_create(
        (
            PurchaseLine(
                purchase=receipt,
                position=place,
                material=materials[(number * LINES + place) % MATERIALS],
                quantity=Decimal(10),
                amount=Decimal(5),
                landed=Decimal(5),
                unit_cost=Decimal("0.5"),
            )
            for number, receipt in enumerate(receipts)
            for place in range(LINES)
        ),
        batch_size=2_000,
    )
    bought: dict[int, int] = {}
    entries = []
    for number, line in enumerate(lines):
        count = bought[line.material_id] = bought.get(line.material_id, 0) + 1
        entries.append(
            StockEntry(
                material_id=line.material_id,
                moved_on=receipts[number // LINES].bought_on,
                kind=StockEntry.Kind.BOUGHT,
                change=Decimal(10),
                cost_in=Decimal(5),
                purchase_line=line,
                unit_cost=Decimal("0.5"),
                balance=Decimal(10 * count),
                balance_value=Decimal(5 * count),
            )
        )
    StockEntry.objects.bulk_create(entries, batch_size=2_000)
