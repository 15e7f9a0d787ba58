"""What stands between a cost and a price: margin, fees, tax, rush, steps and delivery."""

from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc.explanation import Line, shown
from maker.calc.money import minor_unit, to_minor, with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.sums import How, factor, share
from pricing.calc.costing.rates import Ask, ChannelRates, TierRates, WorkshopRates

ZERO = Decimal(0)
ONE = Decimal(1)


class ImpossibleMargin(Refusal):
    """Margin and fees leave nothing of the price for the cost.

    `largest_margin` is the bound the margin must stay below; `explanation` has the numbers.
    """

    def __init__(self, message: str, *, largest_margin: Decimal, explanation: Line) -> None:
        super().__init__(message, where="margin")
        self.largest_margin = largest_margin
        self.explanation = explanation


class NoTerms(Refusal):
    """The channel says nothing about this quantity."""


class BadDelivery(Refusal):
    """Delivery cannot cost less than nothing."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What stands between a cost and a price, for one quantity in one channel.

    `kept` is the share of the net price left for cost at the wanted margin, `kept_at_floor` the
    same at no margin, `tax_factor` 1 + tax and `shown_factor` the same when prices are shown with
    tax. One buyer takes `bought_at_once`, so there are `sales`, the last one of what is left, each
    with its payments, its delivery and its part of what is sunk. `fixed_fees` are what fees there
    are whatever the price (with the fee on delivery) as a price plans them, where a sale begun is a
    part of one; `settled_fixed_fees` as they are taken, where it is one more.
    """

    tier: TierRates
    bought_at_once: int
    sales: int
    payments: int
    tax_rate: Decimal
    tax_factor: Decimal
    shown_factor: Decimal
    kept: Decimal
    kept_at_floor: Decimal
    fixed_fees: Decimal
    settled_fixed_fees: Decimal
    listing_fee: Decimal
    commission_share: Decimal
    rush_factor: Decimal
    step: Decimal
    delivery: Decimal
    delivery_gross: Decimal
    sunk: Decimal = ZERO

    def net_for(self, cost: Decimal) -> Decimal:
        """Return the net price of the goods that keeps the margin, rush included, unrounded."""
        return (cost + self.fixed_fees) / self.kept * self.rush_factor

    def shown_each(self, cost: Decimal, quantity: int) -> Decimal:
        """Return the price of one as the customer sees it, unrounded."""
        return self.net_for(cost) * self.shown_factor / quantity


def tier_for(channel: ChannelRates, quantity: int) -> TierRates:
    """Return the tier with the largest smallest quantity that is not above `quantity`."""
    tiers = [tier for tier in channel.tiers if tier.bought_at_once <= quantity]
    if not tiers:
        least = min((tier.bought_at_once for tier in channel.tiers), default=None)
        mend = f"it starts at {least}" if least else "add a quantity tier"
        raise NoTerms(
            f"“{channel.name}” has no prices for a quantity of {quantity}: {mend}.",
            where="quantity",
        )
    return max(tiers, key=lambda tier: tier.bought_at_once)


def terms_for(ask: Ask, channel: ChannelRates, rates: WorkshopRates) -> Terms:
    """Return what is between a cost and a price. Refuses a margin that no price can leave."""
    terms = terms_at_any_price(ask, channel, rates)
    if terms.kept <= 0:
        raise _impossible(terms)
    return terms


@with_working_precision
def terms_at_any_price(ask: Ask, channel: ChannelRates, rates: WorkshopRates) -> Terms:
    """Return the terms for a price she names herself, whatever margin is wanted.

    The percentage fee is on the payment, which holds the tax: of the net price it takes
    fee x (1 + tax). A commission is a share of the net price of the goods. Listing fees are paid
    for each item. What one buyer takes chooses the tier. A step of 0 is the smallest coin. For a
    line of an order (`ask.ordered`) fixed fees and delivery are its part of them, by items.
    """
    if not ask.delivery.is_finite() or ask.delivery < 0:
        raise BadDelivery("Delivery can't be below zero.", where="delivery")
    tier, part = tier_in_order(ask, channel), ONE
    if ask.ordered is not None and ask.ordered != ask.quantity:
        # what is paid once each item has its part of
        part = Decimal(ask.quantity) / ask.ordered
        tier = replace(tier, fixed_fee=tier.fixed_fee * part)
    bought = ask.bought
    sales = -(-ask.quantity // bought)
    # one buyer of all takes exactly one of each fee
    shared = ONE if sales == 1 else Decimal(ask.quantity) / bought
    payments = max(tier.payments_per_sale, 2 if tier.deposit_share > 0 else 1)
    tax_factor = 1 + rates.tax_rate
    fee_of_net = tier.fee_share * tax_factor
    delivery_gross = to_minor(ask.delivery * tax_factor, rates.currency_digits) * part
    of_a_sale = payments * tier.fixed_fee + delivery_gross * tier.fee_share
    listing_fees = channel.listing_fee * ask.quantity
    terms = Terms(
        tier=tier,
        bought_at_once=bought,
        sales=sales,
        payments=payments,
        tax_rate=rates.tax_rate,
        tax_factor=tax_factor,
        shown_factor=tax_factor if rates.prices_include_tax else ONE,
        kept=1 - tier.margin - fee_of_net - channel.commission_share,
        kept_at_floor=1 - fee_of_net - channel.commission_share,
        fixed_fees=shared * of_a_sale + listing_fees,
        settled_fixed_fees=sales * of_a_sale + listing_fees,
        listing_fee=channel.listing_fee,
        commission_share=channel.commission_share,
        rush_factor=1 + channel.rush_share if ask.is_rush else ONE,
        step=_payable(tier.price_step, rates.currency_digits),
        delivery=ask.delivery * part,
        delivery_gross=delivery_gross,
        sunk=ask.sunk / shared,
    )
    if terms.kept_at_floor <= 0:
        raise _impossible(terms)
    return terms


def tier_in_order(ask: Ask, channel: ChannelRates) -> TierRates:
    """Return what holds for a line of an order, or for a job of its own.

    Margin and price step are those of all items of its recipe; fees, payments and deposit those of
    the whole order.
    """
    own = tier_for(channel, ask.alike or ask.bought)
    if ask.ordered is None:
        return own
    return replace(
        tier_for(channel, ask.ordered),
        bought_at_once=own.bought_at_once,
        margin=own.margin,
        price_step=own.price_step,
    )


def _payable(step: Decimal, digits: int) -> Decimal:
    """Return the step, but not less than the smallest coin; whole coins without more decimals."""
    step = max(step, minor_unit(digits))
    whole = to_minor(step, digits)
    return whole if whole == step else step


def _impossible(terms: Terms) -> ImpossibleMargin:
    tier, fee_of_net = terms.tier, 1 - terms.kept_at_floor
    largest = max(terms.kept_at_floor, ZERO)
    explanation = Line(
        "cost share of the price",
        terms.kept,
        "share",
        say_kept(terms),
        "p.den",
        (
            Line("wanted margin", tier.margin, "share", "of the price before tax"),
            Line(
                "fees",
                fee_of_net,
                "share",
                share(tier.fee_share) * factor(terms.tax_factor) + share(terms.commission_share),
            ),
            Line("the margin must stay below", largest, "share", "1 - fees"),
        ),
    )
    taken = (
        f"A margin of {_percent(tier.margin)} and fees of {_percent(fee_of_net)} of the price "
        f"before tax add up to {_percent(tier.margin + fee_of_net)}, so nothing is left for the "
        "cost. "
    )
    mend = f"The margin must stay below {_percent(largest)}." if largest else "No price works."
    return ImpossibleMargin(taken + mend, largest_margin=largest, explanation=explanation)


def _percent(share: Decimal) -> str:
    return f"{shown(share * 100)}%"


def say_kept(terms: Terms) -> How:
    """Return the share left for cost as a sum."""
    tier = terms.tier
    fees = share(tier.fee_share) * factor(terms.tax_factor)
    return share(ONE) - share(tier.margin) - fees - share(terms.commission_share)
