"""What to buy now of one material: use a week with its season, when to order, and how much.

When: stock, less what is reserved, plus what is coming, has fallen to the reorder point of
`reorder`. How much: the cheapest order of `reorder`, or what is missing where that is more.
Season: what the same weeks used a year ago, beside the half year before them.
"""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import NormalDist

from catalogue.calc.recipes.recipe import PackOffer
from catalogue.calc.supplies.reorder import (
    OrderCosts,
    OrderSize,
    ReorderPoint,
    order_size,
    reorder_point,
)
from maker.calc.money import whole_up, with_working_precision

ZERO = Decimal(0)
WEEK = 7
YEAR_WEEKS = 52
# what use a week is taken from; fewer than the least say nothing of how use varies
LEVEL_WEEKS = 26
LEAST_WEEKS = 6
# a season is looked for this far ahead, and never counts more than this: common practice, no source
SEASON_WEEKS = 8
SEASON_AT_MOST = Decimal(3)
HISTORY_WEEKS = YEAR_WEEKS + LEVEL_WEEKS
MOST_PACKS = 400
EVEN, NEARLY_CERTAIN = Decimal("0.5"), Decimal("0.9999")


@dataclass(frozen=True, slots=True)
class UseAhead:
    """Use of the last weeks, the oldest first, as it is to be expected in the weeks to come.

    `season` is the factor it was multiplied by, None where less than a year and a half is known.
    `year_use` is that of the last year, or of a year like the weeks that are known.
    """

    weekly: tuple[Decimal, ...]
    season: Decimal | None
    year_use: Decimal

    @property
    def mean(self) -> Decimal:
        """Return the use of a week."""
        return sum(self.weekly, ZERO) / len(self.weekly)


@dataclass(frozen=True, slots=True)
class Lead:
    """Days a delivery takes, and their standard deviation."""

    days: int
    spread_days: int = 0

    @property
    def weeks(self) -> Decimal:
        """Return the days as weeks."""
        return Decimal(self.days) / WEEK


@dataclass(frozen=True, slots=True)
class BuyingRules:
    """Chance that stock lasts, cost of ordering a material, holding as a share of price a year."""

    chance: Decimal
    order_cost: Decimal
    holding: Decimal


@dataclass(frozen=True, slots=True)
class Position:
    """Where a material stands: in stock, reserved for orders, needed for fairs, coming.

    `level` is what she wants to have in any case.
    """

    in_stock: Decimal
    reserved: Decimal = ZERO
    for_fairs: Decimal = ZERO
    coming: Decimal = ZERO
    level: Decimal = ZERO

    @property
    def free(self) -> Decimal:
        """Return what is there and coming that nothing has a claim on; below zero it is short."""
        return self.in_stock - self.reserved - self.for_fairs + self.coming


@dataclass(frozen=True, slots=True)
class ToBuy:
    """How much to buy (zero: nothing now), and why.

    `point` is None where too little use is known; `size` where no cheapest order can be told, or
    nothing is bought.
    """

    amount: Decimal
    position: Position
    use: UseAhead | None
    point: ReorderPoint | None
    size: OrderSize | None

    @property
    def reorder_at(self) -> Decimal:
        """Return the stock at which to order: her own level where that is higher."""
        return max(self.position.level, self.point.point if self.point else ZERO)


def weekly_use(
    used: Iterable[tuple[datetime.date, Decimal]], known_since: datetime.date, on: datetime.date
) -> tuple[Decimal, ...]:
    """Return what was used in each whole week before a day, the oldest first.

    `used` are days with what left the shelf, below zero what counts found more. A week that found
    more than it used counts as none.
    """
    count = min(max((on - known_since).days // WEEK, 0), HISTORY_WEEKS)
    weeks = [ZERO] * count
    for day, amount in used:
        ago = (on - day).days - 1
        if 0 <= ago < count * WEEK:
            weeks[count - 1 - ago // WEEK] += amount
    return tuple(max(week, ZERO) for week in weeks)


@with_working_precision
def use_ahead(weekly: Sequence[Decimal]) -> UseAhead | None:
    """Return the use to be expected; None where fewer than six weeks are known or none used."""
    recent = tuple(weekly[-LEVEL_WEEKS:])
    if len(recent) < LEAST_WEEKS or not any(recent):
        return None
    season = _season(weekly)
    year = weekly[-YEAR_WEEKS:]
    return UseAhead(
        weekly=tuple(week * (1 if season is None else season) for week in recent),
        season=season,
        year_use=sum(year, ZERO) * YEAR_WEEKS / len(year),
    )


def _season(weekly: Sequence[Decimal]) -> Decimal | None:
    """Return what the coming weeks used a year ago beside the half year before them."""
    if len(weekly) < HISTORY_WEEKS:
        return None
    then = weekly[-YEAR_WEEKS : SEASON_WEEKS - YEAR_WEEKS]
    before = weekly[-HISTORY_WEEKS:-YEAR_WEEKS]
    if not any(before) or not any(then):
        return None
    factor = (sum(then, ZERO) / len(then)) / (sum(before, ZERO) / len(before))
    return min(max(factor, 1 / SEASON_AT_MOST), SEASON_AT_MOST)


def z_of(chance: Decimal) -> Decimal:
    """Return the standard score below which a normal value lies with this chance, six decimals.

    Nothing is certain: a chance of nearly 1 is the most, an even one the least.
    """
    bounded = min(max(chance, EVEN), NEARLY_CERTAIN)
    return Decimal(str(round(NormalDist().inv_cdf(float(bounded)), 6)))


@with_working_precision
def to_buy(
    position: Position,
    use: UseAhead | None,
    lead: Lead,
    offers: Sequence[PackOffer],
    rules: BuyingRules,
) -> ToBuy:
    """Return how much to buy of a material now, in its own unit."""
    point = None
    if use is not None:
        spread = Decimal(lead.spread_days) / WEEK
        point = reorder_point(use.weekly, lead.weeks, z_of(rules.chance), spread)
    found = ToBuy(ZERO, position, use, point, None)
    is_short = position.free < 0
    is_low = found.reorder_at > 0 and position.free <= found.reorder_at
    if not (is_short or is_low):
        return found
    size = _size(use, offers, rules)
    missing = found.reorder_at - position.free
    amount = max(missing, size.quantity if size else ZERO)
    # what is exactly at its level still has to be ordered: a pack of it
    return ToBuy(amount or _smallest(offers), position, use, point, size)


def _smallest(offers: Sequence[PackOffer]) -> Decimal:
    return min((offer.quantity for offer in offers), default=Decimal(1))


def _size(
    use: UseAhead | None, offers: Sequence[PackOffer], rules: BuyingRules
) -> OrderSize | None:
    """Return the cheapest order in whole smallest packs; larger packs are its price breaks."""
    priced = [(offer, offer.price) for offer in offers if offer.price]
    if use is None or not priced or not (rules.order_cost and rules.holding):
        return None
    pack = min(offer.quantity for offer, _ in priced)
    breaks: list[tuple[Decimal, Decimal]] = []
    for offer, price in sorted(priced, key=lambda each: (each[0].quantity, each[1])):
        unit = price / offer.quantity
        if not breaks:
            breaks.append((ZERO, unit))
        elif unit < breaks[-1][1]:
            breaks.append((offer.quantity, unit))
    year_use = use.year_use
    # never more than a year's use at once
    most = min(max(int(whole_up(year_use / pack)), 1), MOST_PACKS)
    return order_size(
        OrderCosts(
            year_use=year_use,
            order_cost=rules.order_cost,
            holding=rules.holding,
            breaks=tuple(breaks),
            pack=pack,
            most_packs=most,
        )
    )
