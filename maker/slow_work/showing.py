"""What the pages about slow work show: what it waits for, and what is under way anywhere."""

import datetime
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from maker.slow_work.models import Work, Worker, WorkPart
from maker.slow_work.services import WORK_KEPT_FOR

if TYPE_CHECKING:
    from maker.accounts.models import Membership, User
    from maker.workshop.models import Workshop

# more would be no short list
MOST_ENDED = 25
MOST_SHOWN = 100

WHAT_TO_DO = (
    "Run “python3 manage.py start” again, or “python3 manage.py work” beside it; or ask whoever "
    "looks after Pleat & Penny. Then it goes on by itself."
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the list of work."""

    title: str
    address: str
    state: str
    is_bad: bool
    asked_at: datetime.datetime
    asked_by: str
    share: str = ""


# Other slow work of a workshop that has pages of its own: functions from workshop to entries.
ALSO_UNDER_WAY: list[Callable[["Workshop"], Sequence[Entry]]] = []


@dataclass(frozen=True, slots=True)
class Waiting:
    """Why something does not go on yet; `title` only where somebody has to do something."""

    text: str
    title: str = ""


def waiting_for(asked_at: datetime.datetime, *, is_begun: bool) -> Waiting | None:
    """Say what slow work waits for, None while it is being done (at most two queries)."""
    if not Worker.objects.alive().exists():
        since = date_format(timezone.localtime(asked_at), "j M Y, H:i")
        begun = "Begun, and waiting" if is_begun else "Waiting"
        return Waiting(f"{begun} since {since}. {WHAT_TO_DO}", "No worker is running")
    if is_begun:
        return None
    before = DBTaskResult.objects.filter(
        status__in=(TaskResultStatus.READY, TaskResultStatus.RUNNING), enqueued_at__lt=asked_at
    ).count()
    return Waiting(f"{before} before it." if before else "It comes next.")


def may_handle(work: Work, membership: "Membership", by: "User") -> bool:
    """Say whether a person may stop this work or try it again."""
    return membership.may_change or (not work.is_writing and work.asked_by_id == by.pk)


def shown(work: Work, membership: "Membership", by: "User") -> dict[str, Any]:
    """Return what `maker/slow_work/_work.html` shows of a piece of work, on any page."""
    context: dict[str, Any] = {"work": work, "may_handle": may_handle(work, membership, by)}
    if not work.is_under_way:
        return context | {"kept_until": kept_until(work)}
    is_begun = work.state == Work.State.WORKING
    return context | {
        "waiting": waiting_for(work.asked_at, is_begun=is_begun),
        "share": share_done(work.done, work.of),
    }


def share_done(done: int, of: int) -> str:
    """Return how much is done in words, nothing where nobody knows how much there is."""
    return f"{done:,} of {of:,}" if of else ""


def kept_until(work: Work) -> datetime.date | None:
    """Return the last date on which what a piece of work made is kept for sure."""
    return timezone.localdate(work.finished_at + WORK_KEPT_FOR) if work.finished_at else None


def entries_of(workshop: "Workshop") -> tuple[list[Entry], list[Entry]]:
    """Return what is under way, the first asked for first, and what ended lately."""
    rows = Work.objects.of(workshop).in_short().select_related("asked_by")
    under_way = [_entry(row, workshop) for row in rows.under_way().newest_first()[:MOST_SHOWN]]
    for also in ALSO_UNDER_WAY:
        under_way += also(workshop)
    ended = rows.ended().order_by("-finished_at", "-pk")[:MOST_ENDED]
    return (
        sorted(under_way, key=lambda entry: entry.asked_at),
        [_entry(row, workshop) for row in ended],
    )


def _entry(work: Work, workshop: "Workshop") -> Entry:
    stops = work.state == Work.State.WORKING and work.stop_asked
    return Entry(
        title=work.title,
        address=reverse("maker:work", args=[workshop.slug, work.pk]),
        state="stopping" if stops else work.get_state_display(),
        is_bad=work.state in (Work.State.REFUSED, Work.State.FAILED),
        asked_at=work.asked_at,
        asked_by=str(work.asked_by or ""),
        share=share_done(work.done, work.of) if work.state == Work.State.WORKING else "",
    )


def parts_of(work: Work) -> Iterator[bytes]:
    """Hand over a long file of a piece of work, one part in memory at a time."""
    for key in list(work.parts.order_by("place").values_list("pk", flat=True)):
        yield bytes(WorkPart.objects.values_list("content", flat=True).get(pk=key))
