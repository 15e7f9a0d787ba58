"""A recipe as plain values: what one finished thing is made of and how, with its options.

`catalogue.recipes.inputs` makes these from rows; `parts_list` and `pricing.calc` count them.
Every row may hold for some quantities or some option choices only (`When`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

ZERO = Decimal(0)
ONE = Decimal(1)


class Basis(StrEnum):
    """What a row is counted by."""

    JOB = "job"
    BATCH = "batch"
    SHEET = "sheet"
    PASS = "pass"  # noqa: S105 - a die pass, no password
    MADE = "made"
    GOOD = "good"
    CARTON = "carton"
    NAME = "name"
    RACK = "rack"
    NIGHT = "night"


class Measure(StrEnum):
    """How much of a fixing goes in: a stated amount, or what the folded pieces have to be glued."""

    AMOUNT = "amount"
    FORM_BEAD = "form_bead"
    FORM_AREA = "form_area"


# What a metre of glue line takes, in ml: a bead 2 mm wide and round is pi x 1 mm x 1 mm x 1 m
BEAD_ML_PER_M = Decimal("3.1")


class Learning(StrEnum):
    """How hands get faster with practice."""

    NONE = "none"
    CUMULATIVE = "cumulative"
    PER_UNIT = "per_unit"


@dataclass(frozen=True, slots=True)
class When:
    """For which quantities sold (both ends included) and option choices a row holds.

    Choices are pairs (option key, choice key).
    """

    from_quantity: int | None = None
    to_quantity: int | None = None
    only_with: tuple[str, str] | None = None
    not_with: tuple[str, str] | None = None

    def holds(self, quantity: int, choices: Mapping[str, str]) -> bool:
        """Say whether the row counts for this quantity and these choices."""
        if self.from_quantity is not None and quantity < self.from_quantity:
            return False
        if self.to_quantity is not None and quantity > self.to_quantity:
            return False
        if self.only_with and choices.get(self.only_with[0]) != self.only_with[1]:
            return False
        return not (self.not_with and choices.get(self.not_with[0]) == self.not_with[1])


ALWAYS = When()


@dataclass(frozen=True, slots=True)
class UnitCost:
    """What one recipe unit costs and where that is known from.

    `how` is the sum in words; `source` the row behind it: ("purchase_line", id),
    ("pack", id) or ("material", id).
    """

    value: Decimal
    how: str = ""
    source: tuple[str, int] | None = None


@dataclass(frozen=True, slots=True)
class PackOffer:
    """How a material can be bought: recipe units in it and its price (None: not known).

    A length `typed_in` a unit is told in that.
    """

    name: str
    quantity: Decimal
    price: Decimal | None
    supplier: str = ""
    lead_days: int | None = None
    typed_in: str = ""


@dataclass(frozen=True, slots=True)
class MaterialValues:
    """A material in a role. Lengths in mm. `cost` is None when nothing says what it costs."""

    name: str
    kind: str  # sheet, length, volume, mass, count, pairs
    unit: str
    cost: UnitCost | None
    width_mm: Decimal = ZERO
    height_mm: Decimal = ZERO
    trim_mm: Decimal = ZERO
    is_directional: bool = False
    grammage: Decimal | None = None  # g/m2
    cut_loss_mm: Decimal = ZERO  # of a reel, at every cut
    reel_end_mm: Decimal = ZERO  # the last of a reel, of no use
    waste_share: Decimal = ZERO
    on_hand: Decimal = ZERO
    packs: tuple[PackOffer, ...] = ()
    id: int | None = None

    @property
    def identity(self) -> int | str:
        """What tells materials apart: the row's id, or the name where there is no row."""
        return self.name if self.id is None else self.id


@dataclass(frozen=True, slots=True)
class RecipePiece:
    """A part cut from a sheet. `width_mm` x `height_mm` is the blank (a die's margin included).

    `count` is blanks for one finished item. `glue_bead_mm` and `glue_area_mm2` are what a form
    glues on one blank; `area_mm2` is the card that stays when it is cut out (None: all of it).
    """

    name: str
    role: str
    width_mm: Decimal
    height_mm: Decimal
    count: int = 1
    layers: int = 1
    glue_bead_mm: Decimal = ZERO
    glue_area_mm2: Decimal = ZERO
    area_mm2: Decimal | None = None
    may_turn: bool | None = None  # None: as the material allows
    is_die_cut: bool = False
    when: When = ALWAYS
    id: int | None = None


@dataclass(frozen=True, slots=True)
class RecipeFixing:
    """Use of a material that is not cut from sheets.

    `amount` is in the material's unit, waste not included; a glue line or spread of a stated size
    and lengths cut from a reel are already turned into it. Measured on the folded pieces it is how
    many lines or coats, and `rate` what a metre or square metre takes: only the pieces that hold
    for a quantity and its choices are glued. `waste_share` None: the material's own.
    `cut_mm` and `cut_count` say which lengths a reel is cut into. `typed_in` is the unit a stated
    length was typed in, if it is not the usual one.
    """

    name: str
    role: str
    amount: Decimal
    basis: Basis = Basis.MADE
    measure: Measure = Measure.AMOUNT
    rate: Decimal = ZERO
    cut_mm: Decimal | None = None
    cut_count: int = 0
    waste_share: Decimal | None = None
    how: str = ""
    typed_in: str = ""
    when: When = ALWAYS
    id: int | None = None


@dataclass(frozen=True, slots=True)
class RecipeWear:
    """A tool used up by sheets, passes or what is made: its price over its life. Role None: all."""

    name: str
    basis: Basis
    price: Decimal
    life: Decimal = ONE
    role: str | None = None
    when: When = ALWAYS
    id: int | None = None


@dataclass(frozen=True, slots=True)
class RecipePacking:
    """What good pieces leave in; costs a stated amount or one unit of the role's material."""

    name: str
    kind: str  # sleeve, mailer, carton; only cartons count for work by the carton
    holds: int = 1
    role: str | None = None
    cost_each: Decimal | None = None
    when: When = ALWAYS
    id: int | None = None


@dataclass(frozen=True, slots=True)
class RecipeStep:
    """Work or waiting. `minutes` is the likely value; low and high are for the band.

    `per`: the batch size (batch, night), shapes of a die pass (pass) or rack capacity (rack).
    `times` and `window_minutes`: how often a load dries and the minutes of a day it may.
    Role None with sheet or pass: every role.
    """

    name: str
    basis: Basis
    minutes: Decimal = ZERO
    minutes_low: Decimal | None = None
    minutes_high: Decimal | None = None
    role: str | None = None
    per: int = 1
    times: int = 1
    window_minutes: int | None = None
    learns: bool = False
    caution: str = ""
    when: When = ALWAYS
    id: int | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to an option."""

    key: str
    name: str
    is_default: bool = False
    caution: str = ""


@dataclass(frozen=True, slots=True)
class RecipeOption:
    """A question with its answers; the default answer is the default."""

    key: str
    name: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Recipe:
    """Everything one version of a design says. `materials` maps each role to its material."""

    name: str
    materials: Mapping[str, MaterialValues]
    pieces: tuple[RecipePiece, ...] = ()
    fixings: tuple[RecipeFixing, ...] = ()
    wears: tuple[RecipeWear, ...] = ()
    packings: tuple[RecipePacking, ...] = ()
    steps: tuple[RecipeStep, ...] = ()
    options: tuple[RecipeOption, ...] = ()
    reject_share: Decimal = ZERO
    rejects_from: int = 1
    learning: Learning = Learning.NONE
    learning_rate: Decimal = ONE
    learning_floor: Decimal = ZERO
    learning_reference: int = 1
    learning_made: int = 0  # pieces of the design made before this job
    gap_mm: Decimal = ZERO
    unit: str = "mm"  # "in" or "mm": what reasons are said in
    cautions: tuple[str, ...] = field(default_factory=tuple)
