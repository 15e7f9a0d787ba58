"""Minutes of work: what each step takes, die passes, and hands that get faster."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.recipes.parts_list import PartsList
from catalogue.calc.recipes.recipe import Basis, Recipe, RecipeStep
from maker.calc import sums
from maker.calc.explanation import Line, sum_line
from maker.calc.money import share_out, with_working_precision
from pricing.calc.costing.learning import LearningFactor, learning_factor

ZERO = Decimal(0)
# what hands get faster at; setting up, machines and counting cartons do not learn
LEARNING_BASES = frozenset({Basis.MADE, Basis.GOOD, Basis.NAME})


@dataclass(frozen=True, slots=True)
class Passes:
    """Passes of one die-cutting step, shared over the roles whose shapes it cuts."""

    step: RecipeStep
    by_role: Mapping[str, int]
    how: str

    @property
    def count(self) -> int:
        """Passes in all."""
        return sum(self.by_role.values())

    @property
    def line(self) -> Line:
        """Return how the passes came about."""
        label, source = f"passes: {self.step.name}", _source(self.step)
        return Line(label, self.count, "pass", self.how, source=source)


@dataclass(frozen=True, slots=True)
class StepMinutes:
    """What one step takes in the whole job.

    `factor` is its count, made less by learning where it learns.
    """

    step: RecipeStep
    count: int
    learning: LearningFactor | None
    factor: Decimal
    minutes: Decimal

    @property
    def line(self) -> Line:
        """Return how the minutes came about."""
        how = sums.number(self.count) * sums.number(self.step.minutes)
        lines: tuple[Line, ...] = ()
        if self.learning:
            how *= sums.factor(self.learning.factor)
            lines = (self.learning.line,)
        return Line(
            self.step.name, self.minutes, "min", how, lines=lines, source=_source(self.step)
        )


@dataclass(frozen=True, slots=True)
class WorkMinutes:
    """The hands-on minutes of a job; drying and pressing are waiting, not work."""

    total: Decimal
    learning: LearningFactor
    steps: tuple[StepMinutes, ...]
    passes: tuple[Passes, ...]

    @property
    def die_passes(self) -> int:
        """Passes through the die-cutting machine in all."""
        return sum(each.count for each in self.passes)

    @property
    @with_working_precision
    def line(self) -> Line:
        """Return the minutes by what they count by."""
        groups = []
        for key, label, bases in _GROUPS:
            lines = [each.line for each in self.steps if each.step.basis in bases]
            if lines or key in {"t.setup", "t.cut", "t.die", "t.hand", "t.pack"}:
                groups.append(sum_line(label, lines, unit="min", key=key))
        return sum_line("hands-on minutes", groups, unit="min", key="t")


_GROUPS: tuple[tuple[str, str, frozenset[Basis]], ...] = (
    ("t.setup", "set-up, once per batch", frozenset({Basis.JOB})),
    ("t.batch", "per batch", frozenset({Basis.BATCH})),
    ("t.cut", "cutting sheets", frozenset({Basis.SHEET})),
    ("t.die", "die-cutting", frozenset({Basis.PASS})),
    ("t.hand", "per item made", frozenset({Basis.MADE})),
    ("t.names", "per name", frozenset({Basis.NAME})),
    ("t.pack", "checking and packing", frozenset({Basis.GOOD, Basis.CARTON})),
)


@with_working_precision
def minutes_for(recipe: Recipe, parts: PartsList, sheets: Mapping[str, int]) -> WorkMinutes:
    """Return the hands-on minutes of a job; `sheets` are the whole sheets of each role."""
    learning = learning_factor(
        parts.made,
        model=recipe.learning,
        rate=recipe.learning_rate,
        floor=recipe.learning_floor,
        reference=recipe.learning_reference,
        made_before=recipe.learning_made,
    )
    passes = tuple(_passes(recipe, parts, step) for step in parts.steps if step.basis is Basis.PASS)
    count_by = _counters(parts, sheets, {id(each.step): each.count for each in passes})
    steps = tuple(
        _step_minutes(step, count_by[step.basis](step), learning)
        for step in parts.steps
        if step.basis in count_by
    )
    return WorkMinutes(sum((each.minutes for each in steps), ZERO), learning, steps, passes)


def _counters(
    parts: PartsList, sheets: Mapping[str, int], passes: Mapping[int, int]
) -> dict[Basis, Callable[[RecipeStep], int]]:
    return {
        Basis.JOB: lambda step: 1,
        Basis.BATCH: lambda step: -(-parts.made // step.per),
        Basis.SHEET: lambda step: count_for(step.role, sheets),
        Basis.PASS: lambda step: passes[id(step)],
        Basis.MADE: lambda step: parts.made,
        Basis.GOOD: lambda step: parts.quantity,
        Basis.CARTON: lambda step: parts.cartons,
        Basis.NAME: lambda step: parts.names,
    }


def count_for(role: str | None, counts: Mapping[str, int]) -> int:
    """Return the count of a role, or of every role when none is said."""
    return sum(counts.values()) if role is None else counts.get(role, 0)


def _step_minutes(step: RecipeStep, count: int, learning: LearningFactor) -> StepMinutes:
    learns = step.learns and step.basis in LEARNING_BASES
    factor = count * learning.factor if learns else Decimal(count)
    return StepMinutes(step, count, learning if learns else None, factor, factor * step.minutes)


def _passes(recipe: Recipe, parts: PartsList, step: RecipeStep) -> Passes:
    """Count the passes of a step, for each material apart: one pass takes one sheet of card.

    Roles that share a material share its passes, by their shapes, largest remainder first.
    """
    roles = [role for role in parts.shapes if step.role in (None, role)]
    materials: dict[int | str, list[str]] = {}
    for role in roles:
        materials.setdefault(recipe.materials[role].identity, []).append(role)
    by_role: dict[str, int] = {}
    hows = []
    for together in materials.values():
        shapes = [parts.shapes[role] for role in together]
        passes = -(-sum(shapes) // step.per)
        hows.append(f"{sum(shapes)} / {step.per} up ({', '.join(together)})")
        shares = share_out(Decimal(passes), [Decimal(count) for count in shapes], 0)
        by_role |= {role: int(share) for role, share in zip(together, shares, strict=True)}
    return Passes(step, by_role, " + ".join(hows) or "no die-cut pieces")


def _source(step: RecipeStep) -> tuple[str, int] | None:
    return ("step", step.id) if step.id is not None else None
