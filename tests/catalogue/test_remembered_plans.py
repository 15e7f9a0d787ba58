"""Cutting plans are remembered: once for all threads, within memory and within time."""

import random
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from decimal import Decimal
from threading import Barrier

from catalogue.calc.cutting.job import PieceKind, SheetKind
from catalogue.calc.cutting.planning import CuttingJob
from catalogue.calc.cutting.watch import planning_time
from catalogue.sheet_plans.services import TRY_AGAIN_SECONDS, PlanMemory, StoredPlans, sheet_planner
from tests.patience import PATIENCE_S
from tests.work import STEPS_A_SECOND

# what the clock of tests goes on by when it is looked at
A_LOOK = 1 / STEPS_A_SECOND


def job_of(*pieces: PieceKind) -> CuttingJob:
    sheet = SheetKind(name="card", width=Decimal(305), height=Decimal(305), price=Decimal(1))
    return CuttingJob(sheets=(sheet,), pieces=pieces)


def easy_job(count: int = 10) -> CuttingJob:
    """One kind of piece: proven in a moment."""
    return job_of(PieceKind("body", Decimal(100), Decimal(75), count, may_turn=False))


def hard_job(seed: int = 0, kinds: int = 20) -> CuttingJob:
    """Kinds of pieces that need thought: ten take about a second, twenty no second proves."""
    lots = random.Random(seed)
    return job_of(
        *(
            PieceKind(
                name=f"piece {number}",
                width=Decimal(lots.randint(20, 120)),
                height=Decimal(lots.randint(20, 120)),
                count=lots.choice((12, 60, 250)),
                may_turn=lots.random() < 0.5,
            )
            for number in range(kinds)
        )
    )


def test_two_requests_for_one_job_plan_it_once():
    memory = PlanMemory()
    together = Barrier(4)

    def ask(_: int) -> int:
        together.wait(PATIENCE_S)
        return id(memory.plan(hard_job(), 0.3))

    with ThreadPoolExecutor(4) as threads:
        assert len(set(threads.map(ask, range(4)))) == 1


def test_a_proven_plan_stays():
    now = [0.0]
    memory = PlanMemory(clock=lambda: now[0])
    plan = memory.plan(easy_job(), 2)
    assert plan.proven
    now[0] += 10 * TRY_AGAIN_SECONDS
    assert memory.plan(easy_job(), 2) is plan


def test_an_unproven_plan_is_tried_again_when_there_is_more_time():
    memory, job = PlanMemory(), hard_job(seed=3, kinds=10)
    hurried = memory.plan(job, 0.001)
    assert not hurried.proven
    assert memory.plan(job, 0.001) is hurried
    # ends as soon as it is proven
    calm = memory.plan(job, 60)
    assert calm.proven
    assert calm.sheet_count < hurried.sheet_count
    # and a hurried question later still gets the better one
    assert memory.plan(job, 0.001) is calm


def test_an_unproven_plan_is_tried_again_after_a_while_and_never_gets_worse():
    now = [0.0]
    memory = PlanMemory(clock=lambda: now[0])
    calm = memory.plan(hard_job(), 0.25)
    assert not calm.proven
    now[0] += TRY_AGAIN_SECONDS
    begun = planning_time()
    # so little time that it cannot do as well
    assert memory.plan(hard_job(), 0.05) is calm
    assert planning_time() - begun > 0.01, "it was tried again"
    begun = planning_time()
    assert memory.plan(hard_job(), 0.02) is calm
    assert planning_time() - begun < 0.01, "the second answer came from memory"


def test_all_plans_of_one_answer_share_their_time():
    plan_sheets = sheet_planner(seconds=0.25, memory=PlanMemory())
    begun = planning_time()
    plans = [plan_sheets(hard_job(seed)) for seed in range(5)]
    # each of them alone would use up two seconds
    assert planning_time() - begun < 0.75
    assert all(plan.sheet_count >= plan.lower_bound for plan in plans)


def test_memory_has_a_bound_in_pieces_not_in_plans():
    memory = PlanMemory(most=200)
    for count in range(1, 60):
        memory.plan(easy_job(count), 2)
    assert 0 < memory.size <= 200
    tiny = job_of(PieceKind("dot", Decimal(10), Decimal(10), 900, may_turn=True))
    plan = memory.plan(tiny, 2)
    assert memory.plan(tiny, 2) is plan, "one that is larger than all the room is still kept"
    memory.plan(easy_job(), 2)
    assert memory.size <= 200


def test_a_proven_plan_outlives_its_process(settings, tmp_path):
    settings.CACHES = {
        **settings.CACHES,
        "plans": {
            "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
            "LOCATION": tmp_path,
        },
    }
    job = hard_job(seed=3, kinds=4)
    found = PlanMemory(store=StoredPlans()).plan(job, 5)
    assert found.proven
    again = PlanMemory(store=StoredPlans()).plan(job, 5)
    assert again == found
    patient = replace(job, time_limit_s=60.0)
    begun = planning_time()
    assert PlanMemory(store=StoredPlans()).plan(patient, 5) == found
    assert planning_time() - begun == A_LOOK, "it was read and not made anew"
    other = replace(job, gap=Decimal(1))
    begun = planning_time()
    PlanMemory(store=StoredPlans()).plan(other, 5)
    assert planning_time() - begun > A_LOOK, "another job is planned"


def test_an_unproven_plan_is_not_kept_on_disk(settings, tmp_path):
    settings.CACHES = {
        **settings.CACHES,
        "plans": {
            "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
            "LOCATION": tmp_path,
        },
    }
    assert not PlanMemory(store=StoredPlans()).plan(hard_job(), 0.2).proven
    assert not list(tmp_path.iterdir())
