"""The price of a job: floor, price at the wanted margin, and what is really left of it."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Protocol

from maker.calc.explanation import Line
from maker.calc.money import HAIR, to_minor, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.sums import ABOVE, How, factor, literal, money, number, say, share
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.price.deposit_rule import deposit_line
from pricing.calc.price.fees import fees_of
from pricing.calc.price.lowest_price import lowest_price, rounding_slack
from pricing.calc.price.sales import Sale, fees_line, sales_at, total_of
from pricing.calc.price.tax import document_totals
from pricing.calc.price.terms import Terms, say_kept, terms_at_any_price, terms_for

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
    """A price and what is left of it, for a job that costs as `job` says.

    `price_each` and `floor_each` are as shown to the customer: with tax when the workshop's prices
    include it. `floor_each` is the lowest price, in whole coins (see lowest_price); `floor_exact`
    the sum behind it without rounding. `quantity` are made and sold, to as many buyers as the terms
    have sales; money is of all of them, as it is settled sale by sale. `total` is all they pay,
    delivery and tax included; `net` is for the goods alone, so that delivery, passed on at cost, is
    in no margin. `sales` are those of each buyer. `fees` are those of payments and listings
    and the commission. `margin` is of `net`, `markup` of the cost (None when it cost nothing),
    `per_hour` wage and profit (None when it takes no time).
    """

    job: Costed
    rates: WorkshopRates
    terms: Terms
    quantity: int
    price_exact: Decimal
    price_each: Decimal
    floor_net: Decimal
    floor_exact: Decimal
    floor_each: Decimal
    total: Decimal
    tax: Decimal
    net: Decimal
    delivery: Decimal
    deposit: Decimal
    balance: Decimal
    sales: tuple[Sale, ...]
    fees: Decimal
    listing_fees: Decimal
    commission: Decimal
    profit: Decimal
    margin: Decimal | None
    markup: Decimal | None
    per_hour: Decimal | None
    is_below_floor: bool

    @property
    def payments(self) -> tuple[Decimal, ...]:
        """What one buyer pays when."""
        return self.sales[0].payments

    @property
    @with_working_precision
    def explanation(self) -> Line:
        """Return how the price came about; built anew each time, as most are never read."""
        return _explain(self)

    @with_working_precision
    def at(self, price_each: Decimal) -> "JobPrice":
        """Return what another price leaves of the same job on the same terms."""
        return _settle(
            self.job, self.terms, self.rates, self.price_exact, price_each, self.floor_each
        )


@with_working_precision
def price_for(job_cost: Costed, ask: Ask, channel: ChannelRates, rates: WorkshopRates) -> JobPrice:
    """Return the price that keeps the channel's margin, and what is really left of it.

    net = (cost + fixed fees) / (1 - margin - fee x (1 + tax)); a rush order's is multiplied by
    1 + the rush share; with tax, for one item, it goes up to the next price step, and never below
    the lowest price. Tax is taken out of (or put on) what each buyer pays once, or line by line for
    goods and delivery when the workshop rounds so. What is left is then worked out anew from the
    rounded price.

    Delivery is passed on at what it costs: the customer pays it with the tax of the goods on top,
    it is part of the total, the deposit and every payment; it adds its cost and nothing else to
    the profit. The percentage fee on it would eat margin, so the goods' price carries that fee.

    After rounding, margin may miss the wanted one by whole-cent rounding of tax and fees at most.
    """
    terms = terms_for(ask, channel, rates)
    exact = terms.shown_each(job_cost.cost, job_cost.quantity)
    lowest = lowest_price(job_cost.cost, job_cost.quantity, terms, rates)
    price_each = up_to_step(exact, terms.step)
    if price_each < lowest:
        price_each = up_to_step(lowest, terms.step)
    return _settle(job_cost, terms, rates, exact, price_each, lowest)


@with_working_precision
def price_at(
    price_each: Decimal, job_cost: Costed, ask: Ask, channel: ChannelRates, rates: WorkshopRates
) -> JobPrice:
    """Return what is left of a price she names herself; below the floor is allowed and said."""
    if not price_each.is_finite() or price_each < 0:
        raise Refusal("A price can't be below zero.", where="price")
    terms = terms_at_any_price(ask, channel, rates)
    exact = price_each
    if terms.kept > 0:
        exact = terms.shown_each(job_cost.cost, job_cost.quantity)
    lowest = lowest_price(job_cost.cost, job_cost.quantity, terms, rates)
    return _settle(job_cost, terms, rates, exact, price_each, lowest)


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
    slack = rounding_slack(terms, rates)
    each = up_to_step(max(net - slack, ZERO) * to_each, terms.step)
    price = price_at(each, job_cost, ask, channel, rates)
    while not is_enough(price):
        each += terms.step
        price = price_at(each, job_cost, ask, channel, rates)
    return price


def _settle(
    job_cost: Costed,
    terms: Terms,
    rates: WorkshopRates,
    exact: Decimal,
    price_each: Decimal,
    lowest: Decimal,
) -> JobPrice:
    """Work out everything that follows from the rounded price."""
    quantity = job_cost.quantity
    sales = sales_at(price_each, quantity, terms, rates)
    total = total_of(sales, [sale.totals.gross for sale in sales])
    net = total_of(sales, [sale.net for sale in sales])
    deposit = total_of(sales, [sale.deposit for sale in sales])
    fees = total_of(sales, [sale.fees for sale in sales])
    profit = net - fees - job_cost.cost
    hours = job_cost.minutes / 60
    floor_net = (job_cost.cost + terms.fixed_fees) / terms.kept_at_floor
    return JobPrice(
        job=job_cost,
        rates=rates,
        terms=terms,
        quantity=quantity,
        price_exact=exact,
        price_each=price_each,
        floor_net=floor_net,
        floor_exact=floor_net * terms.shown_factor / quantity,
        floor_each=lowest,
        total=total,
        tax=total_of(sales, [sale.totals.tax for sale in sales]),
        net=net,
        delivery=terms.sales * terms.delivery,
        deposit=deposit,
        balance=total - deposit,
        sales=sales,
        fees=fees,
        listing_fees=total_of(sales, [sale.listing for sale in sales]),
        commission=total_of(sales, [sale.commission for sale in sales]),
        profit=profit,
        margin=profit / net if net else None,
        markup=net / job_cost.cost - 1 if job_cost.cost else None,
        per_hour=(profit + job_cost.labour_cost) / hours if hours else None,
        is_below_floor=lowest - price_each > HAIR,
    )


def say_fees(payments: tuple[Decimal, ...], net: Decimal, terms: Terms, digits: int) -> Line:
    """Return what one sale costs: fees of each payment, listing fees, commission on the net."""
    tier = terms.tier
    sale = Sale(
        items=terms.bought_at_once,
        times=1,
        totals=document_totals([], prices_include_tax=False, digits=digits),
        net=net,
        deposit=ZERO,
        payments=payments,
        payment_fees=fees_of(payments, tier.fee_share, tier.fixed_fee, digits),
        listing=to_minor(terms.listing_fee * terms.bought_at_once, digits),
        commission=to_minor(net * terms.commission_share, digits),
    )
    return fees_line([sale], terms)


def _explain(price: JobPrice) -> Line:
    terms, quantity, rates, cost = price.terms, price.quantity, price.rates, price.job.cost
    tax_how = (
        money(price.total) * share(terms.tax_rate) / factor(terms.tax_factor)
        if rates.prices_include_tax
        else money(price.total - price.tax) * share(terms.tax_rate)
    )
    rounding = "line by line" if rates.tax_per_line else "once"
    if terms.sales > 1:
        rounding += " per buyer"
    lines = [
        *say_price(price, cost),
        *_say_sales(terms, quantity),
        Line("total to pay", price.total, "money", _say_total(price), "p.gross"),
        Line("of which goods, before tax", price.net, "money", "total - tax", "p.net"),
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
    profit_how = money(price.net) - money(price.fees) - money(cost)
    lines += [
        _say_deposit(price),
        Line("balance", price.balance, "money", "total - deposit", "p.balance"),
        fees_line(price.sales, terms),
        Line("profit", price.profit, "money", profit_how, "p.profit"),
        *_say_shares(price),
        Line(
            "lowest price for the batch, before tax: wage, overhead and bills paid, no profit",
            price.floor_net,
            "money",
            (money(cost) + money(terms.fixed_fees)) / share(terms.kept_at_floor),
            "f.net",
        ),
        Line(
            "lowest price each, unrounded",
            _four(price.floor_exact),
            "money",
            (ABOVE * factor(terms.shown_factor) / number(quantity)).then("shown to 4 decimals"),
            "f.unit",
        ),
        Line(
            "lowest price each",
            price.floor_each,
            "money",
            "fees are taken in whole coins",
            "f.coin",
        ),
    ]
    return Line("price each", price.price_each, "money", key="price", lines=tuple(lines))


def _say_sales(terms: Terms, quantity: int) -> list[Line]:
    if terms.sales == 1:
        return []
    how = say("{} items, {} each", number(quantity), number(terms.bought_at_once))
    return [Line("buyers", terms.sales, "", how, "p.sales")]


def _say_deposit(price: JobPrice) -> Line:
    sales = price.sales
    if len(sales) == 1 and price.terms.sales == 1:
        digits = price.rates.currency_digits
        return deposit_line(sales[0].totals.gross, price.terms, digits, "p.deposit")
    how: How = literal("none")
    if price.deposit:
        first, *others = [number(sale.times) * money(sale.deposit) for sale in sales]
        how = sum(others, first)
    return Line("deposit", price.deposit, "money", how, "p.deposit")


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

    @property
    def floor_each(self) -> Decimal:
        """The lowest price of one."""


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
                "cost share of the price",
                terms.kept,
                "share",
                say_kept(terms),
                "p.den",
            ),
            Line("net price, before rounding", terms.net_for(cost), "money", net_how, "p.net0"),
            Line(
                "price each, before rounding",
                price.price_exact,
                "money",
                ABOVE * factor(terms.shown_factor) / number(price.quantity),
                "p.gross0",
            ),
        ]
    shown_as = "tax included" if terms.shown_factor != 1 else "without tax"
    how: How = say("rounded up to {}", money(terms.step)).then(shown_as)
    if price.price_each != up_to_step(price.price_exact, terms.step):
        how = literal(f"your price, {shown_as}")
        if price.price_each == up_to_step(price.floor_each, terms.step):
            how = say("the lowest price, rounded up to {}", money(terms.step)).then(shown_as)
    return [*lines, Line("price each", price.price_each, "money", how, "p.unit")]


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
        lines.append(Line("margin", _four(price.margin), "share", "profit / net", "p.margin"))
    if price.markup is not None:
        lines.append(Line("mark-up", _four(price.markup), "share", "net / cost - 1", "p.markup"))
    if price.per_hour is not None:
        lines.append(
            Line(
                "what you earn per hour",
                _four(price.per_hour),
                "money",
                "(profit + labour) / hours",
                "p.hourly",
            )
        )
    return lines


def _four(value: Decimal) -> Decimal:
    return value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
