"""An order in several deliveries, and what happens to its money, by the services pages use."""

from decimal import Decimal

from pricing.orders.change_answers import accept_change, offer_change
from pricing.orders.changes import ChangeInput, save_change, start_change
from pricing.orders.crediting import issue_credit_note
from pricing.orders.inputs import lines_now
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Order, OrderChange, OrderDelivery
from pricing.orders.payments import record_payment
from pricing.orders.services import DeliveryInput, accept, deliver, save_deliveries
from pricing.quotes.delivering import DropInput
from pricing.quotes.models import Quote
from pricing.quotes.services import ExtraInput, save_delivery, save_extras
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote


def again(order):
    return Order.objects.with_people().get(pk=order.pk)


def _fresh(quote):
    return Quote.objects.with_people().get(pk=quote.pk)


def make_order(workshop, owner, counts, *, price="10", deposit="0", discount="", delivery=""):
    """An accepted order of one item in deliveries of so many each."""
    made = make_quote(workshop, title="Favour boxes")
    made.deposit_share = Decimal(deposit)
    made.save(update_fields=["deposit_share"])
    make_line(made, make_recipe(workshop), quantity=sum(counts), price_asked=Decimal(price))
    if delivery:
        save_delivery(
            quote=_fresh(made),
            drops=[DropInput(carrier=Decimal(delivery))],
            distance_cost=None,
            margin=None,
            edit_number=_fresh(made).edit_number,
        )
    if discount:
        extra = ExtraInput("discount", "regular customer", amount=Decimal(discount))
        save_extras(quote=_fresh(made), extras=[extra], edit_number=_fresh(made).edit_number)
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    (row,), (line,) = order.deliveries.all(), lines_now(order)
    first, *others = counts
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, None, "", "", {line.pk: first}),
            *(DeliveryInput(None, None, "", "", {line.pk: count}) for count in others),
        ],
        edit_number=again(order).edit_number,
    )
    return again(order)


def part(order, place):
    """A delivery with all an invoice reads."""
    rows = OrderDelivery.objects.select_related("order__quote__customer__workshop")
    return rows.get(order=order, position=place)


def pay(order, amount):
    return record_payment(
        order=order,
        amount=Decimal(amount),
        received_on=today(),
        today=today(),
        way="transfer",
        is_more_meant=True,
    )


def invoice(order, place, due_on=None):
    return issue_invoice(
        delivery=part(order, place), on=today(), today=today(), due_on=due_on or today()
    )


def send(order, place):
    deliver(delivery=part(order, place), on=today(), today=today())


def credit(invoice, count):
    (line,) = invoice.document["lines"]
    return issue_credit_note(
        invoice=invoice, counts={line["line"]: count}, reason="Creased", on=today(), today=today()
    )


def agree_on(order, count):
    """Accept a change of the order to so many; more go into the last delivery still open."""
    line = lines_now(order)[0]
    others = sum(row.quantity for row in lines_now(order)[1:])
    change = start_change(order=order)
    save_change(
        change=change,
        typed=ChangeInput(counts={line.pk: count - others}),
        today=today(),
        edit_number=change.edit_number,
    )
    held = OrderChange.objects.select_related("order__quote__customer__workshop")
    offer_change(change=held.get(pk=change.pk), today=today())
    accept_change(change=held.get(pk=change.pk), who="Ada", how="phone", on=today(), today=today())
    return again(order)
