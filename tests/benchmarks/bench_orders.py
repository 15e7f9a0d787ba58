"""Pages of a workshop with 500 open orders, beside a bare table of 25 rows."""

import datetime
import logging
from collections.abc import Iterable

from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from pricing.orders.models import Order
from tests.benchmarks import Row, measured
from tests.benchmarks.bare_table import open_bare_table, site_with_bare_table
from tests.many_orders import copy_order

MANY = 500
AT_MOST = 3


def run() -> Iterable[Row]:
    """Measure in the temporary database of the benchmark."""
    logging.getLogger("maker.requests").addHandler(logging.NullHandler())
    logging.getLogger("maker.requests").propagate = False
    with site_with_bare_table():
        call_command("load_demo", verbosity=0)
        workshop = Workshop.objects.demo().exclude(name="Worked case").get()
        order = Order.objects.of(workshop).with_people().order_by("number").first()
        assert order
        today = timezone.localdate()

        def due(place: int) -> datetime.date:
            return today + datetime.timedelta(days=place % 60 - 5)

        orders = copy_order(order, MANY, due)
        Order.objects.filter(pk__in=[each.pk for each in orders]).update(state="planned")
        user = User.objects.create_user("bench-orders@example.test", "paper-and-twine")
        Membership.objects.create(user=user, workshop=workshop, role=Membership.Role.OWNER)
        client = Client(HTTP_HOST="localhost")
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        for name, view, keys in (
            ("orders", "order_list", ()),
            ("home", "home", ()),
            ("calendar", "calendar", ()),
            ("an order", "order", (orders[0].pk,)),
            ("order dates", "order_dates", (orders[0].pk,)),
            ("order making", "order_making", (orders[0].pk,)),
            ("overdue invoices", "overdue_list", ()),
        ):
            address = reverse(f"pricing:{view}", args=[workshop.slug, *keys])
            with CaptureQueriesContext(connection) as queries:
                response = client.get(address)
            assert response.status_code == 200, (name, response.status_code)

            def open_page(address: str = address) -> None:
                client.get(address)

            yield measured(
                f"{name}, {MANY} open orders",
                open_page,
                lambda: open_bare_table(client),
                repeats=9,
                note=f"{len(queries)} queries, {len(response.content) // 1024} KiB",
                at_most=AT_MOST,
            )
