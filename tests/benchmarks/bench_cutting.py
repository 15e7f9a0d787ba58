"""Cutting plans within 5 seconds: best known, found and bound, beside first fit and a library.

Each family also says how many layouts and cuts its plans take and how large their largest offcuts
are, and for jobs that are there in several quantities what the quantity costs in time.
"""

import json
import re
import statistics
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind, SheetPlan, plan_cuts
from tests.benchmarks import Row, seconds_of
from tests.benchmarks.cutting_baselines import first_fit_decreasing, packing_library

OWN_JOBS = Path(__file__).parents[1] / "data" / "cutting_maker_jobs.json"
LIMIT_S = 5.0


def run(instances: Path | None = None) -> Iterator[Row]:
    """Give a row for each instance of a file (or of all files of a folder), then one a family.

    Without a path the project's own jobs are planned. The time beside a plan's is first fit's.
    """
    families: dict[str, _Family] = {}
    for path in _files(instances or OWN_JOBS):
        for entry in _entries(path):
            yield _row(entry, families)
    for name, family in families.items():
        yield Row(f"all of {name}", family.seconds, None, family.summary())
        yield Row(f"layouts of {name}", family.seconds, None, family.handling())
    yield from _quantities(families)


@dataclass(slots=True)
class _Family:
    count: int = 0
    reached: int = 0
    proven: int = 0
    gaps: float = 0.0
    worst: float = 0.0
    seconds: float = 0.0
    layouts: int = 0
    cuts: int = 0
    offcuts: float = 0.0
    # process time of each job, which other work on the machine does not lengthen
    used: dict[str, float] = field(default_factory=dict)
    plan_seconds: list[float] = field(default_factory=list)

    def add(self, plan: SheetPlan, value: Decimal, best: Decimal) -> None:
        self.count += 1
        self.layouts += len(plan.layouts)
        self.cuts += plan.cut_count
        self.plan_seconds.append(plan.seconds)
        self.reached += value <= best
        self.proven += plan.proven
        gap = float(value / best - 1)
        self.gaps += gap
        self.worst = max(self.worst, gap)
        self.seconds += plan.seconds

    def summary(self) -> str:
        return (
            f"{self.reached} of {self.count} at best known or better, {self.proven} proven, "
            f"mean {self.gaps / self.count:+.3%}, worst {self.worst:+.3%}"
        )

    def handling(self) -> str:
        longest = sorted(self.plan_seconds)[int(0.95 * (self.count - 1))]
        return (
            f"mean {self.layouts / self.count:.2f} layouts, {self.cuts / self.count:.1f} cuts, "
            f"largest offcut {self.offcuts / self.count:.1%} of a sheet; "
            f"median {statistics.median(self.plan_seconds):.3f} s, 95% within {longest:.3f} s"
        )


def _files(path: Path) -> list[Path]:
    return sorted(path.glob("*.json")) if path.is_dir() else [path]


def _entries(path: Path) -> list[dict[str, Any]]:
    whole = json.loads(path.read_text(encoding="utf-8"))
    if isinstance(whole, list):
        return whole
    return next(value for value in whole.values() if isinstance(value, list))


def _row(entry: dict[str, Any], families: dict[str, _Family]) -> Row:
    job = job_of(entry)
    started = time.process_time()
    plan = plan_cuts(job)
    used = time.process_time() - started
    check_plan(plan, job)
    # with one kind of sheet some sources count sheets and others their price
    price = Decimal(entry["sheets"][0]["cost"]) if len(job.sheets) == 1 else Decimal(1)
    value = plan.cost
    best = Decimal(entry["best_known"])
    family = entry.get("family") or ("one sheet" if len(job.sheets) == 1 else "several sheets")
    measured = families.setdefault(family, _Family())
    measured.add(plan, value, best)
    measured.offcuts += _largest_offcut(plan, job)
    measured.used[entry["name"]] = used
    baselines: list[Decimal | None] = []
    greedy_seconds = seconds_of(lambda: baselines.append(first_fit_decreasing(job)))
    packing_seconds = seconds_of(lambda: baselines.append(packing_library(job)))
    greedy, packed = (None if answer is None else answer * price for answer in baselines)
    proof = "proven" if plan.proven else f"bound {plan.lower_bound * price}"
    verdict = "equal" if value == best else "better" if value < best else "WORSE"
    note = (
        f"best known {best}, found {value} ({proof}): {verdict}; first fit {_told(greedy)}; "
        f"rectpack {_told(packed)} in {packing_seconds:.2f} s"
    )
    return Row(entry["name"], plan.seconds, greedy_seconds if greedy is not None else None, note)


def _largest_offcut(plan: SheetPlan, job: CuttingJob) -> float:
    """Return the largest offcut of the plan as a part of the largest sheet."""
    sheet = max(sheet.width * sheet.height for sheet in job.sheets)
    offcuts = (offcut for layout in plan.layouts for offcut in layout.offcuts)
    return float(max((one.width * one.height for one in offcuts), default=Decimal(0)) / sheet)


def _quantities(families: dict[str, _Family]) -> Iterator[Row]:
    """Compare the process time of the same job in tens and in hundreds."""
    for family in families.values():
        for name, used in family.used.items():
            small = family.used.get(re.sub(r"_q250$", "_q10", name))
            if name.endswith("_q250") and small is not None:
                note = f"{used / small:.2f} times the process time of 10"
                yield Row(f"{name} beside 10", used, small, note)


def _told(value: Decimal | None) -> str:
    return "-" if value is None else str(value)


def job_of(entry: dict[str, Any]) -> CuttingJob:
    """Read a job from an entry of a file of instances."""
    turning = entry.get("rotation", False)
    return CuttingJob(
        sheets=tuple(
            SheetKind(
                f"sheet {at}", Decimal(s["w"]), Decimal(s["h"]), Decimal(s["cost"]), s["count"]
            )
            for at, s in enumerate(entry["sheets"])
        ),
        pieces=tuple(
            PieceKind(
                f"piece {at}",
                Decimal(p["w"]),
                Decimal(p["h"]),
                p["demand"],
                bool(p.get("may_rotate", turning)),
            )
            for at, p in enumerate(entry["pieces"])
        ),
        rounds=2 if entry.get("pattern", "").startswith("2-") else 3,
        time_limit_s=LIMIT_S,
    )
