"""A cutting job in whole numbers: gap and trim folded in, common factors divided out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TypeAlias

from catalogue.calc.cutting.job import (
    MOST_PIECES_ON_A_SHEET,
    BadCuttingJob,
    CuttingJob,
    NotEnoughSheets,
    PieceKind,
    PieceTooLarge,
    SheetKind,
)

# A tree says how a sheet is cut: a leaf is the index of a variant, a tuple is cut edge to edge into
# its members. The direction alternates from level to level, the first one is kept beside the tree.
Tree: TypeAlias = "int | tuple[Tree, ...]"

ALONG_X = 0
ALONG_Y = 1

WORTH_SCALE = 1 << 20


@dataclass(frozen=True, slots=True)
class Variant:
    """A piece kind lying one way, in whole units with the gap added to both sides."""

    kind: int
    width: int
    height: int
    turned: bool


@dataclass(frozen=True, slots=True)
class WholeSheet:
    """A sheet kind in whole units, trim taken off and one gap added; `variants` that fit on it."""

    name: str
    width: int
    height: int
    cost: int
    available: int | None
    variants: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CuttingProblem:
    """Pieces and the sheets they may come from, all in whole numbers.

    A sheet's `cost` is 1 with one kind of sheet (count sheets), else its price over `price_unit`.
    """

    sheets: tuple[WholeSheet, ...]
    variants: tuple[Variant, ...]
    names: tuple[str, ...]
    counts: tuple[int, ...]
    rounds: int | None
    unit: Fraction
    gap: int
    price_unit: Fraction

    def variants_of(self, kind: int) -> Iterator[Variant]:
        return (variant for variant in self.variants if variant.kind == kind)

    def areas(self) -> list[int]:
        """Return the area of each kind of piece."""
        first = (next(self.variants_of(kind)) for kind in range(len(self.counts)))
        return [variant.width * variant.height for variant in first]

    def worth_by_area(self) -> list[int]:
        """Return a worth for each kind by its area, small enough for tables."""
        areas = self.areas()
        return [max(1, area * WORTH_SCALE // max(areas)) for area in areas]

    def length(self, units: int) -> Decimal:
        """Return a folded length as the exact length it stands for (no gap taken off)."""
        return exact_decimal(self.unit * units)


@dataclass(frozen=True, slots=True)
class Filling:
    """One way to fill one sheet: the cut tree and how many of each kind it holds."""

    sheet: int
    first: int
    tree: Tree
    counts: tuple[int, ...]


def exact_decimal(value: Fraction) -> Decimal:
    """Return the fraction as a plain Decimal; its denominator divides a power of ten here."""
    places = 0
    while (value * 10**places).denominator != 1:
        places += 1
    return Decimal(int(value * 10**places)).scaleb(-places)


def count_kinds(tree: Tree, variants: tuple[Variant, ...], kinds: int) -> tuple[int, ...]:
    """Return how many pieces of each kind hang in the tree."""
    totals = [0] * kinds
    stack = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, int):
            totals[variants[node].kind] += 1
        else:
            stack.extend(node)
    return tuple(totals)


def tree_size(tree: Tree, first: int, variants: tuple[Variant, ...]) -> tuple[int, int]:
    """Return the folded width and height the tree needs."""
    if isinstance(tree, int):
        return variants[tree].width, variants[tree].height
    if not tree:
        return 0, 0
    sizes = [tree_size(child, 1 - first, variants) for child in tree]
    if first == ALONG_X:
        return sum(width for width, _ in sizes), max(height for _, height in sizes)
    return max(width for width, _ in sizes), sum(height for _, height in sizes)


def place_tree(
    tree: Tree, first: int, variants: tuple[Variant, ...], x: int = 0, y: int = 0
) -> Iterator[tuple[int, int, int]]:
    """Yield (variant, x, y) for every piece, everything pushed towards the origin."""
    if isinstance(tree, int):
        yield tree, x, y
        return
    for child in tree:
        yield from place_tree(child, 1 - first, variants, x, y)
        width, height = tree_size(child, 1 - first, variants)
        if first == ALONG_X:
            x += width
        else:
            y += height


def take_out(tree: Tree, kind: int, many: int, variants: tuple[Variant, ...]) -> tuple[Tree, int]:
    """Return the tree without up to `many` pieces of the kind, and how many are still to take."""
    if isinstance(tree, int):
        return (tree, many) if many == 0 or variants[tree].kind != kind else ((), many - 1)
    kept: list[Tree] = []
    for child in reversed(tree):
        left, many = take_out(child, kind, many, variants)
        if left != ():
            kept.append(left)
    return tuple(reversed(kept)), many


def split_into_problems(job: CuttingJob) -> list[CuttingProblem]:
    """Return one problem for each group of pieces that shares no sheet kind with another group."""
    wanted = [piece for piece in job.pieces if piece.count]
    allowed = {piece.name: _sheets_for(piece, job) for piece in wanted}
    groups: list[tuple[list[PieceKind], set[str]]] = []
    for piece in wanted:
        pieces, names = [piece], set(allowed[piece.name])
        apart = []
        for other in groups:
            if other[1] & names:
                pieces = other[0] + pieces
                names |= other[1]
            else:
                apart.append(other)
        groups = [*apart, (pieces, names)]
    order = {piece.name: index for index, piece in enumerate(wanted)}
    groups.sort(key=lambda group: order[group[0][0].name])
    return [
        _problem(
            [sheet for sheet in job.sheets if sheet.name in names],
            sorted(pieces, key=lambda piece: order[piece.name]),
            allowed,
            job,
        )
        for pieces, names in groups
    ]


def _sheets_for(piece: PieceKind, job: CuttingJob) -> set[str]:
    """Return the names of the sheet kinds the piece fits on, or refuse it."""
    may_use = [sheet for sheet in job.sheets if piece.sheet in (None, sheet.name)]
    fits = [sheet for sheet in may_use if _fits(piece, sheet)]
    if not fits:
        largest = max(may_use, key=lambda sheet: _usable(sheet)[0] * _usable(sheet)[1])
        width, height = _usable(largest)
        raise PieceTooLarge(
            f"{piece.name} ({piece.width} x {piece.height}) does not fit on any sheet it may be "
            f"cut from. The largest piece that fits is {width} x {height}, on {largest.name}.",
            where=piece.name,
        )
    at_hand = {sheet.name for sheet in fits if sheet.available != 0}
    if not at_hand:
        raise NotEnoughSheets(
            f"There is no sheet left of {fits[0].name}, and {piece.name} fits on no other.",
            where=fits[0].name,
        )
    return at_hand


def _usable(sheet: SheetKind) -> tuple[Decimal, Decimal]:
    return sheet.width - 2 * sheet.trim, sheet.height - 2 * sheet.trim


def _fits(piece: PieceKind, sheet: SheetKind) -> bool:
    width, height = _usable(sheet)
    upright = piece.width <= width and piece.height <= height
    lying = piece.may_turn and piece.height <= width and piece.width <= height
    return upright or lying


def _problem(
    sheets: list[SheetKind], pieces: list[PieceKind], allowed: dict[str, set[str]], job: CuttingJob
) -> CuttingProblem:
    gap = Fraction(job.gap)
    sizes = [(Fraction(piece.width) + gap, Fraction(piece.height) + gap) for piece in pieces]
    rooms = [tuple(Fraction(side) + gap for side in _usable(sheet)) for sheet in sheets]
    lengths = [side for pair in [*sizes, *rooms] for side in pair] + [gap]
    unit = _common_unit(lengths)
    prices = [Fraction(sheet.price) for sheet in sheets]
    price_unit = Fraction(0) if len(sheets) == 1 else _common_unit(prices)
    variants: list[Variant] = []
    for kind, (width, height) in enumerate(sizes):
        wide, high = int(width / unit), int(height / unit)
        variants.append(Variant(kind, wide, high, False))
        if pieces[kind].may_turn and wide != high:
            variants.append(Variant(kind, high, wide, True))
    whole = []
    for sheet, room, price in zip(sheets, rooms, prices, strict=True):
        wide, high = int(room[0] / unit), int(room[1] / unit)
        fitting = tuple(
            index
            for index, variant in enumerate(variants)
            if variant.width <= wide
            and variant.height <= high
            and sheet.name in allowed[pieces[variant.kind].name]
        )
        smallest = min(variants[index].width * variants[index].height for index in fitting)
        most = min(wide * high // smallest, sum(piece.count for piece in pieces))
        if most > MOST_PIECES_ON_A_SHEET:
            raise BadCuttingJob(
                f"More than {MOST_PIECES_ON_A_SHEET} pieces would lie on one sheet: "
                "the pieces are too small to plan one by one.",
                where=sheet.name,
            )
        cost = 1 if price_unit == 0 else int(price / price_unit)
        whole.append(WholeSheet(sheet.name, wide, high, cost, sheet.available, fitting))
    return CuttingProblem(
        sheets=tuple(whole),
        variants=tuple(variants),
        names=tuple(piece.name for piece in pieces),
        counts=tuple(piece.count for piece in pieces),
        rounds=job.rounds,
        unit=unit,
        gap=int(gap / unit),
        price_unit=price_unit,
    )


def _common_unit(values: list[Fraction]) -> Fraction:
    """Return the largest fraction that divides all values; 0 when they are all 0."""
    denominator = math.lcm(*(value.denominator for value in values))
    return Fraction(math.gcd(*(int(value * denominator) for value in values)), denominator)
