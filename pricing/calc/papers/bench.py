"""What a batch or an order is made by at the bench: cuts, folds by piece, materials, steps, times.

The same counts as the price, without money: a material nobody knows the cost of is cut all the
same. Lines of one recipe are one batch, as in `pricing.calc.orders.order`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.recipes.parts_list import amount_of_one, cut_of
from catalogue.calc.recipes.recipe import Basis, Recipe, RecipePiece, RecipeStep
from catalogue.calc.sheets.use import PlanSheets
from maker.calc.money import with_working_precision
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import Group, OrderedLine, Part, as_decimal, group_lines
from pricing.calc.orders.rows import work_charges
from pricing.calc.orders.sheets import SheetPlanning, sheet_work

WAITING = frozenset({Basis.RACK, Basis.NIGHT})


@dataclass(frozen=True, slots=True)
class BenchCut:
    """Blanks of one piece to cut, spares included. Lengths in mm; `places` are the lines it is for.

    A die-cut piece is cut as a blank first, then by the die.
    """

    piece: RecipePiece
    material: str
    count: int
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BenchUse:
    """A material that is not cut from sheets, waste included, in the material's unit.

    `cuts` lengths of `cut_mm` are cut from a reel; zero: none.
    """

    name: str
    material: str
    amount: Decimal
    unit: str
    cuts: int
    cut_mm: Decimal | None
    typed_in: str
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BenchStep:
    """One step: how often, and the hands-on minutes planned; what dries takes none of them.

    `count` is how often it is done (batches, sheets, passes, items, cartons, names), `per` how many
    at once. Of waiting, `waits` is the minutes of one load, zero overnight.
    """

    step: RecipeStep
    count: int
    minutes: Decimal
    is_waiting: bool
    waits: Decimal
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BenchLine:
    """One line of an order: how many good ones of it."""

    place: int
    quantity: int
    answers: Mapping[str, str]
    names: int


@dataclass(frozen=True, slots=True)
class BenchBatch:
    """All that is made by one recipe: `made` of them, `spares` of these beyond `quantity`."""

    recipe: Recipe
    lines: tuple[BenchLine, ...]
    quantity: int
    made: int
    cuts: tuple[BenchCut, ...]
    uses: tuple[BenchUse, ...]
    steps: tuple[BenchStep, ...]
    sheets: tuple[tuple[str, int], ...]
    packed: tuple[tuple[str, int], ...]

    @property
    def spares(self) -> int:
        """How many are made beyond those asked for."""
        return self.made - self.quantity

    @property
    def minutes(self) -> Decimal:
        """Hands-on minutes planned."""
        return sum((step.minutes for step in self.steps), Decimal(0))


@with_working_precision
def bench_batches(lines: Sequence[OrderedLine], plan_sheets: PlanSheets) -> tuple[BenchBatch, ...]:
    """Return what is done at the bench for some lines, a batch for each recipe.

    Sheets are planned together. Minutes are those the price counts. Refuses what `cost_of_order`
    refuses, but for a material without a cost.
    """
    groups = group_lines(lines)
    planning = SheetPlanning(groups, plan_sheets, None)
    charges = [
        *sheet_work(planning),
        *(charge for group in groups for charge in work_charges(group)),
    ]
    return tuple(_batch(group, planning, charges) for group in groups)


def _batch(group: Group, planning: SheetPlanning, charges: Iterable[Charge]) -> BenchBatch:
    mine = [charge for charge in charges if charge.group == group.number]
    return BenchBatch(
        recipe=group.recipe,
        lines=tuple(
            BenchLine(part.place, part.quantity, part.answers, part.names) for part in group.parts
        ),
        quantity=group.quantity,
        made=group.made,
        cuts=tuple(_cuts(group)),
        uses=tuple(_uses(group)),
        steps=tuple(_steps(group, planning, mine)),
        sheets=tuple(_sheets(group, planning)),
        packed=tuple(
            (parts[0].packings[row].name, count)
            for row, _, count, parts in group.packed(group.parts)
        ),
    )


def _cuts(group: Group) -> Iterable[BenchCut]:
    for parts in group.alike():
        made = group.made_of(parts)
        for piece in parts[0].pieces.values():
            cut = cut_of(parts[0].recipe, piece, made)
            yield BenchCut(piece, cut.material.name, cut.count, _places(parts))


def _uses(group: Group) -> Iterable[BenchUse]:
    for row in range(len(group.recipe.fixings)):
        alike: dict[tuple[str, Decimal], list[Part]] = {}
        for part in group.parts:
            if row in part.fixings:
                fixing = part.fixings[row]
                material = part.material(fixing.role, fixing.name)
                pieces = tuple(part.pieces.values())
                each, _ = amount_of_one(fixing, pieces, material.unit, part.recipe.unit)
                alike.setdefault((str(material.identity), each), []).append(part)
        for (_, each), parts in alike.items():
            fixing = parts[0].fixings[row]
            material = parts[0].material(fixing.role, fixing.name)
            count = group.count(fixing.basis, parts) or 0
            waste = material.waste_share if fixing.waste_share is None else fixing.waste_share
            yield BenchUse(
                fixing.name,
                material.name,
                count * each * (1 + waste),
                material.unit,
                count * fixing.cut_count,
                fixing.cut_mm,
                fixing.typed_in,
                _places(parts),
            )


def _steps(group: Group, planning: SheetPlanning, charges: Sequence[Charge]) -> Iterable[BenchStep]:
    for row, step in enumerate(group.recipe.steps):
        parts = [part for part in group.parts if row in part.steps]
        if not parts:
            continue
        made = group.made_of(parts)
        if step.basis in WAITING:
            loads = -(-made // step.per)
            waits = step.minutes * step.times if step.basis is Basis.RACK else Decimal(0)
            yield BenchStep(step, loads, Decimal(0), True, waits, _places(parts))
            continue
        taken = [charge for charge in charges if _is_of(charge, step)]
        minutes = sum((charge.exact for charge in taken), Fraction(0))
        if step.basis is Basis.BATCH:
            count = -(-made // step.per)
        elif step.basis is Basis.SHEET:
            count = _sheets_of(group, planning, step.role)
        elif step.basis is Basis.PASS:
            # passes do not get faster, so their minutes count them
            count = round(minutes / Fraction(step.minutes)) if step.minutes else 0
        else:
            count = group.count(step.basis, parts) or 0
        if count:
            yield BenchStep(step, count, as_decimal(minutes), False, Decimal(0), _places(parts))


def _is_of(charge: Charge, step: RecipeStep) -> bool:
    if step.id is None:
        return charge.name == step.name and charge.basis is step.basis
    return charge.source == ("step", step.id)


def _sheets(group: Group, planning: SheetPlanning) -> Iterable[tuple[str, int]]:
    found: dict[str, int] = {}
    for job in planning.jobs:
        if any(member is group for member, _ in job.members):
            found[job.material.name] = found.get(job.material.name, 0) + job.sheets
    return found.items()


def _sheets_of(group: Group, planning: SheetPlanning, role: str | None) -> int:
    """Return the sheets that hold pieces of a role of this batch, other batches' beside them."""
    return sum(
        job.sheets
        for job in planning.jobs
        if any(member is group and role in (None, cut.piece.role) for member, cut in job.cuts)
    )


def _places(parts: Iterable[Part]) -> tuple[int, ...]:
    return tuple(part.place for part in parts)
