"""A day at a fair: takings, tax, fees, the till, what sold, and what the day paid.

Tax is taken once out of the day's takings, the commission of a stall once out of what is left of
them, card fees of each payment by itself, all halves up. A deposit for an order is not takings.
What is paid out of the till only moves money.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_FLOOR, Decimal

from maker.calc.money import minor_unit, to_minor, with_working_precision
from pricing.calc.fairs.what_to_take import FairRates
from pricing.calc.price.fees import fee_of
from pricing.calc.price.tax import tax_inside

ZERO = Decimal(0)
Coins = Mapping[Decimal, int]


@dataclass(frozen=True, slots=True)
class Sale:
    """`times` equal payments: what was handed over by item, and the amount of each payment.

    An amount below zero is money paid back where nobody knows for which item.
    """

    by_card: bool
    items: Mapping[str, int]
    amount: Decimal
    times: int = 1


@dataclass(frozen=True, slots=True)
class Refund:
    """An item that came back; a card's fee does not. What is not spoiled is sold again."""

    by_card: bool
    item: str
    amount: Decimal
    is_spoiled: bool = True


@dataclass(frozen=True, slots=True)
class ItemCost:
    """What an item that leaves the table costs, and its bag."""

    cost: Decimal
    bag: Decimal


@dataclass(frozen=True, slots=True)
class DayCosts:
    """What a day costs whatever sells, and its hours of preparing, driving, standing, packing."""

    stall: Decimal = ZERO
    travel: Decimal = ZERO
    other: Decimal = ZERO
    hours: Decimal = ZERO

    @property
    def fixed(self) -> Decimal:
        """Return all of the costs."""
        return self.stall + self.travel + self.other


@dataclass(frozen=True, slots=True)
class Till:
    """What lay in the till. `difference` above zero is over, below it short."""

    float_amount: Decimal
    expected: Decimal
    counted: Decimal

    @property
    def difference(self) -> Decimal:
        """Return counted - expected: shown and booked, never forced into takings."""
        return self.counted - self.expected

    @property
    def to_bank(self) -> Decimal:
        """Return what is taken out in the evening; the float stays."""
        return self.counted - self.float_amount


@dataclass(frozen=True, slots=True)
class DayAtTable:
    """What happened at the table in a day; `missing` are items nobody can account for."""

    sales: Sequence[Sale]
    float_coins: Coins
    counted: Coins
    costs: DayCosts
    refunds: Sequence[Refund] = ()
    deposits_in_cash: Sequence[Decimal] = ()
    paid_out: Sequence[Decimal] = ()
    missing: Mapping[str, int] | None = None


@dataclass(frozen=True, slots=True)
class FairDay:
    """The figures of a day; money, unrounded where it is at unit cost."""

    handed_over: Mapping[str, int]
    refunded_items: int
    payments: int
    refunded: Decimal
    card: Decimal
    cash: Decimal
    tax: Decimal
    fees: Decimal
    commission: Decimal
    cost_of_items: Decimal
    bags: Decimal
    fixed: Decimal
    hours: Decimal
    missing: Decimal
    till: Till

    @property
    def takings(self) -> Decimal:
        """Return what was taken, after refunds."""
        return self.card + self.cash

    @property
    def left_before_fixed(self) -> Decimal:
        """Return what sales left after tax, fees, commission, items and bags."""
        paid_away = self.tax + self.fees + self.commission
        return self.takings - paid_away - self.cost_of_items - self.bags

    @property
    def profit(self) -> Decimal:
        """Return what the day left after everything; her making wage is inside unit costs."""
        return self.left_before_fixed - self.fixed - self.missing + self.till.difference

    @property
    def items_sold(self) -> int:
        """Return the items that stayed with customers."""
        return sum(self.handed_over.values()) - self.refunded_items


@with_working_precision
def day_of(
    day: DayAtTable, items: Mapping[str, ItemCost], rates: FairRates, digits: int = 2
) -> FairDay:
    """Return the figures of a day. `items` has every item that was sold, refunded or is missing."""
    handed_over = dict.fromkeys(items, 0)
    for sale in day.sales:
        for name, count in sale.items.items():
            handed_over[name] += count * sale.times
    for refund in day.refunds:
        if not refund.is_spoiled:
            handed_over[refund.item] -= 1
    card, cash = (
        sum((sale.amount * sale.times for sale in day.sales if sale.by_card is is_card), ZERO)
        - sum((refund.amount for refund in day.refunds if refund.by_card is is_card), ZERO)
        for is_card in (True, False)
    )
    by_card = [sale for sale in day.sales if sale.by_card and sale.amount >= 0]
    paid_back = (-sale.amount * sale.times for sale in day.sales if sale.amount < 0)
    fees = (
        sale.times * fee_of(sale.amount, rates.fee_share, rates.fee_fixed, digits)
        for sale in by_card
    )
    tax = tax_inside(card + cash, rates.tax_rate, digits)
    float_amount = amount_of(day.float_coins)
    till = Till(
        float_amount=float_amount,
        expected=float_amount + cash + sum(day.deposits_in_cash, ZERO) - sum(day.paid_out, ZERO),
        counted=amount_of(day.counted),
    )
    return FairDay(
        handed_over=handed_over,
        refunded_items=sum(refund.is_spoiled for refund in day.refunds),
        payments=sum(sale.times for sale in by_card),
        refunded=sum((refund.amount for refund in day.refunds), ZERO) + sum(paid_back, ZERO),
        card=card,
        cash=cash,
        tax=tax,
        fees=sum(fees, ZERO),
        commission=to_minor((card + cash - tax) * rates.commission, digits),
        cost_of_items=_cost_of(handed_over, items),
        bags=sum((count * items[name].bag for name, count in handed_over.items()), ZERO),
        fixed=day.costs.fixed,
        hours=day.costs.hours,
        missing=_cost_of(day.missing or {}, items),
        till=till,
    )


@with_working_precision
def in_equal_parts(total: Decimal, count: int, digits: int = 2) -> Sequence[Decimal]:
    """Return equal whole parts of an amount, rounded down; the last one takes the odd cents."""
    if not count:
        return []
    part = (total / count).quantize(minor_unit(digits), rounding=ROUND_DOWN)
    return [*[part] * (count - 1), total - part * (count - 1)]


@with_working_precision
def in_whole_units(total: Decimal, parts: Sequence[Decimal], digits: int = 2) -> Sequence[Decimal]:
    """Round parts to the currency's decimals so that they add up to the total, which has no more.

    Largest remainder: all are rounded down, then the largest rests are rounded up, ties the
    earlier. Parts may be below zero. A total that is a few cents off them is met all the same.
    """
    if not parts:
        return []
    unit = minor_unit(digits)
    down = [part.quantize(unit, rounding=ROUND_FLOOR) for part in parts]
    to_all, more = divmod(int((total - sum(down, ZERO)) / unit), len(parts))
    order = sorted(range(len(parts)), key=lambda place: (down[place] - parts[place], place))
    found = [part + to_all * unit for part in down]
    for place in order[:more]:
        found[place] += unit
    return found


@with_working_precision
def amount_of(coins: Coins) -> Decimal:
    """Return what coins and notes come to, by value and count."""
    return sum((value * count for value, count in coins.items()), ZERO)


def _cost_of(counts: Mapping[str, int], items: Mapping[str, ItemCost]) -> Decimal:
    return sum((count * items[name].cost for name, count in counts.items()), ZERO)
