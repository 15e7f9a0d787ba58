"""What timed runs say about a step: minutes of one piece, a new standard, and how sure it is.

A standard moves towards what is timed by 0.3 of the difference with every batch, so that one bad
day does not make a price: new = old x (1 + 0.3 x (timed / old - 1)) (common practice, no source;
it is simple exponential smoothing). Runs of fewer than 5 pieces are ignored, getting started
weighs too much in them, and fewer than 3 batches are no trend (both common practice, no source).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from statistics import mean, stdev

from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.price.ingredients import Work

ZERO = Decimal(0)
ONE = Decimal(1)
LEAST_PIECES = 5
LEAST_BATCHES = 3
WEIGHT = Decimal("0.3")
# 95 % of the normal distribution lie within so many spreads: NormalDist().inv_cdf(0.975)
Z_95 = Decimal("1.96")
# a standard good to a twentieth is good enough for a price (common practice, no source)
ACCURACY = Decimal("0.05")


class BadTiming(Refusal):
    """A run, a share or an accuracy that cannot be meant."""


@dataclass(frozen=True, slots=True)
class Run:
    """One timed batch: `count` pieces (or sheets, passes) in `minutes` of work.

    `factor` is the learning factor the recipe expects for the batch, 1 where nothing is learnt:
    what is timed is divided by it, so that it can be laid beside the minutes of the recipe.
    """

    count: int
    minutes: Decimal
    factor: Decimal = ONE

    @property
    def minutes_each(self) -> Decimal:
        """Minutes of one, as the recipe counts them."""
        return self.minutes / self.count / self.factor


@dataclass(frozen=True, slots=True)
class StepTiming:
    """What the runs of one step say. All minutes are those of one piece, as in the recipe.

    `likely` is the smoothed standard, `low` and `high` the quickest and the slowest batch (or the
    standard, where that lies outside). Before `is_believed` there are too few batches to change a
    recipe for. `spread` and `runs_needed` (for 5% with 95% confidence) need two batches.
    """

    used: tuple[Run, ...]
    ignored: tuple[Run, ...]
    average: Decimal | None
    spread: Decimal | None
    low: Decimal
    likely: Decimal
    high: Decimal
    change: Decimal
    is_believed: bool
    runs_needed: int | None
    line: Line


@with_working_precision
def time_step(
    name: str, standard: Decimal, runs: Sequence[Run], *, least: int = LEAST_PIECES
) -> StepTiming:
    """Return what the runs, the oldest first, say about a step with this standard of minutes.

    `least` is the smallest batch that counts; give 1 for work that is not done by the piece.
    `change` is the new standard over the old one, less 1 (0 where the old one is nothing: then
    the first batch is taken as it is). Errors: BadTiming for a run without pieces or below zero.
    """
    _refuse_bad(runs)
    used = tuple(run for run in runs if run.count >= least)
    ignored = tuple(run for run in runs if run.count < least)
    timed = [run.minutes_each for run in used]
    likely, lines = standard, []
    for run, minutes in zip(used, timed, strict=True):
        before, likely = likely, smoothed(likely, minutes)
        each = sums.number(run.minutes) / sums.number(run.count)
        if run.factor != 1:
            each = sums.say("{} for practice", each / sums.factor(run.factor))
        how = sums.say("{} = {}; {} → {}", each, *map(sums.number, (minutes, before, likely)))
        lines.append(Line(f"batch of {run.count}", minutes, "min", how))
    spread = stdev(timed) if len(timed) > 1 else None
    is_believed = len(timed) >= LEAST_BATCHES
    believed = "" if is_believed else f"; at least {LEAST_BATCHES} batches are needed"
    return StepTiming(
        used=used,
        ignored=ignored,
        average=mean(timed) if timed else None,
        spread=spread,
        low=min([*timed, likely]),
        likely=likely,
        high=max([*timed, likely]),
        change=_change(standard, likely),
        is_believed=is_believed,
        runs_needed=runs_needed(timed) if len(timed) > 1 else None,
        line=Line(
            f"{name}: timed minutes",
            likely,
            "min",
            sums.say(
                "from {}, {} of the way with each batch{}",
                sums.number(standard),
                sums.share(WEIGHT),
                believed,
            ),
            f"timing.{name}",
            tuple(lines),
        ),
    )


@with_working_precision
def believed_change(
    standard: Decimal, runs: Sequence[Run], *, least: int = LEAST_PIECES
) -> Decimal | None:
    """Return the `change` of `time_step` alone, None while it is not believed.

    For lists of prices, which look at the steps of every recipe. Errors: BadTiming as there.
    """
    _refuse_bad(runs)
    timed = [run.minutes_each for run in runs if run.count >= least]
    if len(timed) < LEAST_BATCHES:
        return None
    likely = standard
    for minutes in timed:
        likely = smoothed(likely, minutes)
    return _change(standard, likely)


def _refuse_bad(runs: Sequence[Run]) -> None:
    for run in runs:
        if run.count < 1 or run.minutes < 0 or run.factor <= 0:
            raise BadTiming(
                "A timed batch needs at least one item and can't have negative minutes."
            )


def _change(standard: Decimal, likely: Decimal) -> Decimal:
    return likely / standard - 1 if standard else ZERO


@with_working_precision
def smoothed(standard: Decimal, timed: Decimal, weight: Decimal = WEIGHT) -> Decimal:
    """Return the standard moved towards what was timed; a standard of nothing is replaced."""
    if not standard:
        return timed
    return standard + weight * (timed - standard)


@with_working_precision
def runs_needed(
    timed: Sequence[Decimal], *, z: Decimal = Z_95, accuracy: Decimal = ACCURACY
) -> int:
    """Return how many runs make the average good to a share of itself, at least one.

    n = (z s / (k x))^2, up, with the average x and the standard deviation s of the runs so far and
    the accuracy k. Source: L. J. Krajewski and others, Operations Management (12th edition),
    "Time study method", key equation 1. Errors: BadTiming for fewer than two runs or an average
    of nothing.
    """
    if len(timed) < 2 or accuracy <= 0 or not mean(timed):
        raise BadTiming("Time two batches to see how many are needed.", where="runs")
    return max(_up((z * stdev(timed) / (accuracy * mean(timed))) ** 2), 1)


def _up(value: Decimal) -> int:
    return int(value.to_integral_value(rounding=ROUND_CEILING))


@with_working_precision
def timing_drift(work: Sequence[Work], changes: Mapping[str, Decimal]) -> Decimal:
    """Return by which share the minutes of a job would move with the timed standards.

    `changes` are the `change` of believed timings by step; steps without one stay as they are.
    """
    minutes = sum((each.minutes for each in work), ZERO)
    moved = sum((each.minutes * changes.get(each.name, ZERO) for each in work), ZERO)
    return moved / minutes if minutes else ZERO
