"""Other quantities of a line, worked out to show beside the one that is quoted."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.refusal import Refusal
from pricing.calc.enquiries.wanted import quantities_in
from pricing.calc.orders.order import OrderedLine
from pricing.calc.orders.quote import QuotePrice, price_quote
from pricing.costs.kept_orders import order_cost
from pricing.quotes.inputs import WorkedQuote
from pricing.quotes.models import QuoteLine

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class OtherQuantity:
    """What a line would come to at another quantity, and the whole quote with it."""

    quantity: int
    price_each: Decimal
    amount: Decimal
    total: Decimal


def asked_others(line: QuoteLine) -> list[int]:
    """Return the other quantities a line asks to be shown, smallest first."""
    try:
        typed = quantities_in(line.other_quantities)
    except Refusal:
        return []
    return sorted(set(typed) - {line.quantity})


def others_of(
    worked: WorkedQuote, plan_sheets: PlanSheets | None = None
) -> dict[int, tuple[OtherQuantity, ...]]:
    """Return place of a line -> its other quantities; only of lines that ask for some.

    Each is the quote with that quantity in place of the line's own, everything else as it is. One
    that has no price is left out.
    """
    if worked.price is None:
        return {}
    planner = plan_sheets or sheet_planner()
    found = {}
    for place, row in enumerate(worked.lines):
        others = []
        for quantity in asked_others(row):
            price = _at(worked, place, quantity, planner)
            if price is not None:
                line = price.lines[place]
                others.append(OtherQuantity(quantity, line.price_each, line.amount, price.total))
        if others:
            found[place] = tuple(others)
    return found


def _at(
    worked: WorkedQuote, place: int, quantity: int, plan_sheets: PlanSheets
) -> QuotePrice | None:
    lines: Sequence[OrderedLine] = [
        with_quantity(line, quantity) if at == place else line
        for at, line in enumerate(worked.ordered)
    ]
    quote = worked.quote
    if worked.rates is None:
        return None
    try:
        order = order_cost(lines, worked.rates, plan_sheets)
        return price_quote(
            order,
            worked.asked_for(lines),
            worked.channel,
            worked.rates,
            is_rush=quote.is_rush,
            delivery=quote.delivery,
            delivery_margin=quote.delivery_margin or ZERO,
            extras=worked.loaded.extras if worked.loaded else (),
            deposit_share=quote.deposit_share,
        )
    except Refusal:
        return None


def with_quantity(line: OrderedLine, quantity: int) -> OrderedLine:
    """Return a line of another quantity; of fewer items fewer bear the names that are known."""
    ask = line.ask
    names = None if ask.names is None else min(ask.names, quantity)
    return replace(line, ask=replace(ask, quantity=quantity, names=names, bought_at_once=quantity))
