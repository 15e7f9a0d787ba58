"""What to buy for a whole list of needs: packs, reels, and what carriage adds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.recipes.recipe import MaterialValues
from catalogue.calc.reels.planning import Length, LengthTooLong
from catalogue.calc.supplies.packs import NoPackKnown, PacksToBuy, packs_bought, packs_to_buy
from catalogue.calc.supplies.postage import (
    Counts,
    SupplierTerms,
    WantedPacks,
    cheapest_with_carriage,
    goods_by_supplier,
    total_of,
)
from catalogue.calc.supplies.reel_use import reels_to_buy
from maker.calc import sums
from maker.calc.explanation import Line, plain_text, sum_line
from maker.calc.money import with_working_precision

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Need:
    """So much of a material is needed, in its recipe unit; `lengths` of it are cut from reels."""

    material: MaterialValues
    amount: Decimal
    lengths: tuple[Length, ...] = ()


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """One material of a shopping list; `problem` says why nothing can be bought."""

    material: MaterialValues
    bought: PacksToBuy | None
    problem: str
    line: Line


@dataclass(frozen=True, slots=True)
class SupplierOrder:
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
    orders: tuple[SupplierOrder, ...]
    cash: Decimal
    total: Decimal
    unpriced: tuple[str, ...]
    explanation: Line


@with_working_precision
def shopping_list(
    needs: Sequence[Need], *, deduct_stock: bool = False, terms: Sequence[SupplierTerms] = ()
) -> ShoppingList:
    """Return the packs to buy for every need, what is on hand deducted only when asked.

    Needs of one material are added up before whole packs are counted. With the terms of suppliers
    the whole list is bought so that packs and postage together cost the least; without them
    every material by itself. A material without a pack is listed with its problem instead of
    being refused.
    """
    amounts: dict[int | str, Need] = {}
    for need in needs:
        before = amounts.get(need.material.identity)
        amounts[need.material.identity] = _together(before, need) if before else need
    merged = list(amounts.values())
    tried = [_buy(need, deduct_stock=deduct_stock) for need in merged]
    bought = [each if isinstance(each, PacksToBuy) else None for each in tried]
    problems = ["" if isinstance(each, PacksToBuy) else each for each in tried]
    known = {each.name: each for each in terms}
    saved = ZERO
    if any(each.carriage for each in terms):
        bought, saved = _with_carriage(merged, bought, known)
    lines = tuple(
        _say(need, each, problem)
        for need, each, problem in zip(merged, bought, problems, strict=True)
    )
    priced = [line for line in lines if line.bought is not None and line.bought.cost is not None]
    unpriced = tuple(line.material.name for line in lines if line not in priced)
    orders = _orders(bought, known)
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
    carriage = sum_line(
        "carriage", [order.line for order in orders], unit="money", key="buy.carriage"
    )
    total = cash.number + carriage.number
    below = [*(line.line for line in lines), cash]
    if orders:
        how_total = "packs + postage"
        if saved:
            how_total += f"; {plain_text(saved, 2)} less than with every material by itself"
        below += [carriage, Line("packs and postage", total, "money", how_total, "buy.total")]
    explanation = Line("packs to buy", total, "money", how, "buy", tuple(below))
    return ShoppingList(lines, orders, cash.number, total, unpriced, explanation)


def _together(one: Need, other: Need) -> Need:
    lengths = {each.name: each for each in one.lengths}
    for each in other.lengths:
        name, number = each.name, 2
        while name in lengths:
            name, number = f"{each.name} ({number})", number + 1
        lengths[name] = replace(each, name=name)
    return Need(one.material, one.amount + other.amount, tuple(lengths.values()))


def _buy(need: Need, *, deduct_stock: bool) -> PacksToBuy | str:
    """Return what to buy for a need by itself, or why nothing can be bought."""
    material, on_hand = need.material, need.material.on_hand if deduct_stock else ZERO
    try:
        if need.lengths:
            return _buy_reels(need, on_hand)
        return packs_to_buy(need.amount, material.packs, on_hand=on_hand)
    except NoPackKnown:
        return f"Add a pack with a price to “{material.name}”."
    except LengthTooLong as too_long:
        return too_long.message


def _buy_reels(need: Need, on_hand: Decimal) -> PacksToBuy:
    """Buy whole reels for the lengths, and more where waste or use by the metre takes more."""
    reels = reels_to_buy(need.material, need.lengths, on_hand=on_hand)
    if reels is None:
        raise NoPackKnown("Add a pack first.")
    more = max(need.amount - reels.from_shelf - reels.from_bought, ZERO)
    from_shelf = min(more, max(on_hand - reels.from_shelf, ZERO))
    given = sum((offer.quantity * many for offer, many in reels.counts.items()), ZERO)
    missing = max(more - from_shelf - (given - reels.from_bought), ZERO)
    counts = dict(reels.counts)
    for offer, many in _counts(packs_to_buy(missing, need.material.packs)).items():
        counts[offer] = counts.get(offer, 0) + many
    bought = packs_bought(need.amount, reels.from_shelf + from_shelf, need.material.packs, counts)
    return replace(bought, how=reels.how)


def _with_carriage(
    needs: Sequence[Need],
    bought: Sequence[PacksToBuy | None],
    terms: Mapping[str, SupplierTerms],
) -> tuple[list[PacksToBuy | None], Decimal]:
    """Return the list bought so that carriage is counted too, and what that saves."""
    priced = [at for at, each in enumerate(bought) if each and each.packs and each.cost is not None]
    # reels are chosen for the lengths they hold, not by the metre
    places = [at for at in priced if not needs[at].lengths]
    fixed = [_counts(bought[at]) for at in priced if needs[at].lengths]
    apart = [_counts(bought[at]) for at in places]
    wanted = [
        WantedPacks(
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
    is_sure = all(each.is_cheapest for each in bought if each)
    if not wanted or (is_sure and _costs_least(wanted, goods_by_supplier([*apart, *fixed]), terms)):
        return list(bought), ZERO
    together = cheapest_with_carriage(wanted, terms, ordered=goods_by_supplier(fixed))
    if together is None:
        return list(bought), ZERO
    # the same suppliers, each material by its own rules for what costs the same
    used = goods_by_supplier(together)
    tidy = [
        _counts(packs_to_buy(each.amount, [o for o in each.offers if o.supplier in used]))
        for each in wanted
    ]

    def total(counts: Sequence[Counts]) -> Decimal:
        return total_of([*counts, *fixed], terms)

    best = min((apart, tidy, together), key=total)
    result = list(bought)
    for at, counts in zip(places, best, strict=True):
        before = bought[at]
        if before:
            result[at] = packs_bought(
                before.need, before.from_stock, needs[at].material.packs, counts
            )
    return result, total(apart) - total(best)


def _costs_least(
    wanted: Sequence[WantedPacks], goods: Mapping[str, Decimal], terms: Mapping[str, SupplierTerms]
) -> bool:
    """Say whether packs chosen for each need by itself cost the least with carriage as well.

    Where every need has one supplier, carriage is saved only by buying up to what makes it free,
    and that pays only where it is nearer than the carriage. False says nothing.
    """
    paid = [terms[name] for name in goods if name in terms and terms[name].carriage_on(goods[name])]
    if not paid:
        return True
    if any(len({offer.supplier for offer in each.offers}) > 1 for each in wanted):
        return False
    return all(
        each.free_from is None or each.free_from >= goods[each.name] + each.carriage
        for each in paid
    )


def _counts(bought: PacksToBuy | None) -> Counts:
    return {pack.offer: pack.count for pack in bought.packs} if bought else {}


def _orders(
    bought: Sequence[PacksToBuy | None], terms: Mapping[str, SupplierTerms]
) -> tuple[SupplierOrder, ...]:
    orders = []
    for name, goods in goods_by_supplier([_counts(each) for each in bought]).items():
        known = terms.get(name)
        if known is None or not known.carriage:
            continue
        carriage, to_free = known.carriage_on(goods), None
        how = sums.say("free from {}", sums.money(known.free_from or ZERO))
        if carriage and known.free_from is not None:
            to_free = known.free_from - goods
            how = sums.say(
                "{} of goods, {} more and it is free", sums.money(goods), sums.money(to_free)
            )
        elif carriage:
            how = sums.say("{} of goods", sums.money(goods))
        line = Line(f"postage from {name}", carriage, "money", how, f"buy.carriage.{name}")
        orders.append(SupplierOrder(name, goods, carriage, to_free, line))
    return tuple(orders)


def _say(need: Need, bought: PacksToBuy | None, problem: str) -> ShoppingLine:
    material = need.material
    key = f"buy.{material.name}"
    if bought is None:
        return ShoppingLine(
            material, None, problem, Line(f"packs of {material.name}", 0, "pack", problem, key)
        )
    said: list[sums.How | str] = [sums.say("{} needed", sums.amount(need.amount, material.unit))]
    if bought.from_stock:
        said = [sums.say("{}, {} in stock", *said, sums.quantity(bought.from_stock, material.unit))]
    said += [f"{pack.count} x {pack.offer.name}" for pack in bought.packs]
    if bought.how:
        said.append(bought.how)
    if not bought.is_cheapest:
        said.append("not every mixture of sizes was tried")
    how = sums.joined("; ", said)
    cost = Line(f"{material.name}: packs", bought.cost or ZERO, "money", how=_sum_of(bought))
    problem = "" if bought.cost is not None else f"No pack of “{material.name}” has a price."
    line = Line(f"packs of {material.name}", bought.count, "pack", how, key, (cost,))
    return ShoppingLine(material, bought, problem, line)


def _sum_of(bought: PacksToBuy) -> sums.How:
    packs = [
        sums.number(pack.count) * sums.money(pack.offer.price)
        for pack in bought.packs
        if pack.offer.price is not None
    ]
    return sums.joined(" + ", packs)
