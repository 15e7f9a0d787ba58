"""What the pages show of why a price changed: chart, steps that add up, words for a customer."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from maker.calc.money import minor_digits, minor_unit
from maker.calc.sums import told
from maker.documents.history_chart import HistoryStep, history_chart, scale_start
from maker.workshop.models import Workshop
from pricing.calc.changes.history import History
from pricing.calc.changes.history_words import causes_for_a_customer
from pricing.costs.drawing import CostFigure
from pricing.price_history.quoted import LineChange, QuoteChange
from pricing.price_history.services import Histories
from pricing.quotes.drawing import Words

ZERO = Decimal(0)
# steps of a chart; the smallest of more are told in the table alone
MOST_DRAWN = 14


def history_view(history: History, words: Words, *, extra: int = 0, name: str) -> dict[str, Any]:
    """Return one price history as a page shows it.

    Rows are differences of what had been reached, each rounded, so that what is read adds up.
    """
    unit = minor_unit(minor_digits(words.currency) + extra)

    def rounded(amount: Decimal) -> Decimal:
        return amount.quantize(unit, rounding=ROUND_HALF_UP)

    reached, rows, drawn = history.old, [], []
    total = ZERO
    for step in history.steps:
        after = reached + step.change
        change = rounded(after) - rounded(reached)
        reached, total = after, total + change
        label = step.label[:1].upper() + step.label[1:]
        rows.append(
            {
                "label": label,
                "how": told(step.how, words.in_sums),
                "change": words.signed(change, extra),
                "reached": words.money(rounded(after), extra),
            }
        )
        if change:
            drawn.append(HistoryStep(label, float(step.change), words.signed(change, extra)))
    old, new = rounded(history.old), rounded(history.new)
    return {
        "old": words.money(old, extra),
        "new": words.money(new, extra),
        "change": words.signed(new - old, extra),
        "rows": rows,
        # what is left when everything is added up: nothing, or it would be said
        "left": words.money(old + total - new, extra),
        "is_same": old == new and not rows,
        **(_chart(history, drawn, words, extra, name) if rows else {"chart": ""}),
        "is_cut": len(drawn) > MOST_DRAWN,
    }


def _chart(
    history: History, drawn: Sequence[HistoryStep], words: Words, extra: int, name: str
) -> dict[str, str]:
    kept = set(sorted(range(len(drawn)), key=lambda at: -abs(drawn[at].change))[:MOST_DRAWN])
    steps = [step for at, step in enumerate(drawn) if at in kept]
    rest = sum(step.change for at, step in enumerate(drawn) if at not in kept)
    if len(kept) < len(drawn):
        text = words.signed(Decimal(repr(rest)), extra)
        steps.append(HistoryStep(f"{len(drawn) - len(kept)} smaller changes", rest, text))
    told = "; ".join(f"{step.label} {step.text}" for step in steps)

    def tick(value: float) -> str:
        return words.money(Decimal(repr(round(value, 6))), extra)

    old, new = words.money(history.old, extra), words.money(history.new, extra)
    start = scale_start(float(history.old), steps, float(history.new))
    chart = history_chart(
        ("Before", float(history.old), old),
        steps,
        ("After", float(history.new), new),
        title=f"From {old} to {new}",
        description=f"From {old} to {new}: {told}. The table has the same figures.",
        tick_text=tick,
        name=name,
    )
    return {"chart": chart, "starts_at": tick(start) if start > 0 else ""}


def customer_words(history: History, words: Words, quantities: tuple[int, int]) -> list[str]:
    """Return sentences she can say; without wage, margin, fees or what she pays for anything."""
    if history.change == 0 and not history.steps:
        return ["Nothing has changed."]
    causes = causes_for_a_customer(history)
    old, new = words.money(history.old), words.money(history.new)
    more = "more" if history.change > 0 else "less"
    change = words.money(abs(history.change))
    said = [f"The price each went from {old} to {new}: {change} {more}."]
    if history.change == 0:
        said = [f"The price each is {new}, as before."]
    for cause in causes:
        more = "more" if cause.change > 0 else "less"
        text = f"{words.money(abs(cause.change))} {more} because {cause.words}"
        if cause.named:
            text += f" ({', '.join(cause.named[:3])}{' and others' if cause.named[3:] else ''})"
        if cause.key == "quantity":
            text += f" ({quantities[1]} instead of {quantities[0]})"
        said.append(text[:1].upper() + text[1:] + ".")
    return said


def histories_page(found: Histories, workshop: Workshop) -> dict[str, Any]:
    """Return everything the page of a design shows."""
    words = Words(workshop.currency, workshop.locale)
    price = history_view(found.price, words, name="price")
    figures = [
        CostFigure(
            "Price each", price["change"], note=f"{price['old']} → {price['new']}", main=True
        )
    ]
    cost = history_view(found.cost, words, extra=2, name="cost")
    total = history_view(found.total, words, name="total")
    for label, view in (("Cost each", cost), ("Total to pay", total)):
        figures.append(CostFigure(label, view["change"], note=f"{view['old']} → {view['new']}"))
    quantities = (found.old.quantity, found.new.quantity)
    return {
        "figures": figures,
        "price": price,
        "others": [
            ("Cost each", "to two more decimals", cost),
            ("Total to pay", _say_quantities(quantities), total),
        ],
        "said": customer_words(found.price, words, quantities),
    }


def _say_quantities(quantities: tuple[int, int]) -> str:
    before, after = quantities
    return f"for {after}" if before == after else f"for {after} instead of {before}"


def quote_page(change: QuoteChange, currency: str, locale: str) -> dict[str, Any]:
    """Return everything the page of two quotes shows."""
    words = Words(currency, locale)
    return {
        "change": change,
        "total": history_view(change.total, words, name="total"),
        "lines": [_line(line, place, words) for place, line in enumerate(change.lines, 1)],
    }


def _line(line: LineChange, place: int, words: Words) -> dict[str, Any]:
    before, after = line.prices
    shown: dict[str, Any] = {
        "design": line.design,
        "quantities": line.quantities,
        "each": f"{words.money(before)} → {words.money(after)}",
        "change": words.signed(line.change),
        "problem": line.problem,
        "view": None,
    }
    if line.history is not None:
        shown["view"] = history_view(line.history, words, name=f"line-{place}")
        shown["said"] = customer_words(line.history, words, line.quantities)
    return shown
