"""The shopping list in words: why each line is on it, what lies there, what it all comes to."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.calc.supplies.to_buy import ToBuy
from catalogue.materials.models import Material
from maker.calc.units import format_number, format_percent
from maker.web.words import amount_text, money
from maker.workshop.models import Workshop
from pricing.to_buy.inputs import lead_of
from pricing.to_buy.services import BuyingList, PackLine, SupplierList, Unpacked
from pricing.to_buy.slow import SlowStock

ONE_DECIMAL = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class LineText:
    """A line as written; `why` are short sentences."""

    material: Material
    packs: str
    amount: str
    cost: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SupplierText:
    """A supplier's part of the list as written."""

    supplier: Any
    lines: tuple[LineText, ...]
    goods: str
    postage: str
    total: str
    hint: str
    form_key: uuid.UUID


@dataclass(frozen=True, slots=True)
class SlowText:
    """Slow stock as written."""

    material: Material
    amount: str
    value: str
    since: str
    cover: str
    design: Any
    does_for: str


def _rough(value: Decimal, material: Material) -> str:
    """Write an amount as people say it: with one decimal at most."""
    return amount_text(value.quantize(ONE_DECIMAL), material.unit, material.workshop)


def why_text(found: ToBuy, material: Material) -> tuple[str, ...]:
    """Say why so much of a material is on the list."""
    workshop, at = material.workshop, found.position
    parts = [f"{_rough(at.in_stock, material)} in stock"]
    if at.reserved:
        parts.append(f"{_rough(at.reserved, material)} reserved for orders")
    if at.for_fairs:
        parts.append(f"{_rough(at.for_fairs, material)} for the next fair")
    if at.coming:
        parts.append(f"{_rough(at.coming, material)} in draft receipts")
    said = [", ".join(parts) + "."]
    if found.use is not None and found.point is not None:
        use = f"Use: {_rough(found.use.mean, material)} a week"
        if found.use.season is not None:
            season = format_number(found.use.season, workshop.locale, 1)
            use += f" at this time of year ({season} × the usual)"
        said.append(use + ".")
        lead = lead_of(material, workshop)
        spread = f" ± {lead.spread_days}" if lead.spread_days else ""
        chance = format_percent(workshop.buying_chance, workshop.locale, 0)
        days = "day" if lead.days == 1 and not spread else "days"
        said.append(
            f"Order at {_rough(found.point.point, material)}: {lead.days}{spread} {days} to "
            f"deliver, {_rough(found.point.cushion, material)} of it cushion for {chance}."
        )
    if at.level and at.level == found.reorder_at:
        said.append(f"Your reorder level is {_rough(at.level, material)}.")
    if found.size is not None and found.amount == found.size.quantity:
        weeks = format_number(found.size.weeks_of_use, workshop.locale, 0)
        said.append(f"Cheapest order: {_rough(found.amount, material)}, {weeks} weeks of use.")
    return tuple(said)


def _line(line: PackLine, workshop: Workshop) -> LineText:
    return LineText(
        material=line.material,
        packs=f"{line.count} × {line.pack.name}",
        amount=amount_text(line.quantity, line.material.unit, workshop),
        cost=money(line.cost, workshop),
        why=why_text(line.found, line.material),
    )


def supplier_text(one: SupplierList, workshop: Workshop) -> SupplierText:
    """Write one supplier's part."""
    hint = ""
    if one.to_free is not None:
        hint = f"{money(one.to_free, workshop)} more and postage is free."
    elif one.supplier and one.supplier.carriage and not one.postage:
        hint = "Postage is free."
    return SupplierText(
        supplier=one.supplier,
        lines=tuple(_line(line, workshop) for line in one.lines),
        goods=money(one.goods, workshop),
        postage=money(one.postage, workshop) if one.postage else "",
        total=money(one.goods + one.postage, workshop),
        hint=hint,
        form_key=uuid.uuid4(),
    )


def slow_text(one: SlowStock, workshop: Workshop) -> SlowText:
    """Write a line of slow stock."""
    days, weeks = one.cover.days_since_use, one.cover.weeks
    material = one.material
    return SlowText(
        material=material,
        amount=amount_text(material.on_hand, material.unit, workshop),
        value=money(material.stock_value, workshop),
        since="never used" if days is None else f"{days} days ago",
        cover="–" if weeks is None else f"{format_number(weeks, workshop.locale, 0)} weeks",
        design=one.doing.design if one.doing else None,
        does_for="uses it" if one.doing and one.doing.is_its_own else "could use it",
    )


def page_text(
    found: BuyingList, suppliers: Sequence[SupplierList], workshop: Workshop
) -> dict[str, Any]:
    """Return what a page with some of the suppliers shows; sums are those of the whole list."""
    return {
        "suppliers": [supplier_text(one, workshop) for one in suppliers],
        "total": money(found.total, workshop),
        "slow": found.slow,
        "slow_value": money(found.slow_value, workshop),
        "has_materials": bool(found.materials),
        "fair_day": found.fair.day,
    }


def without_pack_rows(
    needs: Sequence[Unpacked],
) -> list[tuple[Material, str, str, tuple[str, ...]]]:
    """Return needs that no pack can cover, with amount, problem and why."""
    return [
        (material, _rough(need.amount, material), problem, why_text(need, material))
        for material, need, problem in needs
    ]
