"""Every page with the demo workshop and one 50 times as large, beside a bare table of 25 rows."""

import logging
from collections.abc import Iterable, Iterator

from django.core.cache import caches
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import resolve, reverse

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from pricing.quotes.models import Quote
from tests.benchmarks import Row, measured
from tests.benchmarks.bare_table import open_bare_table, site_with_bare_table
from tests.crawl import crawl

AT_MOST = 3
# it prices every quantity up to the largest, each with its own plan of sheets
FIRST, AGAIN = "quantities, asked for the first time", "quantities, asked for again"
AT_MOST_FOR = {FIRST: 10, AGAIN: 10}


def run() -> Iterable[Row]:
    """Measure in the temporary database of the benchmark."""
    # a log line for each request would bury the table; it is still written, to nowhere
    logging.getLogger("maker.requests").addHandler(logging.NullHandler())
    logging.getLogger("maker.requests").propagate = False
    with site_with_bare_table():
        call_command("load_demo", verbosity=0)
        small = Workshop.objects.demo().exclude(name="Worked case").get()
        yield from _pages(small, "demo")
        call_command("seed_large", times=50, verbosity=0)
        yield from _pages(Workshop.objects.latest("pk"), "x50")


def _pages(workshop: Workshop, name: str) -> Iterator[Row]:
    user = User.objects.create_user(f"bench-{workshop.pk}@example.test", "paper-and-twine")
    Membership.objects.create(user=user, workshop=workshop, role=Membership.Role.OWNER)
    client = Client(HTTP_HOST="localhost")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    addresses = _chosen(workshop)
    chosen = {_view_of(address) for address in addresses.values()}
    for address, answer in crawl(client, reverse("pricing:home", args=[workshop.slug])):
        is_page = "html" in answer.headers.get("Content-Type", "") and answer.status_code == 200
        if is_page and (view := _view_of(address)) not in chosen:
            chosen.add(view)
            addresses[view.partition(":")[2].replace("_", " ")] = address
    for page, address in addresses.items():
        with CaptureQueriesContext(connection) as queries:
            response = client.get(address)
        assert response.status_code == 200, (page, response.status_code)

        def open_page(page: str = page, address: str = address) -> None:
            if page == FIRST:
                caches["figures"].clear()
            client.get(address)

        yield measured(
            f"{page}, {name}",
            open_page,
            lambda: open_bare_table(client),
            repeats=9,
            note=f"{len(queries)} queries, {len(response.content) // 1024} KiB",
            at_most=AT_MOST_FOR.get(page, AT_MOST),
        )


def _chosen(workshop: Workshop) -> dict[str, str]:
    """Name the main pages, of the same rows in every run."""
    design = Design.objects.of(workshop).in_use().by_name().first()
    material = Material.objects.of(workshop).in_use().by_name().first()
    purchase = Purchase.objects.of(workshop).recorded().newest_first().first()
    quote = Quote.objects.of(workshop).exclude(number="").newest_first().first()
    assert design
    assert material
    assert purchase
    assert quote
    slug = workshop.slug
    version = design.versions.latest("number").number
    return {
        "home": reverse("pricing:home", args=[slug]),
        "materials": reverse("catalogue:material_list", args=[slug]),
        "a material": reverse("catalogue:material", args=[slug, material.pk]),
        "suppliers": reverse("catalogue:supplier_list", args=[slug]),
        "receipts": reverse("catalogue:purchase_list", args=[slug]),
        "a receipt": reverse("catalogue:purchase", args=[slug, purchase.pk]),
        "designs": reverse("catalogue:design_list", args=[slug]),
        "a design": reverse("catalogue:design", args=[slug, design.pk]),
        "recipe editor": reverse("catalogue:recipe", args=[slug, design.pk, version]),
        "cost": reverse("pricing:cost", args=[slug, design.pk]) + "?quantity=60",
        "other quantities": reverse("pricing:cost_quantities", args=[slug, design.pk]),
        FIRST: reverse("pricing:quantities", args=[slug, design.pk]),
        AGAIN: reverse("pricing:quantities", args=[slug, design.pk]),
        "range": reverse("pricing:design_range", args=[slug, design.pk]),
        "channel comparison": reverse("pricing:design_channels", args=[slug, design.pk]),
        "what if": reverse("pricing:what_if", args=[slug, design.pk]),
        "price history": reverse("pricing:design_history", args=[slug, design.pk]),
        "prices": reverse("pricing:price_list", args=[slug]),
        "review prices": reverse("pricing:price_review", args=[slug]),
        "price tags": reverse("pricing:tag_sheet", args=[slug]),
        "spend": reverse("pricing:spending", args=[slug]),
        "quotes": reverse("pricing:quote_list", args=[slug]),
        "a quote": reverse("pricing:quote", args=[slug, quote.pk]),
        "channels": reverse("pricing:channel_list", args=[slug]),
        "settings": reverse("maker:workshop_settings", args=[slug]),
    }


def _view_of(address: str) -> str:
    return resolve(address.partition("?")[0]).view_name
