"""Cutting plans: time against the same job in a smaller quantity; value, bound, best known."""

import json
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from catalogue.calc.cutting import CuttingJob, CuttingPlan, PieceKind, SheetKind, plan_cuts
from catalogue.calc.cutting_check import check_plan
from tests.benchmarks import Row

OWN_JOBS = Path(__file__).parents[1] / "data" / "cutting_maker_jobs.json"
LIMIT_S = 5.0


def run(instances: Path | None = None) -> Iterator[Row]:
    """Give a row for each own job, or for each published instance in `instances`/open.json."""
    if instances is None:
        yield from _own_rows()
    else:
        entries = json.loads((instances / "open.json").read_text(encoding="utf-8"))
        for entry in entries:
            plan = _plan(entry, rounds=2 if entry["pattern"].startswith("2-") else 3)
            yield Row(entry["name"], plan.seconds, None, _note(plan, entry))


def _own_rows() -> Iterator[Row]:
    entries = json.loads(OWN_JOBS.read_text(encoding="utf-8"))["jobs"]
    first: dict[str, float] = {}
    for entry in entries:
        plan = _plan(entry, rounds=3)
        stem = entry["name"].rpartition("_q")[0]
        baseline = first.get(stem) if stem else None
        if stem:
            first.setdefault(stem, plan.seconds)
        yield Row(entry["name"], plan.seconds, baseline, _note(plan, entry))


def _plan(entry: dict[str, Any], rounds: int) -> CuttingPlan:
    turning = entry.get("rotation", False)
    job = CuttingJob(
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
        rounds=rounds,
        time_limit_s=LIMIT_S,
    )
    plan = plan_cuts(job)
    check_plan(plan, job)
    return plan


def _note(plan: CuttingPlan, entry: dict[str, Any]) -> str:
    price = entry["sheets"][0]["cost"] if len(entry["sheets"]) == 1 else 1
    value, bound = plan.cost, plan.lower_bound * price
    best = entry["best_known"]
    verdict = "equal" if value == best else "better" if value < best else "worse"
    return (
        f"{value} (bound {bound}{', proven' if plan.proven else ''}), best known {best}: {verdict}"
    )
