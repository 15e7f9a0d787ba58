"""Which whole packs to buy for a need, and what cash that takes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from catalogue.calc.carriage import (
    Counts,
    SupplierTerms,
    Wanted,
    cheapest_with_carriage,
    goods_by_supplier,
    total_of,
)
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
class Order:
    """What is ordered from one supplier: value of the goods, carriage, and how it could be free.

    `to_free` is what is missing to free carriage; None when it is free already or never is.
    """

    supplier: str
    goods: Decimal
    carriage: Decimal
    to_free: Decimal | None
    line: Line


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """Packs for every need and the cash they take; `unpriced` names what has no price.

    `cash` is for the packs alone, `total` with the carriage of every order.
    """

    lines: tuple[ShoppingLine, ...]
    orders: tuple[Order, ...]
    cash: Decimal
    total: Decimal
    unpriced: tuple[str, ...]
    explanation: Line


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
    counts = {offer: count for offer, count in search.best_counts.items() if count}
    return _bought(need, from_stock, usable, counts, is_cheapest=search.tries <= _MOST_TRIES)


def _bought(
    need: Decimal,
    from_stock: Decimal,
    offers: Sequence[PackOffer],
    counts: Counts,
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


@with_working_precision
def shopping_list(
    needs: Sequence[Need], *, deduct_stock: bool = False, terms: Sequence[SupplierTerms] = ()
) -> ShoppingList:
    """Return the packs to buy for every need, what is on hand deducted only when asked.

    Needs of one material are added up before whole packs are counted. With the terms of suppliers
    the whole list is bought so that packs and carriage together cost the least; without them
    every material by itself. A material without a pack is listed with its problem instead of
    being refused.
    """
    amounts: dict[int | str, Need] = {}
    for need in needs:
        before = amounts.get(need.material.identity)
        amount = need.amount + (before.amount if before else ZERO)
        amounts[need.material.identity] = Need(need.material, amount)
    merged = list(amounts.values())
    bought = [_buy(need, deduct_stock=deduct_stock) for need in merged]
    known = {each.name: each for each in terms}
    saved = ZERO
    if any(each.carriage for each in terms):
        bought, saved = _with_carriage(merged, bought, known)
    lines = tuple(_say(need, each) for need, each in zip(merged, bought, strict=True))
    priced = [line for line in lines if line.bought is not None and line.bought.cost is not None]
    unpriced = tuple(line.material.name for line in lines if line not in priced)
    orders = _orders(bought, known)
    how = "carriage not included" if orders else "postage not included"
    if unpriced:
        how += f"; no price known for {', '.join(unpriced)}"
    cash = sum_line(
        "cash for packs",
        [line.line.lines[0] for line in priced],
        unit="money",
        key="buy.cash",
        how=how,
    )
    carriage = sum_line(
        "carriage", [order.line for order in orders], unit="money", key="buy.carriage"
    )
    total = cash.number + carriage.number
    below = [*(line.line for line in lines), cash]
    if orders:
        how_total = "packs + carriage"
        if saved:
            how_total += f"; {plain_text(saved, 2)} less than with every material by itself"
        below += [carriage, Line("packs and carriage", total, "money", how_total, "buy.total")]
    explanation = Line("packs to buy", total, "money", how, "buy", tuple(below))
    return ShoppingList(lines, orders, cash.number, total, unpriced, explanation)


def _buy(need: Need, *, deduct_stock: bool) -> PacksToBuy | None:
    on_hand = need.material.on_hand if deduct_stock else ZERO
    try:
        return packs_to_buy(need.amount, need.material.packs, on_hand=on_hand)
    except NoPackKnown:
        return None


def _with_carriage(
    needs: Sequence[Need],
    bought: Sequence[PacksToBuy | None],
    terms: Mapping[str, SupplierTerms],
) -> tuple[list[PacksToBuy | None], Decimal]:
    """Return the list bought so that carriage is counted too, and what that saves."""
    places = [at for at, each in enumerate(bought) if each and each.packs and each.cost is not None]
    apart = [_counts(bought[at]) for at in places]
    wanted = [
        Wanted(
            amount=each.need - each.from_stock,
            offers=tuple(
                offer
                for offer in dict.fromkeys(needs[at].material.packs)
                if offer.quantity > 0 and offer.price is not None
            ),
        )
        for at in places
        for each in (bought[at],)
        if each
    ]
    if not wanted:
        return list(bought), ZERO
    together = cheapest_with_carriage(wanted, terms)
    if together is None:
        return list(bought), ZERO
    # the same suppliers, each material by its own rules for what costs the same
    used = goods_by_supplier(together)
    tidy = [
        _counts(packs_to_buy(each.amount, [o for o in each.offers if o.supplier in used]))
        for each in wanted
    ]
    best = min((apart, tidy, together), key=lambda counts: total_of(counts, terms))
    result = list(bought)
    for at, counts in zip(places, best, strict=True):
        before = bought[at]
        if before:
            result[at] = _bought(before.need, before.from_stock, needs[at].material.packs, counts)
    return result, total_of(apart, terms) - total_of(best, terms)


def _counts(bought: PacksToBuy | None) -> Counts:
    return {pack.offer: pack.count for pack in bought.packs} if bought else {}


def _orders(
    bought: Sequence[PacksToBuy | None], terms: Mapping[str, SupplierTerms]
) -> tuple[Order, ...]:
    orders = []
    for name, goods in goods_by_supplier([_counts(each) for each in bought]).items():
        known = terms.get(name)
        if known is None or not known.carriage:
            continue
        carriage, to_free = known.carriage_on(goods), None
        how = f"free from {plain_text(known.free_from or ZERO, 2)}"
        if carriage and known.free_from is not None:
            to_free = known.free_from - goods
            how = f"{plain_text(goods, 2)} of goods, {plain_text(to_free, 2)} more and it is free"
        elif carriage:
            how = f"{plain_text(goods, 2)} of goods"
        line = Line(f"carriage from {name}", carriage, "money", how, f"buy.carriage.{name}")
        orders.append(Order(name, goods, carriage, to_free, line))
    return tuple(orders)


def _say(need: Need, bought: PacksToBuy | None) -> ShoppingLine:
    material = need.material
    key = f"buy.{material.name}"
    if bought is None:
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
