"""Timed runs -> the values the sums speak of, and which of them a step's minutes know already."""

import datetime
from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from catalogue.calc.recipes.recipe import Basis, Learning
from catalogue.recipes.models import DesignVersion, RecipeChange, Step
from maker.calc.money import with_working_precision
from pricing.calc.costing.learning import learning_factor
from pricing.calc.costing.minutes import LEARNING_BASES
from pricing.calc.times.timings import LEAST_PIECES, Run
from pricing.times.models import TimedRun

SECONDS = Decimal(60)
# what dries by itself is waiting, and nobody stands beside it with a watch
WAITING = frozenset({Basis.RACK, Basis.NIGHT})
ONE = Decimal(1)


def timeable(steps: Iterable[Step]) -> list[Step]:
    """Return the steps of one recipe that can be timed: hands-on, and alone with their name."""
    steps = list(steps)
    named = Counter(step.name for step in steps)
    return [step for step in steps if named[step.name] == 1 and step.basis not in WAITING]


def newest_steps(designs: Iterable[int]) -> dict[int, list[Step]]:
    """Return the steps to time of each design's newest version, in two queries."""
    newest: dict[int, int] = {}
    versions = DesignVersion.objects.filter(design__in=list(designs)).newest_first()
    for pk, design in versions.values_list("pk", "design_id"):
        newest.setdefault(design, pk)
    by_version: dict[int, list[Step]] = {}
    for step in Step.objects.filter(version__in=newest.values()).order_by("position", "pk"):
        by_version.setdefault(step.version_id, []).append(step)
    return {design: timeable(by_version.get(pk, [])) for design, pk in newest.items()}


def least_for(step: Step) -> int:
    """Return the smallest batch that says something: getting started weighs in pieces only."""
    return LEAST_PIECES if step.basis in LEARNING_BASES else 1


@with_working_precision
def run_value(run: TimedRun, step: Step, version: DesignVersion) -> Run | None:
    """Return what a run says about a step as it is now; None when it says nothing.

    It says nothing while it is not counted, when it is left out, when the step was counted by
    something else then, and when none came out that the step counts.
    """
    if run.finished_at is None or run.is_left_out or run.count is None or run.basis != step.basis:
        return None
    count = run.count - run.rejects if step.basis == Basis.GOOD else run.count
    if count < 1:
        return None
    factor = ONE
    if step.learns and step.basis in LEARNING_BASES:
        factor = learning_factor(
            run.count,
            model=Learning(version.learning),
            rate=version.learning_rate,
            floor=version.learning_floor,
            reference=version.learning_reference,
            made_before=version.learning_made,
        ).factor
    return Run(count, run.worked_seconds / SECONDS, factor)


def written_since(version: DesignVersion) -> dict[str, datetime.datetime | None]:
    """Say since when each step of the newest version has its minutes; None: from the beginning.

    Runs before that are in the minutes already, or were timed against others. Minutes that were
    taken back hold since they first did. Three queries, whatever the number of versions.
    """
    states = list(_states(version))
    since: dict[str, datetime.datetime | None] = {}
    for name, minutes in states[0][1].items():
        for place, (began, kept) in enumerate(states):
            if kept.get(name) == minutes:
                since[name] = None if place == len(states) - 1 else began
    return since


def _states(
    version: DesignVersion,
) -> Iterator[tuple[datetime.datetime, dict[str, Decimal]]]:
    """Give the minutes by step that the design had, the newest first, and since when."""
    versions = list(DesignVersion.objects.filter(design=version.design_id).newest_first())
    now: dict[int, dict[str, Decimal]] = {one.pk: {} for one in versions}
    steps = Step.objects.filter(version__design=version.design_id)
    for pk, name, minutes in steps.values_list("version_id", "name", "minutes"):
        now[pk][name] = minutes
    changes: dict[int, list[tuple[datetime.datetime, Any]]] = {}
    saves = RecipeChange.objects.filter(version__design=version.design_id)
    for pk, made_at, before in saves.order_by("-edit_number").values_list(
        "version_id", "made_at", "before__recipe__steps"
    ):
        changes.setdefault(pk, []).append((made_at, before))
    for one in versions:
        state = now[one.pk]
        for made_at, before in changes.get(one.pk, []):
            yield made_at, state
            state = {row["name"]: Decimal(row["minutes"]) for row in before or []}
        yield one.created_at, state
