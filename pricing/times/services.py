"""The watch of the bench: started, stopped, gone on with, counted; and runs typed in later.

One pair of hands does one thing: each person has at most one watch running in a workshop, which
is held by locking the person first and then her runs in the order of their keys. All instants are
the server's, so a phone may sleep, reload or lose its connection without losing a second.
"""

import datetime
import uuid
from decimal import Decimal

from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from catalogue.designs.models import Design
from catalogue.recipes.models import Step
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from pricing.times.inputs import newest_steps
from pricing.times.models import TimedRun

MINUTE = Decimal(60)
MIDDAY = datetime.time(12)


class NoSuchStep(Refusal):
    """The newest recipe has no such step, or not one that can be timed."""


class AlreadyTimed(Refusal):
    """The same form was sent before; `run` is what it made then."""

    def __init__(self, run: TimedRun) -> None:
        super().__init__("Already saved.")
        self.run = run


class RunMovedOn(Refusal):
    """The run is not as the page showed it: another tab or person was faster."""


class NothingTimed(Refusal):
    """No time was worked, or nothing came out."""


class UnlikelyDay(Refusal):
    """The day is still to come, or so long ago that it can only be a slip."""


def step_to_time(design: Design, name: str) -> Step:
    """Return a step of the newest version by name. Errors: NoSuchStep."""
    for step in newest_steps([design.pk]).get(design.pk, []):
        if step.name == name:
            return step
    raise NoSuchStep(
        f"“{design}” has no such step to time. Choose one of its steps.",
        where="step_name",
    )


@transaction.atomic
def start_run(
    *,
    design: Design,
    step_name: str,
    by: User,
    now: datetime.datetime,
    form_key: uuid.UUID | None = None,
    batch: int | None = None,
) -> TimedRun:
    """Start a watch on a step; one of hers that runs in this workshop is stopped.

    `batch` is the key of the batch it is worked for.

    Errors: NoSuchStep; AlreadyTimed for the same `form_key` a second time.
    """
    key = _new_key(design, by, form_key)
    step = step_to_time(design, step_name)
    for other in _lock_runs(_running_of(by, design)):
        _stop(other, now)
    return TimedRun.objects.create(
        design=design,
        step_name=step.name,
        basis=step.basis,
        started_at=now,
        running_since=now,
        timed_by=by,
        form_key=key,
        batch_id=batch,
    )


@transaction.atomic
def stop_run(*, run: TimedRun, now: datetime.datetime) -> TimedRun:
    """Stop a watch. Errors: RunMovedOn when it stands or was counted."""
    (locked,) = _lock_runs(Q(pk=run.pk))
    _refuse_finished(locked)
    if locked.running_since is None:
        raise RunMovedOn("Already stopped.")
    return _stop(locked, now)


@transaction.atomic
def go_on(*, run: TimedRun, by: User, now: datetime.datetime) -> TimedRun:
    """Go on with a stopped run; it is then hers, and another watch of hers is stopped.

    Errors: RunMovedOn when it runs or was counted.
    """
    _take_hands(by)
    locked = None
    for one in _lock_runs(Q(pk=run.pk) | _running_of(by, run.design)):
        if one.pk == run.pk:
            locked = one
        else:
            _stop(one, now)
    if locked is None:
        raise TimedRun.DoesNotExist
    _refuse_finished(locked)
    if locked.running_since is not None:
        raise RunMovedOn("Already running.")
    locked.running_since, locked.timed_by = now, by
    return _stored(locked, "running_since", "timed_by")


@transaction.atomic
def finish_run(
    *,
    run: TimedRun,
    count: int,
    rejects: int,
    note: str,
    now: datetime.datetime,
    minutes: Decimal | None = None,
) -> TimedRun:
    """Stop a watch for good and say what came out; `minutes` when the watch is wrong.

    Errors: RunMovedOn when it was counted or thrown away; NothingTimed.
    """
    (locked,) = _lock_runs(Q(pk=run.pk))
    _refuse_finished(locked)
    locked.worked_seconds = locked.seconds_at(now) if minutes is None else _seconds(minutes)
    locked.running_since, locked.finished_at = None, now
    _put_result(locked, count, rejects, note)
    return _stored(
        locked, "worked_seconds", "running_since", "finished_at", "count", "rejects", "note"
    )


@transaction.atomic
def reopen_run(*, run: TimedRun) -> TimedRun:
    """Take the counting back: the run stands on the bench again, to be gone on with or counted."""
    (locked,) = _lock_runs(Q(pk=run.pk))
    if locked.finished_at is None:
        raise RunMovedOn("This timer is already open.")
    locked.finished_at = None
    return _stored(locked, "finished_at")


@transaction.atomic
def leave_out(*, run: TimedRun, now: datetime.datetime) -> TimedRun:
    """Let a run count for nothing; one that is under way is stopped and leaves the bench."""
    (locked,) = _lock_runs(Q(pk=run.pk))
    if locked.is_left_out:
        raise RunMovedOn("This time is already excluded.")
    locked.worked_seconds, locked.running_since = locked.seconds_at(now), None
    locked.is_left_out = True
    return _stored(locked, "worked_seconds", "running_since", "is_left_out")


@transaction.atomic
def take_in(*, run: TimedRun) -> TimedRun:
    """Let a run count again; one that was not counted is back on the bench, stopped."""
    (locked,) = _lock_runs(Q(pk=run.pk))
    if not locked.is_left_out:
        raise RunMovedOn("This time isn't excluded.")
    locked.is_left_out = False
    return _stored(locked, "is_left_out")


@transaction.atomic
def enter_run(
    *,
    design: Design,
    step_name: str,
    minutes: Decimal,
    count: int,
    rejects: int,
    note: str,
    done_on: datetime.date,
    by: User,
    now: datetime.datetime,
    form_key: uuid.UUID | None = None,
) -> TimedRun:
    """Store a run that was timed without this watch.

    Errors: NoSuchStep, NothingTimed, UnlikelyDay; AlreadyTimed for the same `form_key` again.
    """
    key = _new_key(design, by, form_key)
    step = step_to_time(design, step_name)
    seconds = _seconds(minutes)
    finished_at = _end_of(done_on, now)
    run = TimedRun(
        design=design,
        step_name=step.name,
        basis=step.basis,
        started_at=finished_at - datetime.timedelta(seconds=seconds),
        finished_at=finished_at,
        worked_seconds=seconds,
        timed_by=by,
        form_key=key,
    )
    _put_result(run, count, rejects, note)
    run.save()
    return run


@transaction.atomic
def change_run(
    *,
    run: TimedRun,
    step_name: str,
    minutes: Decimal,
    count: int,
    rejects: int,
    note: str,
    edit_number: int | None,
) -> TimedRun:
    """Correct a counted run. Its own step may stay even when the recipe has it no more.

    Errors: ChangedMeanwhile; RunMovedOn when it is under way; NoSuchStep; NothingTimed.
    """
    (locked,) = _lock_runs(Q(pk=run.pk))
    take_turn(locked, edit_number)
    if locked.finished_at is None:
        raise RunMovedOn("This timer is open again. Finish it there.")
    if step_name != locked.step_name:
        step = step_to_time(locked.design, step_name)
        locked.step_name, locked.basis = step.name, step.basis
    # what was shown rounded and not touched keeps its seconds
    if minutes != minutes_of(locked):
        locked.worked_seconds = _seconds(minutes)
    _put_result(locked, count, rejects, note)
    locked.save(update_fields=["step_name", "basis", "worked_seconds", "count", "rejects", "note"])
    return locked


def minutes_of(run: TimedRun) -> Decimal:
    """Return the minutes of a run as they are typed and read: to a hundredth."""
    return (run.worked_seconds / MINUTE).quantize(Decimal("0.01"))


def _take_hands(by: User) -> None:
    """Let what one person does with her watches happen one after the other."""
    User.objects.select_for_update(no_key=True).get(pk=by.pk)


def _new_key(design: Design, by: User, form_key: uuid.UUID | None) -> uuid.UUID | None:
    """Return a key nothing was made with. Errors: AlreadyTimed."""
    _take_hands(by)
    made = TimedRun.objects.filter(form_key=form_key).first() if form_key else None
    if made is not None and made.design_id == design.pk:
        raise AlreadyTimed(made)
    return None if made else form_key


def _running_of(by: User, design: Design) -> Q:
    return Q(timed_by=by, running_since__isnull=False, design__workshop_id=design.workshop_id)


def _lock_runs(which: Q) -> list[TimedRun]:
    """Lock runs until the transaction ends, always in the order of their keys."""
    rows = TimedRun.objects.select_for_update(of=("self",), no_key=True)
    return list(rows.select_related("design").filter(which).order_by("pk"))


def _stop(run: TimedRun, now: datetime.datetime) -> TimedRun:
    run.worked_seconds, run.running_since = run.seconds_at(now), None
    return _stored(run, "worked_seconds", "running_since")


def _stored(run: TimedRun, *columns: str) -> TimedRun:
    """Store columns and count an edit, so that a form opened before is told."""
    run.save(update_fields=list(columns))
    TimedRun.objects.filter(pk=run.pk).update(edit_number=F("edit_number") + 1)
    run.edit_number += 1
    return run


def _refuse_finished(run: TimedRun) -> None:
    if run.finished_at is not None:
        raise RunMovedOn("This time was already saved.")
    if run.is_left_out:
        raise RunMovedOn("This timer was deleted. Restore it first.")


def _seconds(minutes: Decimal) -> int:
    seconds = round(minutes * MINUTE)
    if seconds < 1:
        raise NothingTimed("Enter how many minutes it took.", where="minutes")
    return seconds


def _put_result(run: TimedRun, count: int, rejects: int, note: str) -> None:
    if run.worked_seconds < 1:
        raise NothingTimed("The timer hasn't run yet. Enter the minutes.", where="minutes")
    if count < 1:
        raise NothingTimed("Enter at least 1.", where="count")
    if not 0 <= rejects <= count:
        raise NothingTimed("You can't spoil more than you made.", where="rejects")
    run.count, run.rejects, run.note = count, rejects, note


def _end_of(done_on: datetime.date, now: datetime.datetime) -> datetime.datetime:
    """Return an instant of the day for a run that was typed in: now, or midday of an earlier day.

    Midday because no clocks are changed then. Errors: UnlikelyDay.
    """
    today = timezone.localdate(now)
    said = f"{done_on.day} {done_on:%B %Y}"
    if done_on > today:
        raise UnlikelyDay(f"{said} is in the future. Check the date.", where="done_on")
    if done_on.year < 1990:
        raise UnlikelyDay(f"{said} is very long ago. Check the year.", where="done_on")
    if done_on == today:
        return now
    return timezone.make_aware(datetime.datetime.combine(done_on, MIDDAY))
