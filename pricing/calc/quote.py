"""The totals of a quote of several lines, and what is left of them.

Every line is priced as if it were asked for alone, by its own quantity; tax, deposit, payments,
fees, profit and floor are those of the whole. A quote of one line equals the price of that job to
the cent. Carriage belongs to the whole, so the first line alone carries the fee on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from maker.calc.explanation import Line, plain_text, shown, sum_line
from maker.calc.money import HAIR, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.cost import JobCost
from pricing.calc.deposit_rule import deposit_line
from pricing.calc.fees import payments_for
from pricing.calc.price import JobPrice, price_at, price_for, say_fees
from pricing.calc.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.tax import DocumentLine, DocumentTotals, document_totals
from pricing.calc.terms import ImpossibleMargin, Terms, terms_at_any_price

ZERO = Decimal(0)
_FOUR_PLACES = Decimal("0.0001")


class NothingQuoted(Refusal):
    """A quote without lines has no total."""


@dataclass(frozen=True, slots=True)
class AskedLine:
    """One line: what it costs, what is asked for, and the price she names (None: worked out).

    Rush and carriage of `ask` do not count: they are those of the whole quote.
    """

    cost: JobCost
    ask: Ask
    price_each: Decimal | None = None


@dataclass(frozen=True, slots=True)
class QuotedLine:
    """One line with its price; `target_each` is the price worked out, None when there is none."""

    cost: JobCost
    price: JobPrice
    amount: Decimal
    target_each: Decimal | None

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
    ready_in_days: int
    explanation: Line


def with_deposit(channel: ChannelRates, share: Decimal | None) -> ChannelRates:
    """Return the channel with the quote's own deposit in place of the usual one."""
    if share is None:
        return channel
    return replace(
        channel, tiers=tuple(replace(tier, deposit_share=share) for tier in channel.tiers)
    )


def price_line(asked: AskedLine, channel: ChannelRates, rates: WorkshopRates) -> QuotedLine:
    """Return one line at the price she names, or at the one that keeps the margin.

    Refuses a margin no price can reach, unless she names a price.
    """
    if asked.price_each is None:
        price = price_for(asked.cost, asked.ask, channel, rates)
        target: Decimal | None = price.price_each
    else:
        price = price_at(asked.price_each, asked.cost, asked.ask, channel, rates)
        try:
            target = price_for(asked.cost, asked.ask, channel, rates).price_each
        except ImpossibleMargin:
            target = None
    totals = document_totals(
        [DocumentLine(price.price_each, Decimal(price.quantity))],
        prices_include_tax=rates.prices_include_tax,
        digits=rates.currency_digits,
    )
    return QuotedLine(asked.cost, price, totals.line_amounts[0], target)


@with_working_precision
def price_quote(
    asked: Sequence[AskedLine],
    channel: ChannelRates,
    rates: WorkshopRates,
    *,
    is_rush: bool = False,
    delivery: Decimal = ZERO,
    deposit_share: Decimal | None = None,
    sunk: Decimal = ZERO,
) -> QuotePrice:
    """Return the totals of a quote.

    Fees, payments and deposit are those of the channel at the quantity of all lines together;
    `deposit_share` of the quote's own comes first; `sunk` is what a deposit must cover. Tax is
    rounded once, or line by line when the workshop says so. Refuses a quote of nothing, and what
    `price_for` refuses.
    """
    if not asked:
        raise NothingQuoted("A quote needs at least one line. Add a design to it.", where="lines")
    channel = with_deposit(channel, deposit_share)
    lines = tuple(
        price_line(
            replace(
                line,
                ask=replace(line.ask, is_rush=is_rush, delivery=ZERO if number else delivery),
            ),
            channel,
            rates,
        )
        for number, line in enumerate(asked)
    )
    quantity = sum(line.cost.quantity for line in lines)
    whole = Ask(quantity, is_rush=is_rush, delivery=delivery, sunk=sunk)
    terms = terms_at_any_price(whole, channel, rates)
    shown_delivery = terms.delivery_gross if rates.prices_include_tax else terms.delivery
    documents = [
        DocumentLine(line.price_each, Decimal(line.cost.quantity), terms.tax_rate) for line in lines
    ]
    if terms.delivery:
        documents.append(DocumentLine(shown_delivery, tax_rate=terms.tax_rate))
    totals = document_totals(
        documents,
        prices_include_tax=rates.prices_include_tax,
        per_line=rates.tax_per_line,
        digits=rates.currency_digits,
    )
    return _settle(lines, terms, totals, rates)


def _settle(
    lines: tuple[QuotedLine, ...], terms: Terms, totals: DocumentTotals, rates: WorkshopRates
) -> QuotePrice:
    """Work out everything that follows from the prices of the lines."""
    digits = rates.currency_digits
    cost = sum_line(
        "cost",
        [
            Line(f"line {number}: {line.cost.recipe.name}", line.cost.cost, "money", "as below")
            for number, line in enumerate(lines, 1)
        ],
        unit="money",
        key="q.cost",
    )
    deposit = deposit_line(totals.gross, terms, digits, "q.deposit").number
    payments = payments_for(totals.gross, deposit, terms.payments, digits)
    net = totals.net - terms.delivery
    fees = say_fees(payments, net, terms, digits)
    profit = net - fees.number - cost.number
    minutes = sum((line.cost.minutes for line in lines), ZERO)
    labour = sum((line.cost.labour_cost for line in lines), ZERO)
    floor_net = (cost.number + terms.fixed_fees) / terms.kept_at_floor
    goods = sum((line.amount for line in lines), ZERO)
    price = QuotePrice(
        lines=lines,
        terms=terms,
        totals=totals,
        delivery=totals.line_amounts[-1] if terms.delivery else ZERO,
        net=net,
        tax=totals.tax,
        total=totals.gross,
        deposit=deposit,
        balance=totals.gross - deposit,
        payments=payments,
        fees=fees.number,
        cost=cost.number,
        minutes=minutes,
        floor=floor_net * terms.tax_factor + terms.delivery_gross,
        profit=profit,
        margin=profit / net if net else None,
        per_hour=(profit + labour) / (minutes / 60) if minutes else None,
        is_below_floor=floor_net * terms.shown_factor - goods > HAIR,
        ready_in_days=_ready_in_days(lines, minutes, rates),
        explanation=Line("total to pay", totals.gross, "money"),
    )
    return replace(price, explanation=_explain(price, rates, cost, fees, floor_net))


def _ready_in_days(lines: Sequence[QuotedLine], minutes: Decimal, rates: WorkshopRates) -> int:
    """Return the days for everything: hands share the days, rack and nights follow each other."""
    work = up_to_step(minutes / (rates.hours_per_day * 60), Decimal(1))
    rack = sum(line.cost.deadline.rack_days for line in lines)
    nights = sum(line.cost.deadline.nights for line in lines)
    return rates.purchase_lead_days + max(int(work), rack, nights)


def _explain(
    price: QuotePrice, rates: WorkshopRates, cost: Line, fees: Line, floor_net: Decimal
) -> Line:
    terms, digits = price.terms, rates.currency_digits
    money = [plain_text(value, digits) for value in (price.net, price.fees, price.cost)]
    lines = [_say_lines(price, digits)]
    if terms.tax_rate:
        rounding = "line by line" if rates.tax_per_line else "once"
        inside = "taken out of the total" if rates.prices_include_tax else "put on top"
        how = f"{shown(terms.tax_rate * 100)} %, {inside}, {rounding}, halves up"
        lines.append(Line("tax", price.tax, "money", how, "q.tax"))
    total_how = "lines + delivery" if rates.prices_include_tax else "lines + delivery + tax"
    lines += [
        Line("total to pay", price.total, "money", total_how, "q.total"),
        deposit_line(price.total, terms, digits, "q.deposit"),
        Line("balance", price.balance, "money", "total - deposit", "q.balance"),
        Line(
            "goods without tax", price.net, "money", "total - tax - carriage without tax", "q.net"
        ),
        fees,
        cost,
        Line("profit", price.profit, "money", " - ".join(money), "q.profit"),
    ]
    if price.margin is not None:
        lines.append(
            Line("margin", _four(price.margin), "share", "profit / goods without tax", "q.margin")
        )
    if price.per_hour is not None:
        lines.append(
            Line(
                "what an hour of her work earns",
                _four(price.per_hour),
                "money",
                f"(profit + labour) / ({shown(price.minutes)} min / 60)",
                "q.hourly",
            )
        )
    floor_how = f"({shown(price.cost)} + {shown(terms.fixed_fees)}) / {shown(terms.kept_at_floor)}"
    if terms.tax_rate:
        floor_how += f" x {shown(terms.tax_factor)}"
    if terms.delivery:
        floor_how += f" + {terms.delivery_gross} delivery"
    lines.append(
        Line(
            "floor of the whole: wage, overhead and bills paid, no profit",
            _four(price.floor),
            "money",
            floor_how,
            "q.floor",
            (Line("of which without tax and carriage", _four(floor_net), "money"),),
        )
    )
    return Line("total to pay", price.total, "money", key="quote", lines=tuple(lines))


def _say_lines(price: QuotePrice, digits: int) -> Line:
    lines = [
        Line(
            line.cost.recipe.name,
            line.amount,
            "money",
            f"{line.cost.quantity} x {plain_text(line.price_each, digits)}",
            f"q.line.{number}",
            (line.price.explanation, line.cost.explanation),
        )
        for number, line in enumerate(price.lines, 1)
    ]
    if price.terms.delivery:
        lines.append(Line("delivery", price.delivery, "money", "at cost", "q.delivery"))
    return sum_line("lines and delivery", lines, unit="money", key="q.sum")


def _four(value: Decimal) -> Decimal:
    return value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)
