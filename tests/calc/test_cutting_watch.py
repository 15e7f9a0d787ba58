"""Planning tells how far it has come and stops promptly when it is cancelled."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from catalogue.calc.cutting.planning import PlanCancelled, plan_cuts
from maker.calc.refusal import Refusal
from tests.calc.cutting_jobs import job, piece, sheet
from tests.calc.test_cutting_maker_jobs import JOBS, job_of
from tests.thorough import tries
from tests.work import longest_without_a_look

DATA = Path(__file__).parents[1] / "data" / "cutting_maker_jobs.json"
# with several kinds of sheet and odd sizes planning goes on until the limit
LONG_JOB = max(
    (entry for entry in json.loads(DATA.read_text())["jobs"] if len(entry["sheets"]) > 1),
    key=lambda entry: len(entry["pieces"]),
)


class Watcher:
    """Notes what it is told and cancels when it was asked so many times."""

    def __init__(self, patience=None):
        self.patience = patience
        self.asked = 0
        self.told = []

    def report(self, stage, value, bound):
        self.told.append((stage, value, bound))

    def is_cancelled(self):
        self.asked += 1
        return self.patience is not None and self.asked > self.patience


def test_a_watch_is_told_a_few_times_a_second():
    cutting_job = replace(job_of(LONG_JOB), time_limit_s=tries(1, thorough=3))
    watch = Watcher()
    plan = plan_cuts(cutting_job, watch=watch)
    assert watch.told
    assert len(watch.told) <= 4 * plan.seconds + 1
    assert all(stage for stage, _, _ in watch.told)
    values = [value for _, value, _ in watch.told if value is not None]
    bounds = [bound for _, _, bound in watch.told]
    assert values == sorted(values, reverse=True)
    assert values[-1] >= plan.cost
    assert bounds == sorted(bounds)
    assert bounds[-1] <= plan.lower_bound


@pytest.mark.parametrize("patience", [0, 1, 5, *(20, 50)[: tries(1, thorough=2)]])
def test_a_cancelled_plan_ends_at_once(patience):
    watch = Watcher(patience)
    with pytest.raises(PlanCancelled) as refusal:
        plan_cuts(replace(job_of(LONG_JOB), time_limit_s=60.0), watch=watch)
    assert isinstance(refusal.value, Refusal)
    assert watch.asked == patience + 1


@pytest.mark.slow
def test_a_run_looks_at_its_clock_all_the_time(monkeypatch):
    cutting_job = replace(job_of(LONG_JOB), time_limit_s=tries(1, thorough=2))
    # half a million calls take about a third of a second
    assert longest_without_a_look(lambda: plan_cuts(cutting_job), monkeypatch) < 600_000


def test_a_watch_changes_nothing_of_the_plan():
    entry = JOBS["mix12_dir_q10"]
    plans = [plan_cuts(job_of(entry, 60.0), watch=watch) for watch in (None, Watcher())]
    assert replace(plans[0], seconds=0.0) == replace(plans[1], seconds=0.0)


def test_parts_of_a_job_are_reported_together():
    sheets = [sheet("a", price="2"), sheet("b", price="3")]
    pieces = [piece("x", "5", "5", 3, on="a"), piece("y", "7", "5", 9, on="b")]
    watch = Watcher()
    plan = plan_cuts(job(sheets, pieces), watch=watch)
    assert plan.proven
    for _, value, bound in watch.told:
        assert value is None or value >= plan.cost
        assert bound <= plan.cost
