"""How hands get faster: the learning curve in its two forms, as a factor on minutes.

Both forms have the exponent b = ln(rate) / ln(2), with rate 0.95 meaning "5% less with each
doubling", and differ in what falls:

* cumulative average (Wright): the AVERAGE of the first n pieces is n^b of the first piece.
  Source: R. Max Wideman, "Learning Curve Mathematics", appendix 2, after T. P. Wright 1936.
* per unit (Crawford): the n-th PIECE takes n^b of the first, so the average of n pieces is the mean
  of 1^b ... n^b. Source: B. Boehmke and J. Freels, R package learningCurve, vignette.

Minutes timed on the first piece ever are multiplied by average(made). Minutes timed as the
average of a batch of `reference` pieces are multiplied by average(made) / average(reference): a
batch as large as the timed one takes the timed minutes, a smaller one more, a larger one less,
in both forms.

Experience carries over: who has made `made_before` pieces of the design starts the curve there, so
the average of a batch is that of the pieces made_before + 1 to made_before + made.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from catalogue.calc.recipes.recipe import Learning
from maker.calc.explanation import Line, shown
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ONE = Decimal(1)
_FACTOR_PLACES = Decimal("0.0001")
# up to here powers are added one by one; the rest is Euler and Maclaurin's sum (NIST Digital
# Library of Mathematical Functions, 2.10.1), whose error is far below a millionth there
_ADDED_ONE_BY_ONE = 40


class ImpossibleLearning(Refusal):
    """The learning rate, its floor or the reference batch cannot be meant."""


@dataclass(frozen=True, slots=True)
class LearningFactor:
    """What likely minutes are multiplied with: `raw`, and `factor` as it is used."""

    raw: Decimal
    factor: Decimal
    model: Learning
    rate: Decimal
    floor: Decimal
    made: int
    made_before: int
    reference: int

    @property
    @with_working_precision
    def line(self) -> Line:
        """Return how the factor came about."""
        if self.model is Learning.NONE:
            return Line("speed-up factor", self.factor, "", "no speed-up with practice", "lf")
        how = _say_curve(self.made, self.made_before, self.rate, self.model)
        if self.reference > 1:
            how += f", over the same for the timed batch of {self.reference}"
        raw = Line("speed-up factor, before limit and rounding", self.raw, "", how, "lf.raw")
        used = f"4 decimals, not below {shown(self.floor)}"
        return Line("speed-up factor used", self.factor, "", used, "lf", (raw,))


@with_working_precision
def learning_factor(
    made: int,
    *,
    model: Learning,
    rate: Decimal,
    floor: Decimal,
    reference: int = 1,
    made_before: int = 0,
) -> LearningFactor:
    """Return the factor for a batch: rounded to four decimals, halves up, then held at the floor.

    The likely minutes are those of the first piece ever, or the average of the first `reference`
    pieces. Refuses a rate that is not above 0 and up to 1, a floor that is not 0 to 1, a reference
    batch of less than one piece and fewer than no pieces made before.
    """
    if not 0 < rate <= 1 or not 0 <= floor <= 1 or min(made, reference) < 1 or made_before < 0:
        raise ImpossibleLearning(
            "Speed-up must be above 0 and up to 1, fastest possible 0 to 1, batch size at "
            "least 1 and already made 0 or more.",
            where="learning",
        )
    raw = factor = ONE
    if model is not Learning.NONE:
        block = block_factor(made_before + 1, made_before + made, rate, model)
        raw = block / made / average_factor(reference, rate, model)
        factor = max(raw.quantize(_FACTOR_PLACES, rounding=ROUND_HALF_UP), floor)
    return LearningFactor(raw, factor, model, rate, floor, made, made_before, reference)


def _say_curve(made: int, made_before: int, rate: Decimal, model: Learning) -> str:
    exponent = f"(ln {shown(rate)} / ln 2)"
    last = made_before + made
    if model is Learning.PER_UNIT:
        return f"mean of n ^ {exponent}, n = {made_before + 1} to {last}"
    if not made_before:
        return f"{made} ^ {exponent}"
    return (
        f"({last} x {last} ^ {exponent} - {made_before} x {made_before} ^ {exponent}) / {made}, "
        f"{made_before} made before"
    )


@with_working_precision
def average_factor(count: int, rate: Decimal, model: Learning) -> Decimal:
    """Return the mean time of the first `count` pieces, as a share of the first one's."""
    return total_factor(count, rate, model) / count if count > 1 else ONE


@with_working_precision
def total_factor(count: int, rate: Decimal, model: Learning) -> Decimal:
    """Return the time of the first `count` pieces together, in times of the first one."""
    if count <= 0:
        return Decimal(0)
    if model is Learning.NONE or rate == 1:
        return Decimal(count)
    if model is Learning.CUMULATIVE:
        return count * _power(count, rate)
    return _sum_of_powers(count, rate)


@with_working_precision
def block_factor(first: int, last: int, rate: Decimal, model: Learning) -> Decimal:
    """Return the time of the pieces `first` to `last`, in times of the very first one."""
    return total_factor(last, rate, model) - total_factor(first - 1, rate, model)


@lru_cache(maxsize=64)
def _exponent(rate: Decimal) -> Decimal:
    return rate.ln() / Decimal(2).ln()


@lru_cache(maxsize=1024)
def _power(count: int, rate: Decimal) -> Decimal:
    return Decimal(count) ** _exponent(rate)


@lru_cache(maxsize=1024)
def _sum_of_powers(count: int, rate: Decimal) -> Decimal:
    """Return 1^b + 2^b + ... + count^b."""
    b = _exponent(rate)
    start = min(count, _ADDED_ONE_BY_ONE)
    total = sum((Decimal(n) ** b for n in range(1, start + 1)), Decimal(0))
    if start == count:
        return total
    low, high = Decimal(start), Decimal(count)
    integral = (high ** (b + 1) - low ** (b + 1)) / (b + 1) if b != -1 else (high / low).ln()
    ends = (high**b - low**b) / 2
    slopes = b * (high ** (b - 1) - low ** (b - 1)) / 12
    thirds = b * (b - 1) * (b - 2) * (high ** (b - 3) - low ** (b - 3)) / 720
    return total + integral + ends + slopes - thirds
