"""Which whole packs to buy for a need, and what cash that takes."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from catalogue.calc.recipe import MaterialValues, PackOffer
from maker.calc.explanation import Line, plain_text, shown, sum_line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
# enough for any shelf of pack sizes; beyond it the best found so far is said to be just that
_MOST_TRIES = 50_000


class NoPackKnown(Refusal):
    """Nothing says how the material is sold."""


@dataclass(frozen=True, slots=True)
class Need:
    """So much of a material is needed, in its recipe unit."""

    material: MaterialValues
    amount: Decimal


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

    @property
    def count(self) -> int:
        """How many packs in all."""
        return sum(pack.count for pack in self.packs)


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """One material of a shopping list; `problem` says why nothing can be bought."""

    material: MaterialValues
    bought: PacksToBuy | None
    problem: str
    line: Line


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """Packs for every need and the cash they take; `unpriced` names what has no price."""

    lines: tuple[ShoppingLine, ...]
    cash: Decimal
    unpriced: tuple[str, ...]
    explanation: Line


@with_working_precision
def packs_to_buy(
    need: Decimal, offers: Sequence[PackOffer], *, on_hand: Decimal = ZERO
) -> PacksToBuy:
    """Return the cheapest whole packs, of one or several sizes, that cover the need.

    `on_hand` is deducted first; below zero it counts as nothing. Of equally cheap mixtures the one
    that leaves the least over is taken, then the one of fewest packs, then the one of the packs
    listed first. Packs without a price are left out, unless none has one: then the packs that
    leave the least over are taken and the cost is not known.
    Refuses a need below zero, and a need when there is no pack.
    """
    if not need.is_finite() or need < 0:
        raise Refusal("A need must be zero or more.", where="need")
    from_stock = min(max(on_hand, ZERO), need)
    wanted = need - from_stock
    usable = [offer for offer in offers if offer.quantity > 0]
    if not wanted:
        return PacksToBuy(need, from_stock, (), ZERO, ZERO, ZERO, True)
    if not usable:
        raise NoPackKnown("Nothing says how it is sold: give it a pack.")
    priced = [offer for offer in usable if offer.price is not None]
    search = _Search(wanted, priced or usable, by_price=bool(priced))
    search.run()
    packs = tuple(
        PackCount(offer, count)
        for offer, count in sorted(
            search.best_counts.items(), key=lambda item: usable.index(item[0])
        )
        if count
    )
    quantity = sum((pack.offer.quantity * pack.count for pack in packs), ZERO)
    cost = sum(((pack.offer.price or ZERO) * pack.count for pack in packs), ZERO)
    return PacksToBuy(
        need=need,
        from_stock=from_stock,
        packs=packs,
        quantity=quantity,
        left_over=quantity - wanted,
        cost=cost if priced else None,
        is_cheapest=search.tries <= _MOST_TRIES,
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
        found = (cost, over, sum(counts.values()))
        if self.best is None or found < self.best:
            self.best, self.best_counts = found, counts


def _others(offers: Sequence[PackOffer], place: int) -> list[tuple[PackOffer, bool]]:
    return [(offer, at < place) for at, offer in enumerate(offers) if at != place]


def _beats(
    cost: Decimal, quantity: Decimal, than_cost: Decimal, than_quantity: Decimal, earlier: bool
) -> bool:
    """Say whether a pack of the same size is cheaper, or as cheap and listed earlier."""
    return quantity == than_quantity and (cost, not earlier) < (than_cost, earlier)


@with_working_precision
def shopping_list(needs: Sequence[Need], *, deduct_stock: bool = False) -> ShoppingList:
    """Return the packs to buy for every need, what is on hand deducted only when asked.

    Needs of one material are added up before whole packs are counted. A material without a pack
    is listed with its problem instead of being refused.
    """
    amounts: dict[int | str, Need] = {}
    for need in needs:
        before = amounts.get(need.material.identity)
        amount = need.amount + (before.amount if before else ZERO)
        amounts[need.material.identity] = Need(need.material, amount)
    lines = tuple(_shop(need, deduct_stock=deduct_stock) for need in amounts.values())
    priced = [line for line in lines if line.bought is not None and line.bought.cost is not None]
    unpriced = tuple(line.material.name for line in lines if line not in priced)
    how = "postage not included"
    if unpriced:
        how += f"; no price known for {', '.join(unpriced)}"
    cash = sum_line(
        "cash for packs",
        [line.line.lines[0] for line in priced],
        unit="money",
        key="buy.cash",
        how=how,
    )
    explanation = Line(
        "packs to buy",
        cash.value,
        "money",
        how,
        "buy",
        (*(line.line for line in lines), cash),
    )
    return ShoppingList(lines, cash.number, unpriced, explanation)


def _shop(need: Need, *, deduct_stock: bool) -> ShoppingLine:
    material = need.material
    on_hand = material.on_hand if deduct_stock else ZERO
    key = f"buy.{material.name}"
    try:
        bought = packs_to_buy(need.amount, material.packs, on_hand=on_hand)
    except NoPackKnown:
        problem = f"Nothing says how “{material.name}” is sold: give it a pack with a price."
        return ShoppingLine(
            material, None, problem, Line(f"packs of {material.name}", 0, "pack", problem, key)
        )
    how = f"{shown(need.amount)} {material.unit} needed"
    if bought.from_stock:
        how += f", {shown(bought.from_stock)} on hand"
    how += "".join(f"; {pack.count} x {pack.offer.name}" for pack in bought.packs)
    if not bought.is_cheapest:
        how += "; not every mixture of sizes was tried"
    cost = Line(f"{material.name}: packs", bought.cost or ZERO, "money", how=_sum_of(bought))
    problem = "" if bought.cost is not None else f"No pack of “{material.name}” has a price."
    line = Line(f"packs of {material.name}", bought.count, "pack", how, key, (cost,))
    return ShoppingLine(material, bought, problem, line)


def _sum_of(bought: PacksToBuy) -> str:
    return " + ".join(
        f"{pack.count} x {plain_text(pack.offer.price, 2)}"
        for pack in bought.packs
        if pack.offer.price is not None
    )
