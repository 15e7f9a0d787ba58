"""Pages of the expenses: entry, errors, a second click, two people, deleted and back, found."""

import datetime

import pytest
from django.test import Client
from django.utils import timezone

from catalogue.expenses.models import Expense
from maker.workshop.models import OverheadItem, Workshop
from tests.catalogue.pages import text_of

NEW = "/w/marlow/expenses/new/"
LIST = "/w/marlow/expenses/"
TYPED = {
    "what": "Van hire", "paid_on": "2026-03-04", "net": "62", "category": "travel",
    "purpose": "shared",
}  # fmt: skip


def test_an_expense_is_entered_found_and_written_out(client: Client, workshop: Workshop) -> None:
    page = text_of(client.post(NEW, TYPED | {"tax_paid": "12.40"}, follow=True))
    kept = Expense.objects.get()
    assert (kept.workshop, f"{kept.cost:.2f}") == (workshop, "74.40")
    assert "Saved “Van hire”." in page
    assert "€74.40" in page
    assert "Van hire" in text_of(client.get(LIST, {"search": "van"}))
    assert "No expenses match" not in text_of(client.get("/w/marlow/search/", {"search": "van"}))
    sheet = client.get(LIST, {"format": "csv"})
    assert b"".join(sheet).decode("utf-8-sig").startswith("Date,Expense")


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("what", ""), ("paid_on", "3/4"), ("paid_on", "2100-01-01"), ("net", "a lot"),
        ("net", "1.005"), ("tax_paid", "-1"), ("lasts_years", "0"), ("category", "x"),
        ("what", "x" * 121),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_told_at_its_field(client: Client, field: str, typed: str) -> None:
    response = client.post(NEW, TYPED | {field: typed})
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert not Expense.objects.exists()


def test_a_second_click_saves_once(client: Client) -> None:
    key = {"form_key": "7b0c7b2e-8a3d-4f0e-9d64-2f6d1c1c7a11"}
    client.post(NEW, TYPED | key)
    page = text_of(client.post(NEW, TYPED | key, follow=True))
    assert "already saved" in page
    assert Expense.objects.count() == 1


def test_the_second_of_two_people_sees_both(client: Client) -> None:
    client.post(NEW, TYPED)
    row = Expense.objects.get()
    edit = f"{LIST}{row.pk}/edit/"
    client.post(edit, TYPED | {"net": "63", "edit_number": "0"})
    page = client.post(edit, TYPED | {"net": "64", "edit_number": "0"})
    assert page.status_code == 422
    assert "63" in text_of(page)
    assert Expense.objects.get().net == 63


def test_a_deleted_expense_comes_back(client: Client) -> None:
    client.post(NEW, TYPED)
    row = Expense.objects.get()
    page = text_of(client.post(f"{LIST}{row.pk}/delete/", follow=True))
    assert "Undo" in page
    assert not Expense.objects.counted().exists()
    client.post(f"{LIST}{row.pk}/restore/")
    assert Expense.objects.counted().exists()


def test_overhead_spent_stands_beside_what_prices_count(client: Client, workshop: Workshop) -> None:
    workshop.overhead_basis = Workshop.OverheadBasis.HOURLY
    workshop.save()
    OverheadItem.objects.create(workshop=workshop, name="Rent", amount=100, period="month")
    today = timezone.localdate()
    for days, net in ((0, "1300"), (40, "160"), (400, "999")):
        on = today - datetime.timedelta(days=days)
        typed = {"what": "Rent", "paid_on": on.isoformat(), "net": net, "category": "rent"}
        client.post(NEW, typed | {"purpose": "overhead"})
    page = text_of(client.get(LIST))
    for words in ("€1,460.00", "€260.00 more than counted", "€1,200.00"):
        assert words in page


def test_a_list_of_many_asks_no_more_queries(
    client: Client, workshop: Workshop, django_assert_max_num_queries: object
) -> None:
    Expense.objects.bulk_create(
        Expense(workshop=workshop, what=f"E {n}", paid_on=datetime.date(2026, 1, 1), net=1, cost=1)
        for n in range(60)
    )
    with django_assert_max_num_queries(12):  # type: ignore[operator]  # a fixture
        client.get(LIST)
