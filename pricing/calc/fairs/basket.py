"""What a basket at the table comes to: bundles apply themselves where they save the buyer money.

Amounts are whole minor units (cents), prices with tax in them, so that the phone, which works the
same sum out without a connection (static/js/table-basket.js), comes to the same amount. A bundle
is never sold below its own lowest price. Choosing bundles is set packing with repeats; a basket at
a table is small, so all ways are tried, best first, and those that cannot save more are left out
(branch and bound: Land and Doig, Econometrica 28, 1960).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from maker.calc.refusal import Refusal

# of a basket nobody carries the best found so far is taken
MOST_STEPS = 20_000


class BadBasket(Refusal):
    """A basket that cannot be sold."""


@dataclass(frozen=True, slots=True)
class TableBundle:
    """Items sold together: how many of each, what they cost together, and the lowest for it."""

    key: str
    items: Mapping[str, int]
    price: int
    lowest: int

    @property
    def asked(self) -> int:
        """Return what is asked: the price, never below the lowest."""
        return max(self.price, self.lowest)


@dataclass(frozen=True, slots=True)
class Basket:
    """What is paid: items at their own prices, and how many of each bundle apply."""

    full: int
    bundles: Mapping[str, int]
    amount: int

    @property
    def saved(self) -> int:
        """Return what bundles save the buyer."""
        return self.full - self.amount


def basket_of(
    items: Mapping[str, int], prices: Mapping[str, int], bundles: Sequence[TableBundle]
) -> Basket:
    """Return the smallest amount for the items. Errors: BadBasket."""
    full = _full(items, prices)
    rest = {name: count for name, count in items.items() if count}
    chosen = _best(rest, _helpful(bundles, prices, rest))
    saved = sum(
        (_full(bundle.items, prices) - bundle.asked) * chosen.get(bundle.key, 0)
        for bundle in bundles
    )
    return Basket(full, chosen, full - saved)


def amount_with(
    items: Mapping[str, int],
    prices: Mapping[str, int],
    bundles: Sequence[TableBundle],
    counts: Mapping[str, int],
) -> int:
    """Return the amount where these bundles were applied. Errors: BadBasket if they do not fit."""
    full = _full(items, prices)
    by_key = {bundle.key: bundle for bundle in bundles}
    used: dict[str, int] = {}
    amount = full
    for key, count in counts.items():
        if key not in by_key:
            raise BadBasket("A bundle of this sale is not sold on this day.", where="bundles")
        bundle = by_key[key]
        amount -= (_full(bundle.items, prices) - bundle.asked) * count
        for name, each in bundle.items.items():
            used[name] = used.get(name, 0) + each * count
    if any(count > items.get(name, 0) for name, count in used.items()):
        raise BadBasket("This sale has fewer items than its bundles.", where="bundles")
    return amount


def _full(items: Mapping[str, int], prices: Mapping[str, int]) -> int:
    for name, count in items.items():
        if count < 0:
            raise BadBasket("Enter a number of items above 0.", where="items")
        if name not in prices:
            raise BadBasket("This item is not sold on this day.", where="items")
    return sum(count * prices[name] for name, count in items.items())


def _helpful(
    bundles: Sequence[TableBundle], prices: Mapping[str, int], rest: Mapping[str, int]
) -> list[tuple[int, TableBundle]]:
    """Return (saving, bundle) of those that fit and save something, largest saving first."""
    found = []
    for bundle in bundles:
        fits = bundle.items and all(
            each >= 1 and name in prices and each <= rest.get(name, 0)
            for name, each in bundle.items.items()
        )
        saving = _full(bundle.items, prices) - bundle.asked if fits else 0
        if saving > 0:
            found.append((saving, bundle))
    return sorted(found, key=lambda pair: (-pair[0], pair[1].key))


def _best(rest: dict[str, int], bundles: list[tuple[int, TableBundle]]) -> dict[str, int]:
    best: dict[str, int] = {}
    most, steps = 0, 0
    taken = [0] * len(bundles)

    def room(bundle: TableBundle) -> int:
        return min(rest[name] // each for name, each in bundle.items.items())

    def look(place: int, saved: int) -> None:
        nonlocal best, most, steps
        steps += 1
        if saved > most:
            most = saved
            best = {b.key: n for (_, b), n in zip(bundles, taken, strict=True) if n}
        if steps >= MOST_STEPS or place == len(bundles):
            return
        if saved + sum(saving * room(b) for saving, b in bundles[place:]) <= most:
            return
        saving, bundle = bundles[place]
        for count in range(room(bundle), -1, -1):
            for name, each in bundle.items.items():
                rest[name] -= each * count
            taken[place] = count
            look(place + 1, saved + saving * count)
            for name, each in bundle.items.items():
                rest[name] += each * count
        taken[place] = 0

    look(0, 0)
    return best
