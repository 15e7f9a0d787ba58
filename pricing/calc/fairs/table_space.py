"""The best mix of items within what there is: space on a table, hours left to make, card in stock.

One limit is solved exactly, by dynamic programming over what is used of it; several limits as a
mixed integer program, which is proved best or says how far it may be from the best.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from catalogue.calc.cutting.highs import RunLeft, new_model, run_watched
from catalogue.calc.cutting.watch import Course
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
SECONDS = 2.0
# gains that differ by less than this are equal, so that the same mix is found everywhere
GAIN_UNIT = Decimal("1e-9")
# steps of one limit that a table of the exact search may have
MOST_STEPS = 200_000


class DoesNotFit(Refusal):
    """Not even the items needed for show fit."""


@dataclass(frozen=True, slots=True)
class Offer:
    """An item to choose a count of: at least `least`, and gains by count from none on.

    `needs` is what one item takes of each limit.
    """

    name: str
    gains: tuple[Decimal, ...]
    needs: tuple[Decimal, ...]
    least: int = 0

    @property
    def most(self) -> int:
        """Return the largest count whose gain is known."""
        return len(self.gains) - 1


@dataclass(frozen=True, slots=True)
class Mix:
    """Counts in the order of the offers. `may_gain` is what a better mix could gain at most more.

    That is nothing where the mix is proved best.
    """

    counts: tuple[int, ...]
    gain: Decimal
    used: tuple[Decimal, ...]
    may_gain: Decimal = ZERO

    @property
    def is_best(self) -> bool:
        """Return whether no other mix gains more."""
        return not self.may_gain


def best_mix(
    offers: Sequence[Offer], limits: Sequence[Decimal], course: Course | None = None
) -> Mix:
    """Return the mix with the greatest gain; of equal ones that with fewer of the first item.

    Errors: DoesNotFit when the least counts need more than there is.
    """
    for place, limit in enumerate(limits):
        if sum((offer.least * offer.needs[place] for offer in offers), ZERO) > limit:
            raise DoesNotFit("The items needed for show need more than there is.", where="space")
    steps = _steps(offers, limits) if len(limits) == 1 else None
    if steps is None:
        return _by_program(offers, limits, course or Course(SECONDS))
    return _exactly(offers, *steps)


def greedy_mix(offers: Sequence[Offer], limit: Decimal) -> Mix:
    """Return the mix that always adds the item with the best gain per unit of one limit.

    It can be short of the best, so it is only to be compared.
    """
    counts = [offer.least for offer in offers]
    while True:
        left = limit - sum(
            (count * offer.needs[0] for count, offer in zip(counts, offers, strict=True)), ZERO
        )
        # the first of equal ones
        rates = [
            (_rate(offer, count), -place)
            for place, (offer, count) in enumerate(zip(offers, counts, strict=True))
            if count < offer.most and offer.needs[0] <= left
        ]
        best, place = max(rates, default=(Fraction(0), 0))
        if best <= 0:
            return _mix(offers, counts)
        counts[-place] += 1


def _rate(offer: Offer, count: int) -> Fraction:
    gained = Fraction(offer.gains[count + 1] - offer.gains[count])
    need = Fraction(offer.needs[0])
    # what takes no space is worth any space
    return gained / need if need else gained * 10**12


@with_working_precision
def _mix(offers: Sequence[Offer], counts: Sequence[int], may_gain: Decimal = ZERO) -> Mix:
    pairs = list(zip(offers, counts, strict=True))
    return Mix(
        counts=tuple(counts),
        gain=sum((offer.gains[count] for offer, count in pairs), ZERO),
        used=tuple(
            sum((count * need for (_, count), need in zip(pairs, column, strict=True)), ZERO)
            for column in zip(*(offer.needs for offer in offers), strict=True)
        ),
        may_gain=may_gain,
    )


def _steps(offers: Sequence[Offer], limits: Sequence[Decimal]) -> tuple[list[int], int] | None:
    """Return needs and limit in whole steps, None where those would be too many."""
    needs = [Fraction(offer.needs[0]) for offer in offers]
    scale = math.lcm(*(need.denominator for need in needs))
    whole = [int(need * scale) for need in needs]
    step = math.gcd(*whole) or 1
    limit = min(
        int(Fraction(limits[0]) * scale / step),
        sum(need // step * offer.most for need, offer in zip(whole, offers, strict=True)),
    )
    return ([need // step for need in whole], limit) if limit <= MOST_STEPS else None


def _exactly(offers: Sequence[Offer], needs: Sequence[int], limit: int) -> Mix:
    """Best by what is left of the limit, from the last item back to the first."""
    import numpy as np

    best: Any = np.zeros(limit + 1, dtype=np.int64)
    chosen: list[Any] = []
    none = np.iinfo(np.int64).min // 2
    for offer, need in zip(reversed(offers), reversed(needs), strict=True):
        found = np.full(limit + 1, none, dtype=np.int64)
        count_at = np.zeros(limit + 1, dtype=np.int64)
        for count in range(offer.least, offer.most + 1):
            taken = count * need
            if taken > limit:
                break
            gain = int((offer.gains[count] / GAIN_UNIT).to_integral_value())
            reached = best[: limit + 1 - taken] + gain
            better = reached > found[taken:]
            found[taken:][better] = reached[better]
            count_at[taken:][better] = count
        best = found
        chosen.append(count_at)
    left, counts = limit, []
    for count_at, need in zip(reversed(chosen), needs, strict=True):
        count = int(count_at[left])
        counts.append(count)
        left -= count * need
    return _mix(offers, counts)


def _by_program(offers: Sequence[Offer], limits: Sequence[Decimal], course: Course) -> Mix:
    """Each further item is a column of 0 or 1 that comes after the one before it."""
    import highspy
    import numpy as np

    model = new_model()
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", float(GAIN_UNIT))
    first, columns = [], 0
    for offer in offers:
        first.append(columns)
        for count in range(offer.least, offer.most):
            model.addCol(-float(offer.gains[count + 1] - offer.gains[count]), 0.0, 1.0, 0, [], [])
            if count > offer.least:
                model.addRow(
                    0.0, highspy.kHighsInf, 2, np.array([columns - 1, columns]), np.array([1.0, -1])
                )
            columns += 1
    many = np.arange(columns)
    model.changeColsIntegrality(columns, many, [highspy.HighsVarType.kInteger] * columns)
    for place, limit in enumerate(limits):
        room = limit - sum((offer.least * offer.needs[place] for offer in offers), ZERO)
        weights = np.array(
            [float(offer.needs[place]) for offer in offers for _ in range(offer.least, offer.most)]
        )
        model.addRow(-highspy.kHighsInf, float(room), columns, many, weights)
    try:
        run_watched(model, SECONDS, course)
    except RunLeft:
        return _mix(offers, [offer.least for offer in offers], _most_gain(offers))
    taken = list(model.getSolution().col_value)
    counts = [
        offer.least + round(sum(taken[start : start + offer.most - offer.least]))
        for offer, start in zip(offers, first, strict=True)
    ]
    found = _mix(offers, counts)
    if any(used > limit for used, limit in zip(found.used, limits, strict=True)):
        return _mix(offers, [offer.least for offer in offers], _most_gain(offers))
    if model.getModelStatus() == highspy.HighsModelStatus.kOptimal:
        return found
    base = sum((offer.gains[offer.least] for offer in offers), ZERO)
    bound = base - Decimal(repr(model.getInfo().mip_dual_bound))
    return _mix(offers, counts, max(GAIN_UNIT, bound - found.gain))


def _most_gain(offers: Sequence[Offer]) -> Decimal:
    return sum((max(offer.gains) - offer.gains[offer.least] for offer in offers), ZERO)
