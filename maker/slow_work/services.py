"""Keeps slow work going: signs of life, and tasks of dead workers given back to the queue.

The queue itself is django-tasks with its tables in the database. What it lacks is told here: a task
whose worker was killed would count as running for ever. So a task must bear being begun again.
"""

from datetime import timedelta

from django.db import transaction
from django.db.models.functions import Now
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks.signals import task_finished
from django_tasks_db.models import DBTaskResult

from maker.slow_work.models import Worker

# begun three times and never ended: whatever kills its worker will do so again
MOST_TRIES = 3
KEPT_FOR = timedelta(days=30)


class BrokenOffTooOften(Exception):
    """A task took its worker down with it each time it was begun."""


def say_alive(worker_id: str) -> None:
    """Keep that a worker lives, by the database's clock."""
    if not Worker.objects.filter(worker_id=worker_id).update(seen_at=Now()):
        Worker.objects.create(worker_id=worker_id, seen_at=Now())


def say_goodbye(worker_id: str) -> None:
    """Let go of what a worker that ends on purpose is at; that does not count as a try."""
    with transaction.atomic():
        for row in _locked_running():
            if row.worker_ids and row.worker_ids[-1] == worker_id:
                _give_back(row, row.worker_ids[:-1])
        Worker.objects.filter(worker_id=worker_id).delete()


def sweep() -> int:
    """Give the tasks of workers that fell silent to the next one; return how many.

    One that was begun three times is failed instead, and whoever listens to `task_finished` tells
    the maker. Safe to run anywhere, at any time and by several at once.
    """
    if not DBTaskResult.objects.running().exists():
        return 0
    given_up = []
    with transaction.atomic():
        alive = set(Worker.objects.alive().values_list("worker_id", flat=True))
        running = _locked_running()
        abandoned = [row for row in running if not alive.intersection(row.worker_ids[-1:])]
        for row in abandoned:
            if len(row.worker_ids) < MOST_TRIES:
                _give_back(row, row.worker_ids)
            else:
                row.set_failed(BrokenOffTooOften(f"begun {len(row.worker_ids)} times"))
                given_up.append(row)
    for row in given_up:
        task_finished.send(sender=type(row.task.get_backend()), task_result=row.task_result)
    return len(abandoned)


def clear_away() -> None:
    """Forget tasks that ended long ago, and workers nobody has heard of for a day."""
    DBTaskResult.objects.finished().filter(finished_at__lt=timezone.now() - KEPT_FOR).delete()
    Worker.objects.filter(seen_at__lt=Now() - timedelta(days=1)).delete()


def _locked_running() -> list["DBTaskResult[..., object]"]:
    return list(DBTaskResult.objects.running().select_for_update().order_by("enqueued_at", "pk"))


def _give_back(row: "DBTaskResult[..., object]", worker_ids: list[str]) -> None:
    row.status, row.started_at, row.worker_ids = TaskResultStatus.READY, None, worker_ids
    row.save(update_fields=["status", "started_at", "worker_ids"])
