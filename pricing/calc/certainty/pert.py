"""Low, likely and high turned into what to expect and how far it may be off.

Expected = (low + 4 likely + high) / 6, spread (one standard deviation) = (high - low) / 6: the
three-point convention of PERT. Source: D. G. Malcolm, J. H. Roseboom, C. E. Clark and
W. Fazar, "Application of a Technique for Research and Development Program Evaluation", Operations
Research 7 (1959), 646-669. The spread is a convention: a beta distribution with the same three
points has one that differs by up to a fifth.
"""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal


class BadEstimate(Refusal):
    """The low value is above the likely one, or the high value below it."""


@dataclass(frozen=True, slots=True)
class ThreePoints:
    """An estimate, in any one unit; `low` and `high` equal to `likely` say that it is known."""

    low: Decimal
    likely: Decimal
    high: Decimal

    @property
    def is_certain(self) -> bool:
        """Whether nothing is known to vary."""
        return self.low == self.high


def three_points(
    likely: Decimal, low: Decimal | None, high: Decimal | None, *, where: str = ""
) -> ThreePoints:
    """Return an estimate; a side that is not given is the likely value. Errors: BadEstimate."""
    points = ThreePoints(likely if low is None else low, likely, likely if high is None else high)
    if not points.low <= likely <= points.high:
        raise BadEstimate(
            "The best time can't be above the usual one, nor the worst below it.",
            where=where,
        )
    return points


@with_working_precision
def expected(points: ThreePoints) -> Decimal:
    """Return the expected value, in the unit of the points."""
    return (points.low + 4 * points.likely + points.high) / 6


@with_working_precision
def spread(points: ThreePoints) -> Decimal:
    """Return one standard deviation, in the unit of the points."""
    return (points.high - points.low) / 6
