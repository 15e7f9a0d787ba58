"""Money received for orders: recorded, paid back, undone."""

import datetime
import uuid
from decimal import Decimal

from django.db import transaction

from maker.calc.refusal import Refusal
from pricing.orders.models import Order, OrderPayment
from pricing.orders.services import locked, owed_on, paid_on, restage

ZERO = Decimal(0)


class BadPayment(Refusal):
    """A payment that cannot be meant."""


class MoreThanOwed(BadPayment):
    """A payment larger than what is owed, which may be right."""


class AlreadyPaid(Refusal):
    """The same form was sent before."""


@transaction.atomic
def record_payment(
    *,
    order: Order,
    amount: Decimal,
    received_on: datetime.date,
    today: datetime.date,
    way: str,
    note: str = "",
    form_key: uuid.UUID | None = None,
    is_more_meant: bool = False,
) -> OrderPayment:
    """Store money received; below zero it was paid back.

    Refusals: BadPayment for nothing, a future date, more paid back than was paid, or more than is
    owed unless that is meant; AlreadyPaid for a second click.
    """
    held = locked(order)
    if form_key and OrderPayment.objects.filter(form_key=form_key).exists():
        raise AlreadyPaid("This payment is recorded already.")
    if not amount:
        raise BadPayment("Enter an amount.", where="amount")
    if received_on > today:
        raise BadPayment("That date is in the future.", where="received_on")
    owed = owed_on(held)
    if amount > max(owed, ZERO) and not is_more_meant:
        raise MoreThanOwed(
            "That is more than is owed. Tick the box below if it is right.", where="amount"
        )
    if paid_on(held) + amount < 0:
        raise BadPayment("That is more than was paid.", where="amount")
    made = OrderPayment.objects.create(
        order=held,
        received=amount,
        received_on=received_on,
        way=way,
        note=note,
        form_key=form_key,
    )
    restage(held)
    return made


@transaction.atomic
def undo_payment(*, payment: OrderPayment) -> Order:
    """Undo a payment that was recorded by mistake.

    Refusals: BadPayment for one that is undone, or of which a part was paid back.
    """
    held = locked(payment.order)
    row = held.payments.select_for_update().get(pk=payment.pk)
    if row.is_undone:
        raise BadPayment("This payment was undone already.")
    if paid_on(held) < row.received:
        raise BadPayment("Some of it was paid back. Undo that first.")
    row.is_undone = True
    row.save(update_fields=["is_undone"])
    return restage(held)
