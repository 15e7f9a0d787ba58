"""How sure it is that enough good pieces come out: spares against rejects.

Each piece is spoiled with the same chance, whatever became of the others, so the rejects of a batch
are binomial and the pieces it takes until enough are good negative binomial. Statistics, so floats.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from maker.calc.refusal import Refusal

MOST_PIECES = 10_000_000


class BadRejects(Refusal):
    """A share of rejects, a chance or a number of pieces that cannot be meant."""


@dataclass(frozen=True, slots=True)
class SpareChance:
    """`chance` that `spares` are enough, 0 to 1, and how many would do with the chance wanted."""

    spares: int
    chance: float
    wanted: float
    spares_wanted: int


def chance_of_enough(good: int, made: int, reject_share: float) -> float:
    """Return the chance that at least `good` of the pieces `made` are good, 0 to 1.

    Errors: BadRejects.
    """
    _check(good, reject_share)
    if made < good:
        return 0.0
    return math.fsum(_chances_of_rejects(good, made - good, reject_share))


def spares_for(good: int, reject_share: float, wanted: float) -> int:
    """Return the fewest spares with which `good` pieces are good with the chance wanted.

    Errors: BadRejects, also for a chance of 1: no number of spares is certain.
    """
    _check(good, reject_share)
    if not 0 <= wanted < 1:
        raise BadRejects("A chance must be from 0% to below 100%.", where="chance")
    reached = 0.0
    # by how many are spoiled before the last good one: each adds to the chance
    for spares, chance in enumerate(_chances_of_rejects(good, MOST_PIECES, reject_share)):
        reached += chance
        if reached >= wanted:
            return spares
    raise BadRejects("So many are spoiled that no batch gives enough.", where="reject_share")


def spare_chance(good: int, spares: int, reject_share: float, wanted: float) -> SpareChance:
    """Return both: how sure the spares are, and how many it takes. Errors: BadRejects."""
    return SpareChance(
        spares=spares,
        chance=chance_of_enough(good, good + spares, reject_share),
        wanted=wanted,
        spares_wanted=spares_for(good, reject_share, wanted),
    )


def _chances_of_rejects(good: int, most: int, reject_share: float) -> Iterator[float]:
    """Yield the chance that exactly 0, 1, 2 ... `most` are spoiled before the last good one.

    C(good + k - 1, k) p^k (1 - p)^good; each follows from the one before it. The first may be too
    small for a float in a huge batch, so its logarithm is carried on.
    """
    if not reject_share:
        yield 1.0
        return
    logarithm = good * math.log1p(-reject_share)
    share = math.log(reject_share)
    for spoiled in range(most + 1):
        if spoiled:
            logarithm += share + math.log((good + spoiled - 1) / spoiled)
        yield math.exp(logarithm)


def _check(good: int, reject_share: float) -> None:
    if not 1 <= good <= MOST_PIECES:
        raise BadRejects("Enter how many items you want.", where="quantity")
    if not 0 <= reject_share < 1:
        raise BadRejects("Percent spoiled must be from 0% to below 100%.", where="reject_share")
