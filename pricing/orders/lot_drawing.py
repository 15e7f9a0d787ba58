"""The lots an order may keep, in words."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.supplies.lots import lot_key
from maker.web.words import amount_text
from maker.workshop.models import Workshop
from pricing.orders.lots import NeedLots

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class LotRow:
    """A material of an order with its lots, in words; `problem` where no lot is enough.

    `enough` are the lots that may be kept, `kept` the one that is.
    """

    key: int
    material: str
    needed: str
    lots: tuple[tuple[str, str], ...]
    in_no_lot: str
    enough: tuple[str, ...]
    kept: str
    kept_amount: str
    problem: str


def lot_row(found: NeedLots, shop: Workshop) -> LotRow:
    """Return what is kept, what may be kept, or what to buy so that one lot is enough."""
    need = found.need

    def amount(value: Decimal) -> str:
        return amount_text(value, need.material.unit, shop)

    kept = lot_key(need.lot)
    is_whole = bool(kept) and need.kept == need.left == found.of_kept
    own = [lot.name for lot in found.one.enough if lot_key(lot.name) == kept]
    enough = own if kept else [lot.name for lot in found.one.enough]
    return LotRow(
        key=need.material_id,
        material=need.material.name,
        needed=amount(need.left),
        lots=tuple((lot.name, _free_words(lot.left, lot.free, amount)) for lot in found.free),
        in_no_lot=amount(found.lots.in_no_lot) if found.lots.in_no_lot > 0 else "",
        enough=() if is_whole else tuple(enough),
        kept=need.lot,
        kept_amount=amount(need.kept),
        problem="" if is_whole or enough else _problem(found, amount),
    )


def _free_words(left: Decimal, free: Decimal, amount: Callable[[Decimal], str]) -> str:
    if free == left:
        return f"{amount(left)} free"
    return f"{amount(free)} free, {amount(left - free)} kept for other orders"


def _problem(found: NeedLots, amount: Callable[[Decimal], str]) -> str:
    """Say what to buy: more of the kept lot or of the largest, or all of a new one."""
    need = found.need
    needed = amount(need.left)
    own = next((lot for lot in found.free if lot_key(lot.name) == lot_key(need.lot)), None)
    if need.lot:
        more, name = need.left - (own.free if own else ZERO), need.lot
        what = f"Lot {name} is not enough for {needed}."
    elif found.one.largest:
        more, name = found.one.more_of_largest, found.one.largest.name
        what = f"No single lot is enough for {needed}."
    else:
        return f"No lot is free for {needed}. Buy {needed} of a new lot."
    return f"{what} Buy {amount(more)} more of lot {name}, or {needed} of a new one."
