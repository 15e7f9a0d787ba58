"""The site with one more page, the baseline of all others: a bare table of 25 rows.

It is what django-tables2 makes of 25 rows with its own template, through every middleware, for the
same visitor: no sign-in, no frame, no styles.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import django_tables2 as tables
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.test.utils import override_settings
from django.urls import path

from catalogue.materials.models import Material
from catalogue.suppliers.models import Supplier
from maker.urls import urlpatterns as site
from maker.workshop.models import Workshop

ROWS = 25
ADDRESS = "/bare-table/"
SLUG = "bare-table"
LIBRARY_TEMPLATES = Path(tables.__file__).parent / "templates"


class BareTable(tables.Table):
    """As many columns as the list of materials, each as the library writes it."""

    supplier = tables.Column(accessor="supplier__name")

    class Meta:
        model = Material
        template_name = "django_tables2/table.html"
        fields = ("name", "category", "on_hand", "average_cost", "stock_value", "supplier")


def bare_table(request: HttpRequest) -> HttpResponse:
    """Answer with the first page of the table and nothing around it."""
    rows = Material.objects.filter(workshop__slug=SLUG).select_related("supplier").order_by("pk")
    table = BareTable(rows).paginate(page=1, per_page=ROWS)
    return HttpResponse(f"<!DOCTYPE html><title>Bare table</title>{table.as_html(request)}")


urlpatterns = [path(ADDRESS.strip("/") + "/", bare_table), *site]


@contextmanager
def site_with_bare_table() -> Iterator[None]:
    """Serve the bare table beside the site, over twice the rows that it shows."""
    workshop = Workshop.objects.create(name="Bare table", slug=SLUG)
    supplier = Supplier.objects.create(workshop=workshop, name="Supplier")
    Material.objects.bulk_create(
        Material(workshop=workshop, name=f"Material {number}", kind="count", supplier=supplier)
        for number in range(2 * ROWS)
    )
    engine: dict[str, Any] = settings.TEMPLATES[0]
    with override_settings(
        ROOT_URLCONF=__name__,
        TEMPLATES=[engine | {"DIRS": [*engine["DIRS"], LIBRARY_TEMPLATES]}],
    ):
        yield


def open_bare_table(client: Client) -> None:
    """Open it as the visitor of the other pages does."""
    response = client.get(ADDRESS)
    assert response.content.count(b"<tr") == ROWS + 1, response.status_code
