"""What the price of a line of a quote was worked out from: its share of the order.

Kept with a sent quote, to be laid beside a later one or beside today's costs.
"""

from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.costing.rates import ChannelRates, WorkshopRates
from pricing.calc.orders.groups import as_decimal
from pricing.calc.orders.quote import QuotedLine, QuotePrice, line_ask
from pricing.calc.price.ingredients import Ingredients, Item, Work, added_up, bare_rates, one_tier

ZERO = Decimal(0)


@with_working_precision
def line_ingredients(
    quote: QuotePrice,
    channel: ChannelRates,
    rates: WorkshopRates,
    *,
    is_rush: bool = False,
    delivery: Decimal = ZERO,
) -> tuple[Ingredients, ...]:
    """Return the ingredients of each line; `channel` with the deposit of the quote."""
    return tuple(_of_line(quote, line, channel, rates, is_rush, delivery) for line in quote.lines)


def _of_line(
    quote: QuotePrice,
    line: QuotedLine,
    channel: ChannelRates,
    rates: WorkshopRates,
    is_rush: bool,
    delivery: Decimal,
) -> Ingredients:
    ask = line_ask(line.cost, quote.order, is_rush=is_rush, delivery=delivery)
    items: list[Item] = []
    minutes: dict[str, Decimal] = {}
    for charge, amount in line.cost.shares:
        many = as_decimal(amount)
        if charge.kind is None:
            minutes[charge.name] = minutes.get(charge.name, ZERO) + many
        else:
            items.append(
                Item(
                    charge.kind, charge.identity, charge.name, charge.unit, many, charge.unit_cost
                )
            )  # fmt: skip
    is_alone = len(quote.lines) == 1
    return Ingredients(
        quantity=line.cost.quantity,
        items=added_up(items),
        work=tuple(Work(name, many) for name, many in minutes.items()),
        rates=bare_rates(rates),
        channel=one_tier(ask, channel),
        is_rush=is_rush,
        delivery=delivery,
        price_each=line.price_each,
        choices=ask.choices,
        alike=None if is_alone else ask.alike,
        ordered=None if is_alone else ask.ordered,
    )
