"""Sending goods back: they leave at the landed cost of their own line, with what is refunded."""

import datetime
import uuid
from decimal import Decimal

from django.db import transaction

from catalogue.calc.supplies.returns import ReturnedGoods, returned_goods
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.ledger import refuse_second_click
from catalogue.stock.models import StockEntry
from catalogue.stock.services import check_date, lock_materials, replay_ledger
from maker.accounts.models import User
from maker.calc.money import minor_digits
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
Kind = StockEntry.Kind


class CannotGoBack(Refusal):
    """Goods that are not there to be sent back, or amounts that cannot be meant."""


def gone_of(line: PurchaseLine) -> Decimal:
    """Return how much of a line went back or was scrapped as damaged already (one query)."""
    entries = StockEntry.objects.standing().filter(purchase_line=line, change__lt=0)
    return -sum(entries.values_list("change", flat=True), ZERO)


def goods_of(line: PurchaseLine, quantity: Decimal) -> ReturnedGoods:
    """Return what an amount of a recorded line cost and what the supplier owes for it.

    Of tax that is part of the cost the supplier pays back its share too.
    """
    purchase = line.purchase
    tax = ZERO if purchase.tax_is_recoverable else line.tax_share
    return returned_goods(
        quantity,
        of_quantity=line.quantity,
        landed=line.landed,
        owed=line.amount - line.discount_share + tax,
        digits=minor_digits(purchase.workshop.currency),
    )


@transaction.atomic
def send_back(
    *,
    line: PurchaseLine,
    quantity: Decimal,
    on: datetime.date,
    today: datetime.date,
    refund: Decimal | None = None,
    reason: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> StockEntry:
    """Take goods of a line out of stock at its landed cost; without `refund` all of it is owed.

    Refuses more than is left of the line, a refund above what was owed, and a date before the
    receipt. The same `form_key` a second time raises AlreadyEntered.
    """
    locked = _checked(line, quantity, on, today, form_key)
    goods = goods_of(line, quantity)
    refund = goods.owed if refund is None else refund
    if not ZERO <= refund <= goods.owed:
        raise CannotGoBack("The refund is more than these cost you.", where="refund")
    entry = StockEntry.objects.create(
        material=locked,
        kind=Kind.RETURNED,
        change=-quantity,
        moved_on=on,
        cost_out=goods.cost,
        refund=refund,
        purchase_line=line,
        reason=reason,
        made_by=by,
        form_key=form_key,
    )
    replay_ledger(locked)
    return entry


@transaction.atomic
def scrap_damaged(
    *,
    line: PurchaseLine,
    quantity: Decimal,
    on: datetime.date,
    today: datetime.date,
    reason: str = "",
    by: User | None = None,
    form_key: uuid.UUID | None = None,
) -> StockEntry:
    """Scrap goods that arrived damaged and that nobody credits. Refuses as `send_back` does."""
    locked = _checked(line, quantity, on, today, form_key)
    entry = StockEntry.objects.create(
        material=locked,
        kind=Kind.SCRAP,
        change=-quantity,
        moved_on=on,
        purchase_line=line,
        reason=reason or "damaged on arrival",
        made_by=by,
        form_key=form_key,
    )
    replay_ledger(locked)
    return entry


def _checked(
    line: PurchaseLine,
    quantity: Decimal,
    on: datetime.date,
    today: datetime.date,
    form_key: uuid.UUID | None,
) -> Material:
    """Lock the receipt, then the material; refuse what cannot leave."""
    purchase = Purchase.objects.select_for_update(no_key=True).get(pk=line.purchase_id)
    material = lock_materials([line.material_id])[line.material_id]
    material.workshop = line.purchase.workshop
    refuse_second_click(StockEntry.objects.all(), form_key)
    if purchase.state != Purchase.State.RECORDED:
        raise CannotGoBack("This receipt isn't in stock.")
    check_date(on, today, "moved_on")
    if on < purchase.bought_on:
        raise CannotGoBack("That is before you bought it.", where="moved_on")
    left = line.quantity - gone_of(line)
    if quantity <= 0 or quantity > left:
        raise CannotGoBack(f"Only {left.normalize():f} of this line are left.", where="quantity")
    return material
