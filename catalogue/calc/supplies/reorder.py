"""When to reorder and how much: the cushion against a bad week, and the cheapest order.

Reorder point: mean use over the lead plus z standard deviations of that use; a lead that varies
adds (mean use x its spread) squared to the variance. Order size: economic order quantity with price
breaks for all units. Source: Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley
2019, sections 3.2, 3.4 and 4.3.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import whole_up, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
WEEKS = Decimal(52)


class BadReorder(Refusal):
    """Too little is known to say when or how much to order."""


@dataclass(frozen=True, slots=True)
class ReorderPoint:
    """Mean use a week and its spread, the cushion, and the stock at which to order, whole units."""

    mean: Decimal
    spread: Decimal
    cushion: Decimal
    point: Decimal


@dataclass(frozen=True, slots=True)
class OrderCosts:
    """What ordering costs: use of a year, cost of an order, holding as a share of price a year.

    `breaks` are pairs of quantity and the unit price from it on, first from zero; `pack` is what is
    ordered in whole numbers, at most `most_packs` of them.
    """

    year_use: Decimal
    order_cost: Decimal
    holding: Decimal
    breaks: tuple[tuple[Decimal, Decimal], ...]
    pack: Decimal
    most_packs: int

    def price_at(self, quantity: Decimal) -> Decimal:
        """Return the unit price of an order of this size."""
        prices = [price for start, price in self.breaks if quantity >= start]
        if not prices:
            raise BadReorder("No price is known for so few.", where="breaks")
        return prices[-1]

    @with_working_precision
    def year_cost(self, quantity: Decimal) -> Decimal:
        """Return goods, orders and holding of a year with orders of this size."""
        price = self.price_at(quantity)
        orders = self.order_cost * self.year_use / quantity
        return self.year_use * price + orders + self.holding * price * quantity / 2


@dataclass(frozen=True, slots=True)
class OrderSize:
    """The cheapest order and its cost a year.

    `other` is the best order in the other price tiers, None where there is one tier.
    """

    quantity: Decimal
    year_cost: Decimal
    orders_a_year: Decimal
    weeks_of_use: Decimal
    other: Decimal | None
    other_costs_more: Decimal | None


@with_working_precision
def spread_of(values: Sequence[Decimal]) -> Decimal:
    """Return the standard deviation of a sample, n - 1. Errors: BadReorder below two values."""
    if len(values) < 2:
        raise BadReorder("The spread of use needs at least two weeks.", where="weekly_use")
    mean = sum(values, ZERO) / len(values)
    squares = sum(((value - mean) ** 2 for value in values), ZERO)
    return (squares / (len(values) - 1)).sqrt()


@with_working_precision
def reorder_point(
    weekly_use: Sequence[Decimal],
    lead_weeks: Decimal,
    z: Decimal,
    lead_spread: Decimal = ZERO,
) -> ReorderPoint:
    """Return when to order, up to whole units. Errors: BadReorder below two weeks of use."""
    spread = spread_of(weekly_use)
    mean = sum(weekly_use, ZERO) / len(weekly_use)
    if lead_spread:
        deviation = (lead_weeks * spread**2 + (mean * lead_spread) ** 2).sqrt()
    else:
        deviation = spread * lead_weeks.sqrt()
    cushion = z * deviation
    return ReorderPoint(mean, spread, cushion, whole_up(mean * lead_weeks + cushion))


@with_working_precision
def best_without_packs(costs: OrderCosts, price: Decimal) -> Decimal:
    """Return the economic order quantity at one price, as if any amount could be ordered."""
    if not costs.holding * price:
        raise BadReorder("Holding stock must cost something.", where="holding")
    return (2 * costs.year_use * costs.order_cost / (costs.holding * price)).sqrt()


@with_working_precision
def order_size(costs: OrderCosts) -> OrderSize:
    """Return the cheapest whole number of packs; of equal ones the smaller order."""
    if costs.year_use <= 0 or costs.pack <= 0 or costs.most_packs < 1:
        raise BadReorder("An order needs a yearly use and a pack.", where="year_use")
    sizes = [costs.pack * count for count in range(1, costs.most_packs + 1)]
    priced = [(costs.year_cost(size), size) for size in sizes]
    cost, quantity = min(priced)
    price = costs.price_at(quantity)
    others = [each for each in priced if costs.price_at(each[1]) != price]
    other = min(others, default=None)
    return OrderSize(
        quantity=quantity,
        year_cost=cost,
        orders_a_year=costs.year_use / quantity,
        weeks_of_use=quantity / costs.year_use * WEEKS,
        other=other[1] if other else None,
        other_costs_more=other[0] - cost if other else None,
    )
