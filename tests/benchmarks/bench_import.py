"""Files of 2,000 and 20,000 receipt rows, checked and imported by a worker, beside a bare table."""

import logging
import time
from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.urls import reverse

import tests.benchmarks
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from maker.accounts.models import Membership
from maker.imports import views
from maker.slow_work.models import Work
from maker.slow_work.worker import SlowWorker
from maker.workshop.models import Workshop
from tests.benchmarks import Row, seconds_of
from tests.benchmarks.bare_table import open_bare_table, site_with_bare_table
from tests.benchmarks.memory import peak_of
from tests.factories import make_member, make_workshop

FEW, MANY, LINES, MATERIALS = 2_000, 20_000, 5, 200
HEADING = "Receipt,Date,Supplier,Material,Quantity,Paid,Postage"


def run() -> Iterable[Row]:
    """Measure checking and importing of both files, then how they grow."""
    logging.getLogger("maker.requests").propagate = False
    few, many = FEW, MANY
    if tests.benchmarks.is_once:
        few, many = views.MOST_ROWS_AT_ONCE + LINES, 2 * views.MOST_ROWS_AT_ONCE
    small, large = [], []
    with site_with_bare_table():
        for row in _rows(few):
            small.append(row)
            yield row
        for row in _rows(many):
            large.append(row)
            yield row
    for one, other in zip(small, large, strict=True):
        name = other.name.partition(" ")[0]
        note = f"{many / few:g} times the rows; baseline is the file of {few:,}"
        yield Row(f"growth: {name}", other.seconds, one.seconds, note)


def _rows(count: int) -> Iterable[Row]:
    workshop = make_workshop(name=f"{count} rows", slug=f"rows-{count}")
    Material.objects.bulk_create(
        Material(workshop=workshop, name=f"Material {number}", kind="count")
        for number in range(MATERIALS)
    )
    client = Client(HTTP_HOST="localhost")
    user = make_member(workshop, Membership.Role.OWNER, f"{workshop.slug}@example.test")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    where = reverse("catalogue:purchase_import", args=[workshop.slug])
    file = SimpleUploadedFile("receipts.csv", _file(count).encode())
    client.post(where, {"file": file})
    yield _work(client, workshop, f"check {count:,} rows")
    checked = Work.objects.of(workshop).latest("pk")
    client.post(where, {"work": checked.pk, "then": "import"})
    yield _work(client, workshop, f"import {count:,} rows")
    assert PurchaseLine.objects.of(workshop).recorded().count() == count


def _work(client: Client, workshop: Workshop, name: str) -> Row:
    """Do what waits in this process, once; the baseline is opened before and after."""
    open_bare_table(client)
    before = seconds_of(lambda: open_bare_table(client))
    taken: list[float] = []
    queries = Counter[str]()
    # of this process alone, whatever else the machine does
    begun, written = time.process_time(), []

    def counted(execute: Any, sql: str, *asked: Any) -> Any:
        queries["all"] += 1
        answer = execute(sql, *asked)
        # between the first and the last row that is stored, nobody else can write
        if "catalogue_" in sql and sql.startswith(("INSERT", "UPDATE")):
            written.append(time.process_time())
        return answer

    with connection.execute_wrapper(counted):
        peak = peak_of(lambda: taken.append(seconds_of(SlowWorker(until_idle=True).run)))
    work = Work.objects.of(workshop).latest("pk")
    assert work.state == Work.State.DONE, work.refusal
    after = seconds_of(lambda: open_bare_table(client))
    note = (
        f"{queries.total():,} queries, {peak}, {Purchase.objects.of(workshop).count():,} receipts, "
        f"{time.process_time() - begun:.1f} s of a core"
    )
    if written:
        note += f", {written[-1] - written[0]:.2f} s of it writing"
    return Row(name, taken[0], (before + after) / 2, note)


def _file(count: int) -> str:
    """Write receipts of five lines over five years."""
    lines = [HEADING]
    for at in range(count):
        receipt = at // LINES
        day = f"{2021 + receipt % 5}-{receipt % 12 + 1:02}-{receipt % 28 + 1:02}"
        postage = "4.95" if at % LINES == 0 else ""
        lines.append(
            f"R{receipt},{day},Supplier {receipt % 8},Material {at * 7 % MATERIALS},"
            f"{at % 9 + 1},{at % 40 + 1}.50,{postage}"
        )
    return "\n".join(lines)
