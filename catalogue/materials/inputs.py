"""Rows to values: what a material is and costs, as recipes and cutting plans take it.

Nothing but `unit_costs` asks the database when rows come from `Material.objects.with_costs()`.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.db import models

from catalogue.calc.recipes.recipe import MaterialValues, PackOffer, UnitCost
from catalogue.calc.supplies.unit_cost import rounded_unit_cost
from catalogue.materials.models import UNIT_COST_COLUMNS, Material, Pack
from maker.calc.amounts import format_amount
from maker.calc.units import format_number
from maker.kept import Kept, as_stored
from maker.workshop.models import Workshop

_HOW = {
    Workshop.Valuation.AVERAGE: "average of what is in stock",
    Workshop.Valuation.FIFO: "first in, first out: the oldest in stock",
    Workshop.Valuation.LATEST: "latest receipt",
}
# workshops whose unit costs are kept
_UNIT_COSTS: Kept[Mapping[str, Decimal]] = Kept(4)


def packs_of(material: Material) -> list[Pack]:
    """Return the packs on offer in entry order, without a query when they are loaded."""
    packs = [pack for pack in material.packs.all() if pack.retired_on is None]
    return sorted(packs, key=lambda pack: (pack.position, pack.pk))


def price_per_unit(pack: Pack) -> Decimal | None:
    """Return what one recipe unit costs in this pack, six decimals half up."""
    if pack.price is None:
        return None
    return rounded_unit_cost(pack.price, pack.quantity)


def list_price_of(material: Material) -> UnitCost | None:
    """Return the cheapest price per unit of the packs on offer; ties go to the earlier pack."""
    offers = [(price_per_unit(pack), pack) for pack in packs_of(material)]
    known = [(price, pack) for price, pack in offers if price is not None]
    if not known:
        return None
    price, pack = min(known, key=lambda offer: offer[0])
    holds = format_amount(pack.quantity, material.unit)
    return UnitCost(
        value=price,
        how=(
            f"list price (nothing bought yet): {pack.name}, {format_number(pack.price)} for {holds}"
        ),
        source=("pack", pack.pk),
    )


def unit_cost_of(material: Material, valuation: str) -> UnitCost | None:
    """Return what one recipe unit costs by the workshop's valuation, and where that comes from.

    Before the first receipt it is the list price; without one, None.
    """
    kept = {
        Workshop.Valuation.AVERAGE: material.average_cost,
        Workshop.Valuation.FIFO: material.fifo_cost,
        Workshop.Valuation.LATEST: material.latest_cost,
    }
    # goods that were opening stock have an average, but no latest receipt
    method = Workshop.Valuation(valuation)
    value = kept[method] if kept[method] is not None else material.average_cost
    if value is None:
        return list_price_of(material)
    source = ("material", material.pk)
    if material.latest_line_id is not None:
        source = ("purchase_line", material.latest_line_id)
    return UnitCost(value=value, how=_HOW[method], source=source)


def unit_cost_content(workshop: Workshop) -> Hashable:
    """Return the rows that say what one unit of each material costs (two queries).

    Packs are read only of what was never bought: nothing else has its list price.
    """
    materials = Material.objects.filter(workshop=workshop).order_by("pk")
    packs = Pack.objects.in_use().filter(material__in=materials.filter(average_cost=None))
    return (
        workshop.valuation,
        as_stored(materials.values_list("pk", *UNIT_COST_COLUMNS)),
        as_stored(packs.in_entry_order().values_list("material_id", "quantity", "price")),
    )


def unit_costs(workshop: Workshop) -> Mapping[str, Decimal]:
    """Return what one recipe unit of each material costs, by key as text; those without left out.

    Two queries, and as many again (twice) where it is not what it was the last time.
    """

    def work_out() -> Mapping[str, Decimal]:
        materials = list(Material.objects.filter(workshop=workshop).unit_costs_only())
        never_bought = [one for one in materials if one.average_cost is None]
        packs = models.Prefetch("packs", Pack.objects.in_use().in_entry_order())
        models.prefetch_related_objects(never_bought, packs)
        costs = ((one.pk, unit_cost_of(one, workshop.valuation)) for one in materials)
        return MappingProxyType({str(key): cost.value for key, cost in costs if cost is not None})

    return _UNIT_COSTS.result_of(lambda: unit_cost_content(workshop), work_out)


def material_values(material: Material, workshop: Workshop) -> MaterialValues:
    """Return the material as calculations take it."""
    return MaterialValues(
        name=material.name,
        kind=material.kind,
        unit=material.unit,
        cost=unit_cost_of(material, workshop.valuation),
        width_mm=material.width_mm or Decimal(0),
        height_mm=material.height_mm or Decimal(0),
        trim_mm=material.trim_mm,
        is_directional=material.is_directional,
        grammage=material.grammage,
        cut_loss_mm=material.cut_loss_mm,
        reel_end_mm=material.reel_end_mm,
        waste_share=material.waste_share,
        on_hand=material.on_hand,
        packs=tuple(_offer(material, pack) for pack in packs_of(material)),
        id=material.pk,
    )


@dataclass(frozen=True, slots=True)
class CostUse:
    """A design that uses the material: as what, and in which versions."""

    design: Any
    roles: tuple[str, ...]
    versions: tuple[int, ...]


def uses_of(material: Material) -> list[CostUse]:
    """Return the designs that use a material, in a role or a colourway, by name (two queries)."""
    rows = [(role.version, role.name) for role in material.roles.select_related("version__design")]
    for choice in material.colourway_materials.select_related("role", "colourway__version__design"):
        words = f"{choice.role.name} in {choice.colourway.name}"
        rows.append((choice.colourway.version, words))
    found: dict[int, tuple[Any, set[str], set[int]]] = {}
    for version, words in rows:
        _, roles, versions = found.setdefault(version.design_id, (version.design, set(), set()))
        roles.add(words)
        versions.add(version.number)
    uses = [
        CostUse(design, tuple(sorted(roles)), tuple(sorted(versions)))
        for design, roles, versions in found.values()
    ]
    return sorted(uses, key=lambda use: (use.design.name, use.design.pk))


def _offer(material: Material, pack: Pack) -> PackOffer:
    supplier = pack.supplier if pack.supplier_id else material.supplier
    return PackOffer(
        name=pack.name,
        quantity=pack.quantity,
        price=pack.price,
        supplier=supplier.name if supplier else "",
        lead_days=supplier.lead_days if supplier else None,
        typed_in=pack.typed_in,
    )
