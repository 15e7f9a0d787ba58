"""The totals of a quote of several lines, and what is left of them.

A quote is one order, so every line is priced by its share of the order's cost, with the margin and
price step of all items of its recipe; tax, deposit, payments, fees, profit and lowest price are
those of the whole. A quote of one line equals the price of that job to the cent. What is paid once
(fixed fees, the fee on delivery) each item carries its part of.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from maker.calc import sums
from maker.calc.explanation import Line, sum_line
from maker.calc.money import HAIR, to_minor, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.orders.extras import Extra, ExtraAmount, amounts_of
from pricing.calc.orders.order import LineCost, OrderCost
from pricing.calc.price.deposit_rule import deposit_line
from pricing.calc.price.fees import payments_for
from pricing.calc.price.lowest_price import lowest_price
from pricing.calc.price.price import say_fees, say_price
from pricing.calc.price.tax import DocumentLine, DocumentTotals, document_totals, line_amount
from pricing.calc.price.terms import Terms, terms_at_any_price, terms_for

ZERO = Decimal(0)
_FOUR_PLACES = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class AskedPrice:
    """What is asked for one item of a line: the price she set, else the price list's, else None.

    `list_starts` are the quantities a price of the list begins at.
    """

    price_each: Decimal | None = None
    listed_each: Decimal | None = None
    list_starts: tuple[int, ...] = ()

    @property
    def chosen(self) -> Decimal | None:
        """The price asked; None: the one worked out."""
        return self.listed_each if self.price_each is None else self.price_each


@dataclass(frozen=True, slots=True)
class LinePrice:
    """The price of one item of a line, and the line's share of what is left of the quote.

    `price_exact` keeps the wanted margin (where no price can: the asked one), `floor_each` is the
    lowest price: as shown to the customer. `net`, `fees` and `profit` are shares of those of the
    whole. `margin` is of `net` (None at a price of nothing), `per_hour` wage and profit.
    """

    terms: Terms
    quantity: int
    price_exact: Decimal
    price_each: Decimal
    floor_each: Decimal
    net: Decimal
    fees: Decimal
    profit: Decimal
    margin: Decimal | None
    per_hour: Decimal | None
    explanation: Line

    @property
    def is_below_floor(self) -> bool:
        """Whether each one takes from the wage."""
        return self.floor_each - self.price_each > HAIR


@dataclass(frozen=True, slots=True)
class QuotedLine:
    """One line with its price.

    `target_each` is the price worked out (None when there is none), `listed_each` the price list's
    (None when there is none); either may be the one asked, or a price she set.
    """

    cost: LineCost
    price: LinePrice
    amount: Decimal
    target_each: Decimal | None
    listed_each: Decimal | None = None

    @property
    def price_each(self) -> Decimal:
        """The price of one as the customer sees it."""
        return self.price.price_each


@dataclass(frozen=True, slots=True)
class QuotePrice:
    """The whole quote.

    `total` is all the customer pays, `net` what is left of it for the goods without tax and
    carriage. `floor` is the total at which wage, overhead and bills are paid and nothing more,
    exact. `delivery` is carriage as the quote shows it: with tax when prices are with tax.
    `margin` is of `net` (None at a price of nothing), `per_hour` wage and profit.
    """

    order: OrderCost
    lines: tuple[QuotedLine, ...]
    terms: Terms
    totals: DocumentTotals
    delivery: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    deposit: Decimal
    balance: Decimal
    payments: tuple[Decimal, ...]
    fees: Decimal
    cost: Decimal
    minutes: Decimal
    floor: Decimal
    profit: Decimal
    margin: Decimal | None
    per_hour: Decimal | None
    is_below_floor: bool
    explanation: Line
    extras: tuple[ExtraAmount, ...] = ()


def with_deposit(channel: ChannelRates, share: Decimal | None) -> ChannelRates:
    """Return the channel with the quote's own deposit in place of the usual one."""
    if share is None:
        return channel
    return replace(
        channel, tiers=tuple(replace(tier, deposit_share=share) for tier in channel.tiers)
    )


def line_ask(
    line: LineCost, order: OrderCost, *, is_rush: bool = False, delivery: Decimal = ZERO
) -> Ask:
    """Return what a line asks for as a part of its order; `delivery` is that of the order."""
    return Ask(
        line.quantity,
        tuple(line.answers.items()),
        line.names,
        is_rush=is_rush,
        delivery=delivery,
        alike=line.group_quantity,
        ordered=order.quantity,
    )


@dataclass(frozen=True, slots=True)
class _Offered:
    """A line with the price asked for one, before it is known what is left of the whole."""

    cost: LineCost
    terms: Terms
    exact: Decimal
    price_each: Decimal
    target_each: Decimal | None
    listed_each: Decimal | None


def _offer(
    line: LineCost, asked: AskedPrice, ask: Ask, channel: ChannelRates, rates: WorkshopRates
) -> _Offered:
    """Price one line. Refuses a margin no price can reach, unless a price is set or listed."""
    chosen = asked.chosen
    if chosen is None:
        terms = terms_for(ask, channel, rates)
    elif not chosen.is_finite() or chosen < 0:
        raise Refusal("A price can't be below zero.", where="price")
    else:
        terms = terms_at_any_price(ask, channel, rates)
    target = None
    exact = ZERO if chosen is None else chosen
    if terms.kept > 0:
        exact = terms.shown_each(line.cost, line.quantity)
        target = up_to_step(exact, terms.step)
    price = chosen if chosen is not None else target
    if price is None:
        raise Refusal("This line has no price.", where="price")
    return _Offered(line, terms, exact, price, target, asked.listed_each)


@with_working_precision
def refused_prices(
    order: OrderCost,
    asked: Sequence[AskedPrice],
    channel: ChannelRates,
    rates: WorkshopRates,
) -> dict[int, Refusal]:
    """Return why lines have no price, by place."""
    found = {}
    for line, price in zip(order.lines, asked, strict=True):
        try:
            _offer(line, price, line_ask(line, order), channel, rates)
        except Refusal as refusal:
            found[line.place] = refusal
    return found


@with_working_precision
def price_quote(
    order: OrderCost,
    asked: Sequence[AskedPrice],
    channel: ChannelRates,
    rates: WorkshopRates,
    *,
    is_rush: bool = False,
    delivery: Decimal = ZERO,
    delivery_margin: Decimal = ZERO,
    extras: Sequence[Extra] = (),
    deposit_share: Decimal | None = None,
    sunk: Decimal = ZERO,
) -> QuotePrice:
    """Return the totals of a quote; `asked` has what is asked for each line of the order.

    Fees, payments and deposit are those of the channel at the quantity of all lines together;
    `deposit_share` of the quote's own comes first; `sunk` is what a deposit must cover. `delivery`
    is what it costs, charged so that `delivery_margin` of the charge is left. Tax is
    rounded once, or line by line when the workshop says so. Refuses a margin no price can reach,
    unless a price is set or listed.
    """
    channel = with_deposit(channel, deposit_share)
    offered = [
        _offer(
            line,
            price,
            line_ask(line, order, is_rush=is_rush, delivery=delivery),
            channel,
            rates,
        )
        for line, price in zip(order.lines, asked, strict=True)
    ]
    whole = Ask(order.quantity, is_rush=is_rush, delivery=delivery, sunk=sunk)
    terms = terms_at_any_price(whole, channel, rates)
    shown_delivery = terms.delivery_gross if rates.prices_include_tax else terms.delivery
    if delivery_margin:
        shown_delivery = _with_margin(shown_delivery, delivery_margin, rates)
    documents = [
        DocumentLine(line.price_each, Decimal(line.cost.quantity), terms.tax_rate)
        for line in offered
    ]
    goods = sum((line_amount(each, rates.currency_digits) for each in documents), ZERO)
    amounts = amounts_of(extras, goods, rates.currency_digits)
    documents += [DocumentLine(each.amount, tax_rate=terms.tax_rate) for each in amounts]
    if terms.delivery:
        documents.append(DocumentLine(shown_delivery, tax_rate=terms.tax_rate))
    totals = document_totals(
        documents,
        prices_include_tax=rates.prices_include_tax,
        per_line=rates.tax_per_line,
        digits=rates.currency_digits,
    )
    return _settle(order, offered, terms, totals, rates, amounts)


def _with_margin(delivery: Decimal, margin: Decimal, rates: WorkshopRates) -> Decimal:
    """Return what is charged for a delivery so that a share of it is left."""
    if not 0 <= margin < 1:
        raise Refusal("Enter a margin from 0 to below 100 %.", where="delivery_margin")
    return to_minor(delivery / (1 - margin), rates.currency_digits)


def _settle(
    order: OrderCost,
    offered: Sequence[_Offered],
    terms: Terms,
    totals: DocumentTotals,
    rates: WorkshopRates,
    extras: tuple[ExtraAmount, ...],
) -> QuotePrice:
    """Work out everything that follows from the prices of the lines."""
    digits, cost, minutes = rates.currency_digits, order.cost, order.minutes
    deposit = deposit_line(totals.gross, terms, digits, "q.deposit")
    payments = payments_for(totals.gross, deposit.number, terms.payments, digits)
    net = totals.net - terms.delivery
    fees = say_fees(payments, net, terms, digits)
    profit = net - fees.number - cost
    floor_net = (cost + terms.fixed_fees) / terms.kept_at_floor
    amounts = totals.line_amounts[: len(offered)]
    goods = sum(amounts, ZERO)
    lines = tuple(
        _line(line, amount, goods, net, fees.number, terms, rates)
        for line, amount in zip(offered, amounts, strict=True)
    )
    price = QuotePrice(
        order=order,
        lines=lines,
        terms=terms,
        totals=totals,
        delivery=totals.line_amounts[-1] if terms.delivery else ZERO,
        net=net,
        tax=totals.tax,
        total=totals.gross,
        deposit=deposit.number,
        balance=totals.gross - deposit.number,
        payments=payments,
        fees=fees.number,
        cost=cost,
        minutes=minutes,
        floor=floor_net * terms.tax_factor + terms.delivery_gross,
        profit=profit,
        margin=profit / net if net else None,
        per_hour=(profit + order.labour_cost) / (minutes / 60) if minutes else None,
        is_below_floor=floor_net * terms.shown_factor - goods - _sum_of(extras) > HAIR,
        extras=extras,
        explanation=Line("total to pay", totals.gross, "money"),
    )
    return replace(price, explanation=_explain(price, rates, deposit, fees, floor_net))


def _sum_of(extras: Sequence[ExtraAmount]) -> Decimal:
    return sum((each.amount for each in extras), ZERO)


def _line(
    offered: _Offered,
    amount: Decimal,
    goods: Decimal,
    net: Decimal,
    fees: Decimal,
    whole: Terms,
    rates: WorkshopRates,
) -> QuotedLine:
    """Return a line with its share of net and fees: by its amount, fixed fees by its items."""
    cost, terms = offered.cost, offered.terms
    part = amount / goods if goods else ZERO
    line_net = net * part
    line_fees = terms.fixed_fees + (fees - whole.fixed_fees) * part
    if not goods:
        line_fees = fees * terms.fixed_fees / whole.fixed_fees if whole.fixed_fees else ZERO
    profit = line_net - line_fees - cost.cost
    minutes = cost.minutes
    price = LinePrice(
        terms=terms,
        quantity=cost.quantity,
        price_exact=offered.exact,
        price_each=offered.price_each,
        floor_each=_lowest(offered, whole, rates),
        net=line_net,
        fees=line_fees,
        profit=profit,
        margin=profit / line_net if line_net else None,
        per_hour=(profit + cost.labour_cost) / (minutes / 60) if minutes else None,
        explanation=Line("price each", offered.price_each, "money"),
    )
    price = replace(price, explanation=_say_line_price(price, offered))
    return QuotedLine(cost, price, amount, offered.target_each, offered.listed_each)


def _exact_floor(cost: Decimal, quantity: int, terms: Terms) -> Decimal:
    return (cost + terms.fixed_fees) / terms.kept_at_floor * terms.shown_factor / quantity


def _lowest(offered: _Offered, whole: Terms, rates: WorkshopRates) -> Decimal:
    """Return the lowest price of one: in whole coins for an order of one line.

    Lines of an order are paid together, so what is rounded there has no line of its own.
    """
    cost, terms = offered.cost, offered.terms
    if whole.bought_at_once == cost.quantity:
        return lowest_price(cost.cost, cost.quantity, terms, rates)
    return _exact_floor(cost.cost, cost.quantity, terms)


def _say_line_price(price: LinePrice, offered: _Offered) -> Line:
    cost, terms = offered.cost, price.terms
    lines = say_price(price, cost.cost)
    if cost.group_quantity != cost.quantity:
        lines.insert(
            0,
            Line(
                "margin and rounding",
                terms.tier.margin,
                "share",
                f"as for {cost.group_quantity} of this design across the lines",
            ),
        )
    if offered.listed_each is not None:
        lines.append(Line("on the price list", offered.listed_each, "money"))
    lines.append(
        Line(
            "lowest price each: wage, overhead and bills paid, no profit",
            _four(_exact_floor(cost.cost, price.quantity, terms)),
            "money",
            (
                (sums.money(cost.cost) + sums.money(terms.fixed_fees))
                / sums.share(terms.kept_at_floor)
                * sums.factor(terms.shown_factor)
                / sums.number(price.quantity)
            ).then("shown to 4 decimals"),
            "f.unit",
        )
    )
    return Line("price each", price.price_each, "money", key="price", lines=tuple(lines))


def _explain(
    price: QuotePrice, rates: WorkshopRates, deposit: Line, fees: Line, floor_net: Decimal
) -> Line:
    terms = price.terms
    # the order first, then each line with its share of it
    lines = [price.order.explanation, _say_lines(price)]
    if terms.tax_rate:
        rounding = "line by line" if rates.tax_per_line else "once"
        inside = "included in the total" if rates.prices_include_tax else "added"
        how = sums.share(terms.tax_rate).then(f"{inside}, {rounding}, halves up")
        lines.append(Line("tax", price.tax, "money", how, "q.tax"))
    total_how = "lines + delivery" if rates.prices_include_tax else "lines + delivery + tax"
    lines += [
        Line("total to pay", price.total, "money", total_how, "q.total"),
        deposit,
        Line("balance", price.balance, "money", "total - deposit", "q.balance"),
        Line("goods before tax", price.net, "money", "total - tax - delivery before tax", "q.net"),
        fees,
        Line(
            "profit",
            price.profit,
            "money",
            sums.money(price.net) - sums.money(price.fees) - sums.money(price.cost),
            "q.profit",
        ),
    ]
    if price.margin is not None:
        lines.append(
            Line("margin", _four(price.margin), "share", "profit / goods before tax", "q.margin")
        )
    if price.per_hour is not None:
        lines.append(
            Line(
                "what you earn per hour",
                _four(price.per_hour),
                "money",
                sums.say(
                    "(profit + labour) / ({} min / {})",
                    sums.number(price.minutes),
                    sums.number(60),
                ),
                "q.hourly",
            )
        )
    floor_how = (
        (sums.money(price.cost) + sums.money(terms.fixed_fees))
        / sums.share(terms.kept_at_floor)
        * sums.factor(terms.tax_factor)
    ) + sums.money(terms.delivery_gross)
    lines.append(
        Line(
            "lowest price for the order: wage, overhead and bills paid, no profit",
            _four(price.floor),
            "money",
            floor_how,
            "q.floor",
            (Line("of which goods, before tax and delivery", _four(floor_net), "money"),),
        )
    )
    return Line("total to pay", price.total, "money", key="quote", lines=tuple(lines))


def _say_lines(price: QuotePrice) -> Line:
    lines = [
        Line(
            line.cost.recipe.name,
            line.amount,
            "money",
            sums.number(line.cost.quantity) * sums.money(line.price_each),
            f"q.line.{number}",
            (line.price.explanation, line.cost.explanation),
        )
        for number, line in enumerate(price.lines, 1)
    ]
    for number, each in enumerate(price.extras, 1):
        share = each.extra.share
        how = "as agreed" if share is None else sums.share(share).then("of the lines, halves up")
        what = "discount" if each.extra.is_discount else "charge"
        label = f"{what}: {each.extra.reason}" if each.extra.reason else what
        lines.append(Line(label, each.amount, "money", how, f"q.extra.{number}"))
    if price.terms.delivery:
        cost = price.terms.delivery_gross
        inside = price.totals.line_amounts[-1] <= cost
        lines.append(
            Line(
                "delivery",
                price.delivery,
                "money",
                "at cost" if inside else "with its margin",
                "q.delivery",
            )
        )
    label = "lines, extras and delivery" if price.extras else "lines and delivery"
    return sum_line(label, lines, unit="money", key="q.sum")


def _four(value: Decimal) -> Decimal:
    return value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
