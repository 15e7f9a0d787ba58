"""Slow work: one worker has a task, a killed one is followed, one that always kills is given up."""

import signal
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError, connection
from django.utils import timezone
from django_tasks import TaskResultStatus, task
from django_tasks.signals import task_finished
from django_tasks_db.models import DBTaskResult

from maker.slow_work import models, services
from maker.slow_work.models import Worker
from maker.slow_work.services import clear_away, say_alive, say_goodbye, sweep
from maker.slow_work.worker import BEAT_EVERY_S, SlowWorker
from tests.at_once import at_once
from tests.patience import PATIENCE_S
from tests.slow_work import do_what_waits, start_worker

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]
done: list[object] = []


@task()
def note(word: str) -> None:
    """Leave a trace."""
    done.append(word)


@task()
def break_down() -> None:
    """Meet a mistake of ours."""
    raise ZeroDivisionError


@task()
def take_very_long() -> None:
    """Never end by itself."""
    time.sleep(600)


@pytest.fixture(autouse=True)
def _nothing_done() -> None:
    done.clear()


@pytest.fixture
def told() -> Iterator[list[Any]]:
    """The results that were told when tasks ended."""
    heard: list[Any] = []

    def hear(task_result: Any, **unused: Any) -> None:
        heard.append(task_result)

    task_finished.connect(hear)
    yield heard
    task_finished.disconnect(hear)


def until(is_so: Callable[[], object]) -> None:
    """Wait for another process."""
    end = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.1)


def only_row() -> "DBTaskResult[..., Any]":
    return DBTaskResult.objects.get()


def silence(worker_id: str) -> None:
    """Let a worker have been heard of last some minutes ago."""
    Worker.objects.filter(worker_id=worker_id).update(seen_at=timezone.now() - timedelta(minutes=5))


def claimed_by(worker_id: str) -> None:
    """Let a worker begin the one task, and die."""
    row = only_row()
    row.claim(worker_id)
    say_alive(worker_id)
    silence(worker_id)


def test_what_waits_is_done_in_order_and_once() -> None:
    for word in ("fold", "glue", "tie"):
        note.enqueue(word)
    do_what_waits()
    do_what_waits()
    assert done == ["fold", "glue", "tie"]
    assert not Worker.objects.exists()


def test_of_many_workers_one_has_a_task() -> None:
    note.enqueue("once")
    at_once(*[do_what_waits] * 4)
    assert done == ["once"]


def test_a_mistake_of_ours_fails_the_task_and_is_told(told: list[Any]) -> None:
    break_down.enqueue()
    note.enqueue("next")
    do_what_waits()
    assert done == ["next"]
    assert "ZeroDivisionError" in DBTaskResult.objects.failed().get().traceback
    assert [one.status for one in told] == [TaskResultStatus.FAILED, TaskResultStatus.SUCCESSFUL]


def test_the_task_of_a_silent_worker_is_given_to_the_next() -> None:
    note.enqueue("again")
    claimed_by("quiet one")
    assert sweep() == 1
    assert only_row().status == TaskResultStatus.READY
    do_what_waits()
    assert done == ["again"]
    assert len(only_row().worker_ids) == 2


def test_the_task_of_a_living_worker_is_left_alone() -> None:
    note.enqueue("busy")
    only_row().claim("busy one")
    say_alive("busy one")
    assert sweep() == 0
    # as far from now as a sign of fifteen seconds ago, and no busy machine makes it too old
    Worker.objects.update(seen_at=timezone.now() + timedelta(seconds=15))
    assert sweep() == 0
    assert only_row().status == TaskResultStatus.RUNNING


def test_a_worker_is_silent_after_twenty_seconds_and_shows_more_signs_of_life_than_that() -> None:
    note.enqueue("left")
    only_row().claim("quiet one")
    say_alive("quiet one")
    Worker.objects.update(seen_at=timezone.now() - timedelta(seconds=21))
    assert sweep() == 1
    assert only_row().status == TaskResultStatus.READY
    # three of its signs may be late before it is thought dead
    assert 4 * timedelta(seconds=BEAT_EVERY_S) <= models.SILENCE


def test_a_sign_from_the_future_says_nothing() -> None:
    note.enqueue("clock set back")
    only_row().claim("early one")
    say_alive("early one")
    Worker.objects.update(seen_at=timezone.now() + timedelta(hours=1))
    assert sweep() == 1


def test_a_task_that_kills_its_workers_is_given_up_and_told(told: list[Any]) -> None:
    note.enqueue("deadly")
    for number in range(services.MOST_TRIES):
        assert only_row().status == TaskResultStatus.READY
        claimed_by(f"victim {number}")
        assert sweep() == 1
    assert only_row().status == TaskResultStatus.FAILED
    assert [one.status for one in told] == [TaskResultStatus.FAILED]
    do_what_waits()
    assert done == []


def test_a_worker_that_ends_on_purpose_gives_back_what_it_has() -> None:
    note.enqueue("rest")
    only_row().claim("tired one")
    say_alive("tired one")
    say_goodbye("tired one")
    row = only_row()
    assert (row.status, row.worker_ids) == (TaskResultStatus.READY, [])


def test_what_ended_long_ago_is_forgotten() -> None:
    note.enqueue("old")
    note.enqueue("new")
    do_what_waits()
    old = DBTaskResult.objects.order_by("enqueued_at").first()
    assert old is not None
    long_ago = timezone.now() - services.KEPT_FOR - timedelta(days=1)
    DBTaskResult.objects.filter(pk=old.pk).update(finished_at=long_ago)
    say_alive("forgotten")
    Worker.objects.update(seen_at=timezone.now() - timedelta(days=2))
    clear_away()
    assert DBTaskResult.objects.count() == 1
    assert not Worker.objects.exists()


def test_a_database_that_is_away_does_not_end_the_signs_of_life() -> None:
    worker = SlowWorker()
    failures: list[str] = []

    def is_away(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        failures.append(sql)
        raise OperationalError("the server closed the connection")

    with connection.execute_wrapper(is_away):
        worker.heart._try(worker.heart._beat)
    assert failures
    worker.heart._try(worker.heart._beat)
    assert Worker.objects.alive().get().worker_id == worker.worker_id


def running() -> bool:
    return DBTaskResult.objects.running().exists()


def test_a_killed_process_leaves_its_task_to_the_next(tmp_path: Path) -> None:
    take_very_long.enqueue()
    process = start_worker(tmp_path)
    until(running)
    process.send_signal(signal.SIGKILL)
    process.wait(PATIENCE_S)
    assert running()
    silence(only_row().worker_ids[-1])
    second = start_worker(tmp_path)
    try:
        until(lambda: running() and len(only_row().worker_ids) == 2)
    finally:
        second.kill()
        second.wait(PATIENCE_S)


def test_a_process_told_to_end_does_so_in_the_middle_and_gives_its_task_back(
    tmp_path: Path,
) -> None:
    take_very_long.enqueue()
    process = start_worker(tmp_path)
    until(running)
    process.send_signal(signal.SIGTERM)
    assert process.wait(PATIENCE_S) == 0
    row = only_row()
    assert (row.status, row.worker_ids) == (TaskResultStatus.READY, [])
    assert not Worker.objects.exists()


def test_a_process_ends_when_nothing_waits(tmp_path: Path) -> None:
    note.enqueue("there")
    process = start_worker(tmp_path, "--until-idle")
    assert process.wait(PATIENCE_S) == 0
    assert only_row().status == TaskResultStatus.SUCCESSFUL
