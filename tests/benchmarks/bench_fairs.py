"""The evening of a fair day with 600 sales: closing it and its fair's page; a sale sent from it."""

import logging
import random
from collections.abc import Iterable
from decimal import Decimal

from django.test import Client
from django.utils import timezone

from maker.accounts.models import Membership
from pricing.calc.finished_stock.worth import Worth
from pricing.fair_sales.reading import SentBatch
from pricing.fair_sales.services import store_batch
from pricing.fairs.models import FairSale, FairSaleLine
from pricing.finished_stock.ledger import item_for
from pricing.finished_stock.models import FinishedMove
from pricing.finished_stock.services import enter_opening, home_of, replay_finished
from tests import factories
from tests.benchmarks import Row, measured
from tests.benchmarks.bare_table import open_bare_table, site_with_bare_table
from tests.fair_tables import Table

MANY = 600
# half a second is about a dozen pages with 25 rows
AT_MOST = 12


def run() -> Iterable[Row]:
    """Measure in the temporary database of the benchmark."""
    logging.getLogger("maker.requests").addHandler(logging.NullHandler())
    logging.getLogger("maker.requests").propagate = False
    with site_with_bare_table():
        workshop = factories.make_workshop(name="Bench Paperworks", slug="bench-fairs")
        table = Table(workshop)
        owner = factories.make_member(workshop, Membership.Role.OWNER, "bench-fairs@example.test")
        sell_many(table, MANY)
        client = Client(HTTP_HOST="localhost")
        client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
        address = table.address("")
        fair_page = f"/w/{workshop.slug}/fairs/{table.fair.pk}/"

        def close() -> None:
            table.day.refresh_from_db()
            answer = client.post(address, closing_form(table), follow=True)
            assert answer.redirect_chain[-1][0] == fair_page, answer.status_code

        yield measured(
            f"closing a day of {MANY} sales, with the fair's page after it",
            close,
            lambda: open_bare_table(client),
            repeats=9,
            at_most=AT_MOST,
        )

        def send() -> None:
            batch = SentBatch("phone", None, (table.sale(),))
            (answer,) = store_batch(day=table.day, batch=batch, by=owner, now=timezone.now())
            assert answer.state == "stored", answer

        yield measured(
            f"storing one more sale after {MANY}",
            send,
            lambda: open_bare_table(client),
            repeats=15,
            at_most=4,
        )


def sell_many(table: Table, count: int) -> None:
    """Store so many sales of one or two items, with what left stock for them."""
    chance = random.Random(count)
    home = home_of(table.workshop)
    items = {}
    for design in (table.lantern, table.starbox):
        item = items[design.pk] = item_for(design.version)
        enter_opening(
            item=item,
            quantity=count * 2,
            on=table.day.held_on,
            today=table.day.held_on,
            worth=Worth(Decimal(600), Decimal(300), Decimal(100)),
        )
    sales = FairSale.objects.bulk_create(
        FairSale(
            day=table.day,
            happened_at=timezone.now(),
            kind="sale",
            way=chance.choice(["cash", "card"]),
            received=Decimal("6.50"),
        )
        for _ in range(count)
    )
    lines = FairSaleLine.objects.bulk_create(
        FairSaleLine(
            sale=sale, item=chance.choice([table.lantern, table.starbox]), price_each=sale.received
        )
        for sale in sales
    )
    FinishedMove.objects.bulk_create(
        FinishedMove(
            item=items[line.item_id],
            place=home,
            kind="sold",
            change=-1,
            moved_on=table.day.held_on,
        )
        for line in lines
    )
    replay_finished(workshop=table.workshop)


def closing_form(table: Table) -> dict[str, str]:
    """Return what the page of a day sends when it is closed with a till nobody counted."""
    return {
        "edit_number": str(table.day.edit_number),
        "coins-TOTAL_FORMS": "0",
        "coins-INITIAL_FORMS": "0",
        "close": "1",
    }
