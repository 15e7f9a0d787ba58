"""Sets what is free in stock against what designs take."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from catalogue.calc.supplies.can_make import Supply, matching_from_pad, most_made, most_sets
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.recipes.models import ColourwayMaterial, DesignVersion, Role
from maker.calc.money import whole_up, with_working_precision
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.finished_stock.asked import BatchEstimate, Estimator
from pricing.orders.materials import reserved_for_orders
from pricing.orders.models import Order

ZERO = Decimal(0)
# of fewer, most of a sheet would be left and say little of how many stock is enough for
LEAST_BATCH = 12
# how much heavier or lighter a card may be and still fold alike: common practice, no source
QUARTER = Decimal("0.25")
# what materials are told apart by
_COMPARED = ("name", "kind", "category", "width_mm", "height_mm", "grammage", "on_hand")
# a shelf for more of them is not looked into item by item
MOST_ASKED = 2_000


@dataclass(frozen=True, slots=True)
class Stock:
    """What is in stock and not reserved by orders, by key of the material."""

    materials: Mapping[int, Material]
    free: Mapping[int, Decimal]


def stock_of(
    workshop: Workshop, versions: Sequence[DesignVersion], *, alike: bool = False
) -> Stock:
    """Return what is free of the materials in use that recipes name, by name (two queries).

    With sheets of the same categories where `alike` is wanted. Versions come from `with_recipe()`.
    """
    named = {row.material for version in versions for row in _rows_with_material(version)}
    wanted = Q(pk__in=[material.pk for material in named])
    if alike:
        categories = {material.category for material in named if material.is_sheet}
        wanted |= Q(kind=Material.Kind.SHEET, category__in=categories, on_hand__gt=0)
    rows = Material.objects.of(workshop).in_use().filter(wanted).by_name().only(*_COMPARED)
    materials = {row.pk: row for row in rows}
    free = {key: max(row.on_hand, ZERO) for key, row in materials.items()}
    for key, reserved in reserved_for_orders(Order.objects.of(workshop)).items():
        if key in free:
            free[key] = max(free[key] - reserved, ZERO)
    return Stock(materials, free)


def _rows_with_material(version: DesignVersion) -> Iterator[Role | ColourwayMaterial]:
    yield from version.roles.all()
    for way in version.colourways.all():
        yield from way.materials.all()


@dataclass(frozen=True, slots=True)
class Tonight:
    """A design with about how many stock is enough for, and the material that ends first.

    `problem` says why it cannot be worked out.
    """

    design: Design
    about: int
    scarce: Material | None
    problem: str = ""


def tonight(workshop: Workshop, designs: Sequence[Design]) -> list[Tonight]:
    """Return about how many of each of some designs stock is enough for, the most first.

    From what its usual batch takes. Designs without a recipe are left out.
    """
    versions = list(DesignVersion.objects.newest_of(designs).with_recipe_values())
    by_design = {version.design_id: version for version in versions}
    stock = stock_of(workshop, versions)
    try:
        estimator = Estimator(workshop)
    except Refusal as refusal:
        return [Tonight(design, 0, None, refusal.message) for design in designs]
    found = []
    for design in designs:
        version = by_design.get(design.pk)
        if version is None:
            continue
        batch = max(design.made_at_once, LEAST_BATCH)
        try:
            estimate = estimator.batch(version, batch)
        except Refusal as refusal:
            found.append(Tonight(design, 0, None, refusal.message))
            continue
        about, scarce = _about(estimate, batch, stock)
        found.append(Tonight(design, about, stock.materials.get(scarce)))
    found.sort(key=lambda one: (-one.about, one.design.name, one.design.pk))
    return found


@with_working_precision
def _about(estimate: BatchEstimate, batch: int, stock: Stock) -> tuple[int, int]:
    """Return how many, in proportion to the batch, and the key of the scarce material."""
    parts = [
        (stock.free.get(key, ZERO) / amount, key)
        for key, amount in estimate.amounts.items()
        if amount
    ]
    if not parts:
        return 0, 0
    share, key = min(parts)
    return int(share * batch), key


@dataclass(frozen=True, slots=True)
class RoleStock:
    """What one material does in the design, how many it is enough for, and what would do as well.

    `others` are materials like it with about how many more items they are enough for.
    """

    material: Material
    roles: tuple[str, ...]
    free: Decimal
    enough_for: int
    others: tuple[tuple[Material, int], ...]


@dataclass(frozen=True, slots=True)
class CanMake:
    """How many of one design: from stock as it is, and about how many with colours swapped."""

    exact: int
    swapped: int | None
    rows: tuple[RoleStock, ...]


def can_make(
    version: DesignVersion, workshop: Workshop, stock: Stock, colourway_name: str
) -> CanMake:
    """Say how many of a design stock is enough for. Errors: as `Estimator`."""
    estimator = Estimator(workshop)

    def is_enough(quantity: int) -> bool:
        found = estimator.batch(version, quantity, colourway_name)
        return all(stock.free.get(key, ZERO) >= need for key, need in found.amounts.items())

    batch = max(version.design.made_at_once, LEAST_BATCH)
    estimate = estimator.batch(version, batch, colourway_name)
    exact = most_made(is_enough, MOST_ASKED)
    names = _roles(version, colourway_name)
    rows = []
    for key, amount in estimate.amounts.items():
        material = stock.materials.get(key)
        if material is None or not amount:
            continue
        free = stock.free[key]
        others = tuple(
            (other, int(batch * stock.free[other.pk] / amount))
            for other in _alike(material, stock, estimate.amounts)
        )
        rows.append(
            RoleStock(
                material,
                tuple(names.get(key, ())),
                free,
                int(batch * free / amount),
                tuple(each for each in others if each[1]),
            )
        )
    rows.sort(key=lambda row: (row.enough_for, row.material.name, row.material.pk))
    swapped = _swapped(rows, estimate, batch, stock)
    # swapping is a choice, so it never makes fewer; the estimate goes by the usual batch
    return CanMake(exact, None if swapped is None else max(swapped, exact), tuple(rows))


@with_working_precision
def _swapped(
    rows: Sequence[RoleStock], estimate: BatchEstimate, batch: int, stock: Stock
) -> int | None:
    """Return about how many with swaps; None where nothing could be swapped."""
    if not any(row.others for row in rows):
        return None
    serves: dict[int, set[int]] = {}
    for place, row in enumerate(rows):
        for key in (row.material.pk, *(other.pk for other, _ in row.others)):
            serves.setdefault(key, set()).add(place)
    needs = [estimate.amounts[row.material.pk] / batch for row in rows]
    supplies = [Supply(stock.free[key], frozenset(places)) for key, places in serves.items()]
    try:
        return most_sets(needs, supplies)
    except Refusal:
        return None


def _roles(version: DesignVersion, colourway_name: str) -> dict[int, list[str]]:
    """Return key of a material -> the roles it plays."""
    way = next((one for one in version.colourways.all() if one.name == colourway_name), None)
    chosen = {row.role_id: row.material_id for row in way.materials.all()} if way else {}
    found: dict[int, list[str]] = {}
    for role in version.roles.all():
        found.setdefault(chosen.get(role.pk, role.material_id), []).append(role.name)
    return found


def _alike(material: Material, stock: Stock, used: Mapping[int, Decimal]) -> list[Material]:
    """Return sheets that could stand in for one in another colour.

    Those of its category, at least as large and about as heavy, that the design does not use.
    """
    if not material.is_sheet:
        return []
    sides = _sides(material)
    return [
        other
        for key, other in stock.materials.items()
        if key not in used
        and stock.free[key] > 0
        and (other.kind, other.category) == (material.kind, material.category)
        and all(have >= want for have, want in zip(_sides(other), sides, strict=True))
        and _is_about(other.grammage, material.grammage)
    ]


def _sides(material: Material) -> list[Decimal]:
    return sorted((material.width_mm or ZERO, material.height_mm or ZERO))


def _is_about(weight: Decimal | None, wanted: Decimal | None) -> bool:
    """Say whether a weight is within a quarter of another; one that is not known passes."""
    if not weight or not wanted:
        return True
    return abs(weight - wanted) <= wanted * QUARTER


def from_pad(
    version: DesignVersion,
    workshop: Workshop,
    colourway_name: str,
    material: Material,
    sheets: Sequence[int],
) -> int:
    """Return how many items come out of a mixed pad, each of one print."""
    estimator = Estimator(workshop)

    def makes(count: int) -> int:
        def is_enough(quantity: int) -> bool:
            found = estimator.batch(version, quantity, colourway_name)
            return whole_up(found.amounts.get(material.pk, ZERO)) <= count

        return most_made(is_enough, MOST_ASKED)

    return matching_from_pad(sheets, makes)
