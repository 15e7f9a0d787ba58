"""The price list a customer can trust: more pieces never cost more each, and never less in all.

Cost plus margin is not smooth in the quantity: one more sheet or spare makes 7 cost more each
than 6, and a lower margin from 60 on makes 60 cheaper in all than 56. The published list is the
greatest one that stays at or under the worked-out prices, in the same price steps, with

* a unit price that never rises with the quantity, and
* a total that always rises: at least the smallest coin more for every piece more.

A total that stayed the same would do for "never falls", but then the last pieces would be free and
the list would say so; with totals that rise nobody gains by ordering more than is needed. Both
rules only ever lower a price, so a lowered one is shown with the margin that it leaves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from itertools import pairwise

from maker.calc.money import exponent_of, minor_unit, with_working_precision
from maker.calc.refusal import Refusal


class UnorderedQuantities(Refusal):
    """A price list needs quantities that rise from line to line."""


@dataclass(frozen=True, slots=True)
class QuantityPrice:
    """The worked-out price of one piece when so many are bought, a multiple of its price step."""

    quantity: int
    price_each: Decimal
    step: Decimal


@dataclass(frozen=True, slots=True)
class Published:
    """The published price of one. `held_down_by` is the quantity that keeps it below the worked-out
    one: a smaller one that costs no more each, or the next larger one that must cost more in all.
    """

    quantity: int
    price_each: Decimal
    held_down_by: int | None = None


@with_working_precision
def lower_envelope(worked_out: Sequence[QuantityPrice], digits: int = 2) -> tuple[Published, ...]:
    """Return the published price for every quantity given.

    Quantities must rise, else UnorderedQuantities. Where a coarser price step leaves no price in
    between, the unit price of the next larger quantity is taken: its total is larger already.
    """
    quantities = [line.quantity for line in worked_out]
    if any(low >= high for low, high in pairwise(quantities)):
        raise UnorderedQuantities("Quantities on a price list must go up.", where="quantity")
    published = _never_dearer_each(worked_out)
    coin = minor_unit(digits)
    for place in range(len(published) - 2, -1, -1):
        line, larger = published[place], published[place + 1]
        most = larger.quantity * larger.price_each - coin
        if line.quantity * line.price_each <= most:
            continue
        step = worked_out[place].step or coin
        steps = (most / line.quantity / step).to_integral_value(rounding=ROUND_FLOOR)
        lowered = steps * step
        # with the decimals of the price it replaces, or of a finer step
        lowered = lowered.quantize(min(lowered, line.price_each, key=exponent_of))
        price = max(lowered, larger.price_each)
        published[place] = Published(line.quantity, price, larger.quantity)
    return tuple(published)


def _never_dearer_each(worked_out: Sequence[QuantityPrice]) -> list[Published]:
    published: list[Published] = []
    cheapest: QuantityPrice | None = None
    for line in worked_out:
        if cheapest is None or line.price_each <= cheapest.price_each:
            cheapest = line
            published.append(Published(line.quantity, line.price_each))
        else:
            published.append(Published(line.quantity, cheapest.price_each, cheapest.quantity))
    return published
