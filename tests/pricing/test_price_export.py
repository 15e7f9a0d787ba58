"""The price list as a file: what is asked, and what it was set against."""

import datetime
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from maker.documents.spreadsheet import read_table
from maker.workshop.models import Workshop
from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_recipe
from tests.office import cells_in_office, in_office


def set_prices(workshop: Workshop, *channels: str) -> None:
    """Ask 5.50 for one design in each channel."""
    version = make_recipe(workshop)
    version.design.name = f"=Bag {version.design_id}"
    version.design.save()
    for name in channels:
        PriceListEntry.objects.create(
            design=version.design,
            version=version,
            channel=make_channel(workshop, name=name),
            choices={"ribbon": "wide"},
            made_at_once=12,
            price=Decimal("5.5"),
            cost_each=Decimal("3.255556"),
            floor_each=Decimal("3.30"),
            target_each=Decimal("4.70"),
        )


def test_the_date_is_that_of_the_workshop_not_of_greenwich(
    client: Client, workshop: Workshop, settings: Any
) -> None:
    """Set on 1 April in the morning at Auckland: it is still 31 March at Greenwich."""
    settings.TIME_ZONE = "Pacific/Auckland"
    set_prices(workshop, "Fair")
    moment = datetime.datetime(2026, 3, 31, 21, 30, tzinfo=datetime.UTC)
    PriceListEntry.objects.update(set_at=moment)
    (row,) = read_table(exported(client, "csv")).rows
    assert "2026-04-01" in row
    address = reverse("pricing:price_list", args=["marlow"])
    assert "1 Apr 2026" in client.get(address).content.decode()


def exported(client: Client, form: str, **asked: Any) -> bytes:
    address = reverse("pricing:price_list", args=["marlow"])
    return bytes(client.get(address, {"format": form, **asked}).content)


def test_prices_are_written_as_filtered(client: Client, workshop: Workshop) -> None:
    set_prices(workshop, "Fair", "Shop")
    shop = PriceListEntry.objects.get(channel__name="Shop")
    table = read_table(exported(client, "csv", channel=shop.channel_id))
    row = dict(zip(table.heading, table.rows[0], strict=True))
    assert len(table.rows) == 1
    assert row | {"Code": "", "Date set": ""} == {
        "Design": shop.design.name,
        "Code": "",
        "Channel": "Shop",
        "Bought at once, from": "1",
        "Price": "5.50",
        "With tax": "yes",
        "Lowest price when set": "3.30",
        "Cost when set": "3.255556",
        "Date set": "",
        "Version": "1",
        "Colourway": "",
        "Options": "ribbon: wide",
        "Made at once": "12",
    }


def test_more_prices_cost_no_more_queries(
    client: Client, workshop: Workshop, count_queries: Callable[[], Any]
) -> None:
    counts = []
    for channels in (["a"], [f"b{number}" for number in range(9)]):
        set_prices(workshop, *channels)
        with count_queries() as queries:
            exported(client, "xlsx")
        counts.append(len(queries))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
class TestInLibreOffice:
    """The price list opened by another program."""

    pytestmark = in_office

    def test_a_price_is_a_number(
        self, form: str, client: Client, workshop: Workshop, tmp_path: Path
    ) -> None:
        set_prices(workshop, "Fair")
        _, row = cells_in_office(exported(client, form), form, tmp_path)
        assert (row[4].kind, row[4].value) == ("float", "5.5")
        assert row[0].formula is None
        assert row[0].shown.lstrip("'") == PriceListEntry.objects.get().design.name


def test_who_may_take_the_prices_out(
    reader_client: Client, stranger_client: Client, anonymous_client: Client, workshop: Workshop
) -> None:
    address = reverse("pricing:price_list", args=["marlow"])
    found = [
        client.get(address, {"format": "csv"}).status_code
        for client in (reader_client, stranger_client, anonymous_client)
    ]
    assert found == [200, 404, 302]
