"""How many of an item to take to a fair: the newsvendor's question.

Take as many as have a chance of being enough of u / (u + o), where u is what one more sale gains
and o what one left over loses. Source: Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd
ed., Wiley 2019, section 4.3.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from maker.calc.money import with_working_precision
from pricing.calc.fairs.demand import (
    Chances,
    chance_of_enough,
    enough_for,
    mean_of,
    sold_of,
    sold_up_to,
    together,
)


@dataclass(frozen=True, slots=True)
class FairItem:
    """An item at the table, a price with tax in it. Money unrounded but for prices.

    `card_share` of the items are paid by card, with `payments_each` payments for each of them seen
    before. `worth_after` is what one left over is worth after the season, `handling` what bringing
    it home costs.
    """

    name: str
    price: Decimal
    cost: Decimal
    bag: Decimal
    card_share: Decimal
    payments_each: Decimal
    worth_after: Decimal
    handling: Decimal


@dataclass(frozen=True, slots=True)
class FairRates:
    """What each sale pays away: tax inside prices (a share), a card fee and its fixed part.

    `commission` is the share of takings without tax that whoever runs the stall keeps.
    """

    tax_rate: Decimal
    fee_share: Decimal
    fee_fixed: Decimal
    commission: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class OneMore:
    """What one more of an item gains when it sells and loses when it is left over."""

    net_price: Decimal
    planned_fee: Decimal
    gain: Decimal
    loss: Decimal

    @property
    def ratio(self) -> Fraction:
        """Return the chance of being enough that is worth stocking for, 0 to 1."""
        if self.gain <= 0:
            return Fraction(0)
        if self.loss <= 0:
            return Fraction(1)
        return Fraction(self.gain) / (Fraction(self.gain) + Fraction(self.loss))


@dataclass(frozen=True, slots=True)
class Taking:
    """How many to take of one item for a season of days, and how sure that is."""

    one_more: OneMore
    season: Chances
    count: int
    count_if_alike: int

    @property
    def mean(self) -> Fraction:
        """Return the demand to be expected."""
        return mean_of(self.season)

    @property
    def chance(self) -> Fraction:
        """Return the chance that the count is enough."""
        return chance_of_enough(self.season, self.count)

    @property
    def chance_with_one_less(self) -> Fraction:
        """Return the chance that one less is enough."""
        return chance_of_enough(self.season, self.count - 1)

    def gain_of(self, count: int) -> Decimal:
        """Return the gain to be expected when so many are taken."""
        return expected_gain(self.season, count, self.one_more)

    @with_working_precision
    def gains_up_to(self, most: int) -> list[Decimal]:
        """Return the gains to be expected when none are taken, one, and so on."""
        sold = sold_up_to(self.season, most)
        return [_gain(each, count, self.one_more) for count, each in enumerate(sold)]


@with_working_precision
def one_more_of(item: FairItem, rates: FairRates) -> OneMore:
    """Return what one more sale gains and what one left over loses."""
    net = item.price / (1 + rates.tax_rate)
    fee = item.card_share * (item.price * rates.fee_share + rates.fee_fixed * item.payments_each)
    return OneMore(
        net_price=net,
        planned_fee=fee,
        gain=net * (1 - rates.commission) - fee - item.bag - item.cost,
        loss=item.cost - item.worth_after + item.handling,
    )


def what_to_take(item: FairItem, days: Sequence[Chances], rates: FairRates) -> Taking:
    """Return how many to take for days that have nothing to do with each other.

    `count_if_alike` is for days that are good or bad together, the other extreme.
    """
    one_more = one_more_of(item, rates)
    season = together(days)
    return Taking(
        one_more=one_more,
        season=season,
        count=enough_for(season, one_more.ratio),
        count_if_alike=sum(enough_for(day, one_more.ratio) for day in days),
    )


@with_working_precision
def expected_gain(season: Chances, count: int, one_more: OneMore) -> Decimal:
    """Return gain x what sells - loss x what is left over, as expected."""
    return _gain(sold_of(season, count), count, one_more)


def _gain(sold: Fraction, count: int, one_more: OneMore) -> Decimal:
    return one_more.gain * exact(sold) - one_more.loss * exact(count - sold)


@with_working_precision
def exact(fraction: Fraction) -> Decimal:
    """Return a fraction with 34 digits."""
    return Decimal(fraction.numerator) / Decimal(fraction.denominator)
