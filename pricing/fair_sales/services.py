"""What happened at the table goes into the books: each thing once, however often it is sent.

Every sale is a transaction of its own, so that one that cannot be booked holds up no other. The day
is locked first: two phones, or one that sends twice, wait for each other.
"""

import datetime
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.fair_sales.happened import happened_at
from pricing.fair_sales.on_table import OnTable, check_amount, on_table
from pricing.fair_sales.ordering import keep_enquiry, restore_enquiry, take_back_enquiry
from pricing.fair_sales.reading import (
    WAYS,
    BadSale,
    SentBatch,
    SentSale,
    Unreadable,
    moment_of,
    read_sale,
    text_of,
    uuid_of,
)
from pricing.fair_sales.stock import give_back_stock, take_from_stock
from pricing.fairs.models import FairDay, FairSale, FairSaleLine

Kind = FairSale.Kind


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one sale that was sent: `stored`, `already` or `refused` with its reason."""

    uuid: str
    state: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Teller:
    """Who tells of a sale: the person, the phone, and how it came in."""

    by: User | None
    phone: str = ""
    source: str = FairSale.Source.TABLE


def store_batch(
    *, day: FairDay, batch: SentBatch, by: User, now: datetime.datetime
) -> list[Answer]:
    """Store what a phone sent, in its order; the answer names each.

    What cannot be booked is stored with its reason; only what has no number of its own is not.
    """
    workshop = day.fair.workshop
    table, teller = on_table(day, workshop), Teller(by, batch.phone)
    ahead = batch.clock - now if batch.clock else datetime.timedelta(0)
    return [_answer(raw, day, table, teller, ahead, now) for raw in batch.sales]


def _answer(
    raw: Any,
    day: FairDay,
    table: OnTable,
    teller: Teller,
    ahead: datetime.timedelta,
    now: datetime.datetime,
) -> Answer:
    try:
        own = uuid_of(raw)
    except Unreadable as refusal:
        text = raw.get("uuid") if isinstance(raw, dict) else None
        return Answer(text if isinstance(text, str) else "", "refused", refusal.message)
    phone_at = moment_of(raw.get("at"))
    at = happened_at(phone_at, ahead, day.held_on, now)
    try:
        sale = read_sale(raw)
    except BadSale as refusal:
        sale, problem = SentSale(uuid=own, kind=Kind.SALE, **_money_of(raw)), refusal.message
    else:
        problem = ""
    try:
        if sale.kind == "undo" and sale.of is not None and not problem:
            state = undo_by_uuid(day=day, own=sale.of, by=teller.by, now=now)
            return Answer(str(own), state)
        stored = store_sale(
            day=day,
            sale=sale,
            table=table,
            teller=teller,
            at=at,
            phone_at=phone_at,
            problem=problem,
            sent_text=text_of(raw),
        )
    except IntegrityError:
        # the same number on another day at the same moment
        return Answer(str(own), "refused", "This number was used for another sale.")
    except Refusal as refusal:
        return Answer(str(own), "refused", refusal.message)
    if stored.row.problem:
        return Answer(str(own), "refused", stored.row.problem)
    return Answer(str(own), "stored" if stored.is_new else "already")


def _money_of(raw: dict[str, Any]) -> dict[str, Any]:
    """Return what was paid for a sale that cannot be read otherwise: its money counts."""
    amount, way = raw.get("amount"), raw.get("way")
    is_money = isinstance(amount, int) and not isinstance(amount, bool) and abs(amount) < 10**9
    if not is_money or way not in WAYS or way == "none":
        return {}
    return {"amount": amount, "way": way}


@dataclass(frozen=True, slots=True)
class Stored:
    """A sale in the books, and whether it came in now."""

    row: FairSale
    is_new: bool


@transaction.atomic
def store_sale(
    *,
    day: FairDay,
    sale: SentSale,
    table: OnTable,
    teller: Teller,
    at: datetime.datetime,
    phone_at: datetime.datetime | None = None,
    payments: int = 1,
    problem: str = "",
    sent_text: str = "",
) -> Stored:
    """Book a sale once. What cannot be booked is stored with the reason in `problem`.

    Refusals: BadSale for a number that another day has.
    """
    FairDay.objects.select_for_update(of=("self",)).get(pk=day.pk)
    found = FairSale.objects.select_for_update(of=("self",)).filter(uuid=sale.uuid).first()
    is_undone_before = found is not None and found.is_awaited
    if found is not None and (found.day_id != day.pk or not is_undone_before):
        if found.day_id != day.pk:
            raise BadSale("This number was used for another sale.")
        return Stored(found, is_new=False)
    row = found or FairSale(day=day, uuid=sale.uuid)
    row.happened_at, row.phone_at, row.kind, row.way = at, phone_at, sale.kind, sale.way
    row.source, row.phone, row.payments = teller.source, teller.phone, payments
    row.received = table.money(sale.amount)
    row.discount, row.discount_reason = table.money(sale.discount), sale.reason
    row.note, row.is_awaited = sale.note, False
    if problem:
        return Stored(_kept(row, problem, sent_text), is_new=True)
    try:
        with transaction.atomic():
            _book(row, sale, table, teller)
    except Refusal as refusal:
        return Stored(_kept(row, refusal.message, sent_text), is_new=True)
    return Stored(row, is_new=True)


def _kept(row: FairSale, problem: str, sent_text: str) -> FairSale:
    row.problem, row.sent_text = problem[:300], sent_text
    row.save()
    return row


def _book(row: FairSale, sale: SentSale, table: OnTable, teller: Teller) -> None:
    for key in (*sale.items, *sale.back):
        design = table.items.get(str(key))
        if design is not None and design.version.design.retired_on is not None:
            raise BadSale(f"{design.version.design} is archived.", where="items")
    row.bundle_off = table.money(check_amount(sale, table))
    row.save()
    lines = [*_lines(row, sale, table)]
    FairSaleLine.objects.bulk_create(lines)
    if row.kind == Kind.ORDER:
        keep_enquiry(row, sale, table.fair)
    # undone before it arrived: nothing left and nothing came back
    if row.undone_at is None:
        take_from_stock(row, by=teller.by)


def _lines(row: FairSale, sale: SentSale, table: OnTable) -> list[FairSaleLine]:
    """Return a line for each item; those in bundles apart, with their bundle."""
    rest, lines = dict(sale.items), []
    bundles = {bundle.key: bundle for bundle in table.bundles}
    for bundle, count in sale.bundles.items():
        for key, each in bundles[str(bundle)].items.items():
            rest[int(key)] -= each * count
            lines.append(_line(row, int(key), each * count, table, bundle_id=bundle))
    for item, count in rest.items():
        if count or row.kind == Kind.SOLD_OUT:
            lines.append(_line(row, item, count, table))
    for item, count in sale.back.items():
        lines.append(_line(row, item, count, table, came_back=True, is_spoiled=sale.is_spoiled))
    return lines


def _line(row: FairSale, item: int, count: int, table: OnTable, **columns: Any) -> FairSaleLine:
    price = table.money(table.prices[str(item)])
    return FairSaleLine(sale=row, item_id=item, quantity=count, price_each=price, **columns)


@transaction.atomic
def undo_by_uuid(*, day: FairDay, own: uuid.UUID, by: User | None, now: datetime.datetime) -> str:
    """Undo a sale by its number, also before it arrives: return `stored` or `already`.

    Refusals: BadSale for a number of another day.
    """
    FairDay.objects.select_for_update(of=("self",)).get(pk=day.pk)
    row = FairSale.objects.select_for_update(of=("self",)).filter(uuid=own).first()
    if row is None:
        FairSale.objects.create(
            day=day,
            uuid=own,
            happened_at=now,
            way=FairSale.Way.NONE,
            undone_at=now,
            is_awaited=True,
        )
        return "stored"
    if row.day_id != day.pk:
        raise BadSale("This number was used for another sale.")
    if row.undone_at is not None:
        return "already"
    take_back_enquiry(row)
    give_back_stock(row, by=by)
    row.undone_at = now
    row.save(update_fields=["undone_at"])
    return "stored"


@transaction.atomic
def restore_sale(*, sale: FairSale, by: User | None) -> FairSale:
    """Bring an undone sale back. Refusals: what the stock ledger refuses."""
    FairDay.objects.select_for_update(of=("self",)).get(pk=sale.day_id)
    row = FairSale.objects.select_for_update(of=("self",)).get(pk=sale.pk)
    if row.undone_at is None or row.is_awaited:
        return row
    row.undone_at = None
    row.save(update_fields=["undone_at"])
    restore_enquiry(row)
    if not row.problem:
        take_from_stock(row, by=by)
    return row


@transaction.atomic
def book_as_sent(*, sale: FairSale, counts: Sequence[tuple[int, int]], by: User | None) -> FairSale:
    """Settle a sale that could not be booked: she says which items it was; its money stays.

    `counts` are keys of items of the fair and how many. What the money is off the day's prices is
    a discount, "as sold". Refusals: BadSale where nothing is wrong with it any more.
    """
    FairDay.objects.select_for_update(of=("self",)).get(pk=sale.day_id)
    row = (
        FairSale.objects.select_for_update(of=("self",)).select_related("day__fair").get(pk=sale.pk)
    )
    if not row.problem or row.undone_at is not None:
        raise BadSale("This sale was settled already.")
    workshop: Workshop = row.day.fair.workshop
    table = on_table(row.day, workshop)
    lines = [
        _line(row, item, count, table, came_back=row.kind == Kind.REFUND)
        for item, count in counts
        if count and str(item) in table.prices
    ]
    FairSaleLine.objects.bulk_create(lines)
    row.problem = ""
    if row.kind == Kind.SALE:
        full = sum((line.price_each * line.quantity for line in lines), table.money(0))
        row.discount = max(full - row.received, table.money(0))
        row.discount_reason = "as sold" if row.discount else ""
    row.save()
    take_from_stock(row, by=by)
    return row
