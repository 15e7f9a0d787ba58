"""What a quantity of a design takes: how many to make, pieces to cut, fixings, packing."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from catalogue.calc.recipes.areas import format_area
from catalogue.calc.recipes.glue_rates import rate_per, rate_words
from catalogue.calc.recipes.recipe import (
    Basis,
    MaterialValues,
    Measure,
    Recipe,
    RecipeFixing,
    RecipePacking,
    RecipePiece,
    RecipeStep,
    RecipeWear,
    When,
)
from maker.calc import sums
from maker.calc.amounts import format_amount
from maker.calc.explanation import Line, shown, sum_line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.units import format_length

ZERO = Decimal(0)
LARGEST_QUANTITY = 1_000_000
MM_PER_M = Decimal(1000)
SQUARE_MM_PER_SQUARE_M = Decimal(1_000_000)
MOST_TERMS = 8  # of a sum in words


class ImpossibleQuantity(Refusal):
    """So many cannot be made."""


class UnknownOption(Refusal):
    """The design has no such option or no such answer to it."""


class NoMaterialInRole(Refusal):
    """A row speaks of a role that no material has, or that its material cannot play."""


@dataclass(frozen=True, slots=True)
class CutCount:
    """Pieces of one kind to cut for so many `made`, spares included; its size told in `unit`."""

    piece: RecipePiece
    material: MaterialValues
    count: int
    made: int
    unit: str

    @property
    def line(self) -> Line:
        """Return how the count came about."""
        piece = self.piece
        layers = f" x {piece.layers} layers" if piece.layers > 1 else ""
        width, height = (
            format_length(side, self.unit) for side in (piece.width_mm, piece.height_mm)
        )
        return Line(
            f"{piece.name} {width} x {height}",
            self.count,
            "piece",
            f"{self.made} x {piece.count}{layers}",
            f"cut.{piece.name}",
            source=("piece", piece.id) if piece.id is not None else None,
        )


@dataclass(frozen=True, slots=True)
class FixingUse:
    """What one fixing takes: `count` times `each`, and its waste; `words` say how `each` came."""

    fixing: RecipeFixing
    material: MaterialValues
    count: int
    each: Decimal
    words: str

    @property
    def _waste(self) -> Decimal:
        own = self.fixing.waste_share
        return self.material.waste_share if own is None else own

    @property
    def amount(self) -> Decimal:
        """How much of the material it takes."""
        return self.count * self.each * (1 + self._waste)

    @property
    def line(self) -> Line:
        """Return how the amount came about."""
        fixing, unit = self.fixing, self.material.unit
        how = sums.number(self.count) * sums.quantity(self.each, unit, fixing.typed_in)
        if self._waste:
            how *= sums.factor(1 + self._waste)
        if self.words:
            how = sums.say("{}; {}", how, self.words)
        source = ("fixing", fixing.id) if fixing.id is not None else None
        return Line(fixing.name, self.amount, unit, how, source=source)


@dataclass(frozen=True, slots=True)
class PartUse:
    """What one role takes that is not cut from sheets, waste included."""

    role: str
    material: MaterialValues
    amount: Decimal
    fixings: tuple[FixingUse, ...]

    @property
    @with_working_precision
    def line(self) -> Line:
        """Return what each fixing takes."""
        return sum_line(
            f"{self.material.name} used",
            [each.line for each in self.fixings],
            unit=self.material.unit,
            key=f"q.{self.role}",
            how="waste included",
        )


@dataclass(frozen=True, slots=True)
class Packed:
    """How many of one packing the good pieces leave in."""

    packing: RecipePacking
    material: MaterialValues | None
    count: int
    how: str

    @property
    def line(self) -> Line:
        """Return how the count came about."""
        packing = self.packing
        source = ("packing", packing.id) if packing.id is not None else None
        return Line(packing.name, self.count, packing.kind, self.how, source=source)


@dataclass(frozen=True, slots=True)
class PartsList:
    """The counts a cost is made from. `shapes` are the die-cut pieces of each role."""

    recipe: Recipe
    quantity: int
    spares: int
    made: int
    names: int
    choices: Mapping[str, str]
    cuts: tuple[CutCount, ...]
    uses: tuple[PartUse, ...]
    packed: tuple[Packed, ...]
    cartons: int
    shapes: Mapping[str, int]
    steps: tuple[RecipeStep, ...]
    wears: tuple[RecipeWear, ...]

    @property
    def line(self) -> Line:
        """Return how many are made, and why."""
        return say_made(self.recipe, self.quantity, self.spares)


def choices_for(
    recipe: Recipe, picked: Mapping[str, str] | Iterable[tuple[str, str]]
) -> dict[str, str]:
    """Return the answer to every option: as picked, else the default, else the first one.

    Refuses an option the design does not have, an answer it does not have, and two answers to
    one option, naming what there is.
    """
    pairs = list(picked.items()) if isinstance(picked, Mapping) else list(picked)
    options = {option.key: option for option in recipe.options}
    answers: dict[str, str] = {}
    for key, choice in pairs:
        if key not in options:
            known = ", ".join(options) or "none"
            raise UnknownOption(
                f"“{recipe.name}” has no option “{key}”. Its options: {known}.", where=key
            )
        if answers.get(key, choice) != choice:
            raise UnknownOption(f"Option “{key}” is answered twice.", where=key)
        known_choices = [answer.key for answer in options[key].choices]
        if choice not in known_choices:
            raise UnknownOption(
                f"Option “{key}” has no answer “{choice}”. Choose one of: "
                f"{', '.join(known_choices) or 'none'}.",
                where=key,
            )
        answers[key] = choice
    for key, option in options.items():
        defaults = [answer for answer in option.choices if answer.is_default]
        for answer in (defaults or list(option.choices))[:1]:
            answers.setdefault(key, answer.key)
    return answers


def check_quantity(quantity: int) -> None:
    """Refuse a quantity that is not 1 to 1,000,000."""
    if not 1 <= quantity <= LARGEST_QUANTITY:
        raise ImpossibleQuantity(
            f"{quantity} cannot be made: the quantity must be 1 to {LARGEST_QUANTITY:,}.",
            where="quantity",
        )


@with_working_precision
def parts_for(
    recipe: Recipe,
    quantity: int,
    choices: Mapping[str, str] | Iterable[tuple[str, str]] = (),
    names: int | None = None,
    bought_at_once: int | None = None,
) -> PartsList:
    """Count everything `quantity` good ones take.

    Spares are ceil(quantity x reject share) from the recipe's smallest quantity on, and every
    one made is counted, spares too; packing is for good ones. `names` None means one name
    on every good one when any row is counted by name, else none. Each buyer's are packed by
    themselves, `bought_at_once` (None: all) for each and what is left for the last; a purchase no
    packing row holds for is packed in nothing.
    """
    check_quantity(quantity)
    purchases = _purchases(quantity, bought_at_once)
    answers = choices_for(recipe, choices)
    spares = spares_of(recipe, quantity) if quantity >= recipe.rejects_from else 0
    made = quantity + spares
    rows = Rows(recipe, quantity, answers, tuple(purchases))
    names_made = name_count(rows, quantity, names)
    packed = tuple(_pack(recipe, packing, purchases, answers) for packing in rows.packings)
    cartons = sum(each.count for each in packed if each.packing.kind == "carton")
    cuts = tuple(cut_of(recipe, piece, made) for piece in rows.pieces)
    counts: dict[Basis, int] = {
        Basis.JOB: 1,
        Basis.MADE: made,
        Basis.GOOD: quantity,
        Basis.CARTON: cartons,
        Basis.NAME: names_made,
    }
    uses = tuple(
        _use(
            recipe,
            role,
            [fixing for fixing in rows.fixings if fixing.role == role],
            counts,
            rows.pieces,
        )
        for role in dict.fromkeys(fixing.role for fixing in rows.fixings)
    )
    shapes: dict[str, int] = {}
    for cut in cuts:
        if cut.piece.is_die_cut:
            shapes[cut.piece.role] = shapes.get(cut.piece.role, 0) + cut.count
    return PartsList(
        recipe=recipe,
        quantity=quantity,
        spares=spares,
        made=made,
        names=names_made,
        choices=answers,
        cuts=cuts,
        uses=uses,
        packed=packed,
        cartons=cartons,
        shapes=shapes,
        steps=rows.steps,
        wears=rows.wears,
    )


def spares_of(recipe: Recipe, quantity: int) -> int:
    """Return the spares for so many cut alike: ceil(quantity x reject share)."""
    return int((quantity * recipe.reject_share).to_integral_value(rounding=ROUND_CEILING))


def _purchases(quantity: int, bought_at_once: int | None) -> dict[int, int]:
    """Return how many buyers take how many."""
    each = min(bought_at_once or quantity, quantity)
    full, left = divmod(quantity, each)
    return {each: full} | ({left: 1} if left else {})


class Rows:
    """The rows of a recipe that hold for a quantity and the answers given.

    Packing, and what is counted by the carton, holds for what one buyer takes: one of the
    `purchases` (none: the whole quantity).
    """

    def __init__(
        self,
        recipe: Recipe,
        quantity: int,
        answers: Mapping[str, str],
        purchases: Sequence[int] = (),
    ) -> None:
        def holds(when: When, is_packing: bool) -> bool:
            quantities = purchases if is_packing and purchases else (quantity,)
            return any(when.holds(many, answers) for many in quantities)

        self.pieces = tuple(row for row in recipe.pieces if holds(row.when, False))
        self.fixings = tuple(
            row for row in recipe.fixings if holds(row.when, row.basis is Basis.CARTON)
        )
        self.packings = tuple(row for row in recipe.packings if holds(row.when, True))
        self.steps = tuple(
            row for row in recipe.steps if holds(row.when, row.basis is Basis.CARTON)
        )
        self.wears = tuple(row for row in recipe.wears if holds(row.when, False))


def name_count(rows: Rows, quantity: int, names: int | None) -> int:
    """Return how many names are put on: as said, else one on each when a row counts names."""
    if names is None:
        bases = {*(row.basis for row in rows.fixings), *(row.basis for row in rows.steps)}
        return quantity if Basis.NAME in bases else 0
    if not 0 <= names <= LARGEST_QUANTITY:
        raise ImpossibleQuantity(
            f"{names} names cannot be made: give 0 to {LARGEST_QUANTITY:,}.", where="names"
        )
    return names


def say_made(recipe: Recipe, quantity: int, spares: int) -> Line:
    """Return how many are made: good ones and spares."""
    how: sums.How | str = "no spoilage expected"
    if recipe.reject_share:
        none = f"; none under {recipe.rejects_from}" if recipe.rejects_from > 1 else ""
        how = (sums.number(quantity) * sums.share(recipe.reject_share)).then(f"up{none}")
    return Line(
        "to make",
        quantity + spares,
        "piece",
        f"{quantity} + {spares}",
        "M",
        (
            Line("to sell", quantity, "piece", "as asked", "N"),
            Line("spares", spares, "piece", how, "M.spare"),
        ),
        is_sum=True,
    )


def material_in(recipe: Recipe, role: str, row: str) -> MaterialValues:
    """Return the material in a role. Refuses a role without one, naming the row that needs it."""
    try:
        return recipe.materials[role]
    except KeyError:
        known = ", ".join(recipe.materials) or "none"
        raise NoMaterialInRole(
            f"“{row}” uses the role “{role}”, which has no material. Roles: {known}.", where=row
        ) from None


def cut_of(recipe: Recipe, piece: RecipePiece, made: int) -> CutCount:
    """Return what is cut of one piece for so many made. Refuses a material that is not a sheet."""
    material = material_in(recipe, piece.role, piece.name)
    if material.kind != "sheet" or material.width_mm <= 0 or material.height_mm <= 0:
        raise NoMaterialInRole(
            f"“{piece.name}” is cut from “{material.name}”, which isn't a sheet with a size.",
            where=piece.name,
        )
    return CutCount(piece, material, made * piece.count * piece.layers, made, recipe.unit)


def _use(
    recipe: Recipe,
    role: str,
    fixings: list[RecipeFixing],
    counts: Mapping[Basis, int],
    pieces: tuple[RecipePiece, ...],
) -> PartUse:
    material = material_in(recipe, role, fixings[0].name)
    uses = []
    for fixing in fixings:
        if fixing.basis not in counts:
            raise Refusal(
                f"“{fixing.name}” cannot be counted by the {fixing.basis.value}.",
                where=fixing.name,
            )
        each, words = amount_of_one(fixing, pieces, material.unit, recipe.unit)
        uses.append(FixingUse(fixing, material, counts[fixing.basis], each, words))
    amount = sum((use.amount for use in uses), ZERO)
    return PartUse(role, material, amount, tuple(uses))


def amount_of_one(
    fixing: RecipeFixing, pieces: tuple[RecipePiece, ...], material_unit: str, unit: str
) -> tuple[Decimal, str]:
    """Return what one takes and how that comes about; glue on folded pieces is added up here."""
    if fixing.measure is Measure.AMOUNT:
        return fixing.amount, fixing.how
    is_line = fixing.measure is Measure.FORM_BEAD
    # a doubled piece is glued once: layers do not count
    glued = [
        (piece, size)
        for piece in pieces
        if (size := piece.glue_bead_mm if is_line else piece.glue_area_mm2)
    ]
    if not glued:
        return ZERO, "no folded piece is glued"
    total = sum((piece.count * size for piece, size in glued), ZERO)
    terms = [
        f"{piece.count} {piece.name} x {_glue_size(size, unit, is_line)}" for piece, size in glued
    ]
    if len(terms) > MOST_TERMS:
        terms[MOST_TERMS:] = [f"{len(terms) - MOST_TERMS} more"]
    times = "" if fixing.amount == 1 else f"{shown(fixing.amount)} x "
    whole = total / (MM_PER_M if is_line else SQUARE_MM_PER_SQUARE_M)
    if unit == "in":
        in_all = format_amount(whole, "m", lengths=unit) if is_line else format_area(total, unit)
    else:
        in_all = f"{shown(whole)} {'m' if is_line else 'm²'}"
    measure = fixing.measure.value
    words = (
        f"{' + '.join(terms)} = {in_all};"
        f" {times}{rate_words(fixing.rate, measure, unit)} {material_unit}"
        f" per {rate_per(measure, unit)}"
    )
    return whole * fixing.amount * fixing.rate, words


def _glue_size(size: Decimal, unit: str, is_line: bool) -> str:
    return format_length(size, unit) if is_line else format_area(size, unit)


def _pack(
    recipe: Recipe,
    packing: RecipePacking,
    purchases: Mapping[int, int],
    answers: Mapping[str, str],
) -> Packed:
    material = material_in(recipe, packing.role, packing.name) if packing.role else None
    if packing.holds < 1:
        raise Refusal(f"“{packing.name}” must hold at least one.", where=packing.name)
    count, words = 0, []
    for items, buyers in purchases.items():
        if not packing.when.holds(items, answers):
            continue
        count += buyers * -(-items // packing.holds)
        how = f"{items} / {packing.holds}, up" if packing.holds > 1 else f"{items}, one each"
        words.append(f"{buyers} buyers x ({how})" if buyers > 1 else how)
    return Packed(packing, material, count, " + ".join(words))
