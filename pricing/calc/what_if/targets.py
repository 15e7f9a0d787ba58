"""From a price she wants to what would reach it: minutes, wage, a material's price, size, quantity.

Minutes, wage and unit costs enter a cost as straight lines, so they are solved, not tried: the
cost a price allows is price x quantity / (1 + tax) x kept - fixed fees, and what is over it must
come out of the one thing asked about, all else as it is. Already below the price, the same sums
say how far it may rise. Size and quantity go in steps (whole sheets), so they are found on the real
costs, by halving; more of either never makes the answer come back.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.recipes.recipe import Recipe
from maker.calc import sums
from maker.calc.amounts import unit_cost_in
from maker.calc.explanation import Line, shown
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.lowest_price import lowest_price
from pricing.calc.price.price import JobPrice
from pricing.calc.quantities.every_quantity import EveryQuantity

ZERO = Decimal(0)
_SIZE_PLACES = Decimal("0.000001")  # of a millimetre: what a length keeps


class TargetOutOfReach(Refusal):
    """The one thing asked about cannot bring the price there."""


@dataclass(frozen=True, slots=True)
class Target:
    """What one thing is now and what it may be at the wanted price, in `unit`, unrounded."""

    now: Decimal
    needed: Decimal
    unit: str
    line: Line


@dataclass(frozen=True, slots=True)
class _Gap:
    """How much cost the wanted price is short of; below zero there is room."""

    cost: Decimal
    allowed: Decimal
    total: Decimal
    line: Line

    @property
    def over(self) -> Decimal:
        return self.cost - self.allowed

    def said(self, amount: Decimal) -> Decimal:
        """Round an amount to the coins the total is paid in, to be told in words."""
        return amount.quantize(self.total, rounding=ROUND_HALF_UP)


def _gap(wanted_each: Decimal, job_cost: JobCost, price: JobPrice) -> _Gap:
    """Return the gap to a price of one, as shown, at the margin, fees, tax and rush of `price`."""
    terms = price.terms
    if terms.kept <= 0:
        raise TargetOutOfReach("Margin plus fees add up to 100% or more, so no price works.")
    net = wanted_each * job_cost.quantity / terms.shown_factor / terms.rush_factor
    allowed = net * terms.kept - terms.fixed_fees
    if allowed < 0:
        raise TargetOutOfReach(
            f"{shown(wanted_each)} each doesn't even cover the fees.", where="wanted_each"
        )
    how = sums.money(net) * sums.share(terms.kept) - sums.money(terms.fixed_fees)
    return _Gap(
        job_cost.cost, allowed, price.total, Line("cost the price allows", allowed, "money", how)
    )


def _solved(
    label: str, unit: str, now: Decimal, per_unit: Decimal, gap: _Gap, where: str
) -> Target:
    """Take the gap out of a thing that costs `per_unit` for each of its units."""
    if per_unit <= 0:
        raise TargetOutOfReach(f"The cost doesn't depend on {label}.", where=where)
    needed = now - gap.over / per_unit
    if needed < 0:
        least = gap.cost - now * per_unit
        raise TargetOutOfReach(
            f"Even with {label} at zero the batch costs {gap.said(least)}. The price allows "
            f"{gap.said(gap.allowed)}.",
            where=where,
        )
    value = sums.money if unit == "money" else sums.number
    how = value(now) - sums.money(gap.over) / sums.money(per_unit)
    return Target(now, needed, unit, Line(label, needed, unit, how, "target", (gap.line,)))


@with_working_precision
def minutes_for(
    wanted_each: Decimal, step_name: str, job_cost: JobCost, price: JobPrice, rates: WorkshopRates
) -> Target:
    """Return the likely minutes of one step that bring the price of one, as shown, to the wanted.

    Errors: TargetOutOfReach, also for a step the job does not have.
    """
    steps = [done for done in job_cost.work.steps if done.step.name == step_name]
    if not steps:
        raise TargetOutOfReach(f"The recipe has no step “{step_name}”.", where=step_name)
    rate = (rates.wage_per_hour + rates.overhead_per_hour) / 60
    gap = _gap(wanted_each, job_cost, price)
    label, now = f"minutes of “{step_name}”", steps[0].step.minutes
    return _solved(label, "min", now, steps[0].factor * rate, gap, step_name)


@with_working_precision
def wage_for(
    wanted_each: Decimal, job_cost: JobCost, price: JobPrice, rates: WorkshopRates
) -> Target:
    """Return the wage an hour at which the price of one is the wanted. Errors: TargetOutOfReach."""
    gap = _gap(wanted_each, job_cost, price)
    now, hours = rates.wage_per_hour, job_cost.minutes / 60
    return _solved("your hourly wage", "money", now, hours, gap, "wage")


@with_working_precision
def unit_cost_for(wanted_each: Decimal, role: str, job_cost: JobCost, price: JobPrice) -> Target:
    """Return what one unit of a role's material may cost, in every role it plays.

    Errors: TargetOutOfReach, also for a role the job does not have.
    """
    material = job_cost.recipe.materials.get(role)
    if material is None or material.cost is None:
        raise TargetOutOfReach(f"No material with a cost has the role “{role}”.", where=role)
    now, unit = unit_cost_in(material.cost.value, material.unit, job_cost.recipe.unit)
    # as many of what is priced: yards where the recipe is in inches
    one, _ = unit_cost_in(Decimal(1), material.unit, job_cost.recipe.unit)
    amount = job_cost.amount_of(material.identity) / one
    gap = _gap(wanted_each, job_cost, price)
    label = f"the price of 1 {unit} of {material.name}"
    return _solved(label, "money", now, amount, gap, role)


@with_working_precision
def margin_for(wanted_each: Decimal, job_cost: JobCost, price: JobPrice) -> Target:
    """Return the margin of the net price that the wanted price asks for, 0 to 1.

    Errors: TargetOutOfReach, when wage, overhead and bills would not be paid.
    """
    terms = price.terms
    net = wanted_each * job_cost.quantity / terms.shown_factor / terms.rush_factor
    if net <= 0 or (job_cost.cost + terms.fixed_fees) / net > terms.kept_at_floor:
        raise TargetOutOfReach(
            f"{shown(wanted_each)} is below the lowest price, {price.floor_each}.",
            where="wanted_each",
        )
    needed = terms.kept_at_floor - (job_cost.cost + terms.fixed_fees) / net
    paid = sums.money(job_cost.cost) + sums.money(terms.fixed_fees)
    how = sums.share(terms.kept_at_floor) - paid / sums.money(net)
    line = Line("margin", needed, "share", how, "target")
    return Target(terms.tier.margin, needed, "share", line)


def quantity_for(wanted_each: Decimal, every_quantity: EveryQuantity) -> Target:
    """Return the smallest quantity whose published price of one is not above the wanted.

    The published price never rises, so all larger ones are not either. Errors: TargetOutOfReach.
    """
    first, last = every_quantity.rows[0], every_quantity.rows[-1]
    for row in every_quantity.rows:
        if row.price_each <= wanted_each:
            line = Line("quantity", row.quantity, "piece", key="target", lines=(row.line,))
            return Target(Decimal(first.quantity), Decimal(row.quantity), "piece", line)
    raise TargetOutOfReach(f"Even {last.quantity} cost {last.price_each} each.", where="quantity")


@with_working_precision
def size_for(
    wanted_each: Decimal,
    recipe: Recipe,
    price_of: Callable[[Recipe], Decimal],
    *,
    smallest_percent: int = 50,
) -> Target:
    """Return the largest size, in whole percent of every cut piece, with at most the wanted price.

    `price_of` costs and prices a recipe. Pieces shrink in both directions; minutes and what is not
    cut stay. Smaller pieces never need more sheets, so halving the range finds the size as long as
    the plans are proven. Errors: TargetOutOfReach, when `smallest_percent` is still too dear.
    """

    def fits(percent: int) -> bool:
        return price_of(at_size(recipe, percent)) <= wanted_each

    low, high = smallest_percent, 100
    if not fits(low):
        raise TargetOutOfReach(
            f"Even at {low}% of its size it costs more: the sheets aren't the expensive part.",
            where="size",
        )
    if fits(high):
        low = high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    line = Line("size of every piece", low, "%", "the largest that fits the price", "target")
    return Target(Decimal(100), Decimal(low), "%", line)


@with_working_precision
def at_size(recipe: Recipe, percent: int) -> Recipe:
    """Return the recipe with every cut piece at so many percent of its width and height."""

    def shrunk(side_mm: Decimal) -> Decimal:
        return (side_mm * percent / 100).quantize(_SIZE_PLACES, rounding=ROUND_HALF_UP)

    pieces = tuple(
        replace(each, width_mm=shrunk(each.width_mm), height_mm=shrunk(each.height_mm))
        for each in recipe.pieces
    )
    return replace(recipe, pieces=pieces)


@dataclass(frozen=True, slots=True)
class Floors:
    """Prices of one, as shown, in whole coins, none with a profit.

    At `floor_each` wage, overhead and bills are paid. At `walk_away_each` the wage and bills of
    this job are, and nothing of the overhead, which runs without the job too; below it she is
    better off at home. At `bills_each` she works for nothing.
    """

    floor_each: Decimal
    walk_away_each: Decimal
    bills_each: Decimal
    line: Line


@with_working_precision
def floors_of(job_cost: JobCost, price: JobPrice, rates: WorkshopRates) -> Floors:
    """Return the three prices to know before haggling; each holds for every price above it.

    The walk-away price is the floor of a special order: what the order adds to the costs. Source:
    OpenStax, Principles of Accounting 2, section 10.2.
    """
    terms, lines = price.terms, []

    def each(label: str, cost: Decimal, key: str) -> Decimal:
        lowest = lowest_price(cost, job_cost.quantity, terms, rates)
        paid = sums.money(cost) + sums.money(terms.settled_fixed_fees)
        how = (paid / sums.share(terms.kept_at_floor)).then("in whole coins")
        lines.append(Line(label, lowest, "money", how, f"floor.{key}"))
        return lowest

    no_overhead = job_cost.cost - job_cost.overhead_cost
    floor = each("lowest price: wage, overhead and bills paid", job_cost.cost, "all")
    walk_away = each("walk away below: wage and bills paid", no_overhead, "wage")
    bills = each("bills only", no_overhead - job_cost.labour_cost, "bills")
    line = Line("prices without profit", floor, "money", "each", "floor", tuple(lines))
    return Floors(floor, walk_away, bills, line)
