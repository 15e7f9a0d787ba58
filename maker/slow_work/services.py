"""Slow work asked for, stopped and tried again; and kept going, whoever dies.

The queue itself is django-tasks with its tables in the database. What it lacks is told here: a task
whose worker was killed would count as running for ever. So a task must bear being begun again.
"""

import hashlib
import json
import uuid
from datetime import timedelta
from typing import TYPE_CHECKING

from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, transaction
from django.db.models.functions import Now
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks.signals import task_finished
from django_tasks_db.models import DBTaskResult

from maker.calc.refusal import Refusal
from maker.slow_work.doing import Doing, name_of
from maker.slow_work.models import Work, Worker
from maker.slow_work.tasks import do_work

if TYPE_CHECKING:
    from django_tasks.base import Task

    from maker.accounts.models import User
    from maker.workshop.models import Workshop

# begun three times and never ended: whatever kills its worker will do so again
MOST_TRIES = 3
KEPT_FOR = timedelta(days=30)
# work that ended is kept so long, with what it made
WORK_KEPT_FOR = timedelta(days=7)
# more means a stuck key or somebody who clicks and clicks
MOST_UNDER_WAY = 40


class BrokenOffTooOften(Exception):
    """A task took its worker down with it each time it was begun."""


class TooMuchWaits(Refusal):
    """The workshop has asked for enough already."""


class NothingToStop(Refusal):
    """The work is over."""


class NothingToTry(Refusal):
    """The work is done, or is being done."""


def key_of(*content: object, within: uuid.UUID = uuid.NAMESPACE_OID) -> uuid.UUID:
    """Return the key of a question: the same for the same content, sent from the same form."""
    said = json.dumps(content, sort_keys=True, cls=DjangoJSONEncoder)
    return uuid.uuid5(within, hashlib.sha256(said.encode()).hexdigest())


def ask_work(
    *,
    workshop: "Workshop",
    kind: Work.Kind,
    title: str,
    doing: Doing,
    given: dict[str, object],
    came_from: str,
    by: "User | None",
    form_key: uuid.UUID | None = None,
    of: int = 0,
) -> Work:
    """Queue a piece of work; the same `form_key` again returns what it started, however it ended.

    `of` is how much there is to do, where that is known. Errors: TooMuchWaits.
    """
    asked = Work.objects.of(workshop)
    if form_key and (before := asked.in_short().filter(form_key=form_key).first()):
        return before
    if asked.under_way().count() >= MOST_UNDER_WAY:
        raise TooMuchWaits(
            f"{MOST_UNDER_WAY} tasks are already waiting. Let them finish, or stop some."
        )
    try:
        with transaction.atomic():
            work = Work.objects.create(
                workshop=workshop,
                kind=kind,
                title=title[:200],
                runs=name_of(doing),
                given=given,
                came_from=came_from,
                asked_by=by,
                form_key=form_key,
                of=of,
            )
            do_work.enqueue(work.pk)
    except IntegrityError:
        # the second of two clicks
        raced = asked.in_short().filter(form_key=form_key).first()
        if raced is None:
            raise
        return raced
    return work


def stop_work(*, work: Work) -> None:
    """Stop a piece of work: what waits at once, what is being done at its next look.

    Errors: NothingToStop.
    """
    row = Work.objects.filter(pk=work.pk)
    now = timezone.now()
    with transaction.atomic():
        if row.filter(state=Work.State.WAITING).update(state=Work.State.STOPPED, finished_at=now):
            unqueue(do_work, work.pk)
            return
    if not row.filter(state=Work.State.WORKING).update(stop_asked=True):
        raise NothingToStop("This task has ended.")


@transaction.atomic
def try_again(*, work: Work) -> None:
    """Queue work once more that was stopped, refused or failed. Errors: NothingToTry."""
    over = (Work.State.STOPPED, Work.State.REFUSED, Work.State.FAILED)
    again = Work.objects.filter(pk=work.pk, state__in=over).update(
        state=Work.State.WAITING,
        asked_at=timezone.now(),
        stop_asked=False,
        begun_at=None,
        finished_at=None,
        refusal="",
        done=0,
    )
    if not again:
        raise NothingToTry("This task is done, or is being done.")
    unqueue(do_work, work.pk)
    do_work.enqueue(work.pk)


def unqueue(task: "Task[[int], None]", key: int) -> None:
    """Take a task for one row out of the queue, if no worker has it yet.

    Two tasks for the same row would have two workers do it at once.
    """
    DBTaskResult.objects.filter(
        status=TaskResultStatus.READY,
        task_path=task.module_path,
        args_kwargs={"args": [key], "kwargs": {}},
    ).delete()


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
    """Forget tasks and work that ended long ago, and workers nobody has heard of for a day."""
    Work.objects.ended().filter(finished_at__lt=timezone.now() - WORK_KEPT_FOR).delete()
    DBTaskResult.objects.finished().filter(finished_at__lt=timezone.now() - KEPT_FOR).delete()
    Worker.objects.filter(seen_at__lt=Now() - timedelta(days=1)).delete()


def _locked_running() -> list["DBTaskResult[..., object]"]:
    return list(DBTaskResult.objects.running().select_for_update().order_by("enqueued_at", "pk"))


def _give_back(row: "DBTaskResult[..., object]", worker_ids: list[str]) -> None:
    row.status, row.started_at, row.worker_ids = TaskResultStatus.READY, None, worker_ids
    row.save(update_fields=["status", "started_at", "worker_ids"])
