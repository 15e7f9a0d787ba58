"""The tally sheet of a day, entered afterwards: a stroke is one item and one payment."""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from pricing.fair_sales.on_table import OnTable
from pricing.fair_sales.reading import SentSale
from pricing.fair_sales.services import Teller, store_sale
from pricing.fairs.models import FairDay, FairSale

Kind = FairSale.Kind


class BadTally(Refusal):
    """A tally that cannot be meant."""


@dataclass(frozen=True, slots=True)
class Strokes:
    """So many strokes for one item, or one bundle (`is_bundle`), in one column of the sheet."""

    key: int
    count: int
    kind: str
    way: str = "none"
    is_bundle: bool = False


@dataclass(frozen=True, slots=True)
class PaperOrder:
    """An order taken on paper; its deposit in minor units."""

    note: str
    deposit: int
    way: str


@dataclass(frozen=True, slots=True)
class Tally:
    """What is on a sheet; discounts in all by way of payment, in minor units."""

    strokes: Sequence[Strokes] = ()
    sold_out: Sequence[tuple[int, datetime.time]] = ()
    discounts: Sequence[tuple[str, int]] = ()
    discount_reason: str = ""
    orders: Sequence[PaperOrder] = ()


@transaction.atomic
def enter_tally(
    *, day: FairDay, table: OnTable, tally: Tally, at: datetime.datetime, by: User,
    form_key: uuid.UUID,
) -> list[FairSale]:  # fmt: skip
    """Book a tally sheet; the same form twice books nothing twice.

    Refusals: BadTally for discounts larger than what was sold that way.
    """
    teller = Teller(by, source=FairSale.Source.PAPER)
    found = [
        *_payments(tally, table, form_key),
        *(
            (SentSale(_key(form_key, "out", item), Kind.SOLD_OUT, items={item: 0}), 1, when)
            for item, when in tally.sold_out
        ),
        *(
            (
                SentSale(
                    _key(form_key, "order", place), Kind.ORDER, order.way, amount=order.deposit,
                    note=order.note,
                ),
                1,
                None,
            )
            for place, order in enumerate(tally.orders)
        ),
    ]  # fmt: skip
    made = []
    for sale, payments, when in found:
        stored = store_sale(
            day=day,
            sale=sale,
            table=table,
            teller=teller,
            at=_moment(at, when),
            payments=payments,
        )
        if stored.is_new:
            made.append(stored.row)
    return made


def _moment(at: datetime.datetime, when: datetime.time | None) -> datetime.datetime:
    if when is None:
        return at
    # as the clock at the table showed it
    return timezone.localtime(at).replace(hour=when.hour, minute=when.minute, second=0)


def _key(form_key: uuid.UUID, *what: object) -> uuid.UUID:
    return uuid.uuid5(form_key, " ".join(str(each) for each in what))


def _payments(
    tally: Tally, table: OnTable, form_key: uuid.UUID
) -> list[tuple[SentSale, int, None]]:
    """Return sales with how many equal payments each is, discounts spread over the first ones."""
    left = dict(tally.discounts)
    found: list[tuple[SentSale, int, None]] = []
    # the highest prices first, so that a discount is taken off few payments
    for stroke in sorted(tally.strokes, key=lambda each: -_price(each, table)):
        price = _price(stroke, table)
        count, place = stroke.count, 0
        while count and stroke.kind == Kind.SALE and left.get(stroke.way, 0) > 0:
            off = min(left[stroke.way], price)
            if not off:
                break
            # as many payments as lose their whole price, or one that loses a part
            times = min(count, left[stroke.way] // price) if off == price else 1
            found.append(
                (_sale(stroke, table, form_key, place, off, tally.discount_reason), times, None)
            )
            left[stroke.way] -= off * times
            count, place = count - times, place + 1
        if count:
            found.append((_sale(stroke, table, form_key, place, 0, ""), count, None))
    if any(off > 0 for off in left.values()):
        raise BadTally("The discount is more than was sold that way.", where="discount_reason")
    return found


def _price(stroke: Strokes, table: OnTable) -> int:
    if not stroke.is_bundle:
        return table.prices[str(stroke.key)]
    return next(each.asked for each in table.bundles if each.key == str(stroke.key))


def _sale(
    stroke: Strokes, table: OnTable, form_key: uuid.UUID, place: int, off: int, reason: str
) -> SentSale:
    price = _price(stroke, table)
    items = {stroke.key: 1}
    if stroke.is_bundle:
        bundle = next(each for each in table.bundles if each.key == str(stroke.key))
        items = {int(key): count for key, count in bundle.items.items()}
    amount = {Kind.SALE: price - off, Kind.REFUND: -price}.get(FairSale.Kind(stroke.kind), 0)
    is_back = stroke.kind == Kind.REFUND
    return SentSale(
        uuid=_key(form_key, stroke.kind, stroke.way, stroke.is_bundle, stroke.key, place),
        kind=stroke.kind,
        way=stroke.way,
        items={} if is_back else items,
        back=items if is_back else {},
        bundles={stroke.key: 1} if stroke.is_bundle else {},
        amount=amount,
        discount=off,
        reason=reason if off else "",
    )
