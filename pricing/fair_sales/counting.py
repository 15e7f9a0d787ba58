"""Counting back: taken less what is left, beside what phones and paper say. Nothing is forced."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from maker.accounts.models import User
from pricing.fair_sales.on_table import OnTable
from pricing.fair_sales.reading import SentSale
from pricing.fair_sales.services import Teller, store_sale
from pricing.fairs.models import FairDay, FairDesign, FairSale, FairSaleLine
from pricing.fairs.stock import Gone, gone_of

Source = FairSale.Source


@dataclass(frozen=True, slots=True)
class CountRow:
    """An item of a fair: what was taken, what is gone by the books, what was counted."""

    item: FairDesign
    gone: Gone

    @property
    def by_phone(self) -> int:
        """Return how many were sold at the table by phone."""
        return self.gone.by_source.get(Source.TABLE, 0)

    @property
    def from_paper(self) -> int:
        """Return how many were entered from paper."""
        return self.gone.by_source.get(Source.PAPER, 0)

    @property
    def by_count(self) -> int:
        """Return how many were booked from an earlier count."""
        return self.gone.by_source.get(Source.COUNT, 0)

    @property
    def given_or_broken(self) -> int:
        """Return how many left the table unpaid."""
        return self.gone.given + self.gone.broken

    @property
    def expected(self) -> int | None:
        """Return how many should be left; None where nobody said how many were taken."""
        return None if self.item.taken is None else self.item.taken - self.gone.net

    @property
    def missing(self) -> int | None:
        """Return how many fewer are left than should be; below zero: more."""
        if self.expected is None or self.item.brought_home is None:
            return None
        return self.expected - self.item.brought_home

    @property
    def too_many(self) -> int:
        """Return how many more are left than should be."""
        return max(-(self.missing or 0), 0)


def count_rows(day: FairDay) -> list[CountRow]:
    """Return every item of the fair with its counts (three queries and what names need)."""
    gone = gone_of(FairSaleLine.objects.filter(sale__day__fair=day.fair_id))
    designs = FairDesign.objects.filter(fair=day.fair_id).with_items().in_order()
    return [CountRow(each, gone.get(each.pk, Gone())) for each in designs]


@dataclass(frozen=True, slots=True)
class Settled:
    """What she says became of missing items: `sale` in cash or by card, `given` or `broken`."""

    item: int
    count: int
    kind: str
    way: str = "none"


def book_differences(
    *,
    day: FairDay,
    table: OnTable,
    settled: Sequence[Settled],
    at: datetime.datetime,
    by: User,
    form_key: uuid.UUID,
) -> list[FairSale]:
    """Book what is missing as she says; the same form twice books nothing twice."""
    teller = Teller(by, source=Source.COUNT)
    made = []
    for each in settled:
        is_sale = each.kind == FairSale.Kind.SALE
        key = str(each.item)
        sale = SentSale(
            uuid=uuid.uuid5(form_key, f"{key} {each.kind} {each.way}"),
            kind=each.kind,
            way=each.way,
            # so many payments of one each: nobody saw who bought what together
            items={each.item: 1},
            amount=table.prices[key] if is_sale else 0,
        )
        stored = store_sale(
            day=day, sale=sale, table=table, teller=teller, at=at, payments=each.count
        )
        if stored.is_new:
            made.append(stored.row)
    return made
