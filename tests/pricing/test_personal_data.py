"""Names deleted in time, in every copy; a customer's data taken out or erased."""

import datetime
import json

import pytest
from django.urls import reverse

from maker.slow_work.hourly import EACH_HOUR
from pricing.customer_pages.models import QuoteMessage
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry
from pricing.orders.change_answers import decline_change, offer_change
from pricing.orders.changes import ChangeInput, save_change, start_change
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Invoice, Order, OrderChange
from pricing.orders.payments import record_payment
from pricing.orders.services import accept, cancel_order, deliver
from pricing.personal_data.names import delete_due_names
from pricing.personal_data.services import StillOpen, data_of, erase_again, erase_customer
from pricing.quotes.models import Quote, QuoteLine
from pricing.quotes.sending import revise_quote
from pricing.quotes.services import discard_draft
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
NAMES = "Xenobia\nYorick"


@pytest.fixture(autouse=True)
def _folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


@pytest.fixture
def order(workshop, owner):
    buyer = make_customer(
        workshop, name="Zoltan & Sons", email="zoltan@example.test", address="9 Quarry Row"
    )
    made = make_quote(workshop, title="Wedding of Xenobia", customer=buyer)
    make_line(made, make_recipe(workshop), quantity=5, names=NAMES)
    first = sent_quote(made, owner)
    second = sent_quote(revise_quote(quote=first, today=today()), owner)
    accept(quote=second, who="Zoltan", on=today(), today=today())
    return Order.objects.with_people().get()


def left(order):
    (row,) = order.deliveries.all()
    deliver(delivery=row, on=today(), today=today())
    return row


def everything(workshop):
    return json.dumps(export_workshop(workshop))


def test_names_stay_until_their_time_is_over(workshop, order):
    left(order)
    assert delete_due_names(today() + 59 * DAY) == 0
    assert "Xenobia" in QuoteLine.objects.first().names


def test_names_go_in_every_copy(workshop, order):
    left(order)
    assert delete_due_names(today() + 60 * DAY) >= 1
    assert not QuoteLine.objects.exclude(names="").exists()
    assert "Yorick" not in everything(workshop)
    assert Order.objects.get().names_deleted_on == today() + 60 * DAY
    assert delete_due_names(today() + 61 * DAY) == 0


def test_names_of_an_order_that_goes_on_stay(workshop, order):
    assert delete_due_names(today() + 365 * DAY) == 0
    assert "Yorick" in everything(workshop)


def test_a_revision_thrown_away_leaves_the_names_of_the_order_that_goes_on(workshop, owner):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), quantity=5, names=NAMES)
    first = sent_quote(made, owner)
    revision = revise_quote(quote=first, today=today())
    discard_draft(quote=revision)
    accept(quote=first, who="Zoltan", on=today(), today=today())
    assert delete_due_names(today() + 365 * DAY) == 1
    assert revision.lines.get().names == ""
    first.refresh_from_db()
    assert first.lines.get().names == NAMES
    assert first.frozen["public"]["lines"][0]["names"] == NAMES.split()


def test_names_a_revision_no_longer_has_go_from_the_one_before(workshop, owner):
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), quantity=5, names=NAMES)
    revision = revise_quote(quote=sent_quote(made, owner), today=today())
    revision.lines.update(names="")
    accept(quote=sent_quote(revision, owner), who="Zoltan", on=today(), today=today())
    left(Order.objects.with_people().get())
    assert delete_due_names(today() + 60 * DAY) == 1
    assert "Yorick" not in everything(workshop)
    assert delete_due_names(today() + 60 * DAY) == 0


def test_names_taken_off_an_order_go_from_what_was_sent(workshop, order):
    QuoteLine.objects.update(names="")
    left(order)
    assert "Yorick" in everything(workshop)
    assert delete_due_names(today() + 60 * DAY) == 1
    assert "Yorick" not in everything(workshop)


def test_names_of_an_archived_enquiry_go(workshop):
    row = Enquiry.objects.create(
        customer=make_customer(workshop), title="Favours", names=NAMES, retired_on=today()
    )
    delete_due_names(today() + 59 * DAY)
    row.refresh_from_db()
    assert row.names == NAMES
    delete_due_names(today() + 60 * DAY)
    row.refresh_from_db()
    assert row.names == ""


def test_names_of_a_cancelled_order_go_as_well(workshop, order):
    cancel_order(order=order, on=today(), today=today(), reason="", owed=0)
    delete_due_names(today() + 60 * DAY)
    assert "Yorick" not in everything(workshop)


def test_what_a_restore_or_an_import_brings_back_is_deleted_again(workshop, order):
    left(order)
    before = json.loads(everything(workshop))
    delete_due_names(today() + 60 * DAY)
    copy = import_workshop(before, name="Restored")
    assert "Yorick" in everything(copy)
    delete_due_names(today() + 60 * DAY)
    assert "Yorick" not in everything(copy)


def test_it_is_seen_to_by_the_hour():
    assert "pricing.personal_data.tasks.keep_promises" in EACH_HOUR


def test_data_of_a_customer_hold_all_of_hers_and_nothing_of_the_makers(
    client, owner, workshop, order
):
    client.force_login(owner)
    answer = client.get(
        reverse("pricing:customer_data", args=[workshop.slug, order.quote.customer_id])
    )
    data = json.loads(answer.content)
    assert "attachment" in answer["Content-Disposition"]
    assert data["customer"]["email"] == "zoltan@example.test"
    assert len(data["quotes"]) == 2
    assert "Yorick" in data["quotes"][0]["lines"][0]["names"]
    for inner in ("floor", "margin", "per_hour", "basis"):
        assert inner not in json.dumps(data["quotes"][0]["sent"])


def test_a_customer_with_an_open_order_is_not_erased(order):
    with pytest.raises(StillOpen, match="isn’t finished"):
        erase_customer(customer=order.quote.customer, today=today())


def finished(order):
    row = left(order)
    made = issue_invoice(delivery=row, on=today(), today=today())
    record_payment(order=order, amount=made.total, received_on=today(), today=today(), way="cash")


def test_erasing_leaves_nothing_but_invoices(client, owner, workshop, order):
    finished(order)
    QuoteMessage.objects.create(
        quote=order.quote, kind="question", name="Zoltan", text="?", revision=2,
        said_at=order.created_at,
    )  # fmt: skip
    client.force_login(owner)
    page = reverse("pricing:customer_erase", args=[workshop.slug, order.quote.customer_id])
    assert "1 invoice stays" in client.get(page).content.decode()
    client.post(page)
    written = json.loads(everything(workshop))
    invoices = [row.pop("invoices") for row in written["orders"]]
    assert "Zoltan" in json.dumps(invoices)
    for gone in ("Zoltan", "zoltan@", "Quarry Row", "Xenobia", "Yorick"):
        assert gone not in json.dumps(written), gone
    assert Invoice.objects.count() == 1
    assert import_workshop(json.loads(everything(workshop)), name="Again")


def test_erasing_takes_what_a_change_says_of_an_item(workshop, order):
    line = QuoteLine.objects.get(quote=order.quote)
    QuoteLine.objects.filter(pk=line.pk).update(description="For Xenobia's wedding")
    change = start_change(order=order)
    typed = ChangeInput(counts={line.pk: 6})
    change = save_change(change=change, typed=typed, today=today(), edit_number=change.edit_number)
    offered = offer_change(change=change, today=today())
    assert offered.document["lines"][0]["description"] == "For Xenobia's wedding"
    decline_change(change=offered, who="Zoltan", how="phone", note="", on=today(), today=today())
    finished(order)
    erase_customer(customer=order.quote.customer, today=today())
    assert "Xenobia" not in json.dumps(OrderChange.objects.get().document)


def test_a_restore_does_not_bring_a_customer_back(workshop, order):
    finished(order)
    kept = {model: list(model.objects.all()) for model in (Customer, Quote)}
    erase_customer(customer=order.quote.customer, today=today())
    for model, rows in kept.items():
        model.objects.bulk_update(rows, ["name"] if model is Customer else ["frozen", "title"])
    Customer.objects.update(erased_on=None)
    assert erase_again(today()) == 1
    assert "Zoltan" not in json.dumps(export_workshop(workshop)["quotes"])
    assert erase_again(today()) == 0


def test_nobody_from_outside_erases(client, workshop, order):
    client.logout()
    page = reverse("pricing:customer_erase", args=[workshop.slug, order.quote.customer_id])
    assert client.post(page).status_code == 302
    assert Customer.objects.get().name == "Zoltan & Sons"
    assert data_of(order.quote.customer)["customer"]["name"] == "Zoltan & Sons"
