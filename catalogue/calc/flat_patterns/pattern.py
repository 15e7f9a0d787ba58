"""What a flat pattern is made of: blanks with scores, cuts, panels, hinges and glued places.

Lengths are exact fractions of one unit (mm or in). What is rational in the formulas stays exact;
a root is taken with 34 digits, an angle with the precision of a double. A piece lies with its
lower left corner at (0, 0), x to the right, y up, the side that shows facing up.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from maker.calc.refusal import Refusal

ZERO = Fraction(0)


class UnknownForm(Refusal):
    """There is no form of that name."""


class BadSize(Refusal):
    """A size is missing, unknown, not a length, or outside the limits of its form.

    `where` names the input; `nearest` is the size that works with the others kept, in the unit
    of the inputs, or None when none does.
    """

    def __init__(self, message: str, *, where: str = "", nearest: Fraction | None = None) -> None:
        super().__init__(message, where=where)
        self.nearest = nearest


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the blank."""

    x: Fraction
    y: Fraction


Outline = tuple[Point, ...]  # a closed polygon, its first point not repeated, counter-clockwise


class StrokeKind(StrEnum):
    """How a line is drawn and what a hand does there."""

    CUT = "cut"  # cut through: outline, slit or opening
    VALLEY = "valley"  # score and fold towards you
    MOUNTAIN = "mountain"  # score and fold away from you
    GUIDE = "guide"  # a line to place something by, neither cut nor folded


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line on the blank; a curve is a polyline fine enough to cut by (0.05 mm)."""

    kind: StrokeKind
    points: tuple[Point, ...]
    name: str = ""
    is_curve: bool = False


class PanelKind(StrEnum):
    """What a panel becomes."""

    WALL = "wall"
    BASE = "base"
    LID = "lid"
    FLAP = "flap"
    TAB = "tab"


@dataclass(frozen=True, slots=True)
class Panel:
    """A part of the blank that stays flat (or is bent as one) between scores and cuts."""

    name: str
    kind: PanelKind
    outline: Outline


@dataclass(frozen=True, slots=True)
class Hinge:
    """Two panels that share a score, and by how much it is folded when the piece is done.

    `angle_deg` is the turn out of the flat: 0 stays flat, 90 stands up, 180 lies back on itself;
    positive folds the second panel towards the viewer (valley), negative away (mountain).
    """

    first: str
    second: str
    start: Point
    end: Point
    angle_deg: float


@dataclass(frozen=True, slots=True)
class GlueArea:
    """A place that is glued: `panel` is spread, `onto` is what it is pressed on.

    `bead` is the length of one line of glue along it, `area` what a full spread covers.
    `onto` may name a panel of another piece as "piece/panel". `on_back` says that the glue goes
    on the side that does not show: a flap is pressed on from outside, a tab lies behind.
    """

    panel: str
    onto: str
    outline: Outline
    bead: Fraction
    area: Fraction
    on_back: bool


@dataclass(frozen=True, slots=True)
class FlatPiece:
    """One blank with everything that is pressed, cut and glued on it.

    `x_scores` are measured from the left edge, `y_scores` from the bottom edge. `removed` are the
    parts cut away. `details` holds further lengths of the form by name (radius, rise, flap),
    angles too; `marks` and `spots` hold those that come in rows: distances, and places.
    """

    name: str
    count: int
    width: Fraction
    height: Fraction
    x_scores: tuple[Fraction, ...] = ()
    y_scores: tuple[Fraction, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    panels: tuple[Panel, ...] = ()
    hinges: tuple[Hinge, ...] = ()
    glue_areas: tuple[GlueArea, ...] = ()
    removed: tuple[Outline, ...] = ()
    grain: str = ""  # "upright", "across" or "" where it makes no difference
    details: Mapping[str, Fraction] = field(default_factory=dict)
    marks: Mapping[str, tuple[Fraction, ...]] = field(default_factory=dict)
    spots: Mapping[str, tuple[Point, ...]] = field(default_factory=dict)

    @property
    def glue_bead(self) -> Fraction:
        """One line of glue over every glued place of one piece."""
        return sum((each.bead for each in self.glue_areas), ZERO)

    @property
    def glue_area(self) -> Fraction:
        """A full spread over every glued place of one piece."""
        return sum((each.area for each in self.glue_areas), ZERO)


@dataclass(frozen=True, slots=True)
class FlatPattern:
    """The blanks of one finished thing, with what they become.

    `outside` is the folded outside size (width, depth, height), `volume` the inside volume; both
    None where the form has none (a tag has no volume). `inputs` has every input, defaults too.
    `steps` tells how it is put together, `cautions` where hands may be hurt.
    """

    form: str
    unit: str
    inputs: Mapping[str, Fraction]
    pieces: tuple[FlatPiece, ...]
    outside: tuple[Fraction, Fraction, Fraction] | None = None
    volume: Fraction | None = None
    checks: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sizes:
    """What a form is built from: its inputs, their unit and the step of the ruler, if any."""

    form: str
    values: Mapping[str, Fraction]
    unit: str
    ruler: Fraction | None = None

    def __getitem__(self, name: str) -> Fraction:
        return self.values[name]

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def either(self, mm: Fraction | int, inch: Fraction | int) -> Fraction:
        """Return the length that is usual in the unit: a tab is 12 mm or 1/2 in."""
        return Fraction(mm if self.unit == "mm" else inch)

    def mm(self, length_mm: Fraction | int) -> Fraction:
        """Return a length in millimetres exactly in the unit."""
        return Fraction(length_mm) if self.unit == "mm" else Fraction(length_mm) * 5 / 127


Bound = Callable[[Sizes], Fraction]


@dataclass(frozen=True, slots=True)
class FormInput:
    """A size a form asks for. Without a default it must be given, unless it is optional.

    Defaults are given in both units, because a tab is 1/2 in or 12 mm, not 12.7. A default that
    follows from other inputs is `default_of`; `default_note` then says how. `group` tells sizes
    of the finished thing ("size") from making allowances ("allowance"). `least` and `most` are
    the limits that depend on the other inputs, `limit` says them and why.
    """

    name: str
    title: str
    default_mm: Fraction | None = None
    default_in: Fraction | None = None
    is_optional: bool = False
    may_be_zero: bool = False
    group: str = "size"
    limit: str = ""
    default_note: str = ""
    default_of: Bound | None = None
    least: Bound | None = None
    most: Bound | None = None
    is_yes_no: bool = False  # 1 is yes, 0 is no
    is_count: bool = False
    choices: tuple[str, ...] = ()  # words to choose from; its value is the place among them, from 0
    # belongs to what the thing goes with (a lid's tray) or to how it is held (a handle's width):
    # nobody is advised to change it for the sake of a sheet
    is_bound: bool = False

    @property
    def is_length(self) -> bool:
        """Whether it is a length, and not a number of something, a choice, a yes or no."""
        return not (self.is_yes_no or self.is_count or self.choices)


@dataclass(frozen=True, slots=True)
class Form:
    """A form of the library: what it asks for and what draws its pattern.

    `build` gets every input, defaults filled in and limits checked. `goes_with` names forms that
    make one thing together (a tray and its lid).
    """

    name: str
    title: str
    summary: str
    inputs: tuple[FormInput, ...]
    build: Callable[[Sizes], FlatPattern]
    goes_with: tuple[str, ...] = ()
