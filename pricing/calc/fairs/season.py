"""Days of a fair added up, what it must sell, and whether it is worth going to again."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from maker.calc.money import whole_up, with_working_precision
from pricing.calc.fairs.fair_day import FairDay

ZERO = Decimal(0)


class Again(StrEnum):
    """Whether a fair is worth going to again, by what an hour of it paid."""

    YES = "yes"
    WITH_STOCK = "yes, with more stock"
    WITH_CHANGE = "only with a change"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Season:
    """Sums over the days. `hidden` is the gain that selling out lost."""

    takings: Decimal
    card: Decimal
    cash: Decimal
    tax: Decimal
    fees: Decimal
    commission: Decimal
    cost_of_items: Decimal
    bags: Decimal
    fixed: Decimal
    missing: Decimal
    difference: Decimal
    hours: Decimal
    profit: Decimal
    hidden: Decimal
    items_sold: int

    @property
    @with_working_precision
    def gain_each(self) -> Decimal | None:
        """Return the average gain of an item with this mix, None where nothing sold."""
        if not self.items_sold:
            return None
        return self.left_before_fixed / self.items_sold

    @property
    @with_working_precision
    def left_before_fixed(self) -> Decimal:
        """Return what sales left after tax, fees, commission, items and bags."""
        paid_away = self.tax + self.fees + self.commission
        return self.takings - paid_away - self.cost_of_items - self.bags

    @property
    @with_working_precision
    def profit_per_hour(self) -> Decimal | None:
        """Return profit over all hours, None where there are none."""
        return self.profit / self.hours if self.hours else None

    @with_working_precision
    def items_for(self, amount: Decimal) -> int | None:
        """Return how many items with this mix gain an amount; None where no number does."""
        gain = self.gain_each
        if gain is None or gain <= 0:
            return None
        return int(whole_up(max(amount, ZERO) / gain))

    @property
    @with_working_precision
    def unexplained(self) -> Decimal:
        """Return what the average gain leaves unexplained of the profit: a last digit."""
        gained = (self.gain_each or ZERO) * self.items_sold
        if not self.items_sold:
            gained = self.left_before_fixed
        return gained - self.fixed - self.missing + self.difference - self.profit


@with_working_precision
def season_of(days: Sequence[FairDay], hidden: Decimal = ZERO) -> Season:
    """Return the sums of the days."""

    def added(*amounts: Decimal) -> Decimal:
        return sum(amounts, ZERO)

    return Season(
        takings=added(*(day.takings for day in days)),
        card=added(*(day.card for day in days)),
        cash=added(*(day.cash for day in days)),
        tax=added(*(day.tax for day in days)),
        fees=added(*(day.fees for day in days)),
        commission=added(*(day.commission for day in days)),
        cost_of_items=added(*(day.cost_of_items for day in days)),
        bags=added(*(day.bags for day in days)),
        fixed=added(*(day.fixed for day in days)),
        missing=added(*(day.missing for day in days)),
        difference=added(*(day.till.difference for day in days)),
        hours=added(*(day.hours for day in days)),
        profit=added(*(day.profit for day in days)),
        hidden=hidden,
        items_sold=sum(day.items_sold for day in days),
    )


@dataclass(frozen=True, slots=True)
class FairOutcome:
    """What a fair came to. `orders` is the part of the gain of orders won that counts for it."""

    name: str
    takings: Decimal
    profit: Decimal
    hours: Decimal
    fixed: Decimal
    hidden: Decimal
    orders: Decimal
    metres: Decimal

    @property
    def profit_per_hour(self) -> Decimal:
        """Return the profit of an hour."""
        return _per(self.profit, self.hours)

    @property
    def fixed_share(self) -> Decimal:
        """Return fixed costs as a share of takings."""
        return _per(self.fixed, self.takings)

    @property
    def profit_per_metre(self) -> Decimal:
        """Return the profit of a metre of table."""
        return _per(self.profit, self.metres)

    @property
    def per_hour_with_orders(self) -> Decimal:
        """Return what an hour left with orders won."""
        return _per(self.profit + self.orders, self.hours)

    @property
    def per_hour_with_stock(self) -> Decimal:
        """Return what an hour would have left had nothing sold out, orders counted."""
        return _per(self.profit + self.orders + self.hidden, self.hours)

    def again(self, wage: Decimal) -> Again:
        """Return whether it is worth going again at a wage an hour."""
        if self.per_hour_with_orders >= wage:
            return Again.YES
        if self.per_hour_with_stock >= wage:
            return Again.WITH_STOCK
        return Again.WITH_CHANGE if self.per_hour_with_orders >= 0 else Again.NO


@with_working_precision
def _per(amount: Decimal, base: Decimal) -> Decimal:
    """Return the amount over a base; nothing where there is none."""
    return amount / base if base else ZERO
