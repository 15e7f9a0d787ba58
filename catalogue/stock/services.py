"""Movements of stock, and the figures on hand and cost that are kept from them.

Every movement locks its material, adds an entry and replays the whole ledger of the material,
so that an entry of an earlier day moves the averages after it as if it had been there in time.
A count is what was there: `change` of a count follows from `counted`, so that what is entered later
with an earlier day changes what the count found missing, never what it counted.
An entry that was taken back and the entry that takes it back are both left out of the replay:
what never happened moves no average.
"""

import datetime
import uuid
from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType

from django.db import transaction

from catalogue.materials.models import Material
from catalogue.stock.inputs import Replayed, replayed
from catalogue.stock.ledger import (
    AlreadyEntered,
    CannotBeTakenBack,
    refuse_reversal,
    refuse_second_click,
)
from catalogue.stock.models import StockEntry, StockEntryQuerySet
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.many_rows import update_rows
from maker.workshop.models import Workshop

ZERO = Decimal(0)
Kind = StockEntry.Kind

# what she may take off the shelf by hand, typed as a positive amount
OUTGOING = (Kind.USED, Kind.SCRAP, Kind.OWN_USE, Kind.GIFT, Kind.SAMPLE, Kind.SOLD, Kind.RETURNED)

# the figures of a material that are kept from its ledger
KEPT = (
    "on_hand",
    "stock_value",
    "average_cost",
    "fifo_cost",
    "latest_cost",
    "latest_line_id",
)


class UnlikelyDate(Refusal):
    """The day is still to come, or so long ago that it can only be a slip."""


def check_date(on: datetime.date, today: datetime.date, where: str) -> None:
    """Refuse a day after tomorrow (tomorrow allows for another time zone) or before 1990."""
    said = f"{on.day} {on:%B %Y}"
    if on > today + datetime.timedelta(days=1):
        raise UnlikelyDate(f"{said} is in the future. Check the date.", where=where)
    if on.year < 1990:
        raise UnlikelyDate(f"{said} is very long ago. Check the year.", where=where)


def lock_materials(keys: Iterable[int]) -> dict[int, Material]:
    """Lock materials until the transaction ends and return them by key.

    Always in the order of their keys, so that two people never wait for each other.
    """
    rows = Material.objects.select_for_update(no_key=True).filter(pk__in=set(keys)).order_by("pk")
    return {material.pk: material for material in rows}


@transaction.atomic
def move_stock(
    *,
    material: Material,
    kind: str,
    amount: Decimal,
    moved_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
    reason: str = "",
    typed_in: str = "",
    lot: str = "",
    form_key: uuid.UUID | None = None,
) -> StockEntry:
    """Take an amount (recipe units, above zero) off the shelf.

    More than the ledger has may go: what is made on the bench is made, and a receipt not entered
    yet is the usual reason. The material then shows that its stock is below nothing. `lot` is the
    lot it leaves, if that is known. Refuses a day still to come. The same `form_key` a second time
    raises AlreadyEntered.
    """
    check_date(moved_on, today, "moved_on")
    locked = _locked(material, form_key)
    return _enter(
        locked,
        kind,
        -amount,
        moved_on,
        by=by,
        reason=reason,
        typed_in=typed_in,
        lot=lot,
        form_key=form_key,
    )


@transaction.atomic
def put_on_shelf(
    *,
    material: Material,
    amount: Decimal,
    cost: Decimal,
    moved_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
    reason: str = "",
    typed_in: str = "",
    lot: str = "",
    form_key: uuid.UUID | None = None,
) -> StockEntry:
    """Enter goods that were there before the first receipt; `cost` is what they cost in all."""
    check_date(moved_on, today, "moved_on")
    locked = _locked(material, form_key)
    return _enter(
        locked,
        Kind.OPENING,
        amount,
        moved_on,
        by=by,
        reason=reason,
        typed_in=typed_in,
        lot=lot,
        form_key=form_key,
        cost=cost,
    )


@transaction.atomic
def count_stock(
    *,
    material: Material,
    counted: Decimal,
    moved_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
    reason: str = "",
    typed_in: str = "",
    lot: str = "",
    form_key: uuid.UUID | None = None,
) -> StockEntry:
    """Say what was counted at the end of a day (recipe units, 0 or more).

    It stays what was there: a count that agrees with the ledger is kept too, and an entry of an
    earlier day that comes later changes what this count found missing. The difference is in `lot`,
    if that is known.
    """
    check_date(moved_on, today, "moved_on")
    locked = _locked(material, form_key)
    return _enter_count(
        locked,
        counted,
        moved_on,
        by=by,
        reason=reason,
        typed_in=typed_in,
        lot=lot,
        form_key=form_key,
    )


@transaction.atomic
def count_shelf(
    *,
    workshop: Workshop,
    counted: Mapping[int, Decimal],
    counted_on: datetime.date,
    today: datetime.date,
    reason: str,
    form_key: uuid.UUID,
    by: User | None = None,
    typed_in: Mapping[int, str] = MappingProxyType({}),
) -> list[StockEntry]:
    """Say what was counted of many materials (by key) at the end of a day, all or none.

    Counts that agree with the ledger are kept too, as `count_stock` does. The same `form_key` a
    second time raises AlreadyEntered.
    """
    check_date(counted_on, today, "counted_on")
    own = workshop.materials.filter(pk__in=counted).values_list("pk", flat=True)
    materials = lock_materials(own)
    before = entries_of_count(workshop, form_key).first()
    if before:
        raise AlreadyEntered(before)
    entries = []
    for key, material in materials.items():
        material.workshop = workshop
        entries.append(
            _enter_count(
                material,
                counted[key],
                counted_on,
                by=by,
                reason=reason,
                typed_in=typed_in.get(key, ""),
                form_key=_key_of(form_key, key),
            )
        )
    return entries


def _key_of(form_key: uuid.UUID, material_key: int) -> uuid.UUID:
    """Return the key of one entry of a count of many: the same for the same form and material."""
    return uuid.uuid5(form_key, str(material_key))


def entries_of_count(workshop: Workshop, form_key: uuid.UUID) -> StockEntryQuerySet:
    """Return what one count of many materials entered (two queries)."""
    materials = workshop.materials.values_list("pk", flat=True)
    keys = [_key_of(form_key, key) for key in materials]
    return StockEntry.objects.of(workshop).filter(form_key__in=keys).order_by("pk")


@transaction.atomic
def reverse_count(
    *, workshop: Workshop, form_key: uuid.UUID, by: User | None = None
) -> list[StockEntry]:
    """Take back all of a count that was not taken back one by one since."""
    entries = list(entries_of_count(workshop, form_key))
    materials = lock_materials(entry.material_id for entry in entries)
    # asked behind the lock: the second of two clicks finds nothing left
    standing = list(entries_of_count(workshop, form_key).standing())
    if not standing:
        raise CannotBeTakenBack("This stock count was already undone.")
    backs = []
    for entry in standing:
        backs.append(take_back(entry, by=by, reason="stock count undone"))
        material = materials[entry.material_id]
        material.workshop = workshop
        replay_ledger(material)
    return backs


@transaction.atomic
def reverse_entry(*, entry: StockEntry, by: User | None = None, reason: str = "") -> StockEntry:
    """Take one entry back by a new one of the same day; both stay in the ledger."""
    locked = _locked(entry.material)
    if entry.kind == Kind.BOUGHT:
        raise CannotBeTakenBack("This came with a receipt. Undo the receipt instead.")
    # what a count found missing may have moved while this waited for the lock
    entry.refresh_from_db(fields=["change"])
    back = take_back(entry, by=by, reason=reason)
    replay_ledger(locked)
    return back


def take_back(entry: StockEntry, *, by: User | None, reason: str) -> StockEntry:
    """Add the entry that takes another back, on the same day; the caller locks and replays."""
    refuse_reversal(entry)
    return StockEntry.objects.create(
        material_id=entry.material_id,
        moved_on=entry.moved_on,
        kind=Kind.REVERSED,
        change=-entry.change,
        typed_in="" if entry.counted is not None else entry.typed_in,
        purchase_line_id=entry.purchase_line_id,
        takes_back=entry,
        reason=reason,
        made_by=by,
    )


def balance_on(material: Material, on: datetime.date | None = None) -> Decimal:
    """Return what the ledger has at the end of a day, or now (one query).

    Added up here and not in the database: SQLite would add decimals as floats.
    """
    entries = material.stock_entries.all()
    if on is not None:
        entries = entries.filter(moved_on__lte=on)
    return sum(entries.values_list("change", flat=True), ZERO)


def keep_figures(replay: Replayed, latest_line_id: int | None) -> None:
    """Store what a replay worked out, with the key that the latest line has now."""
    update_rows(replay.changed, ["change", "unit_cost", "balance", "balance_value"])
    material = replay.material
    for name in KEPT:
        setattr(material, name, getattr(replay.figures, name))
    material.latest_line_id = latest_line_id
    material.save(update_fields=[name.removesuffix("_id") for name in KEPT])


def replay_ledger(material: Material) -> None:
    """Work out every balance, value and cost of a locked material again from its entries."""
    done = replayed(material, material.stock_entries.in_ledger_order())
    keep_figures(done, done.figures.latest_line_id)


@transaction.atomic
def replay_workshop(*, workshop: Workshop) -> int:
    """Replay every ledger of a workshop, after its valuation changed; return how many.

    The kept figures are a cache: this makes them again from the entries alone.
    """
    keys = list(workshop.materials.values_list("pk", flat=True))
    materials = lock_materials(keys)
    for material in materials.values():
        material.workshop = workshop
        replay_ledger(material)
    return len(materials)


def _locked(material: Material, form_key: uuid.UUID | None = None) -> Material:
    locked = lock_materials([material.pk])[material.pk]
    refuse_second_click(StockEntry.objects.all(), form_key)
    return locked


def _enter_count(
    material: Material,
    counted: Decimal,
    moved_on: datetime.date,
    *,
    by: User | None,
    reason: str,
    typed_in: str = "",
    lot: str = "",
    form_key: uuid.UUID | None,
) -> StockEntry:
    change = counted - balance_on(material, moved_on)
    return _enter(
        material,
        Kind.COUNTED,
        change,
        moved_on,
        by=by,
        reason=reason,
        typed_in=typed_in,
        lot=lot,
        form_key=form_key,
        counted=counted,
    )


def _enter(
    material: Material,
    kind: str,
    change: Decimal,
    moved_on: datetime.date,
    *,
    by: User | None,
    reason: str,
    typed_in: str = "",
    lot: str = "",
    form_key: uuid.UUID | None,
    cost: Decimal | None = None,
    counted: Decimal | None = None,
) -> StockEntry:
    count = {} if counted is None else {"counted": counted, "change_at_count": change}
    entry = StockEntry.objects.create(
        material=material,
        moved_on=moved_on,
        kind=kind,
        change=change,
        cost_in=cost,
        **count,
        reason=reason,
        typed_in=typed_in,
        lot=lot,
        made_by=by,
        form_key=form_key,
    )
    replay_ledger(material)
    entry.refresh_from_db()
    return entry
