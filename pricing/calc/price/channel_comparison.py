"""One design in several channels: who keeps what of a price, and where an hour earns most.

The price compared is what the last customer pays for one, as prices are shown, for a job made at
once and sold in each channel as its buyers usually buy: one by one, or all to one. Where a shop
buys and sells on, its share of the price without tax comes off first and she sells at the rest;
where a shop sells for her, its commission comes off hers. Carriage is left out: it is passed on at
cost.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc.explanation import Line, sum_line
from maker.calc.money import HAIR, to_minor, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.price.markup import before_discount
from pricing.calc.price.price import JobPrice, least_price, price_at, price_for
from pricing.calc.price.terms import terms_at_any_price

ZERO = Decimal(0)

# the cost of an ask; what one buyer takes decides the packing
CostFor = Callable[[Ask], JobCost]


class NothingLeftByTheShop(Refusal):
    """A shop that keeps the whole price leaves nothing to sell for."""


@dataclass(frozen=True, slots=True)
class PriceShare:
    """Who or what gets how much of all the customers pay for the job."""

    key: str
    label: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class ChannelResult:
    """What one channel leaves. `price` is hers, None with a `refusal` when it cannot be sold there.

    One buyer there takes `bought_at_once`. `customer_each` is what the last customer pays for one,
    as shown. The parts add up to what all
    customers pay, tax included: shop, tax, commission, fees, material, wage, overhead, profit.
    """

    channel: ChannelRates
    bought_at_once: int
    customer_each: Decimal
    price: JobPrice | None
    refusal: str
    parts: tuple[PriceShare, ...]
    line: Line

    @property
    def per_hour(self) -> Decimal | None:
        """What an hour of her work earns there, wage and profit."""
        return self.price.per_hour if self.price else None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Channels in the order given."""

    results: tuple[ChannelResult, ...]

    @property
    def best_per_hour(self) -> ChannelResult | None:
        """Return where an hour earns most, the first of equals; None when nothing sells."""
        selling = [each for each in self.results if each.per_hour is not None]
        return max(selling, key=lambda each: each.per_hour or ZERO, default=None)


@with_working_precision
def at_one_price(
    customer_each: Decimal,
    cost_for: CostFor,
    ask: Ask,
    channels: Sequence[ChannelRates],
    rates: WorkshopRates,
) -> Comparison:
    """Return what the same price for the last customer leaves in each channel."""

    def sell(asked: Ask, channel: ChannelRates, job_cost: JobCost) -> tuple[Decimal, JobPrice]:
        each = her_price(customer_each, channel, rates)
        return customer_each, price_at(each, job_cost, asked, channel, rates)

    return _compared(sell, cost_for, ask, channels, rates)


@with_working_precision
def at_own_prices(
    cost_for: CostFor, ask: Ask, channels: Sequence[ChannelRates], rates: WorkshopRates
) -> Comparison:
    """Return what each channel leaves at the price that keeps its own margin."""

    def sell(asked: Ask, channel: ChannelRates, job_cost: JobCost) -> tuple[Decimal, JobPrice]:
        price = price_for(job_cost, asked, channel, rates)
        return shelf_price(price.price_each, channel, rates), price

    return _compared(sell, cost_for, ask, channels, rates)


@with_working_precision
def for_same_profit(
    profit: Decimal,
    cost_for: CostFor,
    ask: Ask,
    channels: Sequence[ChannelRates],
    rates: WorkshopRates,
) -> Comparison:
    """Return the lowest price in whole price steps that leaves at least this profit of the job.

    net = (cost + fixed fees + profit) / (1 - fee x (1 + tax) - commission). The step is hers; a
    shop's price on its shelf follows from it.
    """

    def sell(asked: Ask, channel: ChannelRates, job_cost: JobCost) -> tuple[Decimal, JobPrice]:
        terms = terms_at_any_price(asked, channel, rates)
        net = max(job_cost.cost + terms.settled_fixed_fees + profit, ZERO) / terms.kept_at_floor

        def is_enough(price: JobPrice) -> bool:
            return price.profit >= profit - HAIR

        price = least_price(net, is_enough, job_cost, asked, channel, rates)
        return shelf_price(price.price_each, channel, rates), price

    return _compared(sell, cost_for, ask, channels, rates)


@with_working_precision
def her_price(customer_each: Decimal, channel: ChannelRates, rates: WorkshopRates) -> Decimal:
    """Return what she sells one for when the last customer pays so much, in whole cents."""
    if not channel.resale_share:
        return customer_each
    return to_minor(customer_each * (1 - channel.resale_share), rates.currency_digits)


@with_working_precision
def shelf_price(price_each: Decimal, channel: ChannelRates, rates: WorkshopRates) -> Decimal:
    """Return what the last customer pays for one, before the shop rounds it to its own liking.

    Errors: NothingLeftByTheShop.
    """
    if channel.resale_share >= 1:
        raise NothingLeftByTheShop(f"“{channel.name}” keeps the whole price.", where="resale_share")
    if not channel.resale_share:
        return price_each
    shelf = before_discount(price_each, channel.resale_share)
    return to_minor(shelf, rates.currency_digits)


_Sell = Callable[[Ask, ChannelRates, JobCost], tuple[Decimal, JobPrice]]


def _compared(
    sell: _Sell,
    cost_for: CostFor,
    ask: Ask,
    channels: Sequence[ChannelRates],
    rates: WorkshopRates,
) -> Comparison:
    bare = replace(ask, delivery=ZERO, bought_at_once=None)
    return Comparison(
        tuple(
            _result(sell, cost_for, bare.sold_through(channel), channel, rates)
            for channel in channels
        )
    )


def _result(
    sell: _Sell, cost_for: CostFor, asked: Ask, channel: ChannelRates, rates: WorkshopRates
) -> ChannelResult:
    bought = asked.bought
    try:
        job_cost = cost_for(asked)
        customer_each, price = sell(asked, channel, job_cost)
    except Refusal as refusal:
        line = Line(channel.name, "not sold here", how=refusal.message)
        return ChannelResult(channel, bought, ZERO, None, refusal.message, (), line)
    parts = _parts(customer_each, price, job_cost, rates)
    source = ("channel", channel.id) if channel.id is not None else None
    line = sum_line(
        f"all that customers pay at “{channel.name}”",
        [Line(part.label, part.amount, "money", key=f"channel.{part.key}") for part in parts],
        unit="money",
        how=f"{customer_each} x {job_cost.quantity}",
        source=source,
    )
    return ChannelResult(channel, bought, customer_each, price, "", parts, line)


def _parts(
    customer_each: Decimal, price: JobPrice, job_cost: JobCost, rates: WorkshopRates
) -> tuple[PriceShare, ...]:
    digits, terms = rates.currency_digits, price.terms
    commission, listing = price.commission, price.listing_fees
    paid = customer_each * price.quantity
    if terms.shown_factor == 1:
        paid = to_minor(paid * terms.tax_factor, digits)
    bought = job_cost.cost - job_cost.labour_cost - job_cost.overhead_cost
    parts = (
        PriceShare("shop", "kept by the shop, with its tax", paid - price.total),
        PriceShare("tax", "tax", price.tax),
        PriceShare("commission", "commission", commission),
        PriceShare("payment", "payment fees", price.fees - commission - listing),
        PriceShare("listing", "listing fees", listing),
        PriceShare("bought", "material, packing and wear", bought),
        PriceShare("overhead", "overhead", job_cost.overhead_cost),
        PriceShare("labour", "your wage", job_cost.labour_cost),
        PriceShare("profit", "profit", price.profit),
    )
    return tuple(part for part in parts if part.amount)
