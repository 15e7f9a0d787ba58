"""The spend page over ten years and 50,000 receipt lines, beside an empty view."""

import datetime
import logging
from collections.abc import Iterable
from decimal import Decimal

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import reverse

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.accounts.models import Membership
from maker.workshop.models import Workshop
from tests.benchmarks import Row, measured
from tests.factories import make_member, make_workshop

RECEIPTS, LINES, MATERIALS = 5_000, 10, 200
LAST = datetime.date(2026, 11, 20)


def run() -> Iterable[Row]:
    """Measure a year, ten years by year and ten years by month."""
    logging.getLogger("maker.requests").propagate = False
    workshop = make_workshop(name="Ten years", slug="ten-years")
    _fill(workshop)
    user = make_member(workshop, Membership.Role.OWNER, "ten-years@example.test")
    client = Client(HTTP_HOST="localhost")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse("pricing:spending", args=[workshop.slug])
    first = LAST.replace(year=LAST.year - 10, month=12, day=1)
    decade = f"first={first:%Y-%m}&last={LAST:%Y-%m}"
    with override_settings(ROOT_URLCONF="tests.benchmarks.empty_site"):
        for name, question in (
            ("12 months", ""),
            ("10 years, by year", f"?{decade}&each=year"),
            ("10 years, by month", f"?{decade}"),
        ):
            with CaptureQueriesContext(connection) as queries:
                response = client.get(address + question)
            assert response.status_code == 200

            def show(question: str = question) -> None:
                client.get(address + question)

            yield measured(
                f"spend, {name}",
                show,
                lambda: client.get("/empty/"),
                repeats=5,
                warm_up=1,
                note=f"{len(queries)} queries, {len(response.content) // 1024} KiB",
            )


def _fill(workshop: Workshop) -> None:
    """Store 50,000 lines and their ledger; every entry buys ten units for 5.00."""
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
            bought_on=LAST - datetime.timedelta(days=number * 3_650 // RECEIPTS),
            state=Purchase.State.RECORDED,
        )
        for number in reversed(range(RECEIPTS))
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
