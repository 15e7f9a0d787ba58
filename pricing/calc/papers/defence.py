"""What a price is made of as a customer may hear it: materials, handwork, care; no money in it.

Nothing here can tell a wage, a cost, a margin or what a supplier asks: the values hold amounts,
minutes and words only.
"""

from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.recipes.recipe import Basis, RecipeStep
from maker.calc.money import with_working_precision
from pricing.calc.costing.cost import JobCost

ZERO = Decimal(0)

READY, CUTTING, FOLDING, GLUING, FINISHING, NAMES, PACKING = (
    "set-up and clearing up, shared",
    "cutting",
    "scoring and folding",
    "gluing and putting together",
    "decorating and finishing",
    "writing names",
    "checking and packing",
)
_GROUPS = (READY, CUTTING, FOLDING, GLUING, FINISHING, NAMES, PACKING)
_BY_BASIS = {
    Basis.JOB: READY,
    Basis.BATCH: READY,
    Basis.SHEET: CUTTING,
    Basis.PASS: CUTTING,
    Basis.NAME: NAMES,
    Basis.GOOD: PACKING,
    Basis.CARTON: PACKING,
}
# parts of a step's name that say what hands do; common practice, no source
_BY_NAME = (
    (CUTTING, ("cut", "punch", "trim")),
    (FOLDING, ("score", "fold", "crease")),
    (GLUING, ("glu", "seam", "base", "wall", "board", "cover", "line", "body", "layer", "assembl")),
)


@dataclass(frozen=True, slots=True)
class NamedMaterial:
    """So much of a material, for one and in all, spares and waste included."""

    name: str
    unit: str
    each: Decimal
    in_all: Decimal


@dataclass(frozen=True, slots=True)
class ExplainedPart:
    """A part that is cut for each piece."""

    name: str
    count: int


@dataclass(frozen=True, slots=True)
class Handwork:
    """Hands-on minutes of one kind of work for one piece, what is shared shared."""

    label: str
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class Defence:
    """What one piece of a job is made of, and how many a customer takes; no money is in it."""

    quantity: int
    spares: int
    materials: tuple[NamedMaterial, ...]
    parts: tuple[ExplainedPart, ...]
    handwork: tuple[Handwork, ...]
    nights: int
    loads: int
    packing: tuple[tuple[str, int], ...]
    choices: tuple[tuple[str, str], ...]

    @property
    @with_working_precision
    def minutes(self) -> Decimal:
        """All hands-on minutes of one piece."""
        return sum((work.minutes for work in self.handwork), ZERO)


def group_of(step: RecipeStep) -> str:
    """Return the kind of work a step is, by what it is counted by, else by its name."""
    if step.basis in _BY_BASIS:
        return _BY_BASIS[step.basis]
    name = step.name.casefold()
    return next(
        (group for group, words in _BY_NAME if any(word in name for word in words)), FINISHING
    )


@with_working_precision
def defence_of(job: JobCost, bought: int) -> Defence:
    """Return what a customer who takes so many of a job may hear of it.

    Spares are told to who takes all of it.
    """
    quantity = job.quantity
    amounts: dict[tuple[str, str], Decimal] = {}
    for use in job.sheet_uses:
        key = (use.material.name, "sheet")
        amounts[key] = amounts.get(key, ZERO) + use.sheets
    for other in job.parts.uses:
        key = (other.material.name, other.material.unit)
        amounts[key] = amounts.get(key, ZERO) + other.amount
    minutes = dict.fromkeys(_GROUPS, ZERO)
    for done in job.work.steps:
        minutes[group_of(done.step)] += done.minutes
    options = {option.key: option for option in job.recipe.options}
    return Defence(
        quantity=bought,
        spares=job.made - quantity if bought == quantity else 0,
        materials=tuple(
            NamedMaterial(name, unit, amount / quantity, amount * bought / quantity)
            for (name, unit), amount in amounts.items()
            if amount
        ),
        parts=tuple(
            ExplainedPart(cut.piece.name, cut.piece.count * cut.piece.layers)
            for cut in job.parts.cuts
        ),
        handwork=tuple(
            Handwork(label, total / quantity) for label, total in minutes.items() if total
        ),
        nights=job.drying.nights,
        loads=job.drying.rack_loads,
        packing=tuple(
            (each.packing.name, -(-bought // each.packing.holds))
            for each in job.parts.packed
            if each.packing.when.holds(bought, job.parts.choices)
        ),
        choices=tuple(
            (options[key].name, next(c.name for c in options[key].choices if c.key == choice))
            for key, choice in job.parts.choices.items()
        ),
    )
