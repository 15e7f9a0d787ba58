"""Keeps the time limit of a planning run, tells who watches, and stops when it is not wanted."""

from __future__ import annotations

import time
from collections.abc import Callable
from decimal import Decimal
from typing import Protocol, runtime_checkable

from maker.calc.refusal import Refusal

LOOK_EVERY_S = 0.05
TELL_EVERY_S = 0.3


class PlanCancelled(Refusal):
    """Whoever asked for the plan does not want it any more."""


class Watch(Protocol):
    """Follows a planning run from outside; both methods are called from the planning thread."""

    def report(self, stage: str, value: Decimal | None, bound: Decimal | None) -> None:
        """Take in what is being tried, the best plan's sheets or cost, and the bound so far."""

    def is_cancelled(self) -> bool:
        """Say whether the plan is not wanted any more."""


@runtime_checkable
class Hurry(Protocol):
    """A watch that may also ask for what there is: the run then ends as if its time were up."""

    def is_enough(self) -> bool:
        """Say whether the best plan so far will do."""


class RunClock(Protocol):
    """What the time of a run is taken by."""

    counts_work: bool

    def read(self) -> float:
        """Return the time in seconds since whenever; it never goes back."""


class WallClock:
    """The machine's clock."""

    counts_work = False

    def read(self) -> float:
        """Return the machine's monotonic time."""
        return time.monotonic()


# what runs take their time by
usual_clock: RunClock = WallClock()


def planning_time() -> float:
    """Return the time by the clock that runs go by, to share it out among them."""
    return usual_clock.read()


class Course:
    """The clock of one run. Whoever asks it for the time also asks whether to go on at all.

    The clock decides only when to stop, never which way to go.
    """

    def __init__(self, seconds: float, watch: Watch | None = None) -> None:
        self._clock = usual_clock
        self.counts_work = self._clock.counts_work
        self.started = self._clock.read()
        self.end = self.started + seconds
        self._watch = watch
        self._hurry = watch if isinstance(watch, Hurry) else None
        self._ahead = 0.0
        self._looked = self._told = 0.0

    def clock(self) -> float:
        """Return the monotonic time; refuse to go on when the run was cancelled."""
        now = self._clock.read()
        if self._watch is not None and now - self._looked >= LOOK_EVERY_S:
            self._looked = now
            if self._watch.is_cancelled():
                raise PlanCancelled("Planning was cancelled.")
            if self._hurry is not None and not self._ahead and self._hurry.is_enough():
                # the clock jumps behind every deadline and goes on from there
                self._ahead = max(self.end - now, 0.0) + 1
        return now + self._ahead

    def tell(
        self, stage: str, figures: Callable[[], tuple[Decimal | None, Decimal | None]]
    ) -> None:
        """Report to the watch, unless it was told only just now."""
        if self._watch is None:
            return
        now = self.clock()
        if now - self._told >= TELL_EVERY_S:
            self._told = now
            self._watch.report(stage, *figures())
