"""What the pages show of prices that are off: each with its cause, what is left, what mends it."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from maker.web.words import lowest_price, money, percent
from maker.workshop.models import Workshop
from pricing.calc.changes.repricing import Repricing, Trigger
from pricing.costs.addresses import cost_address
from pricing.price_review.inputs import Today
from pricing.price_review.review import OffQuote, ShownPrice, whole_of
from pricing.price_tags.models import TagPrint
from pricing.prices.inputs import item_words
from pricing.quotes.models import Quote

_CAUSES = 3

_TRIGGERS = {
    Trigger.COST: "cost changed",
    Trigger.TERMS: "fees, tax or margin changed",
    Trigger.TIMING: "times differ",
    Trigger.AGE: "not reviewed for a long time",
}


def _signed_share(share: Decimal, workshop: Workshop) -> str:
    text = percent(abs(share), workshop)
    return f"+{text}" if share > 0 else f"−{text}" if share < 0 else text


def causes_in_words(why: Repricing, workshop: Workshop) -> str:
    """Return the largest causes with what each adds to the cost of one."""
    return _largest([(step.label, step.exact) for step in why.causes], workshop, extra=2)


def _largest(moved: Sequence[tuple[str, Decimal]], workshop: Workshop, extra: int = 0) -> str:
    parts = []
    for label, amount in moved[:_CAUSES]:
        sign = "+" if amount > 0 else "−"
        parts.append(
            f"{label.removeprefix('price of ')} {sign}{money(abs(amount), workshop, extra)}"
        )
    more = len(moved) - len(parts)
    return "; ".join(parts) + (f"; {more} more" if more > 0 else "")


def price_row(off: ShownPrice, workshop: Workshop) -> dict[str, Any]:
    """Return one price of the list as the page shows it."""
    entry, why = off.entry, off.why
    row: dict[str, Any] = {
        "entry": entry,
        "item": item_words(entry),
        "cost_url": cost_address(
            workshop,
            design_pk=entry.design_id,
            version=entry.version.number,
            quantity=entry.made_at_once,
            bought_at_once=entry.bought_at_once,
            channel_pk=entry.channel_id,
            colourway_pk=entry.colourway_id,
            choices=entry.choices,
        ),
        "price": money(entry.price, workshop),
        "cost_then": money(entry.cost_each, workshop),
        "reason": off.checked.problem
        or ", ".join(_TRIGGERS[trigger] for trigger in off.checked.triggers),
        "decision": off.decision,
        "can_change": why is not None,
        "timing_drift": _signed_share(off.checked.timing_drift, workshop)
        if Trigger.TIMING in off.checked.triggers
        else "",
    }
    if why is not None:
        row |= {
            "cost_now": money(why.cost_now, workshop),
            "lowest_now": lowest_price(why.floor_now, workshop),
            "drift": _signed_share(why.cost_drift, workshop),
            "is_dearer": why.cost_drift > 0,
            "margin_then": percent(why.margin_then, workshop),
            "margin_now": percent(why.margin_now, workshop),
            "is_enough": why.price_needed == entry.price,
            "needed": money(why.price_needed, workshop),
            "needed_plain": f"{why.price_needed:f}",
            "causes": causes_in_words(why, workshop),
            "is_below_floor": why.is_below_floor,
        }
    return row


def price_rows(off: Sequence[ShownPrice], workshop: Workshop) -> list[dict[str, Any]]:
    """Return the rows of one page."""
    return [price_row(each, workshop) for each in off]


def quote_rows(
    off: Sequence[tuple[Quote, OffQuote]], today: Today, workshop: Workshop
) -> list[dict[str, Any]]:
    """Return the open quotes that are off."""
    rows = []
    for quote, each in off:
        change = each.cost_now - each.cost_then
        whole = whole_of(each, today)
        rows.append(
            {
                "margin_then": percent(whole.margin_then, workshop),
                "margin_now": percent(whole.margin_now, workshop),
                "asked": money(whole.asked, workshop),
                "needed": money(whole.needed, workshop),
                "is_enough": whole.needed == whole.asked,
                "causes": _largest(whole.causes, workshop),
                "quote": quote,
                "total": money(quote.total, workshop),
                "cost_then": money(each.cost_then, workshop),
                "cost_now": money(each.cost_now, workshop),
                "drift": _signed_share(change / each.cost_then, workshop)
                if each.cost_then
                else "–",
                "is_dearer": change > 0,
            }
        )
    return rows


def tag_rows(tags: Sequence[TagPrint], workshop: Workshop) -> list[dict[str, Any]]:
    """Return the tags that say an old price."""
    return [
        {
            "print": each,
            "design": each.entry.design,
            "channel": each.entry.channel,
            "price": money(each.entry.price, workshop),
        }
        for each in tags
    ]
