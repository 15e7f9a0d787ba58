"""Her own price index: what the supplies she buys cost beside an earlier time.

Laspeyres weighs prices by what was bought in the first period, Paasche by what is bought now, and
Fisher is the root of both. Chained, each period is compared with the one before. Source:
International Labour Organization and others, Consumer Price Index Manual: Concepts and Methods,
2020, chapter 8.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Any

from maker.calc.money import with_working_precision

ZERO = Decimal(0)
HUNDRED = Decimal(100)
Prices = Mapping[Any, Decimal]  # by whatever names the materials


@dataclass(frozen=True, slots=True)
class Bought:
    """What was bought of a material in a period, and what it cost with postage and discount."""

    quantity: Decimal
    value: Decimal


@dataclass(frozen=True, slots=True)
class Period:
    """Unit prices and quantities of a period; a price is carried while nothing is bought."""

    prices: Mapping[Any, Decimal]
    quantities: Mapping[Any, Decimal]


@dataclass(frozen=True, slots=True)
class Index:
    """The index of a period; the first one is 100. None where nothing can be compared."""

    laspeyres: Decimal | None
    paasche: Decimal | None
    fisher: Decimal | None
    chained_laspeyres: Decimal | None
    chained_paasche: Decimal | None
    chained_fisher: Decimal | None


@with_working_precision
def periods_of(
    bought: Sequence[Mapping[Any, Bought]], before: Mapping[Any, Decimal]
) -> list[Period]:
    """Return prices and quantities period by period.

    `before` has the unit prices of what there was at first; a material without any price yet is at
    zero and weighs nothing.
    """
    names = list(dict.fromkeys([*before, *(name for period in bought for name in period)]))
    prices = {name: before.get(name, ZERO) for name in names}
    periods = []
    for period in bought:
        there = {name: each for name, each in period.items() if each.quantity}
        prices = prices | {name: each.value / each.quantity for name, each in there.items()}
        quantities = {name: there[name].quantity if name in there else ZERO for name in names}
        periods.append(Period(prices, quantities))
    return periods


@with_working_precision
def indices_of(periods: Sequence[Period]) -> list[Index]:
    """Return the index of every period after the first."""
    found: list[Index] = []
    chained: tuple[Decimal | None, Decimal | None, Decimal | None] = (HUNDRED,) * 3
    for before, now in pairwise(periods):
        first = periods[0]
        laspeyres = _ratio(now, first, first.quantities)
        paasche = _ratio(now, first, now.quantities)
        link = (_ratio(now, before, before.quantities), _ratio(now, before, now.quantities))
        links = (*link, _root(*link))
        chained = (_on(chained[0], links[0]), _on(chained[1], links[1]), _on(chained[2], links[2]))
        found.append(
            Index(
                _on(HUNDRED, laspeyres),
                _on(HUNDRED, paasche),
                _on(HUNDRED, _root(laspeyres, paasche)),
                *chained,
            )
        )
    return found


def _ratio(now: Period, then: Period, weights: Prices) -> Decimal | None:
    """Return what the same goods cost now over what they cost then."""
    cost_then = _cost(then.prices, weights)
    return _cost(now.prices, weights) / cost_then if cost_then else None


def _cost(prices: Prices, quantities: Prices) -> Decimal:
    return sum((price * quantities[name] for name, price in prices.items()), ZERO)


def _root(first: Decimal | None, second: Decimal | None) -> Decimal | None:
    return None if first is None or second is None else (first * second).sqrt()


def _on(index: Decimal | None, ratio: Decimal | None) -> Decimal | None:
    return None if index is None or ratio is None else index * ratio


@dataclass(frozen=True, slots=True)
class Change:
    """How much more supplies cost now, a share (below zero: less), and what made the most of it.

    `covered` is the share of what was spent now that was also bought then; `by_group` what the
    same goods cost more by group, halfway between both times' quantities, the most first.
    """

    share: Decimal
    covered: Decimal
    by_group: tuple[tuple[str, Decimal], ...]


@with_working_precision
def price_change(
    then: Mapping[Any, Bought], now: Mapping[Any, Bought], groups: Mapping[Any, str]
) -> Change | None:
    """Compare what was bought in both of two periods (Fisher); None where nothing was."""
    both = [
        name
        for name, each in now.items()
        if each.quantity > 0 and each.value > 0 and name in then
        if then[name].quantity > 0 and then[name].value > 0
    ]
    if not both:
        return None
    first, second = periods_of([{name: one[name] for name in both} for one in (then, now)], {})
    fisher = indices_of([first, second])[0].fisher
    if fisher is None:
        return None
    more: dict[str, Decimal] = {}
    for name in both:
        quantity = (first.quantities[name] + second.quantities[name]) / 2
        risen = (second.prices[name] - first.prices[name]) * quantity
        more[groups[name]] = more.get(groups[name], ZERO) + risen
    spent = sum((each.value for each in now.values()), ZERO)
    return Change(
        share=fisher / HUNDRED - 1,
        covered=sum((now[name].value for name in both), ZERO) / spent,
        by_group=tuple(sorted(more.items(), key=lambda each: (-abs(each[1]), each[0]))),
    )
