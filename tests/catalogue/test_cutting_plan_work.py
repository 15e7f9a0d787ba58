"""Long cutting plans: worked on by another process, told, stopped, killed and taken up again."""

import os
import signal
import subprocess
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.management import call_command
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from catalogue.cutting_plans import worker, working
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import stop_plan
from catalogue.cutting_plans.stored import check_plans, read_groups, read_plans
from catalogue.cutting_plans.worker import only_one_here, work_until_done, worker_command
from catalogue.cutting_plans.working import Progress, better_of, claim_next, settle, work_on
from catalogue.materials.models import Material
from maker.workshop.models import Workshop
from tests import factories
from tests.at_once import at_once
from tests.catalogue.cutting_asks import make_long_plan
from tests.catalogue.pages import text_of

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]
PATIENCE_S = 60


@pytest.fixture
def sheet(workshop: Workshop) -> Material:
    """A card with a price."""
    material = factories.make_material(workshop, name="Bramble card")
    factories.make_pack(material)
    return Material.objects.with_costs().get(pk=material.pk)


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


def url_of_this_database() -> str:
    """Where the tests' own database is, for another process."""
    values = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{values['NAME']}"
    host = str(values["HOST"]).replace("/", "%2F")
    login = f"{values['USER']}:{values['PASSWORD']}" if values["PASSWORD"] else values["USER"]
    port = f":{values['PORT']}" if values["PORT"] else ""
    return f"postgres://{login}@{host}{port}/{values['NAME']}"


def start(tmp_path: Any) -> "subprocess.Popen[bytes]":
    """Start a worker as the app does, on this database."""
    return subprocess.Popen(
        worker_command(),
        cwd=django_settings.BASE_DIR,
        env=os.environ
        | {
            "DJANGO_SETTINGS_MODULE": "maker.settings",
            "DATABASE_URL": url_of_this_database(),
            "DATA_DIR": str(tmp_path),
        },
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )


def value_of(plan: CuttingPlan) -> Decimal:
    return sum((Decimal(one["cost"]) for one in plan.plans or []), Decimal(0))


def test_work_makes_it_no_worse_and_ends_in_its_time(waiting: CuttingPlan) -> None:
    before, begun = value_of(waiting), time.monotonic()
    assert work_until_done() == 1
    waiting.refresh_from_db()
    assert (waiting.state, waiting.percent) == ("done", 100)
    assert value_of(waiting) <= before
    # three seconds are allowed; the rest is for a busy machine
    assert time.monotonic() - begun < 15
    groups = read_groups(waiting.jobs)
    check_plans(read_plans(waiting.plans, groups), groups)


def test_the_page_tells_how_far_it_is_and_loads_again_when_it_is_over(
    client: Client, waiting: CuttingPlan
) -> None:
    address = f"/w/marlow/cutting/{waiting.pk}/"
    page = text_of(client.get(address))
    assert "Waiting for its turn" in page
    assert '<noscript><meta http-equiv="refresh"' in page
    assert "Best so far" in page
    claimed = claim_next()
    assert claimed is not None
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
    claimed = claim_next()
    assert claimed is not None
    monkeypatch.setattr(working, "BEAT_EVERY_S", 0.1)
    told = Progress.report

    def stop_now(self: Progress, *args: Any) -> None:
        told(self, *args)
        CuttingPlan.objects.filter(pk=claimed.pk).update(cancel_asked=True)

    monkeypatch.setattr(Progress, "report", stop_now)
    begun = time.monotonic()
    work_on(claimed)
    assert time.monotonic() - begun < 30
    waiting.refresh_from_db()
    assert waiting.state == "cancelled"
    page = text_of(client.get(f"/w/marlow/cutting/{waiting.pk}/"))
    assert "stopped: best found so far, at most" in page


def test_a_plan_that_waits_is_stopped_at_once(client: Client, waiting: CuttingPlan) -> None:
    client.post(f"/w/marlow/cutting/{waiting.pk}/stop/")
    waiting.refresh_from_db()
    assert (waiting.state, waiting.plans is None) == ("cancelled", False)
    assert "is over" in text_of(client.post(f"/w/marlow/cutting/{waiting.pk}/stop/", follow=True))
    assert claim_next() is None


def test_of_many_workers_one_has_a_plan(waiting: CuttingPlan) -> None:
    got = at_once(*[claim_next] * 6)
    assert [plan.pk for plan in got if plan is not None] == [waiting.pk]


def test_what_a_worker_thought_dead_still_finds_is_not_kept(waiting: CuttingPlan) -> None:
    slow = claim_next()
    assert slow is not None
    long_ago = timezone.now() - timedelta(minutes=5)
    CuttingPlan.objects.filter(pk=slow.pk).update(beat_at=long_ago)
    quick = claim_next()
    assert quick is not None
    assert quick.pk == slow.pk
    assert not settle(slow, None, refusal="too late")
    progress = Progress(slow)
    progress.tick()
    assert progress.is_cancelled()
    work_on(slow)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.started_at) == ("working", quick.started_at)


def test_a_killed_worker_is_followed_by_the_next(
    waiting: CuttingPlan, tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    CuttingPlan.objects.filter(pk=waiting.pk).update(seconds_allowed=120)
    process = start(tmp_path)

    def is_at_work() -> bool:
        assert process.poll() is None, process.stderr.read().decode() if process.stderr else ""
        waiting.refresh_from_db()
        return waiting.state == "working"

    until(is_at_work)
    process.send_signal(signal.SIGKILL)
    process.wait(PATIENCE_S)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.tries) == ("working", 1)
    # not before it is silent for a while: it might only be busy
    assert claim_next() is None
    monkeypatch.setattr(working, "STALE", timedelta(seconds=1))
    CuttingPlan.objects.filter(pk=waiting.pk).update(seconds_allowed=2)
    until(lambda: work_until_done() == 1)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.tries) == ("done", 2)


def test_a_clock_that_was_set_back_keeps_no_plan_from_its_next_worker(
    waiting: CuttingPlan,
) -> None:
    assert claim_next() is not None
    CuttingPlan.objects.update(beat_at=timezone.now() + timedelta(hours=1))
    assert claim_next() == waiting


def test_a_database_that_is_away_for_a_moment_costs_nothing(waiting: CuttingPlan) -> None:
    claimed = claim_next()
    assert claimed is not None
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


def test_a_process_works_until_nothing_waits(waiting: CuttingPlan, tmp_path: Any) -> None:
    process = start(tmp_path)
    assert process.wait(PATIENCE_S) == 0
    waiting.refresh_from_db()
    assert waiting.state == "done"


def test_one_worker_on_a_machine(settings: Any, tmp_path: Any, waiting: CuttingPlan) -> None:
    settings.DATA_DIR = tmp_path
    with only_one_here() as first, only_one_here(0.0) as second:
        assert (first, second) == (True, False)
    with only_one_here(0.0) as again:
        assert again


def test_the_command_works_here_too(
    settings: Any, tmp_path: Any, waiting: CuttingPlan, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(os, "nice", lambda by: 0)
    call_command("work_on_plans")
    assert "1 plan worked on." in capsys.readouterr().out


def test_a_mistake_of_ours_ends_a_plan_and_reaches_the_log(
    waiting: CuttingPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(working, "plan_group", broken)
    with pytest.raises(ZeroDivisionError):
        work_until_done()
    waiting.refresh_from_db()
    assert (waiting.state, waiting.refusal) == (
        "refused",
        "Something went wrong while working on it.",
    )


def test_a_plan_that_never_ends_is_given_up(waiting: CuttingPlan) -> None:
    CuttingPlan.objects.filter(pk=waiting.pk).update(tries=working.MOST_TRIES)
    work_until_done()
    waiting.refresh_from_db()
    assert waiting.state == "refused"
    assert "broken off three times" in waiting.refusal


def test_the_app_starts_the_worker_and_not_at_every_question(
    settings: Any, client: Client, workshop: Workshop, sheet: Material,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    started: list[list[str]] = []
    settings.PLAN_WORKER = True
    monkeypatch.setattr(worker, "_started_at", -1000.0)
    monkeypatch.setattr(worker.subprocess, "run", lambda command, **rest: started.append(command))
    plan = make_long_plan(workshop, sheet, seconds=3)
    assert len(started) == 1
    assert started[0][-1] == worker.COMMAND
    for _ in range(3):
        client.get(f"/w/marlow/cutting/{plan.pk}/progress/", headers={"HX-Request": "true"})
    assert len(started) == 1
    monkeypatch.setattr(worker, "_started_at", -1000.0)
    client.get(f"/w/marlow/cutting/{plan.pk}/progress/", headers={"HX-Request": "true"})
    assert len(started) == 2
    stop_plan(plan=plan)
    monkeypatch.setattr(worker, "_started_at", -1000.0)
    client.get(f"/w/marlow/cutting/{plan.pk}/progress/", headers={"HX-Request": "true"})
    assert len(started) == 2


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
    assert "not known" in plan.reason
    assert "not known" not in kept.reason
    check_plans([kept], groups)


def test_a_run_ends_early_with_the_best_there_is(sheet: Material, waiting: CuttingPlan) -> None:
    [group] = read_groups(waiting.jobs)

    class InAHurry:
        def report(self, *args: Any) -> None:
            pass

        def is_cancelled(self) -> bool:
            return False

        def is_enough(self) -> bool:
            return True

    begun = time.monotonic()
    made = working.plan_group(replace(group), 60, InAHurry())
    assert time.monotonic() - begun < 10
    assert not made.proven
