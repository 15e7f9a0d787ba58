"""Measures what a call does by counting, so that a busy machine changes nothing.

Seconds are measured by `bench`.
"""

import gc
import sys
import threading
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from catalogue.calc.cutting import watch

# a power of two, so that no sum of steps is ever rounded
STEPS_A_SECOND = 1_024


class WorkClock(threading.local):
    """Goes on by one step each time it is looked at, for each thread by itself.

    A run looks at the clock at each piece of its work, so it is stopped at the same place on every
    machine, however busy: the tests plan by this clock.
    """

    counts_work = True

    def __init__(self, steps_a_second: int = STEPS_A_SECOND) -> None:
        self.steps, self.steps_a_second = 0, steps_a_second

    def read(self) -> float:
        """Return the number of looks so far, in what stands for seconds."""
        self.steps += 1
        return self.steps / self.steps_a_second


@dataclass(frozen=True)
class Work:
    """How many functions were called, and how many bytes were held at most, numpy's with them.

    Python calls and calls of compiled functions alike; not what other threads do.
    """

    calls: int
    peak_bytes: int


def work_of(call: Callable[[], object]) -> Work:
    """Make the call and count its work."""
    counter = _Counter()
    # garbage goes as often as in use, or it would be counted as held
    looks = gc.get_threshold()
    gc.set_threshold(700, 10, 10)
    tracemalloc.start()
    try:
        counter.follow(call)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
        gc.set_threshold(*looks)
    return Work(counter.calls, peak)


def longest_without_a_look(call: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> int:
    """Return how many functions a planning run calls at most between two looks at its clock.

    A run can be stopped at each look, so this says how promptly it ends.
    """
    counter, longest, last = _Counter(), 0, 0

    class Looked(WorkClock):
        def read(self) -> float:
            nonlocal longest, last
            longest, last = max(longest, counter.calls - last), counter.calls
            return super().read()

    monkeypatch.setattr(watch, "usual_clock", Looked())
    counter.follow(call)
    return max(longest, counter.calls - last)


class _Counter:
    """Counts the calls of Python and of compiled functions."""

    def __init__(self) -> None:
        self.calls = 0

    def follow(self, call: Callable[[], object]) -> None:
        before = sys.getprofile()
        sys.setprofile(self._count)
        try:
            call()
        finally:
            sys.setprofile(before)

    def _count(self, frame: object, event: str, argument: object) -> None:
        if event in ("call", "c_call"):
            self.calls += 1
