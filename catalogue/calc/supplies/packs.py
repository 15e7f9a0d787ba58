"""Which whole packs to buy for a need, and what cash that takes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from catalogue.calc.recipes.recipe import PackOffer
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
# enough for any shelf of pack sizes; beyond it the best found so far is said to be just that
_MOST_TRIES = 50_000


class NoPackKnown(Refusal):
    """Nothing says how the material is sold."""


@dataclass(frozen=True, slots=True)
class PackCount:
    """So many packs of one size."""

    offer: PackOffer
    count: int


@dataclass(frozen=True, slots=True)
class PacksToBuy:
    """What to buy for one need. `cost` is None when no pack has a price.

    `left_over` is what is on the shelf afterwards of what was bought, and `is_cheapest` is False
    only when there are so many pack sizes that not every mixture was tried.
    """

    need: Decimal
    from_stock: Decimal
    packs: tuple[PackCount, ...]
    quantity: Decimal
    left_over: Decimal
    cost: Decimal | None
    is_cheapest: bool
    how: str = ""

    @property
    def count(self) -> int:
        """How many packs in all."""
        return sum(pack.count for pack in self.packs)


@with_working_precision
def packs_to_buy(
    need: Decimal, offers: Sequence[PackOffer], *, on_hand: Decimal = ZERO
) -> PacksToBuy:
    """Return the cheapest whole packs, of one or several sizes, that cover the need.

    `on_hand` is deducted first; below zero it counts as nothing. Of equally cheap mixtures the one
    that gives most is taken (what is over is there next time and costs nothing), then the one of
    fewest packs, then the one of the packs listed first. Packs without a price are left out,
    unless none has one: then the packs that leave the least over are taken and the cost is not
    known.
    Refuses a need below zero, and a need when there is no pack.
    """
    if not need.is_finite() or need < 0:
        raise Refusal("Enter a need of 0 or more.", where="need")
    from_stock = min(max(on_hand, ZERO), need)
    wanted = need - from_stock
    usable = [offer for offer in offers if offer.quantity > 0]
    if not wanted:
        return PacksToBuy(need, from_stock, (), ZERO, ZERO, ZERO, True)
    if not usable:
        raise NoPackKnown("Add a pack first.")
    priced = [offer for offer in usable if offer.price is not None]
    search = _Search(wanted, priced or usable, by_price=bool(priced))
    search.run()
    counts = {offer: count for offer, count in search.best_counts.items() if count}
    return packs_bought(need, from_stock, usable, counts, is_cheapest=search.tries <= _MOST_TRIES)


def packs_bought(
    need: Decimal,
    from_stock: Decimal,
    offers: Sequence[PackOffer],
    counts: Mapping[PackOffer, int],
    *,
    is_cheapest: bool = True,
) -> PacksToBuy:
    """Return these counts as what is bought, in the order of the offers."""
    packs = tuple(
        PackCount(offer, counts[offer]) for offer in dict.fromkeys(offers) if offer in counts
    )
    quantity = sum((pack.offer.quantity * pack.count for pack in packs), ZERO)
    prices = [pack.offer.price for pack in packs]
    known = [price for price in prices if price is not None]
    return PacksToBuy(
        need=need,
        from_stock=from_stock,
        packs=packs,
        quantity=quantity,
        left_over=quantity - (need - from_stock),
        cost=(
            sum((price * pack.count for price, pack in zip(known, packs, strict=True)), ZERO)
            if len(known) == len(prices)
            else None
        ),
        is_cheapest=is_cheapest,
    )


class _Search:
    """Branch and bound over the sizes; the size of best value fills what is left."""

    def __init__(self, wanted: Decimal, offers: Sequence[PackOffer], *, by_price: bool) -> None:
        # without prices every unit costs the same, so the cheapest buys the least
        costs = {o: (o.price if by_price and o.price is not None else o.quantity) for o in offers}
        useful = [
            offer
            for place, offer in enumerate(offers)
            if not any(
                _beats(costs[other], other.quantity, costs[offer], offer.quantity, earlier)
                for other, earlier in _others(offers, place)
            )
        ]
        useful.sort(key=lambda o: (costs[o] / o.quantity, -o.quantity))
        self.wanted, self.costs = wanted, costs
        self.filler, self.others = useful[0], useful[1:]
        self.unit_price = costs[self.filler] / self.filler.quantity
        self.tries = 0
        self.best: tuple[Decimal, Decimal, int] | None = None
        self.best_counts: dict[PackOffer, int] = {}

    def run(self) -> None:
        self._branch(0, self.wanted, ZERO, {})

    def _branch(
        self, level: int, left: Decimal, cost: Decimal, counts: dict[PackOffer, int]
    ) -> None:
        self.tries += 1
        if self.tries > _MOST_TRIES and self.best is not None:
            return
        if self.best is not None and cost + max(left, ZERO) * self.unit_price > self.best[0]:
            return
        if left <= 0 or level == len(self.others):
            fill = max(int((left / self.filler.quantity).to_integral_value(ROUND_CEILING)), 0)
            self._consider(left, cost, {**counts, self.filler: fill})
            return
        offer = self.others[level]
        most = int((left / offer.quantity).to_integral_value(ROUND_CEILING))
        for count in range(min(most, self._most(offer)) + 1):
            self._branch(
                level + 1,
                left - count * offer.quantity,
                cost + count * self.costs[offer],
                {**counts, offer: count},
            )

    def _most(self, offer: PackOffer) -> int:
        """Return how many of a pack can pay: more could be swapped for packs of best value."""
        return (Fraction(offer.quantity) / Fraction(self.filler.quantity)).denominator - 1

    def _consider(self, left: Decimal, cost: Decimal, counts: dict[PackOffer, int]) -> None:
        cost += counts[self.filler] * self.costs[self.filler]
        over = counts[self.filler] * self.filler.quantity - left
        if over >= min((o.quantity for o, count in counts.items() if count), default=over + 1):
            return  # a pack could be left out, if only a free one
        found = (cost, -over, sum(counts.values()))
        if self.best is None or found < self.best:
            self.best, self.best_counts = found, counts


def _others(offers: Sequence[PackOffer], place: int) -> list[tuple[PackOffer, bool]]:
    return [(offer, at < place) for at, offer in enumerate(offers) if at != place]


def _beats(
    cost: Decimal, quantity: Decimal, than_cost: Decimal, than_quantity: Decimal, earlier: bool
) -> bool:
    """Say whether a pack of the same size is cheaper, or as cheap and listed earlier."""
    return quantity == than_quantity and (cost, not earlier) < (than_cost, earlier)
