"""Tells that a count stays what it is, though something was entered before it."""

from collections.abc import Sequence
from decimal import Decimal

from django.contrib import messages

from catalogue.stock.models import StockEntry
from catalogue.stock.services import MovedCount, counts_moved_by
from maker.web.access import WorkshopRequest
from maker.web.words import amount_text
from maker.workshop.models import Workshop

ZERO = Decimal(0)
# more would fill the page; each material says it too
SAID_AT_MOST = 5


def say_counts(request: WorkshopRequest, entries: Sequence[StockEntry]) -> None:
    """Say which counts meet movements that were entered just now."""
    for text in counts_in_words(request.workshop, entries):
        messages.info(request, text)


def counts_in_words(workshop: Workshop, entries: Sequence[StockEntry]) -> list[str]:
    """Return in words which counts meet movements that were entered just now."""
    moved = counts_moved_by(entries)
    said = [count_words(one, workshop) for one in moved[:SAID_AT_MOST]]
    if len(moved) > SAID_AT_MOST:
        said.append(f"So do {len(moved) - SAID_AT_MOST} more counts.")
    return said


def count_words(moved: MovedCount, workshop: Workshop) -> str:
    """Say in words what became of one count."""
    count, material = moved.count, moved.count.material
    day = f"{count.moved_on.day} {count.moved_on:%B %Y}"

    def amount(value: Decimal, typed_in: str = "") -> str:
        return amount_text(abs(value), material.unit, workshop, typed_in)

    counted_amount = count.counted or ZERO
    counted = f"{material.name} was counted on {day}: {amount(counted_amount, count.typed_in)}."
    if moved.same_day:
        return f"{counted} This comes after that count. Count again if it was counted in."
    if not moved.more:
        return f"{counted} That count stays."
    if count.change:
        way = "missing" if count.change < 0 else "found"
        return f"{counted} That count stays: {amount(count.change)} {way} there now."
    return f"{counted} That count stays, and now agrees with the stock."
