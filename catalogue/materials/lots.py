"""The lots of a material: read from its stock movements, and in words."""

import datetime
from dataclasses import dataclass
from typing import Any

from django.db import models

from catalogue.calc.supplies.lots import LotMove, LotsLeft, lots_left
from catalogue.materials.models import Material
from maker.web.words import amount_text
from maker.workshop.models import Workshop


def lots_in(entries: Any) -> dict[int, LotsLeft]:
    """Return material -> its lots, from all movements of materials (one query).

    Only materials that ever had a lot are in it.
    """
    has_lot = models.Q(purchase_line__lot__gt="") | models.Q(lot__gt="")
    # asked once and not for each row: a material may have thousands of movements
    named = entries.standing().filter(has_lot).order_by().values("material")
    rows = (
        entries.standing()
        .filter(material__in=named)
        .in_ledger_order()
        .values_list("material_id", "change", "moved_on", "lot", "purchase_line__lot")
    )
    moves: dict[int, list[LotMove]] = {}
    for key, change, on, lot, of_line in rows:
        moves.setdefault(key, []).append(LotMove(change, on, of_line or lot))
    return {key: lots_left(found) for key, found in moves.items()}


def lots_of(material: Material) -> LotsLeft:
    """Return the lots of a material (one query)."""
    return lots_in(material.stock_entries.all()).get(material.pk, LotsLeft())


def lots_of_workshop(workshop: Workshop) -> dict[int, LotsLeft]:
    """Return material -> its lots, of all materials that ever had one (one query)."""
    entries: Any = Material._meta.get_field("stock_entries").related_model
    return lots_in(entries.objects.of(workshop))


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot in words; without a name what is in no lot."""

    name: str
    left: str
    came_on: datetime.date | None = None


def lots_in_words(material: Material, lots: LotsLeft, workshop: Workshop) -> list[LotRow]:
    """Return the lots of which something is left, and what is in none; empty without any lot."""
    if not lots.lots:
        return []
    rows = [
        LotRow(lot.name, amount_text(lot.left, material.unit, workshop), lot.came_on)
        for lot in lots.there
    ]
    if lots.in_no_lot or not rows:
        rows.append(LotRow("", amount_text(lots.in_no_lot, material.unit, workshop)))
    return rows
