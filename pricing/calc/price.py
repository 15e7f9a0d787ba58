"""The price of a job: floor, price at the wanted margin, and what is really left of it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Protocol

from maker.calc.explanation import Line, sum_line
from maker.calc.money import HAIR, minor_unit, to_minor, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.sums import ABOVE, How, factor, literal, money, number, say, share
from pricing.calc.deposit_rule import deposit_line
from pricing.calc.fees import fees_of, payments_for
from pricing.calc.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.tax import DocumentLine, DocumentTotals, document_totals
from pricing.calc.terms import Terms, say_kept, terms_at_any_price, terms_for

ZERO = Decimal(0)
_FOUR_PLACES = Decimal("0.0001")


class Costed(Protocol):
    """What a price needs to know of a job: a `JobCost`, or what was kept of one."""

    @property
    def quantity(self) -> int:
        """Good pieces."""

    @property
    def cost(self) -> Decimal:
        """What the job costs, net."""

    @property
    def minutes(self) -> Decimal:
        """Hands-on minutes."""

    @property
    def labour_cost(self) -> Decimal:
        """The wage in the cost."""


@dataclass(frozen=True, slots=True)
class JobPrice:
    """A price and what is left of it.

    `price_each` and `floor_each` are as shown to the customer: with tax when the workshop's prices
    include it. `total` is all she pays, delivery and tax included; `net` is for the goods alone, so
    that delivery, passed on at cost, is in no margin. `fees` are those of payments and listings
    and the commission. `margin` is of `net`, `markup` of the cost (None when it cost nothing),
    `per_hour` wage and profit (None when it takes no time).
    """

    terms: Terms
    quantity: int
    price_exact: Decimal
    price_each: Decimal
    floor_net: Decimal
    floor_each: Decimal
    total: Decimal
    tax: Decimal
    net: Decimal
    delivery: Decimal
    deposit: Decimal
    balance: Decimal
    payments: tuple[Decimal, ...]
    fees: Decimal
    profit: Decimal
    margin: Decimal | None
    markup: Decimal | None
    per_hour: Decimal | None
    is_below_floor: bool
    explanation: Line


@with_working_precision
def price_for(job_cost: Costed, ask: Ask, channel: ChannelRates, rates: WorkshopRates) -> JobPrice:
    """Return the price that keeps the channel's margin, and what is really left of it.

    net = (cost + fixed fees) / (1 - margin - fee x (1 + tax)); a rush order's is multiplied by
    1 + the rush share; with tax, for one piece, it goes up to the next price step. Tax is taken
    out of (or put on) the total once, or line by line for goods and delivery when the workshop
    rounds so. What is left is then worked out anew from the rounded price.

    Delivery is passed on at what it costs: the customer pays it with the tax of the goods on top,
    it is part of the total, the deposit and every payment; it adds its cost and nothing else to
    the profit. The percentage fee on it would eat margin, so the goods' price carries that fee.

    After rounding, margin may miss the wanted one by whole-cent rounding of tax and fees at most.
    """
    terms = terms_for(ask, channel, rates)
    exact = terms.shown_each(job_cost.cost, job_cost.quantity)
    price_each = up_to_step(exact, terms.step)
    return _settle(job_cost, terms, rates, exact, price_each)


@with_working_precision
def price_at(
    price_each: Decimal, job_cost: Costed, ask: Ask, channel: ChannelRates, rates: WorkshopRates
) -> JobPrice:
    """Return what is left of a price she names herself; below the floor is allowed and said."""
    if not price_each.is_finite() or price_each < 0:
        raise Refusal("A price must be zero or more.", where="price")
    terms = terms_at_any_price(ask, channel, rates)
    exact = price_each
    if terms.kept > 0:
        exact = terms.shown_each(job_cost.cost, job_cost.quantity)
    return _settle(job_cost, terms, rates, exact, price_each)


@with_working_precision
def least_price(
    net: Decimal,
    is_enough: Callable[[JobPrice], bool],
    job_cost: Costed,
    ask: Ask,
    channel: ChannelRates,
    rates: WorkshopRates,
) -> JobPrice:
    """Return the lowest price, in whole price steps, that is enough; `net` asks it unrounded.

    Tax, commission and each fee in whole cents take a little more or less than the sum without
    rounding says, so the steps that this may reach are tried from below.
    """
    terms = terms_at_any_price(ask, channel, rates)
    to_each = terms.shown_factor / job_cost.quantity
    rounded = terms.payments + 5  # the fees, and amounts, taxes, listing fees and commission
    slack = minor_unit(rates.currency_digits) * rounded / 2 / terms.kept_at_floor
    each = up_to_step(max(net - slack, ZERO) * to_each, terms.step)
    price = price_at(each, job_cost, ask, channel, rates)
    while not is_enough(price):
        each += terms.step
        price = price_at(each, job_cost, ask, channel, rates)
    return price


def _settle(
    job_cost: Costed, terms: Terms, rates: WorkshopRates, exact: Decimal, price_each: Decimal
) -> JobPrice:
    """Work out everything that follows from the rounded price."""
    quantity, digits = job_cost.quantity, rates.currency_digits
    totals = _totals(terms, rates, price_each, quantity)
    net = totals.net - terms.delivery
    deposit = deposit_line(totals.gross, terms, digits, "p.deposit").number
    payments = payments_for(totals.gross, deposit, terms.payments, digits)
    fee_line = say_fees(payments, net, terms, digits)
    fees = fee_line.number
    profit = net - fees - job_cost.cost
    hours = job_cost.minutes / 60
    floor_net = (job_cost.cost + terms.fixed_fees) / terms.kept_at_floor
    floor_each = floor_net * terms.shown_factor / quantity
    price = JobPrice(
        terms=terms,
        quantity=quantity,
        price_exact=exact,
        price_each=price_each,
        floor_net=floor_net,
        floor_each=floor_each,
        total=totals.gross,
        tax=totals.tax,
        net=net,
        delivery=terms.delivery,
        deposit=deposit,
        balance=totals.gross - deposit,
        payments=payments,
        fees=fees,
        profit=profit,
        margin=profit / net if net else None,
        markup=net / job_cost.cost - 1 if job_cost.cost else None,
        per_hour=(profit + job_cost.labour_cost) / hours if hours else None,
        is_below_floor=floor_each - price_each > HAIR,
        explanation=Line("price", price_each, "money"),
    )
    return replace(price, explanation=_explain(price, job_cost, rates, totals, fee_line))


def _totals(
    terms: Terms, rates: WorkshopRates, price_each: Decimal, quantity: int
) -> DocumentTotals:
    lines = [DocumentLine(price_each, Decimal(quantity), terms.tax_rate)]
    if terms.delivery:
        shown_delivery = terms.delivery_gross if rates.prices_include_tax else terms.delivery
        lines.append(DocumentLine(shown_delivery, tax_rate=terms.tax_rate))
    return document_totals(
        lines,
        prices_include_tax=rates.prices_include_tax,
        per_line=rates.tax_per_line,
        digits=rates.currency_digits,
    )


def say_fees(payments: tuple[Decimal, ...], net: Decimal, terms: Terms, digits: int) -> Line:
    """Return what selling costs: fees of each payment, listing fees, commission on the net."""
    tier = terms.tier
    lines = [
        Line(
            f"fee of payment {number}",
            fee,
            "money",
            (money(payment) * share(tier.fee_share) + money(tier.fixed_fee)).then("rounded"),
        )
        for number, (payment, fee) in enumerate(
            zip(payments, fees_of(payments, tier.fee_share, tier.fixed_fee, digits), strict=True), 1
        )
    ]
    if terms.listing_fees:
        lines.append(Line("listing fees", to_minor(terms.listing_fees, digits), "money"))
    label = "payment fees"
    if terms.commission_share:
        label = "payment fees and commission"
        commission = to_minor(net * terms.commission_share, digits)
        how = (money(net) * share(terms.commission_share)).then("rounded")
        lines.append(Line("commission", commission, "money", how, "p.commission"))
    return sum_line(label, lines, unit="money", key="p.fee", how="each rounded by itself")


def _explain(
    price: JobPrice, job_cost: Costed, rates: WorkshopRates, totals: DocumentTotals, fees: Line
) -> Line:
    terms, quantity = price.terms, price.quantity
    tax_how = (
        money(totals.gross) * share(terms.tax_rate) / factor(terms.tax_factor)
        if rates.prices_include_tax
        else money(totals.net) * share(terms.tax_rate)
    )
    rounding = "line by line" if rates.tax_per_line else "once"
    lines = [
        *say_price(price, job_cost.cost),
        Line("total to pay", price.total, "money", _say_total(price), "p.gross"),
        Line("of which without tax, goods", price.net, "money", "total - tax", "p.net"),
    ]
    if terms.delivery:
        lines.append(
            Line("of which delivery, at cost", terms.delivery, "money", "without tax", "p.delivery")
        )
    if terms.tax_rate:
        lines.append(
            Line(
                "of which tax",
                price.tax,
                "money",
                tax_how.then(f"{rounding}, halves up"),
                "p.tax",
            )
        )
    profit_how = money(price.net) - money(price.fees) - money(job_cost.cost)
    lines += [
        deposit_line(price.total, terms, rates.currency_digits, "p.deposit"),
        Line("balance", price.balance, "money", "total - deposit", "p.balance"),
        fees,
        Line("profit", price.profit, "money", profit_how, "p.profit"),
        *_say_shares(price),
        Line(
            "floor of the job, without tax: wage, overhead and bills paid, no profit",
            price.floor_net,
            "money",
            (money(job_cost.cost) + money(terms.fixed_fees)) / share(terms.kept_at_floor),
            "f.net",
        ),
        Line(
            "floor for one",
            _four(price.floor_each),
            "money",
            (ABOVE * factor(terms.shown_factor) / number(quantity)).then("shown to 4 decimals"),
            "f.unit",
        ),
    ]
    return Line("price for one", price.price_each, "money", key="price", lines=tuple(lines))


class Priced(Protocol):
    """What is said of how a price came about: a `JobPrice`, or that of a line of an order."""

    @property
    def terms(self) -> Terms:
        """What stands between cost and price."""

    @property
    def quantity(self) -> int:
        """Good pieces."""

    @property
    def price_exact(self) -> Decimal:
        """The price of one that keeps the margin, unrounded."""

    @property
    def price_each(self) -> Decimal:
        """The price of one."""


def say_price(price: Priced, cost: Decimal) -> list[Line]:
    """Return how the price of one follows from a cost."""
    terms = price.terms
    lines = []
    if terms.kept > 0:
        net_how = (money(cost) + money(terms.fixed_fees)) / share(terms.kept)
        if terms.rush_factor != 1:
            net_how = say("{} for the rush", net_how * factor(terms.rush_factor))
        lines = [
            Line(
                "share of the net price left for cost",
                terms.kept,
                "share",
                say_kept(terms),
                "p.den",
            ),
            Line("net price before rounding", terms.net_for(cost), "money", net_how, "p.net0"),
            Line(
                "price for one before rounding",
                price.price_exact,
                "money",
                ABOVE * factor(terms.shown_factor) / number(price.quantity),
                "p.gross0",
            ),
        ]
    shown_as = "tax included" if terms.shown_factor != 1 else "without tax"
    how: How = say("up to the next {}", money(terms.step)).then(shown_as)
    if price.price_each != up_to_step(price.price_exact, terms.step):
        how = literal(f"as named, {shown_as}")
    return [*lines, Line("price for one", price.price_each, "money", how, "p.unit")]


def _say_total(price: JobPrice) -> How:
    how = money(price.price_each) * number(price.quantity)
    if price.terms.delivery:
        how += literal("delivery")
    if price.terms.shown_factor == 1 and price.terms.tax_rate:
        how += literal("tax")
    return how


def _say_shares(price: JobPrice) -> list[Line]:
    lines = []
    if price.margin is not None:
        lines.append(
            Line(
                "margin on the net price", _four(price.margin), "share", "profit / net", "p.margin"
            )
        )
    if price.markup is not None:
        lines.append(
            Line("mark-up on cost", _four(price.markup), "share", "net / cost - 1", "p.markup")
        )
    if price.per_hour is not None:
        lines.append(
            Line(
                "what an hour of your work earns",
                _four(price.per_hour),
                "money",
                "(profit + labour) / hours",
                "p.hourly",
            )
        )
    return lines


def _four(value: Decimal) -> Decimal:
    return value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
