"""No invoice asks for money that was paid: deposits, payments ahead, paid back, credited."""

import datetime
import io
from decimal import Decimal

import pdfplumber
import pytest
from django.urls import reverse

from pricing.orders.crediting import issue_credit_note
from pricing.orders.inputs import lines_now
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Invoice, Order
from pricing.orders.overdue import open_invoices, overdue_invoices, reminder_of
from pricing.orders.payments import BadPayment, record_payment, undo_payment
from pricing.orders.printing import invoice_file
from pricing.orders.services import (
    DeliveryInput,
    accept,
    deliver,
    deposits_missing,
    owed_on,
    paid_on,
    save_deliveries,
)
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
DEPOSIT = Decimal(30)


def again(order):
    return Order.objects.with_people().get(pk=order.pk)


@pytest.fixture
def order(workshop, owner):
    """Twenty at 10.00 in deliveries of 13 and 7; a deposit of 30.00 is asked for."""
    made = make_quote(workshop, title="Favour boxes")
    made.deposit_share = Decimal("0.15")
    made.save(update_fields=["deposit_share"])
    make_line(made, make_recipe(workshop), quantity=20, price_asked=Decimal(10))
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    assert Decimal(order.quote.frozen["public"]["deposit"]) == DEPOSIT
    (row,), (line,) = order.deliveries.all(), lines_now(order)
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, None, "1 Mill Lane", "", {line.pk: 13}),
            DeliveryInput(None, None, "2 Mill Lane", "", {line.pk: 7}),
        ],
        edit_number=again(order).edit_number,
    )
    return again(order)


def pay(order, amount):
    return record_payment(
        order=order,
        amount=Decimal(amount),
        received_on=today(),
        today=today(),
        way="transfer",
        is_more_meant=True,
    )


def invoice(order, place):
    row = order.deliveries.get(position=place)
    return issue_invoice(delivery=row, on=today(), today=today(), due_on=today())


def words_of(pdf):
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        return "\n".join(page.extract_text() for page in opened.pages)


def credit(invoice, count):
    (line,) = invoice.document["lines"]
    return issue_credit_note(
        invoice=invoice, counts={line["line"]: count}, reason="Creased", on=today(), today=today()
    )


@pytest.mark.parametrize(
    ("paid", "to_pay"),
    [
        ("0", ("130.00", "70.00")),
        # a part of the deposit, and all of it, are shared by the totals
        ("10", ("123.50", "66.50")),
        ("30", ("110.50", "59.50")),
        # what is paid beyond it pays the first invoice, then the next
        ("50", ("90.50", "59.50")),
        ("140.50", ("0.00", "59.50")),
        ("200", ("0.00", "0.00")),
        ("230", ("0.00", "0.00")),
    ],
)
def test_what_was_paid_before_is_never_asked_for(order, paid, to_pay):
    if Decimal(paid):
        pay(order, paid)
    made = [invoice(order, 0), invoice(order, 1)]
    assert [each.to_pay for each in made] == [Decimal(each) for each in to_pay]
    assert sum(each.to_pay for each in made) == max(owed_on(again(order)), Decimal(0))
    opened = [each.left for each in open_invoices(order.workshop, until=today())]
    assert opened == [Decimal(each) for each in to_pay if Decimal(each)]


def test_more_than_all_of_it_is_paid_back_and_settles_the_order(order):
    pay(order, 230)
    for place in (0, 1):
        invoice(order, place)
        deliver(delivery=order.deliveries.get(position=place), on=today(), today=today())
    assert owed_on(again(order)) == -30
    pay(order, -30)
    assert (owed_on(again(order)), again(order).state) == (0, Order.State.SETTLED)


def test_a_deposit_paid_after_the_first_invoice_pays_that_one_first(order):
    first = invoice(order, 0)
    assert first.to_pay == 130
    pay(order, 30)
    pay(order, 110)
    # 10 of 140 were not asked for yet
    assert invoice(order, 1).to_pay == 60
    assert owed_on(again(order)) == 60


def test_what_was_credited_after_it_was_paid_comes_off_the_next_invoice(order):
    pay(order, 30)
    first = invoice(order, 0)
    pay(order, first.to_pay)
    credit(first, 2)
    second = invoice(order, 1)
    assert second.to_pay == Decimal("39.50")
    pay(order, "39.50")
    assert open_invoices(order.workshop, until=today()) == []
    assert owed_on(again(order)) == 0


def test_what_was_credited_and_paid_back_is_not_taken_off_twice(order):
    first = invoice(order, 0)
    pay(order, 130)
    credit(first, 2)
    pay(order, -20)
    assert invoice(order, 1).to_pay == 70
    pay(order, 70)
    assert open_invoices(order.workshop, until=today()) == []


def test_a_deposit_that_was_no_payment_is_not_taken_off_the_next_invoice(order):
    payment = pay(order, 30)
    assert invoice(order, 0).to_pay == Decimal("110.50")
    undo_payment(payment=payment)
    assert invoice(order, 1).to_pay == 70
    # the paper of the first says 110.50, and 130 are owed for it
    opened = [each.left for each in open_invoices(order.workshop, until=today())]
    assert opened == [130, 70]
    assert owed_on(again(order)) == 200


def test_the_paper_says_what_was_paid_and_that_nothing_is_left(order):
    pay(order, 50)
    words = words_of(invoice_file(invoice(order, 0)))
    assert "Deposit already paid −€19.50" in words
    assert "Already paid −€20.00" in words
    assert "To pay €90.50" in words
    pay(order, "150")
    assert "Paid in full. Nothing is left to pay." in words_of(invoice_file(invoice(order, 1)))


def test_the_page_says_what_is_open_of_each_invoice(client, order):
    pay(order, 30)
    invoice(order, 0)
    address = reverse("pricing:order", args=[order.workshop.slug, order.pk])
    assert "€110.50 to pay" in client.get(address).content.decode()
    pay(order, "110.50")
    second = invoice(order, 1)
    text = client.get(address).content.decode()
    assert '<div class="soft">nothing to pay</div>' in text
    assert "€59.50 to pay" in text
    credit(second, 1)
    text = client.get(address).content.decode()
    assert "€49.50 to pay" in text
    assert text.count("€49.50 to pay</div>") == 1


def test_what_was_paid_and_paid_back_is_added_up_exactly(order):
    for amount in ("30.10", "20.20", "-50.30"):
        pay(order, amount)
    assert (paid_on(order), owed_on(order)) == (0, 200)
    # a float would be owed a little less and refuse it as too much
    record_payment(
        order=order, amount=Decimal(200), received_on=today(), today=today(), way="transfer"
    )
    invoice(order, 0)
    assert open_invoices(order.workshop, until=today()) == []


def test_a_deposit_is_missing_to_the_cent(order):
    for amount in ("0.30", "-0.10", "-0.10"):
        pay(order, amount)
    assert deposits_missing(order.workshop, 1) == [(order, Decimal("29.90"))]


def test_amounts_of_a_document_are_read_exactly(order):
    pay(order, "31.53")
    first = invoice(order, 0)
    assert (first.document["paid_before"], first.to_pay) == ("1.53", Decimal("108.97"))
    pay(order, first.to_pay)
    # 1.53 as a float would leave a little of it open
    assert open_invoices(order.workshop, until=today()) == []


def test_no_payment_is_undone_of_which_a_part_was_paid_back(order):
    payment = pay(order, 30)
    back = pay(order, -10)
    with pytest.raises(BadPayment, match="paid back"):
        undo_payment(payment=payment)
    assert paid_on(order) == 20
    undo_payment(payment=back)
    undo_payment(payment=payment)
    assert paid_on(order) == 0


def test_page_list_and_reminder_say_what_an_invoice_counted_as_paid_and_is_gone(
    client, owner, order
):
    """The deposit of 30.00 is undone: 19.50 of it were taken off invoice 1, which asks 110.50."""
    payment = pay(order, 30)
    first = invoice(order, 0)
    assert first.to_pay == Decimal("110.50")
    undo_payment(payment=payment)
    Invoice.objects.update(issued_on=today() - 20 * DAY, due_on=today() - DAY)
    (late,) = overdue_invoices(order.workshop, today())
    assert (late.left, late.gone) == (130, Decimal("19.50"))
    client.force_login(owner)
    slug = order.workshop.slug
    page = client.get(reverse("pricing:order", args=[slug, order.pk])).content.decode()
    assert "€130.00 to pay" in page
    assert "It counted €19.50 as paid that is not there any more." in page
    page = client.get(reverse("pricing:overdue_list", args=[slug])).content.decode()
    assert "with €19.50 it counted as paid" in page
    letter = reminder_of(late, order.workshop)["text"]
    assert "€130.00 (with €19.50 that the invoice counted as paid) is still open" in letter


def test_what_is_gone_is_told_no_more_once_it_is_paid_or_credited(order):
    payment = pay(order, 30)
    first = invoice(order, 0)
    undo_payment(payment=payment)
    credit(first, 13)
    assert open_invoices(order.workshop, until=today()) == []
    assert (owed_on(again(order)), paid_on(order)) == (70, 0)


def test_a_payment_ahead_that_is_undone_leaves_the_deposit_for_the_next_invoice(order):
    pay(order, 30)
    ahead = pay(order, 20)
    assert invoice(order, 0).to_pay == Decimal("90.50")
    undo_payment(payment=ahead)
    (first,) = open_invoices(order.workshop, until=today())
    assert (first.left, first.gone) == (Decimal("110.50"), 20)
    assert invoice(order, 1).to_pay == Decimal("59.50")
