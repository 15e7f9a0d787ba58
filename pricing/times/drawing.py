"""What the bench and the page of a design's timed minutes show."""

import datetime
from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import islice
from typing import Any

from django.utils import timezone

from catalogue.recipes.models import Step
from maker.calc.money import format_money
from maker.calc.units import format_number
from maker.documents.charts import ChartPoint, line_chart
from maker.web.words import percent
from maker.workshop.models import Workshop
from pricing.calc.times.timings import LEAST_BATCHES
from pricing.costs.drawing import CostFigure, links_for, shown
from pricing.times.models import TimedRun
from pricing.times.services import minutes_of
from pricing.times.standards import TimedRow, TimedStep, Timings

# a watch that runs for so long was likely forgotten (hands-on work is 3 to 5 hours a day)
LONG_SECONDS = 4 * 3600
MOST_ROWS = 40
Basis = Step.Basis

# what minutes of a step are for, by what it is counted by: 2.5 min "a sheet"
EACH = {
    Basis.JOB: "per job",
    Basis.BATCH: "per batch",
    Basis.SHEET: "per sheet",
    Basis.PASS: "per pass",
    Basis.CARTON: "per carton",
    Basis.NAME: "per name",
    Basis.GOOD: "per item",
}
A_FINISHED_ONE = "per item made"


def each_word(basis: str) -> str:
    """Say what minutes of a step are for: each one, a sheet."""
    return EACH.get(Basis(basis), A_FINISHED_ONE)


def clock_text(seconds: int) -> str:
    """Write a time as a watch shows it: 4:05, 1:02:09."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def watch_rows(runs: Iterable[TimedRun], now: datetime.datetime) -> list[dict[str, Any]]:
    """Return the runs on the bench, the running ones first."""
    rows = []
    for run in runs:
        seconds = run.seconds_at(now)
        rows.append(
            {
                "run": run,
                "seconds": seconds,
                "clock": clock_text(seconds),
                "is_running": run.running_since is not None,
                "is_long": seconds > LONG_SECONDS,
                "since": timezone.localtime(run.running_since) if run.running_since else None,
            }
        )
    return sorted(rows, key=lambda row: not row["is_running"])


def run_text(run: TimedRun, workshop: Workshop) -> str:
    """Say in words what a run gave: `12 in 31.5 min, 1 no good`."""
    minutes = format_number(minutes_of(run), workshop.locale, 1)
    text = f"{run.count} in {minutes} min"
    return f"{text}, {run.rejects} spoiled" if run.rejects else text


def minutes_text(value: Decimal | None, workshop: Workshop) -> str:
    """Write minutes of one to the decimals that say something."""
    if value is None:
        return "–"
    return format_number(value, workshop.locale, 2 if abs(value) >= 1 else 3)


def step_buttons(steps: Sequence[Step], workshop: Workshop, first: str) -> list[dict[str, Any]]:
    """Return the steps to start, the one asked for in the address first."""
    rows = [
        {
            "name": step.name,
            "minutes": f"{minutes_text(step.minutes, workshop)} min {each_word(step.basis)}",
            "caution": step.get_caution_display() if step.caution else "",
            "is_first": step.name == first,
        }
        for step in steps
    ]
    return sorted(rows, key=lambda row: not row["is_first"])


def recent_pairs(
    runs: Iterable[TimedRun],
    steps: dict[int, list[Step]],
    *,
    but: Iterable[TimedRun],
    most: int = 3,
) -> list[TimedRun]:
    """Return the runs whose design and step were timed last, each pair once, if still there.

    `but` are those on the bench: they are gone on with, not started again.
    """
    found: dict[tuple[int, str], TimedRun] = {}
    here = {(run.design_id, run.step_name) for run in but}
    for run in runs:
        names = {step.name for step in steps.get(run.design_id, [])}
        is_here = (run.design_id, run.step_name) in here
        if run.step_name in names and run.design.retired_on is None and not is_here:
            found.setdefault((run.design_id, run.step_name), run)
    return list(islice(found.values(), most))


def timings_page(timings: Timings, workshop: Workshop, recipe_url: str) -> dict[str, Any]:
    """Return everything the page of a design's timed minutes shows, without a query."""
    # what is off stands first, else the order of the recipe
    timed = sorted((step for step in timings.steps if step.rows), key=lambda step: not step.is_off)
    cost = sum((step.variance.total for step in timed), Decimal(0))
    counting = [step for step in timed if step.timing.used]
    figures = [
        CostFigure("Steps timed", f"{len(timed)} of {len(timings.steps)}"),
        CostFigure(
            "Steps out of line",
            str(sum(step.is_off for step in timed)),
            note=f"over {percent(workshop.timing_share, workshop, 2)}, "
            f"after {LEAST_BATCHES} batches or more",
            main=any(step.is_off for step in timed),
        ),
    ]
    if counting:
        figures.append(
            CostFigure(
                "Labour against the recipe",
                _signed(cost, workshop),
                note="timed batches, current wage",
            )
        )
    return {
        "figures": figures,
        "timed": [_step_panel(step, workshop, recipe_url, n) for n, step in enumerate(timed)],
        "untimed": [
            {
                "name": step.step.name,
                "minutes": _now(step.step, workshop),
                "each": each_word(step.step.basis),
            }
            for step in timings.steps
            if not step.rows
        ],
        "strangers": [
            {"run": run, "text": run_text(run, workshop)} for run in timings.strangers[-MOST_ROWS:]
        ],
    }


def _signed(amount: Decimal, workshop: Workshop) -> str:
    words = format_money(abs(amount), workshop.currency, workshop.locale)
    if not amount:
        return words
    return f"{words} {'over' if amount > 0 else 'under'}"


def _now(step: Step, workshop: Workshop) -> str:
    """Write low, likely and high of a step as the recipe has them."""
    likely = minutes_text(step.minutes, workshop)
    if step.minutes_low is None and step.minutes_high is None:
        return likely
    low = step.minutes if step.minutes_low is None else step.minutes_low
    high = step.minutes if step.minutes_high is None else step.minutes_high
    return f"{minutes_text(low, workshop)} – {likely} – {minutes_text(high, workshop)}"


def _step_panel(
    timed: TimedStep, workshop: Workshop, recipe_url: str, number: int
) -> dict[str, Any]:
    step, timing = timed.step, timed.timing
    link = links_for(workshop, recipe_url, [])
    suggestion = timed.suggestion
    return {
        "name": step.name,
        "number": number,
        "each": each_word(step.basis),
        "now": _now(step, workshop),
        "average": minutes_text(timing.average, workshop),
        "smoothed": minutes_text(timing.likely, workshop),
        "change": _change(timing.change, workshop) if timing.used else "",
        "is_off": timed.is_off,
        "is_believed": timing.is_believed,
        "used": len(timing.used),
        "advice": _advice(timed),
        "suggestion": suggestion
        and {
            "key": suggestion.key,
            "text": " – ".join(
                minutes_text(value, workshop)
                for value in (suggestion.low, suggestion.likely, suggestion.high)
            ),
        },
        "chart": _chart(timed, workshop, f"step-{number}-chart"),
        "rows": [_row(row, step, workshop) for row in reversed(timed.rows[-MOST_ROWS:])],
        "more": max(len(timed.rows) - MOST_ROWS, 0),
        "variance": _signed(timed.variance.total, workshop) if timing.used else "",
        "tree": shown(timing.line, workshop, link) if timing.used else None,
        "variance_tree": shown(timed.variance.line, workshop, link) if timing.used else None,
    }


def _change(change: Decimal, workshop: Workshop) -> str:
    if not round(change * 100):
        return "as the recipe says"
    return f"{percent(abs(change), workshop, 0)} {'slower' if change > 0 else 'faster'}"


def _advice(timed: TimedStep) -> str:
    """Say how many more batches to time, by trend first and by precision then."""
    missing = LEAST_BATCHES - len(timed.timing.used)
    if missing > 0:
        batches = "1 more batch" if missing == 1 else f"{missing} more batches"
        if not timed.timing.used and timed.counted:
            return f"Time {batches} with the current minutes to see a trend."
        return f"Time {batches} to see a trend."
    if timed.needed is None:
        return ""
    more = timed.needed - timed.counted
    if more <= 0:
        return "Enough batches timed: the average is good to 5%."
    batches = "1 more batch" if more == 1 else f"{more} more batches"
    return f"Time {batches} to know the average to 5%."


def _row(row: TimedRow, step: Step, workshop: Workshop) -> dict[str, Any]:
    run = row.run
    return {
        "run": run,
        "on": timezone.localtime(run.finished_at) if run.finished_at else None,
        "text": run_text(run, workshop),
        "each": minutes_text(row.value.minutes_each if row.value else None, workshop),
        "factor": format_number(row.value.factor, workshop.locale, 3)
        if row.value and row.value.factor != 1
        else "",
        "against": _against(row, step, workshop),
        "state": _state(row),
    }


def _against(row: TimedRow, step: Step, workshop: Workshop) -> str:
    """Say by how much the batch took more or less than the recipe gives it."""
    if row.value is None:
        return ""
    over = row.value.minutes - row.value.count * row.value.factor * step.minutes
    if not round(over, 1):
        return "as planned"
    minutes = format_number(abs(over), workshop.locale, 1)
    return f"{minutes} min {'over' if over > 0 else 'under'}"


def _state(row: TimedRow) -> str:
    """Say why a run does not count for the standard; empty when it does."""
    if row.run.is_left_out:
        return "excluded"
    if row.value is None:
        return "counted differently"
    if not row.is_enough:
        return "too few"
    return "" if row.is_new else "before the last change"


def _chart(timed: TimedStep, workshop: Workshop, name: str) -> str:
    """Return the minutes of one, batch by batch, as a line; empty for fewer than two."""
    points = [
        ChartPoint(
            timezone.localtime(row.run.finished_at).date(),
            float(row.value.minutes_each),
            f"{minutes_text(row.value.minutes_each, workshop)} min, batch of {row.value.count}",
        )
        for row in timed.rows
        if row.value and row.is_enough and row.run.finished_at
    ]
    if len(points) < 2:
        return ""
    values = [point.value for point in points]
    return line_chart(
        points,
        title=f"{timed.step.name}: minutes {each_word(timed.step.basis)}, batch by batch",
        description=(
            f"{len(points)} batches, from {min(values):.2f} to {max(values):.2f} minutes; "
            f"the recipe says {minutes_text(timed.step.minutes, workshop)}."
        ),
        tick_text=lambda value: minutes_text(Decimal(repr(round(value, 6))), workshop),
        name=name,
    )
