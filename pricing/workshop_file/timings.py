"""Timed runs of a workshop file: which design and step, what was worked and what came out."""

from typing import Any

from catalogue.recipes.models import Step
from maker.calc.strict_json import Fields, shown
from maker.workshop.models import Workshop
from pricing.times.inputs import WAITING
from pricing.times.models import TimedRun
from pricing.workshop_file import schema
from pricing.workshop_file.writing import Registry, create, read_columns


def timing_values(workshop: Workshop, batches: dict[int, str]) -> dict[str, Any]:
    """Return the runs in the order they were begun in, those on the bench too (one query)."""
    runs = TimedRun.objects.of(workshop).select_related("design").order_by("pk")
    return {
        "timed_runs": [
            {"design": run.design.name, "batch": batches[run.batch_id] if run.batch_id else None}
            | schema.TIMED_RUN.written(run)
            for run in runs
        ]
    }


def write_timed_runs(rows: list[Fields], designs: Registry, batches: Registry) -> None:
    """Store timed runs; a counted one says how many came out and does not run any more."""
    runs = []
    for row in rows:
        run = TimedRun(
            design=designs.of(row, "design"),
            batch=batches.optional(row, "batch"),
            **read_columns(schema.TIMED_RUN, row),
        )
        if run.basis not in Step.Basis.values or run.basis in WAITING:
            raise row.refuse(f"Nothing is timed by {shown(run.basis)}.", "basis")
        if run.finished_at is not None:
            if run.count is None:
                raise row.refuse("A run that is finished says how many came out.", "count")
            if run.running_since is not None:
                raise row.refuse("A run that is finished does not run.", "running_since")
        if run.is_left_out and run.running_since is not None:
            raise row.refuse("A run that is left out does not run.", "running_since")
        if run.rejects > (run.count or 0):
            raise row.refuse("You can't spoil more than you made.", "rejects")
        runs.append(run)
    create(TimedRun, runs)
