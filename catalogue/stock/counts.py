"""Tells that a count stays what it is, though something was entered before it."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.contrib import messages

from catalogue.stock.models import StockEntry
from maker.web.access import WorkshopRequest
from maker.web.words import amount_text
from maker.workshop.models import Workshop

ZERO = Decimal(0)
# more would fill the page; each material says it too
SAID_AT_MOST = 5


@dataclass(frozen=True, slots=True)
class MovedCount:
    """A count that stays, though an entry before it came or went: it found `more` now (below zero:
    less) than it did before. With `same_day` the entry came after the count of its day instead.
    """

    count: StockEntry
    more: Decimal
    same_day: bool = False


def counts_moved_by(entries: Sequence[StockEntry]) -> list[MovedCount]:
    """Return which counts meet movements that were entered now, each material once (one query).

    A movement of an earlier day is met by the first count after it, which stays what it is; one
    of the day of a count stands behind it, in the order of entry.
    """
    if not entries:
        return []
    first: dict[int, datetime.date] = {}
    for entry in entries:
        known = first.setdefault(entry.material_id, entry.moved_on)
        first[entry.material_id] = min(known, entry.moved_on)
    counts = list(
        StockEntry.objects.standing()
        .counts()
        .filter(material__in=first, moved_on__gte=min(first.values()))
        .exclude(pk__in=[entry.pk for entry in entries if entry.counted is not None])
        .select_related("material")
        .in_ledger_order()
    )
    counts_of: dict[int, list[StockEntry]] = {}
    for count in counts:
        counts_of.setdefault(count.material_id, []).append(count)
    met: dict[tuple[int, bool], Decimal] = {}
    rows: dict[int, StockEntry] = {}
    for entry in entries:
        # what takes another entry back stands in that one's place
        place = (entry.moved_on, entry.takes_back_id or entry.pk)
        for count in counts_of.get(entry.material_id, ()):
            if count.moved_on < entry.moved_on:
                continue
            is_before = (count.moved_on, count.pk) < place
            if is_before and entry.kind in (StockEntry.Kind.COUNTED, StockEntry.Kind.REVERSED):
                continue
            rows[count.pk] = count
            met[count.pk, is_before] = met.get((count.pk, is_before), ZERO) - entry.change
            if not is_before:
                break
    return [MovedCount(rows[pk], more, same_day) for (pk, same_day), more in met.items()]


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
