"""The list of prices of a design: every quantity costed and published, cliffs explained."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.recipes.parts_list import check_quantity
from catalogue.calc.recipes.recipe import Basis, Recipe
from catalogue.calc.sheets.counts import SheetCounts
from catalogue.calc.sheets.use import PlanSheets
from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import HAIR, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost, cost_of
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.price.price import JobPrice, price_for
from pricing.calc.price.terms import NoTerms
from pricing.calc.quantities.cliffs import Cliff, PricedQuantity, cliff_between
from pricing.calc.quantities.envelope import Published, QuantityPrice, lower_envelope

ZERO = Decimal(0)
_FOUR_PLACES = Decimal("0.0001")


class QuantityNotListed(Refusal):
    """The quantity is not among those the list was made for."""


@dataclass(frozen=True, slots=True)
class QuantityRow:
    """One quantity that one buyer takes. Money is net cost, or price as shown to the customer.

    The cost, minutes and profit are of all that are `made_at_once` for it, `made` with spares;
    `floor_each` is the lowest price, `floor_exact` the sum behind it without rounding.

    `worked_out_each` keeps the wanted margin; `price_each` is published, never above it;
    `held_down_by` is the quantity that keeps it lower. `margin` is what the published price
    leaves (None at a price of nothing), `setup_share` the share of the cost that is set-up work.
    """

    quantity: int
    made_at_once: int
    made: int
    sheets: int
    minutes: Decimal
    labour_cost: Decimal
    cost: Decimal
    setup_share: Decimal
    floor_exact: Decimal
    floor_each: Decimal
    worked_out_each: Decimal
    step: Decimal
    tier_from: int
    price_each: Decimal
    held_down_by: int | None
    margin: Decimal | None
    profit: Decimal
    is_below_floor: bool

    @property
    def cost_each(self) -> Decimal:
        """What one good piece costs, unrounded."""
        return self.cost / self.made_at_once

    @property
    def total(self) -> Decimal:
        """Return the published total, as shown."""
        return self.price_each * self.quantity

    @property
    def worked_out_total(self) -> Decimal:
        """Return the total at the worked-out price, as shown."""
        return self.worked_out_each * self.quantity

    @property
    def line(self) -> Line:
        """Return how the published price came about."""
        how = "as calculated"
        if self.held_down_by is not None:
            how = f"lowered to match {self.held_down_by}"
            if self.held_down_by > self.quantity:
                how = f"lowered so that {self.held_down_by} cost more in total"
        four = self.cost_each.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
        number = sums.number(self.quantity)
        return Line(
            f"price each for {self.quantity}",
            self.price_each,
            "money",
            how,
            f"quantity.{self.quantity}",
            (
                Line("calculated for this quantity", self.worked_out_each, "money"),
                Line(
                    "cost each",
                    four,
                    "money",
                    sums.money(self.cost) / sums.number(self.made_at_once),
                ),
                Line("total", self.total, "money", sums.money(self.price_each) * number),
                Line("profit at this price", self.profit, "money", "net - fees - cost"),
            ),
        )


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """A run of quantities, both ends included, with one price of one.

    `below_floor` are those of them whose own floor is above that price, `highest_floor` the highest
    floor among them (None when there is none).
    """

    from_quantity: int
    to_quantity: int
    price_each: Decimal
    below_floor: tuple[int, ...] = ()
    highest_floor: Decimal | None = None


@dataclass(frozen=True, slots=True)
class QuantityOffer:
    """A larger quantity that costs less in all than the asked one, both at worked-out prices."""

    asked: int
    quantity: int
    asked_total: Decimal
    total: Decimal

    @property
    def saving(self) -> Decimal:
        """What the customer pays less for more pieces."""
        return self.asked_total - self.total


@dataclass(frozen=True, slots=True)
class EveryQuantity:
    """The prices of all quantities from the first to the last row, and the cliffs among them.

    `planned` is how many cutting plans it took; the other sheet counts follow from them.
    """

    rows: tuple[QuantityRow, ...]
    cliffs: tuple[Cliff, ...]
    planned: int

    def row(self, quantity: int) -> QuantityRow:
        """Return one quantity's row. Errors: QuantityNotListed."""
        first = self.rows[0].quantity
        if not first <= quantity <= self.rows[-1].quantity:
            raise QuantityNotListed(
                f"This list covers {first} to {self.rows[-1].quantity}.", where="quantity"
            )
        return self.rows[quantity - first]

    def offer_for(self, quantity: int) -> QuantityOffer | None:
        """Return the larger quantity that is cheapest in all, if it is cheaper than this one.

        A quote is made at the worked-out price; this is what to tell who asks. Of equally cheap
        ones the largest. Errors: QuantityNotListed.
        """
        asked = self.row(quantity)
        larger = self.rows[quantity - self.rows[0].quantity + 1 :]
        if not larger:
            return None
        best = min(larger, key=lambda row: (row.worked_out_total, -row.quantity))
        if best.worked_out_total >= asked.worked_out_total:
            return None
        return QuantityOffer(quantity, best.quantity, asked.worked_out_total, best.worked_out_total)

    @property
    def breaks(self) -> tuple[PriceBreak, ...]:
        """Return the list in runs: a new one wherever the published price of one falls."""
        starts = [
            row
            for before, row in zip((None, *self.rows), self.rows, strict=False)
            if before is None or before.price_each != row.price_each
        ]
        return self.short_list(starts)

    def short_list(self, rows: Sequence[QuantityRow]) -> tuple[PriceBreak, ...]:
        """Return a list of these rows alone: each price holds up to the next row's quantity.

        The last one's holds to the end of the list. A quantity between two rows may cost more
        than the price above it pays for, so each is looked at by itself.
        """
        ends = [row.quantity - 1 for row in rows[1:]] + [self.rows[-1].quantity]
        return tuple(self._price_break(row, end) for row, end in zip(rows, ends, strict=True))

    def _price_break(self, start: QuantityRow, end: int) -> PriceBreak:
        first = self.rows[0].quantity
        held = self.rows[start.quantity - first : end - first + 1]
        below = [row for row in held if row.floor_each - start.price_each > HAIR]
        return PriceBreak(
            start.quantity,
            end,
            start.price_each,
            tuple(row.quantity for row in below),
            max((row.floor_each for row in below), default=None),
        )


@dataclass(frozen=True, slots=True)
class _Job:
    """What a price needs to know of the job of a row."""

    quantity: int
    cost: Decimal
    minutes: Decimal
    labour_cost: Decimal


def every_quantity_of(
    recipe: Recipe,
    ask: Ask,
    channel: ChannelRates,
    rates: WorkshopRates,
    plan_sheets: PlanSheets,
    *,
    up_to: int = 250,
    each: Callable[[Sequence[int]], Iterable[int]] = iter,
) -> EveryQuantity:
    """Return the list from the channel's first quantity (1 for most) to `up_to`.

    `ask` says with what, how fast and how delivered. A quantity of the list is what one buyer
    takes: it is made at once, or in a batch of the ask's quantity where a buyer there takes less
    than that. Sheets are
    planned only where the count is in doubt, but for every quantity where offcuts are credited, for
    what is left is known from a plan alone. `each` hands over one quantity after the other, for who
    wants to be told. Refuses what `cost_of` and `price_for` refuse for
    any of the quantities, and an end below the channel's first quantity.
    """
    check_quantity(up_to)
    first = min((tier.bought_at_once for tier in channel.tiers), default=1)
    if first > up_to:
        raise NoTerms(f"“{channel.name}” starts at {first}.", where="quantity")
    counts = SheetCounts(plan_sheets, with_layouts=rates.offcut_least_mm is not None)
    if rates.offcut_least_mm is None:
        cost_of(recipe, asked_for(ask, up_to), rates, counts)  # proves most of the others
    bare, prices, cliffs = [], [], []
    before: PricedQuantity | None = None
    for quantity in each(range(max(first, 1), up_to + 1)):
        asked = asked_for(ask, quantity)
        cost = cost_of(recipe, asked, rates, counts)
        # only this of the cost is held for the whole list
        job = _Job(cost.quantity, cost.cost, cost.minutes, cost.labour_cost)
        quote = PricedQuantity(cost, price_for(job, asked, channel, rates))
        bare.append(_worked_out(quote))
        prices.append(quote.price)
        cliff = cliff_between(before, quote, rates) if before else None
        if cliff is not None:
            cliffs.append(cliff)
        before = quote
    return EveryQuantity(
        _publish(bare, prices, rates.currency_digits), tuple(cliffs), counts.planned
    )


def asked_for(ask: Ask, quantity: int) -> Ask:
    """Return the ask as made for a buyer of so many: to order, or from a batch of more."""
    batch = ask.quantity if ask.bought < ask.quantity else 1
    return replace(ask, quantity=max(batch, quantity), bought_at_once=quantity)


def _worked_out(quote: PricedQuantity) -> QuantityRow:
    """Return the row as it is before the list is published: at its worked-out price."""
    cost, price = quote.cost, quote.price
    return QuantityRow(
        quantity=price.terms.bought_at_once,
        made_at_once=cost.quantity,
        made=cost.made,
        sheets=cost.sheets,
        minutes=cost.minutes,
        labour_cost=cost.labour_cost,
        cost=cost.cost,
        setup_share=setup_share(cost),
        floor_exact=price.floor_exact,
        floor_each=price.floor_each,
        worked_out_each=price.price_each,
        step=price.terms.step,
        tier_from=price.terms.tier.bought_at_once,
        price_each=price.price_each,
        held_down_by=None,
        margin=price.margin,
        profit=price.profit,
        is_below_floor=price.is_below_floor,
    )


@with_working_precision
def setup_share(cost: JobCost) -> Decimal:
    """Return which share of the cost is work done once a job, 0 to 1; overhead goes with it."""
    if not cost.cost or not cost.minutes:
        return ZERO
    setup = sum((d.minutes for d in cost.work.steps if d.step.basis is Basis.JOB), ZERO)
    return (cost.labour_cost + cost.overhead_cost) * setup / cost.minutes / cost.cost


def _publish(
    bare: Sequence[QuantityRow], prices: Sequence[JobPrice], digits: int
) -> tuple[QuantityRow, ...]:
    """Hold the prices down to the envelope and work out what the lowered ones leave."""
    worked_out = [QuantityPrice(row.quantity, row.worked_out_each, row.step) for row in bare]
    published = lower_envelope(worked_out, digits)
    return tuple(
        _lowered(row, line, price) if line.held_down_by is not None else row
        for row, line, price in zip(bare, published, prices, strict=True)
    )


def _lowered(row: QuantityRow, line: Published, price: JobPrice) -> QuantityRow:
    left = price.at(line.price_each)
    return replace(
        row,
        price_each=line.price_each,
        held_down_by=line.held_down_by,
        margin=left.margin,
        profit=left.profit,
        is_below_floor=left.is_below_floor,
    )
