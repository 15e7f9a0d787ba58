"""A count written out: what the ledger had, what was there, and what the difference cost."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from maker.calc.money import format_money
from maker.web.words import amount_text
from maker.workshop.models import Workshop


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference of a count, as the page shows it."""

    material_id: int
    name: str
    ledger: str
    counted: str
    change: str
    worth: str
    counts: bool


def difference(entry: Any, workshop: Workshop) -> Difference:
    """Write an entry of `for_ledger` with its material; no query."""
    material, stands = entry.material, entry.counts

    def amount(value: Decimal, typed_in: str = "") -> str:
        return amount_text(value, material.unit, workshop, typed_in)

    sign = "+" if entry.change > 0 else "−" if entry.change else "±"
    worth = "–"
    if entry.unit_cost is not None:
        cost = abs(entry.change) * entry.unit_cost
        worth = sign + format_money(cost, workshop.currency, workshop.locale)
    return Difference(
        material_id=material.pk,
        name=material.name,
        # what was taken back leaves no balance of its own behind
        ledger=amount(entry.balance - entry.change) if stands else "–",
        counted=amount(entry.counted, entry.typed_in) if stands else "–",
        change=f"{sign}{amount(abs(entry.change))}",
        worth=worth,
        counts=stands,
    )
