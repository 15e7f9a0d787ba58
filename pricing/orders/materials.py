"""Materials of an order: reserved from acceptance on, short or there, and used from stock."""

import datetime
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from django.db import transaction
from django.db.models import F, Sum

from catalogue.stock.models import StockEntry
from catalogue.stock.services import check_date, lock_materials, move_stock, reverse_entry
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from pricing.orders.models import Order, OrderNeed, OrderQuerySet
from pricing.orders.services import locked

ZERO = Decimal(0)
SIX_PLACES = Decimal("0.000001")  # what an amount keeps


class NothingTaken(Refusal):
    """No amount was entered, or there is nothing to undo."""


class AlreadyTaken(Refusal):
    """The same form was sent before."""


@dataclass(frozen=True, slots=True)
class NeedLine:
    """A need with what is in stock, what other orders reserved of that, and what is missing."""

    need: OrderNeed
    in_stock: Decimal
    reserved_elsewhere: Decimal

    @property
    def free(self) -> Decimal:
        """Return what is in stock and not reserved for other orders."""
        return max(self.in_stock - self.reserved_elsewhere, ZERO)

    @property
    def short(self) -> Decimal:
        """Return what must be bought at least."""
        return max(self.need.left - self.free, ZERO)


def reserved_for_orders(orders: OrderQuerySet) -> dict[int, Decimal]:
    """Return material -> what orders that are still to be made need of it (one query)."""
    needs = OrderNeed.objects.filter(order__in=orders.to_make(), amount__gt=F("taken"))
    sums = needs.order_by().values("material_id").annotate(needed=Sum(F("amount") - F("taken")))
    # SQLite adds decimals as floats
    found = sums.values_list("material_id", "needed")
    return {key: needed.quantize(SIX_PLACES) for key, needed in found}


def need_lines(order: Order) -> list[NeedLine]:
    """Return what an order needs, by name of the material (two queries)."""
    needs = list(order.needs.select_related("material__picture").order_by("material__name", "pk"))
    reserved = reserved_for_orders(Order.objects.of(order.workshop).exclude(pk=order.pk))
    return [
        NeedLine(need, need.material.on_hand, reserved.get(need.material_id, ZERO))
        for need in needs
    ]


@transaction.atomic
def take_materials(
    *,
    order: Order,
    amounts: Mapping[int, Decimal],
    lots: Mapping[int, str] = MappingProxyType({}),
    on: datetime.date,
    today: datetime.date,
    form_key: uuid.UUID,
    by: User | None = None,
) -> int:
    """Take what an order really used from stock, amounts by key of the material; return how many.

    `lots` names the lot of a material.
    Refusals: NothingTaken, AlreadyTaken for a second click, UnlikelyDate.
    """
    check_date(on, today, "on")
    held = locked(order)
    needs = {need.material_id: need for need in held.needs.select_for_update()}
    wanted = {key: amount for key, amount in amounts.items() if amount > 0 and key in needs}
    if not wanted:
        raise NothingTaken("Enter at least one amount.")
    if _entries(held, form_key):
        raise AlreadyTaken("These materials were taken from stock already.")
    for key, material in lock_materials(wanted).items():
        move_stock(
            material=material,
            kind=StockEntry.Kind.USED,
            amount=wanted[key],
            moved_on=on,
            today=today,
            by=by,
            lot=lots.get(key, ""),
            reason=f"order {held}",
            form_key=_key_of(form_key, key),
        )
        needs[key].taken += wanted[key]
    OrderNeed.objects.bulk_update(needs.values(), ["taken"])
    return len(wanted)


@transaction.atomic
def put_back_materials(*, order: Order, form_key: uuid.UUID, by: User | None = None) -> int:
    """Undo what one form took, but entries undone since by themselves. Refusals: NothingTaken."""
    held = locked(order)
    needs = {need.material_id: need for need in held.needs.select_for_update()}
    entries = _entries(held, form_key)
    if not entries:
        raise NothingTaken("This was undone already.")
    lock_materials(entry.material_id for entry in entries)
    for entry in entries:
        reverse_entry(entry=entry, by=by, reason=f"order {held}: undone")
        need = needs[entry.material_id]
        need.taken = max(need.taken + entry.change, ZERO)
    OrderNeed.objects.bulk_update(needs.values(), ["taken"])
    return len(entries)


def _entries(order: Order, form_key: uuid.UUID) -> list[StockEntry]:
    keys = [_key_of(form_key, key) for key in order.needs.values_list("material_id", flat=True)]
    return list(StockEntry.objects.filter(form_key__in=keys).standing().select_related("material"))


def _key_of(form_key: uuid.UUID, material_key: int) -> uuid.UUID:
    return uuid.uuid5(form_key, f"order {material_key}")
