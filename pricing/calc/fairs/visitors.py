"""What would still have sold after an item sold out, from when visitors come.

The curve gives the share of a day's visitors in each hour; inside an hour they come evenly.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

HOUR = 60
# shares of a day's visitors by hour; a third or a seventh is exact as a fraction only
Curve = Mapping[int, Decimal | Fraction]


class NobodyYet(Refusal):
    """Something sold out before the first visitor came."""


@dataclass(frozen=True, slots=True)
class HiddenDemand:
    """What was asked for after an item had sold out, unseen."""

    share_gone: Fraction
    demand: Fraction
    missed: int


def share_gone_by(curve: Curve, at: datetime.time) -> Fraction:
    """Return the share of the day's visitors that have come by then."""
    share = Fraction(0)
    for hour, part in curve.items():
        if hour < at.hour:
            share += Fraction(part)
        elif hour == at.hour:
            share += Fraction(part) * at.minute / HOUR
    return share


def demand_by_clock(sold: int, curve: Curve, at: datetime.time) -> Fraction | None:
    """Return the demand if visitors came evenly over the day; None before it opened.

    To be compared only: who comes early is not who comes at noon.
    """
    gone = Fraction(at.hour - min(curve, default=0)) + Fraction(at.minute, HOUR)
    return sold / gone * len(curve) if gone > 0 else None


@with_working_precision
def hidden_demand(sold: int, curve: Curve, at: datetime.time) -> HiddenDemand:
    """Return the demand of a day on which so many sold until they ran out.

    `missed` is in whole items, rounded down. Errors: NobodyYet.
    """
    share = share_gone_by(curve, at)
    if share <= 0:
        raise NobodyYet("Nobody had come when it sold out.", where="sold_out")
    demand = sold / min(share, Fraction(1))
    return HiddenDemand(share, demand, int(demand) - sold)
