"""Every main page with the demo workshop and one 50 times as large, beside an empty view."""

import logging
from collections.abc import Iterable

from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import reverse

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from pricing.quotes.models import Quote
from tests.benchmarks import Row, measured


def run() -> Iterable[Row]:
    """Measure in the temporary database of the benchmark."""
    # a log line for each request would bury the table; it is still written, to nowhere
    logging.getLogger("maker.requests").addHandler(logging.NullHandler())
    logging.getLogger("maker.requests").propagate = False
    with override_settings(ROOT_URLCONF="tests.benchmarks.empty_site"):
        call_command("load_demo", verbosity=0)
        small = Workshop.objects.demo().exclude(name="Worked case").get()
        yield from _pages(small, "demo")
        call_command("seed_large", times=50, verbosity=0)
        large = Workshop.objects.latest("pk")
        yield from _pages(large, "x50")


def _pages(workshop: Workshop, name: str) -> Iterable[Row]:
    user = User.objects.create_user(f"bench-{workshop.pk}@example.test", "paper-and-twine")
    Membership.objects.create(user=user, workshop=workshop, role=Membership.Role.OWNER)
    client = Client(HTTP_HOST="localhost")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    design = Design.objects.of(workshop).in_use().by_name().first()
    material = Material.objects.of(workshop).in_use().by_name().first()
    purchase = Purchase.objects.of(workshop).recorded().newest_first().first()
    assert design
    assert material
    assert purchase
    quote = Quote.objects.of(workshop).exclude(number="").newest_first().first()
    assert quote
    slug = workshop.slug
    version = design.versions.latest("number").number
    addresses = {
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
        "prices": reverse("pricing:price_list", args=[slug]),
        "price tags": reverse("pricing:tag_sheet", args=[slug]),
        "spend": reverse("pricing:spending", args=[slug]),
        "quotes": reverse("pricing:quote_list", args=[slug]),
        "a quote": reverse("pricing:quote", args=[slug, quote.pk]),
        "channels": reverse("pricing:channel_list", args=[slug]),
        "settings": reverse("maker:workshop_settings", args=[slug]),
    }
    for page, address in addresses.items():
        with CaptureQueriesContext(connection) as queries:
            response = client.get(address)
        assert response.status_code == 200, (page, response.status_code)

        def open_page(address: str = address) -> None:
            client.get(address)

        yield measured(
            f"{page}, {name}",
            open_page,
            lambda: client.get("/empty/"),
            repeats=9,
            note=f"{len(queries)} queries, {len(response.content) // 1024} KiB",
        )
