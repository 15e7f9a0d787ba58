"""Prints a cutting plan as JSON for a job given as JSON, and draws its layouts on request."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from catalogue.calc.cutting.planning import CuttingJob, SheetPlan, plan_cuts
from catalogue.sheet_plans.drawing import draw_layout
from catalogue.sheet_plans.job_files import read_job, write_plan
from maker.management.json_command import CannotDraw, JsonCommand, content_of


class Command(JsonCommand):
    """Plan the job of a file or of standard input."""

    paths = frozenset({"job", "svg"})
    help = "Plan how to cut the pieces of a job from the fewest or cheapest sheets."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the job and where to draw."""
        parser.add_argument("job", metavar="JOB.json", help="the job; - reads standard input")
        parser.add_argument("--svg", metavar="FOLDER", help="draw each layout into this folder")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Plan, and draw when asked to."""
        job, unit = read_job(content_of(options["job"]))
        plan = plan_cuts(job)
        if options["svg"]:
            _draw_layouts(plan, job, unit, Path(options["svg"]))
        return write_plan(plan, job)


def _draw_layouts(plan: SheetPlan, job: CuttingJob, unit: str, folder: Path) -> None:
    sheets = {sheet.name: sheet for sheet in job.sheets}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for number, layout in enumerate(plan.layouts, start=1):
            drawing = draw_layout(
                layout, sheets[layout.sheet], unit=unit, number=number, of=len(plan.layouts)
            )
            path = folder / f"layout-{number:02d}.svg"
            path.write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise CannotDraw(
            f"The drawings cannot be written: {error.strerror}.", where=str(folder)
        ) from error
