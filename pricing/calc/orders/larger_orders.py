"""Larger orders that cost less in all: where a lower tier, or a row of a recipe, starts just above.

Between two such quantities a larger order never costs less (but for the rounding of the price
step), so only those are tried; nearest first, up to twice the quantity.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import Ask, ChannelRates
from pricing.calc.orders.groups import Group, OrderedLine
from pricing.calc.orders.quote import AskedPrice, QuotePrice
from pricing.calc.price.terms import terms_at_any_price

ZERO = Decimal(0)
# orders laid beside the one asked for; each is costed anew, so fewer of a long one
MOST_TRIED = 6
_LINES_TRIED = 120

# prices the order with these lines instead of its own
Price = Callable[[Sequence[OrderedLine]], QuotePrice]


@dataclass(frozen=True, slots=True)
class LargerOrder:
    """More of one design (`quantity` instead of `asked`) for a lower total of the whole quote."""

    design: str
    asked: int
    quantity: int
    asked_total: Decimal
    total: Decimal


@with_working_precision
def larger_orders(
    lines: Sequence[OrderedLine],
    asked: Sequence[AskedPrice],
    quote: QuotePrice,
    channel: ChannelRates,
    price: Price,
) -> tuple[LargerOrder, ...]:
    """Return for each design the larger quantity that lowers the total the most.

    A design with a price that was set is left out: such a price does not follow the quantity; one
    of the list falls where another of its prices begins. The largest line of the design grows.
    """
    found: list[LargerOrder] = []
    tried, most = 0, max(1, min(MOST_TRIED, _LINES_TRIED // len(lines)))
    for group in quote.order.groups:
        if any(asked[part.place].price_each is not None for part in group.parts):
            continue
        best: LargerOrder | None = None
        listed = {start for part in group.parts for start in asked[part.place].list_starts}
        for quantity in _starts(group, quote, channel, listed):
            if tried >= most:
                break
            tried += 1
            total = _total_with(lines, group, quantity, price)
            if total is not None and total < (best.total if best else quote.total):
                best = LargerOrder(group.recipe.name, group.quantity, quantity, quote.total, total)
        if best is not None:
            found.append(best)
    return tuple(found)


def _total_with(
    lines: Sequence[OrderedLine], group: Group, quantity: int, price: Price
) -> Decimal | None:
    largest = max(group.parts, key=lambda part: (part.quantity, -part.place))
    line = lines[largest.place]
    more = replace(line.ask, quantity=line.ask.quantity + quantity - group.quantity)
    grown = [*lines]
    grown[largest.place] = replace(line, ask=more)
    try:
        return price(grown).total
    except Refusal:
        return None


def _starts(
    group: Group, quote: QuotePrice, channel: ChannelRates, listed: set[int]
) -> Iterator[int]:
    """Yield the quantities of a design above its own where the total may fall, nearest first."""
    now, ordered = group.quantity, quote.order.quantity
    recipe = group.recipe
    conditions = [
        *(row.when for row in recipe.pieces),
        *(row.when for row in recipe.fixings),
        *(row.when for row in recipe.wears),
        *(row.when for row in recipe.packings),
        *(row.when for row in recipe.steps),
    ]
    switches = {when.from_quantity for when in conditions if when.from_quantity is not None}
    switches |= listed
    switches |= {when.to_quantity + 1 for when in conditions if when.to_quantity is not None}
    tiers = {tier.bought_at_once for tier in channel.tiers}
    whole = {start - ordered + now for start in tiers}
    for quantity in sorted(switches | tiers | whole):
        if not now < quantity <= 2 * now:
            continue
        if quantity in switches or _may_fall(group, quantity, quote, channel):
            yield quantity


def _may_fall(group: Group, quantity: int, quote: QuotePrice, channel: ChannelRates) -> bool:
    """Say whether tiers may lower the total: their price of what the order costs now is lower."""
    rates, ordered = quote.order.rates, quote.order.quantity + quantity - group.quantity
    places = {part.place for part in group.parts}
    least = ZERO
    for line in quote.lines:
        alike = quantity if line.cost.place in places else line.cost.group_quantity
        ask = Ask(line.cost.quantity, alike=alike, ordered=ordered)
        try:
            terms = terms_at_any_price(ask, channel, rates)
        except Refusal:
            return False
        if terms.kept <= 0:
            return False
        factor = line.price.terms.rush_factor * terms.shown_factor
        worked_out = line.cost.cost / terms.kept * factor
        least += min(worked_out, line.amount)
    return least < sum((line.amount for line in quote.lines), ZERO) and least > 0
