"""What the timed runs of a design say about the minutes of its recipe, and putting them there."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.db import models, transaction

from catalogue.designs.models import Design
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion, Step
from catalogue.recipes.services import save_as_new_version, save_recipe
from maker.accounts.models import User
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.times.timings import (
    BadTiming,
    Run,
    StepTiming,
    believed_change,
    runs_needed,
    time_step,
)
from pricing.calc.times.variances import Variance, variance_of
from pricing.times.inputs import least_for, run_value, timeable, written_since
from pricing.times.models import TimedRun

HOUR = Decimal(60)
ONE = Decimal(1)


class NothingToUse(Refusal):
    """The timed runs suggest no other minutes."""


class SuggestionMovedOn(Refusal):
    """The recipe or the timed runs are not what the suggestion was made from."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Minutes for the recipe, to the decimals they are worth."""

    low: Decimal
    likely: Decimal
    high: Decimal

    @property
    def key(self) -> str:
        """What a form sends along, to say which suggestion was seen."""
        return f"{self.low}/{self.likely}/{self.high}"


@dataclass(frozen=True, slots=True)
class TimedRow:
    """One run beside what it says: nothing (`value` None), too little, or counted.

    `is_new` when the minutes of now do not know it yet.
    """

    run: TimedRun
    value: Run | None
    is_enough: bool
    is_new: bool


@dataclass(frozen=True, slots=True)
class TimedStep:
    """One step and its runs, the oldest first.

    `timing` rests on the runs since the step has its minutes; `needed` (batches in all, for an
    average good to 5%) on every run that counts. `variance` is what the runs of `timing` cost
    in labour beyond the recipe, at the wage of now.
    """

    step: Step
    rows: tuple[TimedRow, ...]
    timing: StepTiming
    counted: int
    needed: int | None
    suggestion: Suggestion | None
    is_off: bool
    variance: Variance


@dataclass(frozen=True, slots=True)
class Timings:
    """The steps of a version as timed; runs of steps it has no more or counts otherwise apart."""

    version: DesignVersion
    steps: tuple[TimedStep, ...]
    strangers: tuple[TimedRun, ...]


def timings_of(version: DesignVersion, workshop: Workshop) -> Timings:
    """Lay the timed runs beside the recipe; `version` is the newest, loaded `with_recipe()`.

    Four queries, whatever was timed.
    """
    runs = TimedRun.objects.finished().filter(design=version.design_id).oldest_first()
    by_name: dict[str, list[TimedRun]] = {}
    for run in runs.select_related("timed_by"):
        by_name.setdefault(run.step_name, []).append(run)
    since = written_since(version)
    steps = []
    for step in timeable(version.steps.all()):
        began = since.get(step.name)
        rows = []
        for run in by_name.pop(step.name, []):
            value = run_value(run, step, version)
            is_enough = value is not None and value.count >= least_for(step)
            is_new = began is None or (run.finished_at is not None and run.finished_at > began)
            rows.append(TimedRow(run, value, is_enough, is_new))
        steps.append(_timed_step(step, rows, workshop))
    strangers = [run for runs_left in by_name.values() for run in runs_left]
    return Timings(version, tuple(steps), tuple(strangers))


@with_working_precision
def timed_changes(versions: Iterable[int]) -> dict[int, dict[str, Decimal]]:
    """Return, for each version that was timed, by how much each step's believed minutes moved.

    Counted are runs since the version was frozen (or made): its minutes cannot know those. A
    share of the recipe's minutes, as `StepTiming.change`. Three queries, whatever was timed.
    """
    timed = DesignVersion.objects.filter(pk__in=list(versions), design__runs__isnull=False)
    rows = {row.pk: row for row in timed.distinct().defer("places", "places_before")}
    # steps of one name pass together, so that those named twice are still told
    was_timed = TimedRun.objects.finished().filter(
        design=models.OuterRef("version__design"), step_name=models.OuterRef("name")
    )
    steps: dict[int, list[Step]] = {}
    found = Step.objects.filter(models.Exists(was_timed), version__in=list(rows))
    for step in found.only("version", "name", "basis", "minutes", "learns").order_by("pk"):
        steps.setdefault(step.version_id, []).append(step)
    runs: dict[tuple[int, str], list[TimedRun]] = {}
    designs = {version.design_id for version in rows.values()}
    finished = TimedRun.objects.finished().filter(design__in=designs).oldest_first()
    for run in finished.defer("note", "started_at", "form_key", "timed_by", "batch"):
        runs.setdefault((run.design_id, run.step_name), []).append(run)
    changes: dict[int, dict[str, Decimal]] = {}
    for pk, version in rows.items():
        began = version.frozen_at or version.created_at
        for step in timeable(steps.get(pk, [])):
            values = [
                value
                for run in runs.get((version.design_id, step.name), [])
                if run.finished_at and run.finished_at > began
                for value in (run_value(run, step, version),)
                if value is not None
            ]
            change = believed_change(step.minutes, values, least=least_for(step))
            if change is not None:
                changes.setdefault(pk, {})[step.name] = change
    return changes


@with_working_precision
def _timed_step(step: Step, rows: Sequence[TimedRow], workshop: Workshop) -> TimedStep:
    new = [row.value for row in rows if row.value and row.is_new]
    timing = time_step(step.name, step.minutes, new, least=least_for(step))
    counted = [row.value.minutes_each for row in rows if row.value and row.is_enough]
    try:
        needed = runs_needed(counted)
    except BadTiming:
        needed = None
    suggestion = _suggestion(step, timing)
    is_off = timing.is_believed and (
        abs(timing.change) > workshop.timing_share or (not step.minutes and timing.likely > 0)
    )
    planned = sum((run.count * run.factor * step.minutes for run in timing.used), Decimal(0))
    actual = sum((run.minutes for run in timing.used), Decimal(0))
    variance = variance_of(
        step.name,
        planned_amount=planned / HOUR,
        planned_price=workshop.wage_per_hour,
        actual_amount=actual / HOUR,
        actual_price=workshop.wage_per_hour,
    )
    return TimedStep(
        step=step,
        rows=tuple(rows),
        timing=timing,
        counted=len(counted),
        needed=needed,
        suggestion=suggestion,
        is_off=is_off,
        variance=variance,
    )


def _suggestion(step: Step, timing: StepTiming) -> Suggestion | None:
    if not timing.is_believed:
        return None
    # a hundredth of a minute is less than a second; quick work is told a little finer
    places = Decimal("0.01") if timing.likely >= 1 else Decimal("0.001")
    low, likely, high = (
        value.quantize(places, rounding=ROUND_HALF_UP)
        for value in (timing.low, timing.likely, timing.high)
    )
    if (low, likely, high) == (step.minutes_low, step.minutes, step.minutes_high):
        return None
    return Suggestion(low, likely, high)


@transaction.atomic
def use_timed_minutes(
    *,
    design: Design,
    workshop: Workshop,
    step_name: str,
    seen: str,
    version_number: int,
    edit_number: int,
    by: User | None,
) -> DesignVersion:
    """Write a suggestion that was seen into the recipe; a frozen version gets a next one for it.

    The save is one of the recipe's own: kept, and undone as such. Errors: NothingToUse;
    SuggestionMovedOn when recipe or runs are not those of the page; those of save_recipe.
    """
    # two clicks, or two people, come one after the other
    Design.objects.select_for_update(no_key=True).get(pk=design.pk)
    versions = DesignVersion.objects.of(workshop).filter(design=design).newest_first()
    version = versions.with_recipe().first()
    found = _find(version, workshop, step_name)
    if version is None or found is None or found.suggestion is None:
        raise NothingToUse("The timed batches no longer suggest other minutes for this step.")
    if (version.number, version.edit_number) != (version_number, edit_number) or (
        found.suggestion.key != seen
    ):
        raise SuggestionMovedOn(
            "The recipe or the timed batches have changed. Check the suggestion again."
        )
    document = recipe_document(version)
    for row in document["steps"]:
        if row["name"] == step_name:
            row["minutes"] = _written(found.suggestion.likely)
            row["minutes_low"] = _written(found.suggestion.low)
            row["minutes_high"] = _written(found.suggestion.high)
    if version.frozen_at:
        return save_as_new_version(version=version, document=document, by=by)
    return save_recipe(version=version, document=document, edit_number=edit_number, by=by)


def _find(version: DesignVersion | None, workshop: Workshop, name: str) -> TimedStep | None:
    if version is None:
        return None
    steps = timings_of(version, workshop).steps
    return next((timed for timed in steps if timed.step.name == name), None)


def _written(minutes: Decimal) -> str:
    return f"{minutes.normalize():f}"
