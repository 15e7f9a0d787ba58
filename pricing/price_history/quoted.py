"""Lays two quotes to one customer side by side: line by line, then the whole."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.changes.history import History, PriceStep, price_history
from pricing.calc.price.ingredients import Ingredients, from_plain
from pricing.price_history.services import NotKept
from pricing.quotes.documents import charges_in, discount_in, document_of, quote_document
from pricing.quotes.inputs import problems_in_words, work_out
from pricing.quotes.models import Quote, QuoteLine, QuoteQuerySet
from pricing.quotes.sending import ingredients_of_lines

ZERO = Decimal(0)
# lines laid side by side on one page; more would take too long to read
MOST_LINES = 40


@dataclass(frozen=True, slots=True)
class QuoteLines:
    """What one quote says of its lines; `ingredients` is empty where they were not kept."""

    quote: Quote
    public: dict[str, Any]
    prices_include_tax: bool
    ingredients: tuple[Ingredients, ...]

    def amount(self, place: int) -> Decimal:
        """Return the amount of a line."""
        return Decimal(self.public["lines"][place]["amount"])


@dataclass(frozen=True, slots=True)
class LineChange:
    """A line that is on both quotes (`history`: of the price of one, None: cannot be said)."""

    design: str
    quantities: tuple[int, int]
    prices: tuple[Decimal, Decimal]
    change: Decimal
    history: History | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class QuoteChange:
    """From one total to the other: `steps` add up to the difference to the cent."""

    old: QuoteLines
    new: QuoteLines
    lines: tuple[LineChange, ...]
    total: History
    left_out: int

    @property
    def is_kept(self) -> bool:
        """Whether both quotes kept what their lines were worked out from."""
        return bool(self.old.ingredients and self.new.ingredients)


def others_for(quote: Quote) -> QuoteQuerySet:
    """Return the same customer's other quotes with a design of this one, the newest first."""
    designs = quote.lines.kept().values("design")
    lines = QuoteLine.objects.filter(design__in=designs, is_removed=False)
    return (
        Quote.objects.filter(customer=quote.customer, pk__in=lines.values("quote"))
        .exclude(pk=quote.pk)
        .exclude(state=Quote.State.DISCARDED)
        .for_list()
        .newest_first()
    )


def lines_of(quote: Quote, today: datetime.date) -> QuoteLines:
    """Return a sent quote's lines as they were, a draft's as of today.

    Refused when a draft cannot be worked out; `quote` comes from `with_people()`.
    """
    if quote.frozen:
        document = quote_document(quote, today)
        kept = quote.frozen.get("basis", {}).get("lines", [])
        ingredients = tuple(from_plain(line) for line in kept)
    else:
        worked = work_out(quote)
        if worked.price is None:
            raise Refusal(problems_in_words(worked) or "This quote is empty.")
        document, ingredients = document_of(worked, today), ingredients_of_lines(worked)
    if len(ingredients) != len(document["public"]["lines"]):
        ingredients = ()
    return QuoteLines(quote, document["public"], document["prices_include_tax"], ingredients)


@with_working_precision
def change_between(old: QuoteLines, new: QuoteLines) -> QuoteChange:
    """Return why the second total is another one: lines on both, gone, added, delivery, tax."""
    pairs, gone, added = _paired(old.public["lines"], new.public["lines"])
    lines = []
    steps = []
    for place, (one, other) in enumerate(pairs, 1):
        line = _line_change(old, one, new, other)
        lines.append(line)
        how = sums.say("{} → {}", *map(_amount, line.quantities, line.prices))
        steps.append(_step(f"line.{place}", line.design, how, line.change))
    for key, label, side, places, sign in (
        ("gone", "removed", old, gone, -1),
        ("added", "added", new, added, 1),
    ):
        for place in places:
            said = side.public["lines"][place]
            amount = _amount(said["quantity"], Decimal(said["price_each"]))
            how = amount.then(label)
            steps.append(_step(f"{key}.{place}", said["design"], how, sign * side.amount(place)))
    steps += _rest(old, new)
    before, after = Decimal(old.public["total"]), Decimal(new.public["total"])
    kept = tuple(step for step in steps if step.change)
    return QuoteChange(
        old,
        new,
        tuple(lines[:MOST_LINES]),
        History(
            before,
            after,
            kept,
            Line("total to pay", after, "money", sums.say("from {}", sums.money(before))),
        ),
        max(len(lines) - MOST_LINES, 0),
    )


def _amount(quantity: int, price_each: Decimal) -> sums.How:
    return sums.number(quantity) * sums.money(price_each)


def _step(key: str, label: str, how: sums.How, change: Decimal) -> PriceStep:
    return PriceStep(key, label, how, change, change)


def _paired(
    old: Sequence[dict[str, Any]], new: Sequence[dict[str, Any]]
) -> tuple[list[tuple[int, int]], list[int], list[int]]:
    """Pair lines of one design in their order; return pairs, places gone, places added."""
    waiting: dict[str, list[int]] = {}
    for place, line in enumerate(old):
        waiting.setdefault(line["design"], []).append(place)
    pairs, added = [], []
    for place, line in enumerate(new):
        there = waiting.get(line["design"])
        if there:
            pairs.append((there.pop(0), place))
        else:
            added.append(place)
    return pairs, sorted(place for left in waiting.values() for place in left), added


def _line_change(old: QuoteLines, one: int, new: QuoteLines, other: int) -> LineChange:
    was, now = old.public["lines"][one], new.public["lines"][other]
    history, problem = None, ""
    try:
        if not old.ingredients or not new.ingredients:
            raise NotKept("This line is too old to have its calculation.")
        history = price_history(old.ingredients[one], new.ingredients[other])
    except Refusal as refusal:
        problem = refusal.message
    return LineChange(
        design=now["design"],
        quantities=(was["quantity"], now["quantity"]),
        prices=(Decimal(was["price_each"]), Decimal(now["price_each"])),
        change=new.amount(other) - old.amount(one),
        history=history,
        problem=problem,
    )


def _rest(old: QuoteLines, new: QuoteLines) -> list[PriceStep]:
    """Return discounts and charges, delivery, and the tax that is put on top of the lines."""
    steps = []
    for key, label, was, now in (
        ("extras", "discounts and charges", _extras(old), _extras(new)),
        ("delivery", "delivery", _delivery(old), _delivery(new)),
        ("tax_on_top", "tax added", _tax(old), _tax(new)),
    ):
        steps.append(
            _step(key, label, sums.say("{} → {}", *map(sums.money, (was, now))), now - was)
        )
    return steps


def _extras(side: QuoteLines) -> Decimal:
    return charges_in(side.public) - discount_in(side.public)


def _delivery(side: QuoteLines) -> Decimal:
    return Decimal(side.public["delivery"] or 0)


def _tax(side: QuoteLines) -> Decimal:
    return ZERO if side.prices_include_tax else Decimal(side.public["tax"])
