"""What is asked of a cutting plan -> the jobs that are planned: pieces, sheets, offcuts, reels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind
from catalogue.calc.recipes.parts_list import PartsList, parts_for
from catalogue.calc.recipes.recipe import MaterialValues, Recipe
from catalogue.calc.supplies.reel_use import lengths_cut
from catalogue.cutting_plans.asks import PlanAsk, SheetSupply
from catalogue.cutting_plans.reel_group import reel_group
from catalogue.cutting_plans.stored import SHEETS, JobGroup, Source
from catalogue.materials.inputs import material_values
from catalogue.materials.models import Material, load_costs
from catalogue.offcuts.models import Offcut
from catalogue.recipes.inputs import recipe_values
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.units import MM_PER_INCH, format_length
from maker.workshop.models import Workshop

ZERO, ONE = Decimal(0), Decimal(1)
_MM_PER_64TH = Decimal("0.396875")
# more sizes than this only slow the search; the largest are offered
MOST_OFFCUT_SIZES = 40


class NothingToCut(Refusal):
    """No piece or length is asked for."""


class NoPrice(Refusal):
    """Kinds of sheet are compared by price, and one has none."""


class CannotStandIn(Refusal):
    """A sheet that is planned itself cannot stand in for another in the same plan."""


@dataclass
class WantedPieces:
    """What is wanted of one material: pieces of a sheet, or lengths of a reel."""

    material: MaterialValues
    pieces: list[tuple[str, Decimal, Decimal, int, bool | None]] = field(default_factory=list)
    lengths: list[tuple[str, Decimal, int]] = field(default_factory=list)


@with_working_precision
def wanted_of(ask: PlanAsk, workshop: Workshop) -> dict[int, WantedPieces]:
    """Return what is wanted, by the key of the material, in the order it is asked for.

    No query when versions were loaded `with_recipe()`, but for what the materials of pieces cost.
    Refusals: those of a parts list.
    """
    found: dict[int, WantedPieces] = {}
    several = len(ask.designs) > 1
    for design in ask.designs:
        recipe = recipe_values(design.version, workshop, colourway=design.colourway)
        if not ask.with_spares:
            recipe = replace(recipe, reject_share=ZERO)
        parts = parts_for(recipe, design.quantity, design.choices)
        before = f"{design.name}: " if several else ""
        _add_cuts(found, parts, before)
        _add_lengths(found, recipe, parts, before)
    load_costs(piece.material for piece in ask.pieces)
    for piece in ask.pieces:
        one = _wanted(found, material_values(piece.material, workshop))
        if piece.height_mm is None:
            one.lengths.append((piece.name, piece.width_mm, piece.count))
        else:
            size = (piece.width_mm, piece.height_mm)
            one.pieces.append((piece.name, *size, piece.count, piece.may_turn))
    return found


def _wanted(found: dict[int, WantedPieces], material: MaterialValues) -> WantedPieces:
    return found.setdefault(material.id or 0, WantedPieces(material))


def _add_cuts(found: dict[int, WantedPieces], parts: PartsList, before: str) -> None:
    for cut in parts.cuts:
        piece = cut.piece
        _wanted(found, cut.material).pieces.append(
            (before + piece.name, piece.width_mm, piece.height_mm, cut.count, piece.may_turn)
        )


def _add_lengths(
    found: dict[int, WantedPieces], recipe: Recipe, parts: PartsList, before: str
) -> None:
    for fixing, cut_mm, count in lengths_cut(recipe, parts):
        lengths = _wanted(found, recipe.materials[fixing.role]).lengths
        lengths.append((before + fixing.name, cut_mm, count))


@with_working_precision
def groups_for(ask: PlanAsk, workshop: Workshop) -> tuple[JobGroup, ...]:
    """Return the jobs of a plan: one for each sheet material with what may stand in, and reels.

    Few queries more, for the offcuts, what stands in and what cutting reels loses. Refuses a plan
    of nothing, a stand-in that is wanted itself, and sheets that cannot be compared because one
    has no price.
    """
    wanted = wanted_of(ask, workshop)
    if not any(one.pieces or one.lengths for one in wanted.values()):
        raise NothingToCut("Nothing here is cut from sheets or reels.", where="designs")
    load_costs(other for supply in ask.supplies.values() for other in supply.also)
    pools: dict[int, list[MaterialValues]] = {}
    for key, one in wanted.items():
        supply = ask.supplies.get(key, SheetSupply())
        pools[key] = [one.material]
        for other in supply.also:
            if other.pk in wanted:
                raise CannotStandIn(
                    f"“{other}” is cut too, so it can't replace “{one.material.name}”.",
                    where=f"m{key}-also",
                )
            if other.pk not in {material.id for material in pools[key]}:
                pools[key].append(material_values(other, workshop))
    offcuts = _offcuts(workshop, wanted, pools, ask)
    losses = {
        key: (loss, end)
        for key, loss, end in Material.objects.of(workshop)
        .filter(pk__in=[key for key, one in wanted.items() if one.lengths])
        .values_list("pk", "cut_loss_mm", "reel_end_mm")
    }
    groups = []
    for key, one in wanted.items():
        supply = ask.supplies.get(key, SheetSupply())
        if one.pieces:
            groups.append(_sheets(one, pools[key], offcuts, supply, ask, workshop))
        if one.lengths:
            loss, end = losses[key]
            groups.append(
                reel_group(
                    one.material,
                    _named(one.lengths),
                    only_shelf=supply.only_shelf,
                    cut_loss_mm=loss,
                    end_mm=end,
                    unit=workshop.unit,
                )
            )
    return tuple(groups)


def _offcuts(
    workshop: Workshop,
    wanted: Mapping[int, WantedPieces],
    pools: Mapping[int, Sequence[MaterialValues]],
    ask: PlanAsk,
) -> dict[int, list[Offcut]]:
    keys = [
        material.id
        for key, pool in pools.items()
        if wanted[key].pieces and ask.supplies.get(key, SheetSupply()).use_offcuts
        for material in pool
    ]
    found: dict[int, list[Offcut]] = {}
    rows = Offcut.objects.of(workshop).filter(material__in=keys).on_hand().largest_first()
    for row in rows:
        found.setdefault(row.material_id, []).append(row)
    return found


def _sheets(
    one: WantedPieces,
    pool: Sequence[MaterialValues],
    offcuts: Mapping[int, Sequence[Offcut]],
    supply: SheetSupply,
    ask: PlanAsk,
    workshop: Workshop,
) -> JobGroup:
    """Return the job of one material's pieces; lengths are in inches where that is exact."""
    is_directional = any(material.is_directional for material in pool)
    pieces = [
        PieceKind(
            name=name,
            width=width,
            height=height,
            count=count,
            may_turn=not is_directional if may_turn is None else may_turn,
        )
        for name, (width, height, count, may_turn) in _named(one.pieces)
    ]
    kinds: list[tuple[SheetKind, Source]] = []
    for material in pool:
        kinds.append(_sheet(material, supply))
        kinds += _kept(material, offcuts.get(material.id or 0, ()), pieces, workshop)
    return _group(one.material.name, kinds, pieces, ask, workshop.unit)


def _sheet(material: MaterialValues, supply: SheetSupply) -> tuple[SheetKind, Source]:
    on_hand = max(0, int(material.on_hand))
    sheet = SheetKind(
        name=material.name,
        width=material.width_mm,
        height=material.height_mm,
        price=ZERO,
        available=on_hand if supply.only_shelf else None,
        trim=material.trim_mm,
    )
    price = material.cost.value if material.cost else None
    return sheet, _source(material, sheet, price, on_hand, is_offcut=False)


def _kept(
    material: MaterialValues,
    rows: Iterable[Offcut],
    pieces: Sequence[PieceKind],
    workshop: Workshop,
) -> list[tuple[SheetKind, Source]]:
    """Return the offcuts that hold at least one piece, each size a kind of sheet."""
    found: list[tuple[SheetKind, Source]] = []
    area = material.width_mm * material.height_mm
    for row in rows:
        if len(found) >= MOST_OFFCUT_SIZES:
            break
        if not any(_holds(row, piece) for piece in pieces):
            continue
        width, height = (
            format_length(side, workshop.unit) for side in (row.width_mm, row.height_mm)
        )
        size = f"{width.rsplit(' ', 1)[0]} × {height}"
        sheet = SheetKind(
            name=f"offcut {size} of {material.name}",
            width=row.width_mm,
            height=row.height_mm,
            price=ZERO,
            available=row.count,
        )
        price = None
        if material.cost is not None:
            price = ZERO
            if workshop.offcut_value == Workshop.OffcutValue.AREA:
                share = row.width_mm * row.height_mm / area
                price = round(material.cost.value * share, 6)
        found.append((sheet, _source(material, sheet, price, row.count, is_offcut=True)))
    return found


def _holds(row: Offcut, piece: PieceKind) -> bool:
    ways = [(piece.width, piece.height)]
    if piece.may_turn:
        ways.append((piece.height, piece.width))
    return any(width <= row.width_mm and height <= row.height_mm for width, height in ways)


def _source(
    material: MaterialValues,
    sheet: SheetKind,
    price: Decimal | None,
    on_hand: int,
    *,
    is_offcut: bool,
) -> Source:
    return Source(
        name=sheet.name,
        material=material.id or 0,
        material_name=material.name,
        is_offcut=is_offcut,
        width_mm=sheet.width,
        height_mm=sheet.height,
        is_directional=material.is_directional,
        price=price,
        on_hand=on_hand,
    )


def _group(
    title: str,
    kinds: Sequence[tuple[SheetKind, Source]],
    pieces: Sequence[PieceKind],
    ask: PlanAsk,
    unit: str,
) -> JobGroup:
    materials = {source.material for _, source in kinds}
    unpriced = [source for _, source in kinds if source.price is None]
    if unpriced and len(materials) > 1:
        name = unpriced[0].material_name
        raise NoPrice(
            f"“{name}” has no price yet, and sheets are compared by price. Enter a pack or a "
            "receipt first.",
            where=name,
        )
    is_money = len(kinds) > 1 and not unpriced
    sheets = []
    for sheet, source in kinds:
        # with one kind the fewest are the cheapest, and a plan stays good when the price moves
        price = source.price if is_money else ZERO if source.is_offcut else ONE
        sheets.append(replace(sheet, price=price or ZERO))
    job = CuttingJob(sheets=tuple(sheets), pieces=tuple(pieces), gap=ask.gap_mm, rounds=ask.rounds)
    in_inches = unit == "in" and _is_in_64ths(job)
    return JobGroup(
        kind=SHEETS,
        title=title,
        unit="in" if in_inches else "mm",
        is_money=is_money,
        sources=tuple(source for _, source in kinds),
        sheets=_in_inches(job) if in_inches else job,
    )


def _is_in_64ths(job: CuttingJob) -> bool:
    lengths = [job.gap]
    for sheet in job.sheets:
        lengths += [sheet.width, sheet.height, sheet.trim]
    for piece in job.pieces:
        lengths += [piece.width, piece.height]
    return all(length % _MM_PER_64TH == 0 for length in lengths)


def _in_inches(job: CuttingJob) -> CuttingJob:
    def said(row: Any, *names: str) -> Any:
        return replace(row, **{name: getattr(row, name) / MM_PER_INCH for name in names})

    return replace(
        job,
        gap=job.gap / MM_PER_INCH,
        sheets=tuple(said(sheet, "width", "height", "trim") for sheet in job.sheets),
        pieces=tuple(said(piece, "width", "height") for piece in job.pieces),
    )


def _named(rows: Iterable[tuple[Any, ...]]) -> list[tuple[str, tuple[Any, ...]]]:
    """Give each row a name of its own: the same words a second time get a number."""
    named: dict[str, tuple[Any, ...]] = {}
    for row in rows:
        name, number = row[0], 2
        while name in named:
            name, number = f"{row[0]} ({number})", number + 1
        named[name] = row[1:]
    return list(named.items())
