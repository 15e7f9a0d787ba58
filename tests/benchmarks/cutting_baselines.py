"""What cutting plans are measured beside: first fit decreasing, and a general packing library."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

import rectpack

from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind

MOST_COPIES = 3_000
MOST_COPIES_PACKED = 300
PACKING_SECONDS = 5.0
VARIANTS = (
    rectpack.GuillotineBssfSas,
    rectpack.GuillotineBssfLas,
    rectpack.GuillotineBssfSlas,
    rectpack.GuillotineBssfLlas,
    rectpack.GuillotineBssfMaxas,
    rectpack.GuillotineBssfMinas,
    rectpack.GuillotineBlsfSas,
    rectpack.GuillotineBlsfLas,
    rectpack.GuillotineBlsfSlas,
    rectpack.GuillotineBlsfLlas,
    rectpack.GuillotineBlsfMaxas,
    rectpack.GuillotineBlsfMinas,
    rectpack.GuillotineBafSas,
    rectpack.GuillotineBafLas,
    rectpack.GuillotineBafSlas,
    rectpack.GuillotineBafLlas,
    rectpack.GuillotineBafMaxas,
    rectpack.GuillotineBafMinas,
)


@dataclass(slots=True)
class _Sheet:
    """An open sheet: the free rectangles that cuts from edge to edge have left."""

    free: list[tuple[Decimal, Decimal]] = field(default_factory=list)

    def put(self, piece: PieceKind, gap: Decimal) -> bool:
        """Put the piece into the first free rectangle that takes it and cut off the rest."""
        ways = [(piece.width, piece.height)]
        if piece.may_turn:
            ways.append((piece.height, piece.width))
        for at, (wide, high) in enumerate(self.free):
            for width, height in ways:
                if width <= wide and height <= high:
                    beside, above = wide - width - gap, high - height - gap
                    if beside > above:
                        rests = [(beside, high), (width, above)]
                    else:
                        rests = [(beside, height), (wide, above)]
                    self.free[at : at + 1] = [rest for rest in rests if min(rest) > 0]
                    return True
        return False


def first_fit_decreasing(job: CuttingJob) -> Decimal | None:
    """Return the sheets or the cost of a plan made piece by piece, the largest first.

    Every piece goes into the first open sheet with room, else into a new sheet of the kind with the
    cheapest area that it fits on. The cutting stages are not limited. None where too much is asked.
    """
    pieces = [piece for piece in job.pieces for _ in range(piece.count)]
    if len(pieces) > MOST_COPIES:
        return None
    pieces.sort(key=lambda piece: piece.width * piece.height, reverse=True)
    kinds = sorted(job.sheets, key=lambda sheet: sheet.price / (sheet.width * sheet.height))
    left = {sheet.name: sheet.available for sheet in kinds}
    opened: list[tuple[SheetKind, _Sheet]] = []
    for piece in pieces:
        if any(_may_lie_on(piece, kind) and sheet.put(piece, job.gap) for kind, sheet in opened):
            continue
        for kind in kinds:
            sheet = _Sheet([(kind.width - 2 * kind.trim, kind.height - 2 * kind.trim)])
            have = left[kind.name]
            if have != 0 and _may_lie_on(piece, kind) and sheet.put(piece, job.gap):
                left[kind.name] = None if have is None else have - 1
                opened.append((kind, sheet))
                break
        else:
            return None
    if len(job.sheets) == 1:
        return Decimal(len(opened))
    return sum((kind.price for kind, _ in opened), Decimal(0))


def _may_lie_on(piece: PieceKind, kind: SheetKind) -> bool:
    return piece.sheet in (None, kind.name)


def packing_library(job: CuttingJob) -> Decimal | None:
    """Return the best of the library's guillotine variants, each kind of sheet by itself.

    The library does not limit the cutting stages and turns all pieces or none. None where the job
    has more copies than it packs in reasonable time, or asks what it does not know.
    """
    copies = sum(piece.count for piece in job.pieces)
    known = all(piece.sheet is None for piece in job.pieces) and not job.gap
    if copies > MOST_COPIES_PACKED or not known:
        return None
    values = list(_packings(job, copies))
    return min(values, default=None)


def _packings(job: CuttingJob, copies: int) -> Iterator[Decimal]:
    turning = all(piece.may_turn for piece in job.pieces)
    until = time.perf_counter() + PACKING_SECONDS
    for sheet in job.sheets:
        if sheet.available is not None:
            continue
        for variant in VARIANTS:
            if time.perf_counter() > until:
                return
            packer = rectpack.newPacker(pack_algo=variant, rotation=turning)
            for piece in job.pieces:
                for _ in range(piece.count):
                    packer.add_rect(piece.width, piece.height)
            packer.add_bin(
                sheet.width - 2 * sheet.trim, sheet.height - 2 * sheet.trim, count=copies
            )
            packer.pack()
            if len(packer.rect_list()) == copies:
                price = Decimal(1) if len(job.sheets) == 1 else sheet.price
                yield len(packer) * price
