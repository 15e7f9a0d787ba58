"""Benchmarks: each bench_*.py has run(), which gives rows for `manage.py bench` to print."""

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

# set by `bench --once`: the times mean little, but what is measured runs
is_once = False


@dataclass(frozen=True, slots=True)
class Row:
    """One measured thing beside the baseline measured in the same run."""

    name: str
    seconds: float
    baseline_seconds: float | None = None
    note: str = ""
    # how many times as long as the baseline it may take
    at_most: float | None = None

    @property
    def ratio(self) -> float | None:
        """How many times as long as the baseline it took."""
        return self.seconds / self.baseline_seconds if self.baseline_seconds else None

    @property
    def is_missed(self) -> bool:
        """Whether it takes longer than it may."""
        return self.ratio is not None and self.at_most is not None and self.ratio > self.at_most


def measured(
    name: str,
    call: Callable[[], object],
    baseline: Callable[[], object],
    *,
    repeats: int = 15,
    warm_up: int = 2,
    note: str = "",
    at_most: float | None = None,
) -> Row:
    """Return the median times of both calls, taken in turn so that a busy machine slows both."""
    if is_once:
        repeats, warm_up = 1, 0
    for _ in range(warm_up):
        baseline()
        call()
    taken: list[float] = []
    baseline_taken: list[float] = []
    for _ in range(repeats):
        baseline_taken.append(seconds_of(baseline))
        taken.append(seconds_of(call))
    return Row(
        name, statistics.median(taken), statistics.median(baseline_taken), note, at_most=at_most
    )


def seconds_of(call: Callable[[], object]) -> float:
    """Return how long one call takes."""
    started = time.perf_counter()
    call()
    return time.perf_counter() - started
