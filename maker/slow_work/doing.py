"""Does one piece of slow work: begins it, says how far it is, and ends it in one transaction.

What a kind of work does is a plain function that takes the work and a `Watch`. It does the slow
part, looks up now and then with `watch.look`, and returns what ends it: a function that writes and
returns an `Outcome`. That one runs in the transaction that marks the work as done. So a worker
killed anywhere leaves nothing half, the next one does it once more, and nothing is done twice.
"""

import logging
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO, TypeVar

from django.db import (
    IntegrityError,
    InterfaceError,
    OperationalError,
    connection,
    transaction,
)
from django.db.models import F
from django.utils import timezone
from django.utils.module_loading import import_string

from maker.calc.refusal import Refusal
from maker.slow_work.models import Work, WorkPart, WorkQuerySet

logger = logging.getLogger("maker.slow_work")
Item = TypeVar("Item")
State = Work.State

LOOK_EVERY_S = 0.5
# a database that is busy or started anew fails nothing: the work is done once more
MOST_TRIES = 3
BYTES_OF_A_PART = 2 * 1024 * 1024
WENT_WRONG = "Something went wrong here, and it is written down for whoever runs the program."


@dataclass(frozen=True, slots=True)
class File:
    """A file that a piece of work made, kept for some days.

    A long one is `opened`, at its beginning, instead of in memory.
    """

    name: str
    content_type: str
    content: bytes = b""
    opened: IO[bytes] | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a piece of work ended: what is said, where it leads to, what it made.

    `says` are pairs of a level (success, info, warning) and a text. `data` is for the page it
    leads to, and so is `kept`, which nobody gets as a file; `at_once` goes there without a stop.
    """

    says: Sequence[tuple[str, str]] = ()
    leads_to: str = ""
    leads_to_label: str = ""
    at_once: bool = False
    data: object = None
    file: File | None = None
    kept: bytes = b""


class Stopped(Exception):
    """She does not want it any more."""


class TakenOver(Exception):
    """This worker was thought dead, and another one has the work now; or it is gone."""


class Watch:
    """Says how far a piece of work is, and hears whether it is still wanted."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.looked_at = -LOOK_EVERY_S
        self.told: tuple[int, int, str] = (0, work.of, "")

    def look(self, done: int = 0, of: int = 0, stage: str = "", *, now: bool = False) -> None:
        """Look up from the work, at most twice a second or `now`. Errors: Stopped, TakenOver.

        Never inside a transaction: nobody else would see it.
        """
        self.told = (done, of, stage)
        clock = time.monotonic()
        if clock - self.looked_at < LOOK_EVERY_S and not now:
            return
        self.looked_at = clock
        try:
            told = _mine(self.work).update(done=done, of=of, stage=stage[:200])
            if not told or _mine(self.work).filter(stop_asked=True).exists():
                raise _why_not(self.work)
        except (OperationalError, InterfaceError) as error:
            # away for a moment, or somebody writes for long: the next look asks again
            logger.warning("the database did not answer: %s", error)
            connection.close()

    def look_again(self) -> None:
        """Look up in the middle of what was said last. Errors: Stopped, TakenOver."""
        self.look(*self.told)

    def each(self, items: Sequence[Item], stage: str) -> Iterator[Item]:
        """Hand over one item after the other, and say how far they are."""
        for number, item in enumerate(items):
            self.look(number, len(items), stage)
            yield item


Ending = Callable[[], Outcome]
Doing = Callable[[Work, Watch], Ending]


def name_of(doing: Doing) -> str:
    """Return the dotted name by which a worker finds a function."""
    name = f"{doing.__module__}.{doing.__qualname__}"
    if import_string(name) is not doing:
        raise ValueError(f"{name} is not a function of a module.")
    return name


def claim(work_id: int) -> Work | None:
    """Begin work that is still wanted; None when it is over or gone."""
    taken = (
        Work.objects.filter(pk=work_id)
        .under_way()
        .update(state=State.WORKING, begun_at=timezone.now(), done=0, stage="")
    )
    return Work.objects.select_related("workshop", "asked_by").get(pk=work_id) if taken else None


def do(work_id: int) -> None:
    """Do a piece of work, whatever became of it before; a mistake of ours is raised."""
    work = claim(work_id)
    if work is None:
        return
    doing: Doing = import_string(work.runs)
    try:
        for tries_left in reversed(range(MOST_TRIES)):
            try:
                return _do_once(work, doing)
            except (OperationalError, InterfaceError) as error:
                if not tries_left:
                    raise
                logger.warning("the database did not take work %s: %s", work.pk, error)
                connection.close()
                time.sleep(LOOK_EVERY_S)
    except Stopped:
        _give_up(work, State.STOPPED)
    except Refusal as refusal:
        _give_up(work, State.REFUSED, refusal.message)
    except TakenOver:
        logger.warning("another worker has work %s now", work.pk)


def _do_once(work: Work, doing: Doing) -> None:
    ending = doing(work, Watch(work))
    try:
        with transaction.atomic():
            _settle(work, ending())
    except IntegrityError as error:
        if _mine(work).exists():
            raise
        # what stood in the way was written by the worker who ended it
        raise TakenOver from error


def fail(work_id: int) -> None:
    """Say at a piece of work that it went wrong."""
    Work.objects.filter(pk=work_id).under_way().update(
        state=State.FAILED, refusal=WENT_WRONG, finished_at=timezone.now(), stage=""
    )


def _why_not(work: Work) -> Exception:
    return Stopped() if _mine(work).exists() else TakenOver()


def _mine(work: Work) -> WorkQuerySet:
    return Work.objects.filter(pk=work.pk, state=State.WORKING, begun_at=work.begun_at)


def _settle(work: Work, outcome: Outcome) -> None:
    file = outcome.file
    size = len(file.content) if file else 0
    if file and file.opened:
        size = _keep_parts(work, file.opened)
    told = (
        _mine(work)
        .filter(stop_asked=False)
        .update(
            state=State.DONE,
            done=F("of"),
            finished_at=timezone.now(),
            stage="",
            says=[list(one) for one in outcome.says],
            leads_to=outcome.leads_to,
            leads_to_label=outcome.leads_to_label,
            leads_at_once=outcome.at_once,
            data=outcome.data,
            file=(file.content if file else outcome.kept) or None,
            file_name=file.name[-150:] if file else "",
            file_type=file.content_type if file else "",
            file_bytes=size,
        )
    )
    if not told:
        raise _why_not(work)


def _keep_parts(work: Work, opened: IO[bytes]) -> int:
    """Store a file part by part; return how many bytes it has."""
    size = 0
    opened.seek(0)
    while content := opened.read(BYTES_OF_A_PART):
        WorkPart.objects.create(work=work, place=size // BYTES_OF_A_PART, content=content)
        size += len(content)
    return size


def _give_up(work: Work, state: Work.State, refusal: str = "") -> None:
    _mine(work).update(state=state, refusal=refusal, finished_at=timezone.now(), stage="")
