"""What a cutting job is given, what a cutting plan gives back, and what is refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.refusal import Refusal

MOST_KINDS = 1_000
MOST_SHEET_KINDS = 200
MOST_COPIES = 1_000_000
LARGEST_LENGTH = Decimal(1_000_000)
MOST_DECIMALS = 12
MOST_PIECES_ON_A_SHEET = 20_000


class BadCuttingJob(Refusal):
    """The job itself makes no sense: a size below zero, a name used twice, nothing to cut."""


class PieceTooLarge(Refusal):
    """A piece fits on none of the sheets it may be cut from."""


class NotEnoughSheets(Refusal):
    """The sheets at hand do not hold the pieces."""


@dataclass(frozen=True, slots=True)
class SheetKind:
    """One kind of sheet; `available` None means plenty, `trim` is cut off all four edges."""

    name: str
    width: Decimal
    height: Decimal
    price: Decimal
    available: int | None = None
    trim: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class PieceKind:
    """One kind of piece; `sheet` names the only kind of sheet it may come from, None is any."""

    name: str
    width: Decimal
    height: Decimal
    count: int
    may_turn: bool
    sheet: str | None = None


@dataclass(frozen=True, slots=True)
class CuttingJob:
    """Lengths share one unit. `gap` is lost between two pieces; `rounds` None is any number."""

    sheets: tuple[SheetKind, ...]
    pieces: tuple[PieceKind, ...]
    gap: Decimal = Decimal(0)
    rounds: int | None = 3
    time_limit_s: float = 5.0


@dataclass(frozen=True, slots=True)
class Placement:
    """One piece on a sheet: its corner nearest the sheet's origin, its size as it lies."""

    piece: str
    x: Decimal
    y: Decimal
    width: Decimal
    height: Decimal
    turned: bool


@dataclass(frozen=True, slots=True)
class PlannedOffcut:
    """A rectangle left over; its edge towards the pieces already has the gap taken off."""

    x: Decimal
    y: Decimal
    width: Decimal
    height: Decimal


@dataclass(frozen=True, slots=True)
class CutStep:
    """One cut edge to edge through the rectangle at x, y; `at` is an x when it is vertical.

    What lies before `at` ends there, what lies behind begins one gap further on. Edges of the
    sheet are trimmed in round 0, keeping what lies inside. `is_trim` says that the cut only takes
    off an edge of the sheet or brings a single piece to its size.
    """

    round: int
    is_vertical: bool
    at: Decimal
    x: Decimal
    y: Decimal
    width: Decimal
    height: Decimal
    is_trim: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """How one sheet is filled, and how many sheets are filled alike; `cuts` has the first first.

    `slack` is how much narrower or lower the sheet (inside its trim) may be and still hold this
    layout: the smaller of the free width right of all pieces and the free height above them.
    Zero means that a sheet a hair under size spoils the plan.
    """

    sheet: str
    times: int
    placements: tuple[Placement, ...]
    offcuts: tuple[PlannedOffcut, ...]
    slack: Decimal
    cuts: tuple[CutStep, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """A plan with its lower bound: sheets when the job has one kind of sheet, else cost.

    `proven` means that the plan equals the bound, among all layouts that can be cut edge to edge
    in the allowed rounds; `reason` says in words why fewer is impossible.
    """

    sheet_count: int
    cost: Decimal
    lower_bound: Decimal
    proven: bool
    reason: str
    seconds: float
    layouts: tuple[Layout, ...]

    @property
    def cut_count(self) -> int:
        """Return how many cuts the whole plan takes, each sheet by itself."""
        return sum(layout.times * len(layout.cuts) for layout in self.layouts)

    def sheets_of(self, name: str) -> int:
        """Return how many sheets of the kind called `name` are cut."""
        return sum(layout.times for layout in self.layouts if layout.sheet == name)


def check_job(job: CuttingJob) -> None:
    """Refuse a job whose numbers or names cannot be meant."""
    if not job.sheets:
        raise BadCuttingJob("Give at least one kind of sheet.", where="sheets")
    if len(job.sheets) > MOST_SHEET_KINDS:
        raise BadCuttingJob(f"Give at most {MOST_SHEET_KINDS} kinds of sheet.", where="sheets")
    if len(job.pieces) > MOST_KINDS:
        raise BadCuttingJob(f"Give at most {MOST_KINDS} kinds of piece.", where="pieces")
    _check_names("sheet", [sheet.name for sheet in job.sheets])
    _check_names("piece", [piece.name for piece in job.pieces])
    for sheet in job.sheets:
        _check_sheet(sheet)
    for piece in job.pieces:
        _check_piece(piece, {sheet.name for sheet in job.sheets})
    _check_length(job.gap, "gap", "The gap", may_be_zero=True)
    if job.rounds is not None and job.rounds < 1:
        raise BadCuttingJob("Enter at least one cutting stage.", where="rounds")
    if not 0 < job.time_limit_s <= 3600:
        raise BadCuttingJob(
            "The time limit must be between 0 and 3600 seconds.", where="time_limit_s"
        )
    if not any(piece.count for piece in job.pieces):
        raise BadCuttingJob("There is nothing to cut: enter at least one piece.", where="pieces")


def _check_names(what: str, names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if not name.strip():
            raise BadCuttingJob(f"Every {what} needs a name.", where=f"{what}s")
        if name in seen:
            raise BadCuttingJob(f"Two {what}s are called “{name}”.", where=name)
        seen.add(name)


def _check_sheet(sheet: SheetKind) -> None:
    _check_length(sheet.width, sheet.name, "The width of the sheet")
    _check_length(sheet.height, sheet.name, "The height of the sheet")
    _check_length(sheet.trim, sheet.name, "The trim of the sheet", may_be_zero=True)
    _check_length(sheet.price, sheet.name, "The price of the sheet", may_be_zero=True)
    if sheet.available is not None and sheet.available < 0:
        raise BadCuttingJob("Enter 0 sheets or more.", where=sheet.name)
    if 2 * sheet.trim >= min(sheet.width, sheet.height):
        raise BadCuttingJob("The trim leaves nothing of the sheet.", where=sheet.name)


def _check_piece(piece: PieceKind, sheet_names: set[str]) -> None:
    _check_length(piece.width, piece.name, "The width of the piece")
    _check_length(piece.height, piece.name, "The height of the piece")
    if not 0 <= piece.count <= MOST_COPIES:
        raise BadCuttingJob(
            f"The count of a piece must be between 0 and {MOST_COPIES}.", where=piece.name
        )
    if piece.sheet is not None and piece.sheet not in sheet_names:
        raise BadCuttingJob(f"There is no sheet called “{piece.sheet}”.", where=piece.name)


def _check_length(value: Decimal, where: str, what: str, *, may_be_zero: bool = False) -> None:
    if not value.is_finite():
        raise BadCuttingJob(f"{what} is not a number.", where=where)
    if value < 0 or (value == 0 and not may_be_zero):
        raise BadCuttingJob(
            f"{what} must be {'zero or more' if may_be_zero else 'more than zero'}.", where=where
        )
    if value > LARGEST_LENGTH:
        raise BadCuttingJob(f"{what} must be at most {LARGEST_LENGTH}.", where=where)
    exponent = value.normalize().as_tuple().exponent
    if isinstance(exponent, int) and -exponent > MOST_DECIMALS:
        raise BadCuttingJob(f"{what} has more than {MOST_DECIMALS} decimals.", where=where)
