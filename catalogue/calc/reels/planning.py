"""Plans how lengths are cut from reels of ribbon, cord or tape: the fewest or cheapest reels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction

from catalogue.calc.cutting.job import NotEnoughSheets, PieceTooLarge
from catalogue.calc.cutting.watch import Course, Watch
from catalogue.calc.reels.fillings import ReelTask, Roll
from catalogue.calc.reels.search import ReelsFound, solve
from maker.calc.explanation import shown
from maker.calc.refusal import Refusal
from maker.calc.units import format_length

ZERO = Decimal(0)
MOST_KINDS = 500
MOST_REEL_KINDS = 100
MOST_COPIES = 1_000_000
LONGEST_MM = Decimal(10_000_000)
MOST_DECIMALS = 6
CENT = Decimal("0.01")


class BadReelJob(Refusal):
    """The job itself makes no sense: a length below zero, a name used twice, nothing to cut."""


class NotEnoughReels(NotEnoughSheets):
    """The reels at hand do not hold the lengths."""


class LengthTooLong(PieceTooLarge):
    """A length is longer than every reel."""


@dataclass(frozen=True, slots=True)
class Reel:
    """One kind of reel, or an opened one or a rest; `available` None means plenty."""

    name: str
    length_mm: Decimal
    price: Decimal = Decimal(1)
    available: int | None = None


@dataclass(frozen=True, slots=True)
class Length:
    """So many lengths to cut."""

    name: str
    length_mm: Decimal
    count: int


@dataclass(frozen=True, slots=True)
class ReelJob:
    """Every length takes `cut_loss_mm` more than itself; the last `end_mm` of a reel are useless.

    `unit` is what reasons are said in.
    """

    reels: tuple[Reel, ...]
    lengths: tuple[Length, ...]
    cut_loss_mm: Decimal = ZERO
    end_mm: Decimal = ZERO
    time_limit_s: float = 2.0
    unit: str = "mm"


@dataclass(frozen=True, slots=True)
class ReelLayout:
    """How one reel is cut, and how many are cut alike; `left_mm` includes the useless end."""

    reel: str
    times: int
    lengths: tuple[tuple[str, int], ...]
    left_mm: Decimal


@dataclass(frozen=True, slots=True)
class ReelPlan:
    """A plan with its lower bound: reels when the job has one kind of reel, else cost.

    `proven` means that the plan equals the bound; `reason` says why less is impossible.
    """

    reel_count: int
    cost: Decimal
    lower_bound: Decimal
    proven: bool
    reason: str
    seconds: float
    layouts: tuple[ReelLayout, ...]

    def reels_of(self, name: str) -> int:
        """Return how many reels of the kind called `name` are cut."""
        return sum(layout.times for layout in self.layouts if layout.reel == name)


def plan_reels(job: ReelJob, *, watch: Watch | None = None) -> ReelPlan:
    """Return the best plan found within the time limit, with a bound no plan can beat.

    With one kind of reel the number of reels is made small, else the cost. The clock is read only
    to keep the limit: the same job gives the same plan whenever the limit does not strike. The
    time depends on the number of different lengths, not on how many of each are cut.
    Refuses a job that makes no sense, a length longer than every reel, and too few reels.
    """
    course = Course(job.time_limit_s, watch)
    check_reel_job(job)
    wanted = [length for length in job.lengths if length.count]
    rack, unit = _in_whole_units(job, wanted)
    found = solve(rack, course)
    if found is None:
        raise NotEnoughReels(
            "The reels at hand do not hold all these lengths: add a reel.", where="reels"
        )
    layouts = tuple(
        ReelLayout(
            reel=reel.name,
            times=times,
            lengths=tuple(
                (length.name, many)
                for length, many in zip(wanted, filling.counts, strict=True)
                if many
            ),
            left_mm=reel.length_mm
            - sum(
                (
                    (length.length_mm + job.cut_loss_mm) * many
                    for length, many in zip(wanted, filling.counts, strict=True)
                ),
                ZERO,
            ),
        )
        for filling, times in found.uses
        for reel in (job.reels[filling.roll],)
    )
    prices = {reel.name: reel.price for reel in job.reels}
    reel_count = sum(layout.times for layout in layouts)
    cost = sum((prices[layout.reel] * layout.times for layout in layouts), ZERO)
    bound = Decimal(found.bound)
    if len(job.reels) > 1:
        price_unit = _common_unit([Fraction(reel.price) for reel in job.reels])
        bound = Decimal(found.bound * price_unit.numerator) / Decimal(price_unit.denominator)
    plan = ReelPlan(
        reel_count=reel_count,
        cost=cost,
        lower_bound=bound,
        proven=bound == (reel_count if len(job.reels) == 1 else cost),
        reason=_reason(job, wanted, found, unit, bound),
        seconds=course.clock() - course.started,
        layouts=layouts,
    )
    check_reel_plan(plan, job)
    return plan


def check_reel_plan(plan: ReelPlan, job: ReelJob) -> None:
    """Raise AssertionError unless the plan cuts exactly what is wanted from reels that are there.

    Never skipped, also not with python -O: a wrong plan would spoil ribbon.
    """
    sizes = {length.name: length.length_mm for length in job.lengths}
    reels = {reel.name: reel for reel in job.reels}
    cut = dict.fromkeys(sizes, 0)
    used = dict.fromkeys(reels, 0)
    for layout in plan.layouts:
        taken = sum(((sizes[name] + job.cut_loss_mm) * many for name, many in layout.lengths), ZERO)
        if layout.left_mm != reels[layout.reel].length_mm - taken or layout.left_mm < job.end_mm:
            raise AssertionError(f"a reel of {layout.reel} does not hold its lengths")
        used[layout.reel] += layout.times
        for name, many in layout.lengths:
            cut[name] += many * layout.times
    if cut != {length.name: length.count for length in job.lengths}:
        raise AssertionError("the plan does not cut what is wanted")
    for name, many in used.items():
        available = reels[name].available
        if available is not None and many > available:
            raise AssertionError(f"there are only {available} of {name}")
    if plan.lower_bound > (plan.reel_count if len(reels) == 1 else plan.cost):
        raise AssertionError("the bound is above the plan")


def check_reel_job(job: ReelJob) -> None:
    """Refuse a job whose numbers or names cannot be meant, or a length no reel holds."""
    if not 1 <= len(job.reels) <= MOST_REEL_KINDS:
        raise BadReelJob(f"Give 1 to {MOST_REEL_KINDS} kinds of reel.", where="reels")
    if len(job.lengths) > MOST_KINDS:
        raise BadReelJob(f"Give at most {MOST_KINDS} different lengths.", where="lengths")
    if not 0 < job.time_limit_s <= 3600:
        raise BadReelJob("The time limit must be 0 to 3600 seconds.", where="time_limit_s")
    _check_names("reel", [reel.name for reel in job.reels])
    _check_names("length", [length.name for length in job.lengths])
    _check_mm(job.cut_loss_mm, "cut_loss_mm", "The loss at a cut", may_be_zero=True)
    _check_mm(job.end_mm, "end_mm", "The end of a reel", may_be_zero=True)
    for reel in job.reels:
        _check_mm(reel.length_mm, reel.name, "The length of the reel")
        if not reel.price.is_finite() or reel.price < 0:
            raise BadReelJob("The price of a reel must be zero or more.", where=reel.name)
        if reel.available is not None and reel.available < 0:
            raise BadReelJob("Enter 0 reels or more.", where=reel.name)
    for length in job.lengths:
        _check_mm(length.length_mm, length.name, "The length")
        if not 0 <= length.count <= MOST_COPIES:
            raise BadReelJob(f"The count must be 0 to {MOST_COPIES:,}.", where=length.name)
    if not any(length.count for length in job.lengths):
        raise BadReelJob("There is nothing to cut: enter at least one length.", where="lengths")
    most = max((reel.length_mm for reel in job.reels if reel.available != 0), default=ZERO)
    for length in job.lengths:
        if length.count and length.length_mm + job.cut_loss_mm + job.end_mm > most:
            at_most = max(most - job.end_mm - job.cut_loss_mm, ZERO)
            raise LengthTooLong(
                f"{length.name} ({format_length(length.length_mm, job.unit)}) is longer than any "
                f"reel at hand gives: {format_length(at_most, job.unit)} is the most in one piece.",
                where=length.name,
            )


def _check_names(what: str, names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if not name.strip():
            raise BadReelJob(f"Every {what} needs a name.", where=f"{what}s")
        if name in seen:
            raise BadReelJob(f"Two {what}s are called “{name}”.", where=name)
        seen.add(name)


def _check_mm(value: Decimal, where: str, what: str, *, may_be_zero: bool = False) -> None:
    if not value.is_finite() or value < 0 or (value == 0 and not may_be_zero):
        least = "zero or more" if may_be_zero else "more than zero"
        raise BadReelJob(f"{what} must be {least}.", where=where)
    if value > LONGEST_MM:
        raise BadReelJob(f"{what} must be at most {LONGEST_MM:,} mm.", where=where)
    exponent = value.normalize().as_tuple().exponent
    if isinstance(exponent, int) and -exponent > MOST_DECIMALS:
        raise BadReelJob(f"{what} has more than {MOST_DECIMALS} decimals.", where=where)


def _in_whole_units(job: ReelJob, wanted: Sequence[Length]) -> tuple[ReelTask, Fraction]:
    """Return the job in whole numbers: what a reel holds counts in steps of the lengths alone."""
    sizes = [Fraction(length.length_mm + job.cut_loss_mm) for length in wanted]
    unit = _common_unit(sizes)
    prices = [Fraction(reel.price) for reel in job.reels]
    price_unit = _common_unit(prices)
    rolls = tuple(
        Roll(
            room=max(math.floor(Fraction(reel.length_mm - job.end_mm) / unit), 0),
            cost=1 if len(job.reels) == 1 else int(price / price_unit) if price_unit else 0,
            available=reel.available,
        )
        for reel, price in zip(job.reels, prices, strict=True)
    )
    rack = ReelTask(
        rolls=rolls,
        sizes=tuple(int(size / unit) for size in sizes),
        counts=tuple(length.count for length in wanted),
    )
    return rack, unit


def _common_unit(values: Sequence[Fraction]) -> Fraction:
    """Return the largest fraction that divides all values; 0 when they are all 0."""
    denominator = math.lcm(*(value.denominator for value in values))
    return Fraction(math.gcd(*(int(value * denominator) for value in values)), denominator)


def _reason(
    job: ReelJob, wanted: Sequence[Length], found: ReelsFound, unit: Fraction, bound: Decimal
) -> str:
    if not bound:
        return "Nothing costs less than nothing."
    if len(job.reels) == 1 and bound == 1:
        return "Fewer than one reel cannot be cut."
    least = f"{bound} reels"
    if found.worth is None:
        total = sum(
            ((length.length_mm + job.cut_loss_mm) * length.count for length in wanted), ZERO
        )
        said = f"The lengths with their cuts add up to {format_length(total, job.unit)}"
        if len(job.reels) > 1:
            return f"{said}: reels that hold so much cost at least {_money(bound)}."
        room = found.most[0] * unit
        held = Decimal(room.numerator) / Decimal(room.denominator)
        return (
            f"{said}, a reel gives at most {format_length(held, job.unit)} of them: "
            f"{shown(round(total / held, 2))}, so at least {least}."
        )
    whole = max(found.most)
    worth = ", ".join(
        f"{length.name} {shown(round(Decimal(100 * value) / whole, 1))}%"
        for length, value in list(zip(wanted, found.worth, strict=True))[:8]
    )
    more = ", …" if len(wanted) > 8 else ""
    if len(job.reels) == 1:
        return (
            f"Count each length as a share of a reel ({worth}{more}): what one reel holds never "
            f"comes to more than 100%, and all of them come to more than {int(bound) - 1} reels, "
            f"so at least {least}."
        )
    return (
        f"Count each length as a share of the best reel ({worth}{more}): by what each kind of "
        f"reel holds at most, reels for all of them cost at least {_money(bound)}."
    )


def _money(bound: Decimal) -> str:
    """Write a cost nothing is below, to two decimals: rounded down it still holds."""
    return str(bound.quantize(CENT, rounding=ROUND_FLOOR))
