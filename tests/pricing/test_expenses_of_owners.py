"""Expenses of one order or one fair: entered, moved, counted in what it cost, and in the report."""

import datetime
import json
import re
from decimal import Decimal as D
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.utils import timezone

from catalogue.closed_months.models import ClosedMonth
from catalogue.expenses.models import Expense
from catalogue.expenses.services import ExpenseInput, add_expense
from catalogue.purchases.services import (
    ReceiptExpenseInput,
    ReceiptInput,
    draft_purchase,
    record_purchase,
    reverse_purchase,
)
from maker.calc.strict_json import WrongJson
from pricing.fairs.models import Fair, FairCost, FairDay
from pricing.orders import belonging
from pricing.orders.models import Order, OrderExpense
from pricing.orders.services import accept
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of
from tests.factories import today
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_order_after import card, compared, made, order  # noqa: F401 - fixtures

NEW = "/w/marlow/expenses/new/"
OWNERS = "/w/marlow/spending/orders-and-fairs/"


@pytest.fixture
def fair(workshop):
    row = Fair.objects.create(workshop=workshop, name="Lantern fair")
    FairDay.objects.create(
        fair=row, held_on=today(), opens=datetime.time(9), closes=datetime.time(17)
    )
    return row


def typed(**more):
    return {
        "what": "Courier", "paid_on": today().isoformat(), "net": "12.50", "category": "travel",
        "purpose": "overhead", **more,
    }  # fmt: skip


def test_an_expense_of_an_order_counts_in_what_it_cost(client, order, card):  # noqa: F811
    made(order, card, 20, 3, 200)
    before = compared(order)
    place = f"/w/marlow/orders/{order.pk}/after/"
    opened = client.get(f"{NEW}?whose=order:{order.pk}")
    assert fields_of(opened)["whose"] == f"order:{order.pk}"
    client.post(NEW, typed(whose=f"order:{order.pk}"))
    expense = Expense.objects.get()
    assert (expense.of_order.order, expense.purpose) == (order, "order")
    after = compared(order)
    assert after.actual_cost - before.actual_cost == D("12.50")
    hours = after.work.actual_hours
    assert (before.earned_per_hour - after.earned_per_hour) * hours == pytest.approx(D("12.50"))
    page = text_of(client.get(place))
    assert "Courier" in page
    assert "Expenses for this order" in page
    assert f"Order {order.number}" in text_of(client.get(f"/w/marlow/expenses/{expense.pk}/"))
    # deleted it counts no more
    client.post(f"/w/marlow/expenses/{expense.pk}/delete/")
    assert compared(order).actual_cost == before.actual_cost


def test_the_order_of_an_expense_is_offered_however_many_were_done_since(
    client,
    order,  # noqa: F811
    monkeypatch,
):
    client.post(NEW, typed(whose=f"order:{order.pk}"))
    Order.objects.filter(pk=order.pk).update(state=Order.State.SETTLED)
    monkeypatch.setattr(belonging, "MOST_OFFERED", 0)
    place = f"/w/marlow/expenses/{Expense.objects.get().pk}/edit/"
    client.post(place, fields_of(client.get(place)) | {"net": "13"})
    assert OrderExpense.objects.get().order == order
    assert Expense.objects.get().net == 13


def test_it_moves_from_an_order_to_a_fair_and_to_none(client, order, fair):  # noqa: F811
    client.post(NEW, typed(whose=f"order:{order.pk}"))
    expense = Expense.objects.get()
    place = f"/w/marlow/expenses/{expense.pk}/edit/"
    page = client.get(place)
    assert fields_of(page)["whose"] == f"order:{order.pk}"
    client.post(place, fields_of(page) | {"whose": f"fair:{fair.pk}"})
    assert not OrderExpense.objects.exists()
    cost = FairCost.objects.get()
    assert (cost.fair, cost.kind, cost.counted) == (fair, "travel", D("12.50"))
    expense.refresh_from_db()
    assert expense.purpose == "fair"
    # saved again it stays the same cost, with what the fair says of it
    FairCost.objects.update(kind="parking")
    client.post(place, fields_of(client.get(place)) | {"net": "13"})
    assert FairCost.objects.get().kind == "parking"
    client.post(place, fields_of(client.get(place)) | {"whose": "", "purpose": "shared"})
    assert not FairCost.objects.exists()


def test_it_stays_with_its_fair_when_its_month_is_closed(client, workshop, fair):
    client.post(NEW, typed(whose=f"fair:{fair.pk}"))
    ClosedMonth.objects.create(
        workshop=workshop, month=today().replace(day=1), closed_at=timezone.now()
    )
    place = f"/w/marlow/expenses/{Expense.objects.get().pk}/edit/"
    client.post(place, fields_of(client.get(place)) | {"net": "14"})
    (cost,) = fair.costs.all()
    assert cost.counted == 14
    assert cost.expense.deleted_at is None


@pytest.fixture
def draft(workshop):
    """A receipt kept as a draft, with a van and a stall on it."""
    return draft_purchase(
        workshop=workshop,
        receipt=ReceiptInput(
            supplier=factories.make_supplier(workshop),
            bought_on=today(),
            expenses=[
                ReceiptExpenseInput("Van hire", D(60), "travel"),
                ReceiptExpenseInput("Stall", D(45), "stall"),
            ],
        ),
    )


def say_whose(client, expense, **said):
    place = f"/w/marlow/expenses/{expense.pk}/edit/"
    client.post(place, fields_of(client.get(place)) | said)


def test_a_changed_draft_keeps_what_its_expenses_belong_to(client, order, fair, draft):  # noqa: F811
    van, stall = draft.expenses.order_by("position")
    say_whose(client, van, whose=f"order:{order.pk}", notes="two trips", lasts_years="3")
    say_whose(client, stall, whose=f"fair:{fair.pk}")
    FairCost.objects.update(kind="other")
    place = f"/w/marlow/receipts/{draft.pk}/edit/"
    # another number on the receipt, another name, kind and amount on the line
    typed = fields_of(client.get(place)) | {
        "reference": "R-9", "lines-0-what": "Van, Saturday", "lines-0-amount": "70",
        "lines-0-expense": "other", "lines-2-what": "Parking", "lines-2-amount": "8",
        "lines-2-expense": "travel", "then": "keep",
    }  # fmt: skip
    client.post(place, typed)
    assert [
        (one.what, one.amount, one.category, one.purpose, one.notes, one.lasts_years)
        for one in draft.expenses.order_by("position")
    ] == [
        ("Van, Saturday", 70, "other", "order", "two trips", 3),
        ("Stall", 45, "stall", "fair", "", None),
        ("Parking", 8, "travel", "shared", "", None),
    ]
    assert OrderExpense.objects.get(order=order).expense_id == van.pk
    assert FairCost.objects.get(fair=fair, kind="other").expense_id == stall.pk
    # a line that goes takes along what it belonged to, and no other takes its place
    typed = fields_of(client.get(place)) | {"lines-0-DELETE": "on", "then": "keep"}
    client.post(place, typed)
    assert [one.what for one in draft.expenses.order_by("position")] == ["Stall", "Parking"]
    assert not OrderExpense.objects.exists()
    assert FairCost.objects.get().expense_id == stall.pk


@pytest.mark.parametrize("key", ["x", "9" * 40, "999999"])
def test_a_key_that_is_none_of_the_draft_keeps_nothing(client, workshop, order, draft, key):  # noqa: F811
    other = add_expense(
        workshop=workshop, expense=ExpenseInput(today(), "Courier", D(5)), today=today()
    )
    say_whose(client, other, whose=f"order:{order.pk}")
    place = f"/w/marlow/receipts/{draft.pk}/edit/"
    sent = {"lines-0-stands_for": key, "lines-1-stands_for": str(other.pk), "then": "keep"}
    client.post(place, fields_of(client.get(place)) | sent)
    assert [one.what for one in draft.expenses.order_by("position")] == ["Van hire", "Stall"]
    assert OrderExpense.objects.get().expense == other
    assert not draft.expenses.filter(pk=other.pk).exists()


def test_a_receipt_entered_again_for_an_undone_one_takes_its_order_over(client, order, draft):  # noqa: F811
    van = draft.expenses.get(what="Van hire")
    say_whose(client, van, whose=f"order:{order.pk}")
    record_purchase(purchase=draft, today=today())
    # bought again is another expense
    new = f"/w/marlow/receipts/new/?copy={draft.pk}"
    client.post(new, fields_of(client.get(new)) | {"another": "on", "then": "keep"})
    assert Expense.objects.filter(what="Van hire").count() == 2
    assert OrderExpense.objects.get().expense == van
    reverse_purchase(purchase=draft)
    client.post(
        new, fields_of(client.get(new)) | {"reference": "R-3", "another": "on", "then": "record"}
    )
    taken = OrderExpense.objects.get(order=order).expense
    assert (taken.purchase.reference, taken.what, taken.purpose) == ("R-3", "Van hire", "order")
    assert taken.deleted_at is None


@pytest.mark.parametrize("whose", ["order:0", "fair:999999", "order:x", "house:1", "order:-1"])
def test_what_is_not_there_is_refused_with_what_was_typed(client, order, whose):  # noqa: F811
    page = client.post(NEW, typed(whose=whose))
    assert page.status_code == 422
    assert list(page.context["form"].errors) == ["whose"]
    assert 'value="Courier"' in page.content.decode()


def test_nobody_sees_orders_and_fairs_of_another_workshop(order, fair):  # noqa: F811
    other = factories.make_workshop(slug="other", name="Other")
    stranger = Client()
    stranger.force_login(factories.make_member(other, "owner"))
    page = stranger.get("/w/other/expenses/new/").content.decode()
    assert order.number not in page
    assert "Lantern fair" not in page
    for whose in (f"order:{order.pk}", f"fair:{fair.pk}"):
        assert stranger.post("/w/other/expenses/new/", typed(whose=whose)).status_code == 422


def test_the_report_says_what_each_order_and_fair_cost(client, order, card, fair):  # noqa: F811
    made(order, card, 20, 3, 200)
    client.post(NEW, typed(whose=f"order:{order.pk}"))
    client.post(NEW, typed(what="Stall", net="40", category="stall", whose=f"fair:{fair.pk}"))
    FairCost.objects.create(fair=fair, kind="food", amount=D(6))
    FairCost.objects.create(fair=fair, kind="drawing", amount=D(99))
    page = client.get(OWNERS)
    (row,) = page.context["by_order"].rows
    assert [cell.text for cell in row.cells] == ["€1.50", "€12.50", "€14.00"]
    (row,) = page.context["by_fair"].rows
    assert [cell.text for cell in row.cells] == ["€40.00", "€6.00", "€46.00"]
    # the spending page leads there for the months it shows, and is sent the tables alone
    months = {"first": f"{today():%Y-%m}", "last": f"{today():%Y-%m}"}
    address = f"{OWNERS}?{urlencode(months)}".replace("&", "&amp;")
    assert address in client.get("/w/marlow/spending/", months).content.decode()
    part = client.get(OWNERS, months, headers={"HX-Request": "true"}).content.decode()
    assert "€14.00" in part
    assert "<html" not in part
    assert address not in client.get("/w/marlow/spending/", {"category": "paper"}).content.decode()
    # of other months nothing
    page = client.get(OWNERS, {"first": "2020-01", "last": "2020-12"})
    assert page.context["by_order"] is None
    assert page.context["by_fair"] is None


def test_the_tax_year_counts_what_batches_took_for_an_order(client, order, card):  # noqa: F811
    made(order, card, 20, 3, 200)
    client.post(NEW, typed(whose=f"order:{order.pk}"))
    year = client.get("/w/marlow/tax-year/")
    (orders,) = re.findall(r'hx-get="(/w/marlow/tax-year/\d+/orders/)"', year.content.decode())
    (row,) = client.get(orders).context["table"].rows
    assert (row.name, row.cells[0].text) == (order.number, "€1.50")


def test_more_orders_cost_no_more_queries(client, owner, workshop, count_queries):
    def one_more():
        quote = make_quote(workshop)
        make_line(quote, factories.make_recipe(workshop), quantity=5)
        another = accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())
        client.post(NEW, typed(whose=f"order:{another.pk}", what=f"For {another}"))

    def queries():
        client.get(OWNERS)
        with count_queries() as asked:
            page = client.get(OWNERS)
        return len(page.context["by_order"].rows), len(asked)

    one_more()
    count, few = queries()
    one_more()
    one_more()
    assert queries() == (count + 2, few)


def test_it_goes_out_and_in_with_the_workshop_file(client, workshop, order):  # noqa: F811
    client.post(NEW, typed(whose=f"order:{order.pk}"))
    document = json.loads(document_text(export_workshop(workshop)))
    made_of = import_workshop(document, name="Copy")
    (row,) = OrderExpense.objects.filter(expense__workshop=made_of)
    assert (row.order.number, row.expense.what) == (order.number, "Courier")
    assert row.order.workshop == made_of
    (written,) = document["orders"]
    written["expenses"] *= 2
    with pytest.raises(WrongJson, match="another order"):
        import_workshop(document, name="Twice")
    written["expenses"] = [{"expense": "expense 9"}]
    with pytest.raises(WrongJson):
        import_workshop(document, name="None")
