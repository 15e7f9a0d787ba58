"""Long cutting plans: worked on by another process, told, stopped, killed and taken up again."""

import signal
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from catalogue.calc.cutting import watch
from catalogue.calc.cutting.watch import planning_time
from catalogue.cutting_plans import working
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import stop_plan, work_longer
from catalogue.cutting_plans.stored import check_plans, read_groups, read_plans
from catalogue.cutting_plans.working import Progress, better_of, claim, settle, work_on
from catalogue.materials.models import Material
from maker.slow_work.models import Worker
from maker.slow_work.services import sweep
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.cutting_asks import hasten, make_long_plan
from tests.catalogue.pages import text_of
from tests.patience import PATIENCE_S
from tests.slow_work import do_what_waits, start_worker
from tests.work import WorkClock

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]


@pytest.fixture
def sheet(workshop: Workshop) -> Material:
    """A card with a price."""
    material = factories.make_material(workshop, name="Bramble card")
    factories.make_pack(material)
    return Material.objects.with_costs().get(pk=material.pk)


@pytest.fixture(autouse=True)
def _hastened(monkeypatch: pytest.MonkeyPatch) -> None:
    hasten(monkeypatch)


@pytest.fixture
def waiting(workshop: Workshop, sheet: Material) -> CuttingPlan:
    """A plan that a second does not prove, waiting for a worker, with what that second found."""
    plan = make_long_plan(workshop, sheet, seconds=3)
    assert (plan.state, plan.stage) == ("waiting", "")
    assert plan.plans is not None
    return plan


def until(is_so: Callable[[], object]) -> None:
    """Wait for another process."""
    end = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.1)


def claimed_from(plan: CuttingPlan) -> CuttingPlan:
    """The plan as a worker has it that just began."""
    mine = CuttingPlan.objects.get(pk=plan.pk)
    assert claim(mine)
    return mine


def value_of(plan: CuttingPlan) -> Decimal:
    return sum((Decimal(one["cost"]) for one in plan.plans or []), Decimal(0))


def test_work_makes_it_no_worse_and_ends_in_its_time(waiting: CuttingPlan) -> None:
    before, begun = value_of(waiting), planning_time()
    do_what_waits()
    waiting.refresh_from_db()
    assert (waiting.state, waiting.percent) == ("done", 100)
    assert value_of(waiting) <= before
    # three seconds are allowed; the looks after that count too
    assert planning_time() - begun < 4.5
    groups = read_groups(waiting.jobs)
    check_plans(read_plans(waiting.plans, groups), groups)


def test_one_that_was_stopped_and_asked_for_again_waits_in_the_queue_once(
    waiting: CuttingPlan,
) -> None:
    for _ in range(2):
        stop_plan(plan=waiting)
        assert DBTaskResult.objects.ready().count() == 0
        work_longer(plan=waiting, seconds=3)
        assert DBTaskResult.objects.ready().count() == 1


def test_the_page_tells_how_far_it_is_and_loads_again_when_it_is_over(
    client: Client, waiting: CuttingPlan
) -> None:
    address = f"/w/marlow/cutting-plans/{waiting.pk}/"
    page = text_of(client.get(address))
    assert "Waiting for its turn" in page
    assert '<noscript><meta http-equiv="refresh"' in page
    assert "Best so far" in page
    claimed = claimed_from(waiting)
    progress = Progress(claimed)
    progress.begin(read_groups(claimed.jobs)[0])
    progress.report("Trying other layouts", Decimal(4), Decimal(3))
    progress.tick()
    part = client.get(f"{address}progress/", headers={"HX-Request": "true"})
    assert "Bramble card: trying other layouts; €4.00 so far; at least €3.00" in text_of(part)
    assert client.get(f"{address}progress/").status_code == 302
    work_on(claimed)
    over = client.get(f"{address}progress/", headers={"HX-Request": "true"})
    assert (over.status_code, over["HX-Refresh"]) == (204, "true")
    assert "Working on it" not in text_of(client.get(address))


def test_stopping_keeps_the_best_so_far(
    client: Client, waiting: CuttingPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    CuttingPlan.objects.filter(pk=waiting.pk).update(seconds_allowed=600)
    claimed = claimed_from(waiting)
    monkeypatch.setattr(working, "BEAT_EVERY_S", 0.1)
    told = Progress.report

    def stop_now(self: Progress, *args: Any) -> None:
        told(self, *args)
        CuttingPlan.objects.filter(pk=claimed.pk).update(cancel_asked=True)

    monkeypatch.setattr(Progress, "report", stop_now)
    work_on(claimed)
    waiting.refresh_from_db()
    assert waiting.state == "cancelled"
    page = text_of(client.get(f"/w/marlow/cutting-plans/{waiting.pk}/"))
    assert "stopped: best found so far, at most" in page


def test_a_plan_that_waits_is_stopped_at_once(client: Client, waiting: CuttingPlan) -> None:
    client.post(f"/w/marlow/cutting-plans/{waiting.pk}/stop/")
    waiting.refresh_from_db()
    assert (waiting.state, waiting.plans is None) == ("cancelled", False)
    assert "This plan is finished" in text_of(
        client.post(f"/w/marlow/cutting-plans/{waiting.pk}/stop/", follow=True)
    )
    do_what_waits()
    waiting.refresh_from_db()
    assert waiting.state == "cancelled"


def test_a_database_that_is_away_for_a_moment_costs_nothing(waiting: CuttingPlan) -> None:
    claimed = claimed_from(waiting)
    found = read_plans(claimed.plans, read_groups(claimed.jobs))
    failures: list[str] = []

    def is_away(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.startswith("UPDATE") and len(failures) < 2:
            failures.append(sql)
            raise OperationalError("the server closed the connection")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(is_away):
        assert working.patiently(lambda: settle(claimed, found))
    assert len(failures) == 2
    claimed.refresh_from_db()
    assert claimed.state == "done"


def test_the_cheaper_plan_is_kept_with_the_higher_bound(waiting: CuttingPlan) -> None:
    groups = read_groups(waiting.jobs)
    plan = read_plans(waiting.plans, groups)[0]
    assert not plan.proven
    higher = replace(plan, cost=plan.cost + 1, lower_bound=plan.lower_bound + Decimal("0.01"))
    kept = better_of(higher, plan)
    assert (kept.cost, kept.lower_bound) == (plan.cost, higher.lower_bound)
    assert better_of(plan, higher) == kept
    # a bound that the plan reaches proves it, and then nothing is unknown any more
    reached = replace(plan, cost=plan.cost + 1, lower_bound=plan.cost)
    kept = better_of(reached, plan)
    assert kept.proven
    assert "Whether a plan reaches this is not known." in plan.reason
    assert "Whether a plan reaches this is not known." not in kept.reason
    check_plans([kept], groups)


def test_a_run_ends_early_with_the_best_there_is(
    sheet: Material, waiting: CuttingPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    [group] = read_groups(waiting.jobs)

    class InAHurry:
        def report(self, *args: Any) -> None:
            pass

        def is_cancelled(self) -> bool:
            return False

        def is_enough(self) -> bool:
            return True

    clock = WorkClock()
    monkeypatch.setattr(watch, "usual_clock", clock)
    made = working.plan_group(replace(group), 60, InAHurry())
    assert clock.steps < 500
    assert not made.proven


def test_what_a_worker_thought_dead_still_finds_is_not_kept(waiting: CuttingPlan) -> None:
    slow = claimed_from(waiting)
    quick = claimed_from(waiting)
    assert not settle(slow, None, refusal="too late")
    progress = Progress(slow)
    progress.tick()
    assert progress.is_cancelled()
    work_on(slow)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.started_at) == ("working", quick.started_at)


def test_a_killed_worker_is_followed_by_the_next_and_nothing_is_half(
    waiting: CuttingPlan, tmp_path: Path
) -> None:
    CuttingPlan.objects.filter(pk=waiting.pk).update(seconds_allowed=3600)
    process = start_worker(tmp_path)

    def is_at_work() -> bool:
        assert process.poll() is None, process.stderr.read().decode() if process.stderr else ""
        waiting.refresh_from_db()
        return waiting.state == "working"

    until(is_at_work)
    process.send_signal(signal.SIGKILL)
    process.wait(PATIENCE_S)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.plans is None) == ("working", False)
    Worker.objects.update(seen_at=timezone.now() - timedelta(minutes=5))
    CuttingPlan.objects.filter(pk=waiting.pk).update(seconds_allowed=2)
    assert sweep() == 1
    do_what_waits()
    waiting.refresh_from_db()
    assert (waiting.state, waiting.percent) == ("done", 100)
    check_plans(read_plans(waiting.plans, read_groups(waiting.jobs)), read_groups(waiting.jobs))


def test_a_mistake_of_ours_is_said_at_the_plan(
    client: Client, waiting: CuttingPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(working, "plan_group", broken)
    do_what_waits()
    page = text_of(client.get(f"/w/marlow/cutting-plans/{waiting.pk}/"))
    assert "Something went wrong while working on it. Try again" in page


def test_a_plan_that_was_removed_meanwhile_fails_nothing(waiting: CuttingPlan) -> None:
    CuttingPlan.objects.filter(pk=waiting.pk).delete()
    do_what_waits()
    assert not DBTaskResult.objects.failed().exists()


def test_plans_of_before_the_update_go_on(waiting: CuttingPlan) -> None:
    DBTaskResult.objects.all().delete()
    CuttingPlan.objects.filter(pk=waiting.pk).update(state="working")
    migration = import_module("catalogue.migrations.0007_plans_wait_as_tasks")
    migration.queue_what_waits(apps, None)
    do_what_waits()
    waiting.refresh_from_db()
    assert waiting.state == "done"


def test_it_is_in_the_list_of_all_work_and_says_when_nobody_does_it(
    client: Client, waiting: CuttingPlan
) -> None:
    assert f"Cutting plan: {waiting.name}" in text_of(client.get("/w/marlow/work/"))
    address = f"/w/marlow/cutting-plans/{waiting.pk}/"
    assert "No worker is running" in text_of(client.get(address))
    do_what_waits()
    assert f"Cutting plan: {waiting.name}" not in text_of(client.get("/w/marlow/work/"))
