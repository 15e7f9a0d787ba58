"""Lots kept for an order, so that all its pieces match: kept, let go, never for two at once."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from catalogue.calc.supplies.lots import (
    FreeLot,
    LotsLeft,
    OneLot,
    free_lots,
    lot_key,
    lot_to_take,
    one_lot_for,
)
from catalogue.materials.lots import lots_in
from catalogue.stock.models import StockEntry
from catalogue.stock.services import lock_materials
from maker.calc.refusal import Refusal
from maker.web.words import amount_text
from pricing.orders.models import Order, OrderNeed
from pricing.orders.services import BY_HAND, NotPossibleNow, locked

ZERO = Decimal(0)


class LotNotFree(Refusal):
    """There is not enough of the lot that no other order keeps."""


class NoLotKept(Refusal):
    """No lot is kept, or the order needs nothing of that material any more."""


@dataclass(frozen=True, slots=True)
class NeedLots:
    """A material an order still needs, its lots, and whether one of them is enough."""

    need: OrderNeed
    lots: LotsLeft
    free: tuple[FreeLot, ...]
    one: OneLot

    @property
    def of_kept(self) -> Decimal:
        """Return how much of what is kept is really there."""
        key = lot_key(self.need.lot)
        free = next((lot.free for lot in self.free if lot_key(lot.name) == key), ZERO)
        return min(self.need.kept, free)

    @property
    def choices(self) -> tuple[FreeLot, ...]:
        """Return the lots the order may take from: those that others do not keep whole."""
        key = lot_key(self.need.lot)
        return tuple(lot for lot in self.free if lot.free > 0 or lot_key(lot.name) == key)

    def first(self, amount: Decimal) -> str:
        """Return the lot an amount is taken from unless she chooses another; empty: none named."""
        return lot_to_take(amount, self.lots, self.free, kept=self.need.lot)


def need_lots(order: Order, needs: Sequence[OrderNeed]) -> dict[int, NeedLots]:
    """Return material -> the lots of it, of those that have any (two queries)."""
    keys = [need.material_id for need in needs]
    lots = lots_in(StockEntry.objects.filter(material__in=keys))
    elsewhere = _kept_elsewhere(order, lots)
    found = {}
    for need in needs:
        of_material = lots.get(need.material_id)
        if of_material is not None and of_material.lots:
            free = free_lots(of_material, elsewhere.get(need.material_id, {}))
            found[need.material_id] = NeedLots(
                need, of_material, free, one_lot_for(need.left, free)
            )
    return found


def _kept_elsewhere(order: Order, materials: Collection[int]) -> dict[int, dict[str, Decimal]]:
    """Return material -> lot -> what other orders keep of it (one query)."""
    others = Order.objects.of(order.workshop).filter(state__in=BY_HAND).exclude(pk=order.pk)
    rows = OrderNeed.objects.filter(order__in=others, material__in=materials).exclude(lot="")
    kept: dict[int, dict[str, Decimal]] = {}
    for row in rows.order_by("pk"):
        lots = kept.setdefault(row.material_id, {})
        lots[row.lot] = lots.get(row.lot, ZERO) + row.kept
    return kept


@transaction.atomic
def keep_lot(*, order: Order, material: int, lot: str) -> OrderNeed:
    """Keep as much of a lot as an order still needs of a material; of its own lot what is missing.

    Refusals: NotPossibleNow for an order that is over or keeps another lot, NoLotKept where nothing
    is needed any more, LotNotFree where others keep it or it is too small.
    """
    held = locked(order)
    if held.state not in BY_HAND:
        raise NotPossibleNow(f"Order {held} is {held.get_state_display()}.")
    # two orders at one lot: the second finds what the first kept
    row = lock_materials([material]).get(material)
    need = held.needs.select_for_update().filter(material=material).first()
    if row is None or need is None or not need.left:
        raise NoLotKept("This order needs none of that material any more.")
    if need.lot and lot_key(need.lot) != lot_key(lot):
        raise NotPossibleNow(f"Lot {need.lot} is kept for {held}. Let go of it first.")
    need.material = row
    found = need_lots(held, [need]).get(material)
    named = found.lots.named(lot) if found else None
    if found is None or named is None:
        raise LotNotFree(f"There is no lot “{lot}” of {row} in stock.")
    free = next((each.free for each in found.free if each.name == named.name), ZERO)
    if free < need.left:
        told = amount_text(free, row.unit, held.workshop)
        needed = amount_text(need.left, row.unit, held.workshop)
        raise LotNotFree(f"Lot {named.name} has {told} free, and {held} needs {needed}.")
    need.lot, need.lot_amount = named.name, need.left
    need.save(update_fields=["lot", "lot_amount"])
    return need


@transaction.atomic
def let_lot_go(*, order: Order, material: int) -> str:
    """Let go of the lot kept of a material, and return which. Refusals: NoLotKept."""
    held = locked(order)
    need = held.needs.select_for_update().filter(material=material).exclude(lot="").first()
    if need is None:
        raise NoLotKept("No lot is kept any more.")
    lot, need.lot, need.lot_amount = need.lot, "", ZERO
    need.save(update_fields=["lot", "lot_amount"])
    return lot


def lots_to_take(orders: Sequence[Order]) -> dict[str, str]:
    """Return name of a material -> "lot K 7", the lot kept for an order (one query).

    Of several orders each lot says for which.
    """
    rows = OrderNeed.objects.filter(order__in=orders).exclude(lot="")
    told: dict[str, list[str]] = {}
    for row in rows.select_related("order", "material").order_by("order_id", "pk"):
        words = f"lot {row.lot}" + (f" for {row.order}" if len(orders) > 1 else "")
        told.setdefault(row.material.name, []).append(words)
    return {name: ", ".join(words) for name, words in told.items()}


def one_lot_each(orders: Sequence[Order]) -> dict[str, str]:
    """Return name of a material -> its lot, where orders cut together keep just one (one query)."""
    rows = OrderNeed.objects.filter(order__in=orders).exclude(lot="").select_related("material")
    lots: dict[str, dict[str, str]] = {}
    for row in rows.order_by("order_id", "pk"):
        lots.setdefault(row.material.name, {})[lot_key(row.lot)] = row.lot
    return {name: next(iter(kept.values())) for name, kept in lots.items() if len(kept) == 1}
