"""Columns of the materials as a spreadsheet, a row a pack; the same columns are read back."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from catalogue.calc.supplies.lots import LotsLeft
from catalogue.materials.inputs import packs_of, unit_cost_of
from catalogue.materials.lots import lots_of_workshop
from catalogue.materials.models import Material, MaterialQuerySet, Pack
from maker.calc.amounts import stock_unit, told_amount, told_unit_cost, unit_word
from maker.calc.money import minor_digits
from maker.calc.refusal import Refusal
from maker.calc.units import format_length, format_number, parse_length
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop

# what a material is counted in, as the file says it
COUNTED_IN = tuple(unit_word(unit) for unit in Material.UNITS.values())

# heading -> field of the material's form
MATERIAL_FIELDS = {
    "Name": "name",
    "Code": "code",
    "Counted in": "kind",
    "Category": "category",
    "Supplier": "supplier",
    "Width": "width_mm",
    "Height": "height_mm",
    "Trim": "trim_mm",
    "Directional pattern": "is_directional",
    "Good on both sides": "is_double_sided",
    "Weight, g/m²": "grammage",
    "Thickness, mm": "thickness_mm",
    "Loss per cut": "cut_loss_mm",
    "Unusable reel end": "reel_end_mm",
    "Waste, %": "waste_share",
    "Reorder below": "reorder_level",
    "Licence": "licence_note",
    "Safety notes": "safety_note",
    "Notes": "notes",
}
# heading -> field of the pack's form
PACK_FIELDS = {
    "Pack holds": "quantity",
    "Pack price": "price",
    "Pack": "name",
    "Pack supplier": "supplier",
}
_KINDS = {
    "Weight, g/m²": ColumnKind.NUMBER,
    "Thickness, mm": ColumnKind.NUMBER,
    "Waste, %": ColumnKind.NUMBER,
    "Reorder below": ColumnKind.NUMBER,
    "Pack holds": ColumnKind.NUMBER,
    # may be finer than a coin, which a column of money would round when it is saved as shown
    "Pack price": ColumnKind.NUMBER,
}
_WIDTHS = {
    "Name": 32,
    "Code": 14,
    "Counted in": 11,
    "Width": 12,
    "Height": 12,
    "Trim": 10,
    "Notes": 40,
}


def material_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)
    entered = [
        Column(name, _KINDS.get(name, ColumnKind.TEXT), width=_WIDTHS.get(name, 0))
        for name in (*MATERIAL_FIELDS, *PACK_FIELDS)
    ]
    return (
        *entered,
        Column("In stock", ColumnKind.NUMBER),
        Column("Unit cost", ColumnKind.NUMBER),
        Column("Value", ColumnKind.MONEY, digits),
        Column("Archived", ColumnKind.DATE),
        Column("Lots", width=24),
    )


def material_rows(materials: MaterialQuerySet, workshop: Workshop) -> Iterator[tuple[Any, ...]]:
    """Yield the rows, by name: a material's first row has all of it, further ones a pack each.

    So sums over a column are right. Three queries, whatever the number of rows.
    """
    lots = lots_of_workshop(workshop)
    for material in materials.with_costs().by_name():
        rest = len(MATERIAL_FIELDS) - 1
        about: tuple[Any, ...] = _about(material, workshop)
        cost = unit_cost_of(material, workshop.valuation)
        lengths = workshop.unit
        kept: tuple[Any, ...] = (
            told_amount(material.on_hand, material.unit, lengths),
            told_unit_cost(cost.value, material.unit, lengths) if cost else None,
            material.stock_value,
            material.retired_on,
            _lots(material, lots.get(material.pk, LotsLeft()), workshop),
        )
        packs: list[Pack | None] = [*packs_of(material)]
        for pack in packs or [None]:
            offer: tuple[Any, ...] = (None,) * len(PACK_FIELDS)
            if pack is not None:
                supplier = pack.supplier.name if pack.supplier else None
                holds = told_amount(pack.quantity, material.unit, lengths)
                offer = (holds, pack.price, pack.name, supplier)
            yield (material.name, *about, *offer, *kept)
            about, kept = (None,) * rest, (None,) * 5


def _lots(material: Material, lots: LotsLeft, workshop: Workshop) -> str | None:
    """Write what is left of each lot, in what the amounts of the row are counted in."""
    told = (
        f"{lot.name}: {format_number(told_amount(lot.left, material.unit, workshop.unit))}"
        for lot in lots.there
    )
    return "; ".join(told) or None


def _about(material: Material, workshop: Workshop) -> tuple[Any, ...]:
    return (
        material.code,
        counted_in(material.unit, workshop),
        material.get_category_display(),
        material.supplier.name if material.supplier else None,
        written_length(material.width_mm, workshop),
        written_length(material.height_mm, workshop),
        written_length(material.trim_mm or None, workshop),
        "yes" if material.is_directional else None,
        "yes" if material.is_double_sided else None,
        material.grammage,
        material.thickness_mm,
        written_length(material.cut_loss_mm or None, workshop),
        written_length(material.reel_end_mm or None, workshop),
        material.waste_share * 100 or None,
        told_amount(material.reorder_level, material.unit, workshop.unit) or None,
        material.licence_note,
        material.safety_note,
        material.notes,
    )


def counted_in(unit: str, workshop: Workshop) -> str:
    """Return the word for what the amounts of a row are counted in: yards for ribbon in inches."""
    return unit_word(stock_unit(unit, workshop.unit))


def written_length(length_mm: Decimal | None, workshop: Workshop) -> str | None:
    """Write a length with its unit as she writes it, or in millimetres where that would round."""
    if length_mm is None:
        return None
    text = format_length(length_mm, workshop.unit)
    try:
        is_exact = parse_length(text, workshop.unit) == length_mm
    except Refusal:  # rounded up over the longest length
        is_exact = False
    return text if is_exact else f"{format_number(length_mm)} mm"
