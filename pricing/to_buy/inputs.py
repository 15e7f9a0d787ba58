"""Ledger, orders, drafts and recipes -> where each material stands; a fixed number of queries."""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Max, Min, Q

from catalogue.calc.supplies.to_buy import HISTORY_WEEKS, WEEK, BuyingRules, Lead, Position
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.models import ColourwayMaterial, DesignVersion, Role
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
from pricing.orders.materials import reserved_for_orders
from pricing.orders.models import Order

ZERO = Decimal(0)
# what has to be bought again; what counts find missing was mostly used and not entered
USES = ("used", "scrap", "own_use", "gift", "sample", "sold", "counted")
# of a count only what was there before says when something was last made
MADE = tuple(kind for kind in USES if kind != "counted")


@dataclass(frozen=True, slots=True)
class Stand:
    """A material with what its ledger, orders and drafts say."""

    material: Material
    position: Position
    known_since: datetime.date | None
    last_used_on: datetime.date | None
    used: tuple[tuple[datetime.date, Decimal], ...]


def buying_rules(workshop: Workshop) -> BuyingRules:
    """Return how she wants to buy."""
    return BuyingRules(workshop.buying_chance, workshop.order_cost, workshop.holding_share)


def lead_of(material: Material, workshop: Workshop) -> Lead:
    """Return how long its supplier takes; where there is none, as long as a new one would."""
    supplier = material.supplier
    if supplier is None:
        return Lead(workshop.purchase_lead_days)
    return Lead(supplier.lead_days, supplier.lead_spread_days)


def materials_in_use(workshop: Workshop) -> dict[int, Material]:
    """Return every material in use by key, in the order of names (two queries)."""
    materials = list(Material.objects.of(workshop).in_use().with_costs().by_name())
    for material in materials:
        material.workshop = workshop
    return {material.pk: material for material in materials}


def stands_of(
    workshop: Workshop,
    materials: Iterable[Material],
    on: datetime.date,
    for_fairs: Mapping[int, Decimal],
) -> list[Stand]:
    """Return where each material stands (four queries)."""
    entries = StockEntry.objects.of(workshop).standing()
    known = {
        key: (first, last)
        for key, first, last in entries.order_by()
        .values("material_id")
        .annotate(first=Min("moved_on"), last=Max("moved_on", filter=Q(kind__in=MADE)))
        .values_list("material_id", "first", "last")
    }
    used: dict[int, list[tuple[datetime.date, Decimal]]] = defaultdict(list)
    since = on - datetime.timedelta(days=HISTORY_WEEKS * WEEK + 1)
    for key, moved_on, change in entries.filter(
        kind__in=USES, moved_on__gte=since, moved_on__lte=on
    ).values_list("material_id", "moved_on", "change"):
        used[key].append((moved_on, -change))
    reserved = reserved_for_orders(Order.objects.of(workshop))
    coming = _sums(
        PurchaseLine.objects.of(workshop)
        .filter(purchase__state=Purchase.State.DRAFT)
        .values_list("material_id", "quantity")
    )
    found = []
    for material in materials:
        first, last = known.get(material.pk, (None, None))
        position = Position(
            in_stock=material.on_hand,
            reserved=reserved.get(material.pk, ZERO),
            for_fairs=for_fairs.get(material.pk, ZERO),
            coming=coming.get(material.pk, ZERO),
            level=material.reorder_level,
        )
        found.append(Stand(material, position, first, last, tuple(used.get(material.pk, ()))))
    return found


def _sums(rows: Iterable[tuple[int, Decimal]]) -> dict[int, Decimal]:
    """Add up exactly: SQLite adds decimals as floats."""
    sums: dict[int, Decimal] = {}
    for key, amount in rows:
        sums[key] = sums.get(key, ZERO) + amount
    return sums


@dataclass(frozen=True, slots=True)
class Doing:
    """A design in use, and whether it uses the material itself or something much like it."""

    design: Design
    is_its_own: bool


def designs_for(workshop: Workshop, materials: Sequence[Material]) -> dict[int, Doing]:
    """Return a design that each material would do for, by key of the material (three queries).

    The first by name that uses it; else one that uses another of its kind and category, and for a
    sheet one no larger than it.
    """
    if not materials:
        return {}
    designs = {design.pk: design for design in Design.objects.of(workshop).in_use().by_name()}
    newest = DesignVersion.objects.newest_of(list(designs.values())).values("pk")
    alike = Q()
    for category, kind in sorted({(one.category, one.kind) for one in materials}):
        alike |= Q(material__category=category, material__kind=kind)
    columns = ("material__category", "material__kind", "material__width_mm", "material__height_mm")
    rows = [
        *Role.objects.filter(alike, version__in=newest).values_list(
            "version__design_id", "material_id", *columns
        ),
        *ColourwayMaterial.objects.filter(alike, colourway__version__in=newest).values_list(
            "colourway__version__design_id", "material_id", *columns
        ),
    ]
    order = {key: place for place, key in enumerate(designs)}
    rows.sort(key=lambda row: order[row[0]])
    own = {row[1]: row for row in reversed(rows)}
    found = {}
    for material in materials:
        like = own.get(material.pk) or next(
            (row for row in rows if _does_for(material, row[2:])), None
        )
        if like:
            found[material.pk] = Doing(designs[like[0]], material.pk in own)
    return found


def _does_for(material: Material, other: Sequence[Any]) -> bool:
    category, kind, width, height = other
    if (category, kind) != (material.category, material.kind):
        return False
    if not material.is_sheet:
        return True
    sides = sorted((material.width_mm or ZERO, material.height_mm or ZERO))
    wanted = sorted((width or ZERO, height or ZERO))
    return all(side >= want for side, want in zip(sides, wanted, strict=True))
