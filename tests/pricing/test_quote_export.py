"""Quotes and customers as files: what was asked for, and nothing of her own figures."""

import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from maker.documents.spreadsheet import read_table
from pricing.customers.models import Customer
from pricing.quotes.models import Quote


@pytest.fixture
def sent(workshop):
    customer = Customer.objects.create(
        workshop=workshop, name="=Tern & Sons", address="1 Quay\nTamsel", email="t@example.test"
    )
    Quote.objects.create(customer=customer, title="still a draft")
    return Quote.objects.create(
        customer=customer,
        number="Q-2026-0001",
        title="Favours",
        state=Quote.State.SENT,
        sent_on=datetime.date(2026, 1, 5),
        valid_until=datetime.date(2026, 1, 26),
        total=Decimal("633"),
        frozen={"own": {"floor": "470.90"}},
    )


def rows_of(client: Any, name: str, form: str = "csv", **asked: str) -> list[dict[str, str]]:
    response = client.get(reverse(name, args=["marlow"]), {"format": form, **asked})
    assert response.status_code == 200
    table = read_table(bytes(response.content))
    return [dict(zip(table.heading, row, strict=True)) for row in table.rows]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_quotes_come_out_with_state_and_total(client, sent, form):
    row = next(row for row in rows_of(client, "pricing:quote_list", form) if row["Number"])
    assert row["Number"] == "Q-2026-0001"
    assert row["Customer"] == "=Tern & Sons"
    assert row["State"] == "expired"
    assert row["Sent on"].startswith("2026-01-05")
    assert Decimal(row["Total"]) == 633


def test_nothing_of_her_own_figures_is_in_the_file(client, sent):
    response = client.get(reverse("pricing:quote_list", args=["marlow"]), {"format": "csv"})
    assert b"470.90" not in response.content


def test_the_file_holds_what_the_list_was_narrowed_to(client, sent):
    titles = [row["Subject"] for row in rows_of(client, "pricing:quote_list", search="Favours")]
    assert titles == ["Favours"]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_customers_come_out_whole(client, sent, form):
    (row,) = rows_of(client, "pricing:customer_list", form)
    assert row["Name"] == "=Tern & Sons"
    assert row["Address"] == "1 Quay\nTamsel"


@pytest.mark.parametrize("name", ["pricing:quote_list", "pricing:customer_list"])
def test_who_may_take_them_out(reader_client, stranger_client, anonymous_client, sent, name):
    address = reverse(name, args=["marlow"]) + "?format=csv"
    assert reader_client.get(address).status_code == 200
    assert stranger_client.get(address).status_code == 404
    assert anonymous_client.get(address).status_code == 302
    assert "format=xlsx" in reader_client.get(address.split("?")[0]).content.decode()
