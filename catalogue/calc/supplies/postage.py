"""Buys a whole list over several suppliers, so that packs and postage together cost the least."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction
from typing import Any

from catalogue.calc.cutting.highs import RunLeft, new_model, run_watched
from catalogue.calc.cutting.watch import Course
from catalogue.calc.recipes.recipe import PackOffer

ZERO = Decimal(0)
SECONDS = 1.0
# packs bought on top of a need only to reach free carriage
MOST_ON_TOP = 200


@dataclass(frozen=True, slots=True)
class SupplierTerms:
    """What a supplier asks to send an order, and from what value of goods on nothing."""

    name: str
    carriage: Decimal
    free_from: Decimal | None = None

    def carriage_on(self, goods: Decimal) -> Decimal:
        """Return the carriage of an order of this value."""
        if not goods or (self.free_from is not None and goods >= self.free_from):
            return ZERO
        return self.carriage


@dataclass(frozen=True, slots=True)
class WantedPacks:
    """An amount to cover with priced packs of these offers."""

    amount: Decimal
    offers: tuple[PackOffer, ...]


Counts = dict[PackOffer, int]


def goods_by_supplier(bought: Sequence[Counts]) -> dict[str, Decimal]:
    """Return what is spent on packs at each supplier, in the order they first appear."""
    goods: dict[str, Decimal] = {}
    for counts in bought:
        for offer, count in counts.items():
            if count:
                goods[offer.supplier] = goods.get(offer.supplier, ZERO) + count * (
                    offer.price or ZERO
                )
    return goods


def total_of(bought: Sequence[Counts], terms: Mapping[str, SupplierTerms]) -> Decimal:
    """Return what packs and postage cost together."""
    return sum(
        (
            goods + (terms[name].carriage_on(goods) if name in terms else ZERO)
            for name, goods in goods_by_supplier(bought).items()
        ),
        ZERO,
    )


def cheapest_with_carriage(
    wanted: Sequence[WantedPacks],
    terms: Mapping[str, SupplierTerms],
    *,
    ordered: Mapping[str, Decimal],
) -> tuple[Counts, ...] | None:
    """Return packs for each amount that cost least with carriage; None when not found in time.

    A supplier is left out when what it saves is less than its carriage, and more is bought than
    needed where that costs less than the carriage it saves. `ordered` is the value of goods that
    come from a supplier in any case.
    """
    offers = [(at, offer) for at, each in enumerate(wanted) for offer in each.offers]
    unit = _price_unit([*(offer.price or ZERO for _, offer in offers)], terms)
    suppliers = list(dict.fromkeys(offer.supplier for _, offer in offers))
    paying = [name for name in suppliers if name in terms and terms[name].carriage > 0]
    model = new_model()
    _add_columns(model, wanted, offers, terms, unit)
    _add_rows(model, wanted, offers, terms, unit, [(name, ordered.get(name)) for name in paying])
    import highspy

    columns = model.getNumCol()
    model.changeColsIntegrality(
        columns, list(range(columns)), [highspy.HighsVarType.kInteger] * columns
    )
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 0.5)
    try:
        run_watched(model, SECONDS, Course(SECONDS))
    except RunLeft:
        return None
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    values = model.getSolution().col_value
    bought: list[Counts] = [{} for _ in wanted]
    for place, (at, offer) in enumerate(offers):
        if round(values[place]) > 0:
            bought[at][offer] = round(values[place])
    covers = all(
        sum((offer.quantity * count for offer, count in counts.items()), ZERO) >= each.amount
        for each, counts in zip(wanted, bought, strict=True)
    )
    return tuple(bought) if covers else None


def _price_unit(prices: Sequence[Decimal], terms: Mapping[str, SupplierTerms]) -> Fraction:
    """Return the largest amount of money that divides all prices, so that costs are whole."""
    amounts = [Fraction(price) for price in prices]
    for each in terms.values():
        amounts += [Fraction(each.carriage), Fraction(each.free_from or ZERO)]
    denominator = math.lcm(*(amount.denominator for amount in amounts))
    common = math.gcd(*(int(amount * denominator) for amount in amounts))
    return Fraction(common or 1, denominator)


def _most(each: WantedPacks, offer: PackOffer, terms: Mapping[str, SupplierTerms]) -> int:
    """Return how many packs can be of use: for the need alone, or to reach free carriage."""
    most = int((each.amount / offer.quantity).to_integral_value(ROUND_CEILING))
    free_from = terms[offer.supplier].free_from if offer.supplier in terms else None
    if free_from and offer.price:
        on_top = int((free_from / offer.price).to_integral_value(ROUND_CEILING))
        most += min(on_top, MOST_ON_TOP)
    return most


def _add_columns(
    model: Any,
    wanted: Sequence[WantedPacks],
    offers: Sequence[tuple[int, PackOffer]],
    terms: Mapping[str, SupplierTerms],
    unit: Fraction,
) -> None:
    """Add how many of each pack, then for each paying supplier: is ordered from, is paid for."""
    for at, offer in offers:
        cost = float(Fraction(offer.price or ZERO) / unit)
        model.addCol(cost, 0.0, float(_most(wanted[at], offer, terms)), 0, [], [])
    for name in dict.fromkeys(offer.supplier for _, offer in offers):
        if name in terms and terms[name].carriage > 0:
            model.addCol(0.0, 0.0, 1.0, 0, [], [])
            model.addCol(float(Fraction(terms[name].carriage) / unit), 0.0, 1.0, 0, [], [])


def _add_rows(
    model: Any,
    wanted: Sequence[WantedPacks],
    offers: Sequence[tuple[int, PackOffer]],
    terms: Mapping[str, SupplierTerms],
    unit: Fraction,
    paying: Sequence[tuple[str, Decimal | None]],
) -> None:
    for at, each in enumerate(wanted):
        places = [place for place, (of, _) in enumerate(offers) if of == at]
        # in needs, so that a tolerance means the same for sheets and for millilitres
        share = [float(offers[place][1].quantity / each.amount) for place in places]
        model.addRow(1.0, math.inf, len(places), places, share)
    for number, (name, before) in enumerate(paying):
        is_used, is_paid = len(offers) + 2 * number, len(offers) + 2 * number + 1
        if before:
            model.changeColBounds(is_used, 1.0, 1.0)
        places = [place for place, (_, offer) in enumerate(offers) if offer.supplier == name]
        for place in places:
            at, offer = offers[place]
            most = float(_most(wanted[at], offer, terms))
            model.addRow(-math.inf, 0.0, 2, [place, is_used], [1.0, -most])
        free_from = terms[name].free_from
        if free_from is None:
            model.addRow(0.0, math.inf, 2, [is_used, is_paid], [-1.0, 1.0])
            continue
        # goods >= free_from, unless the carriage is paid or nothing is ordered
        least = float(Fraction(free_from) / unit)
        prices = [float(Fraction(offers[place][1].price or ZERO) / unit) for place in places]
        model.addRow(
            -float(Fraction(before or ZERO) / unit),
            math.inf,
            len(places) + 2,
            [*places, is_used, is_paid],
            [*prices, -least, least],
        )
