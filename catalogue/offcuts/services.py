"""Movements of the offcuts box: what is kept, used, thrown away or found by a count.

Every movement locks its size, adds an entry and keeps the count. Unlike sheets there is no receipt
that may still be missing: more than there is cannot leave the box.
"""

import datetime
import uuid
from collections.abc import Sequence
from decimal import Decimal

from django.db import models, transaction

from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.stock.ledger import refuse_reversal, refuse_second_click
from catalogue.stock.services import check_date
from maker.accounts.models import User
from maker.calc.refusal import Refusal

Kind = OffcutEntry.Kind
MOST = 100_000


class NoOffcutOfThis(Refusal):
    """Offcuts are of sheets, and never larger than the sheet."""


class NotThatMany(Refusal):
    """There are fewer in stock."""


def check_size(material: Material, width_mm: Decimal, height_mm: Decimal) -> None:
    """Refuse an offcut that no sheet of the material can leave; it lies as on the sheet."""
    if not material.is_sheet or not material.width_mm or not material.height_mm:
        raise NoOffcutOfThis(f"“{material}” isn't a sheet.", where="material")
    if width_mm <= 0 or height_mm <= 0:
        raise NoOffcutOfThis("An offcut has a width and a height.", where="width")
    if width_mm > material.width_mm or height_mm > material.height_mm:
        turned = width_mm <= material.height_mm and height_mm <= material.width_mm
        raise NoOffcutOfThis(
            f"That is larger than a sheet of “{material}”."
            + (" Enter width and height as it lies on the sheet." if turned else ""),
            where="width" if width_mm > material.width_mm else "height",
        )


@transaction.atomic
def keep_offcuts(
    *,
    material: Material,
    width_mm: Decimal,
    height_mm: Decimal,
    count: int,
    moved_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
    plan_id: int | None = None,
    reason: str = "",
    form_key: uuid.UUID | None = None,
) -> OffcutEntry:
    """Put offcuts of one size into the box.

    Refuses a size larger than the sheet and a day still to come. The same `form_key` a second
    time raises AlreadyEntered.
    """
    check_date(moved_on, today, "moved_on")
    check_size(material, width_mm, height_mm)
    offcut, _ = Offcut.objects.get_or_create(
        material=material, width_mm=width_mm, height_mm=height_mm
    )
    locked = _locked(offcut, form_key)
    return _enter(
        locked,
        Kind.KEPT,
        count,
        moved_on,
        by=by,
        plan_id=plan_id,
        reason=reason,
        form_key=form_key,
    )


@transaction.atomic
def take_offcuts(
    *,
    offcut: Offcut,
    count: int,
    kind: str,
    moved_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
    plan_id: int | None = None,
    reason: str = "",
    form_key: uuid.UUID | None = None,
) -> OffcutEntry:
    """Take offcuts of one size out of the box, used or thrown away. Refuses more than there is."""
    check_date(moved_on, today, "moved_on")
    locked = _locked(offcut, form_key)
    return _enter(
        locked, kind, -count, moved_on, by=by, plan_id=plan_id, reason=reason, form_key=form_key
    )


@transaction.atomic
def count_offcuts(
    *,
    offcut: Offcut,
    counted: int,
    moved_on: datetime.date,
    today: datetime.date,
    by: User | None = None,
    reason: str = "",
    form_key: uuid.UUID | None = None,
) -> OffcutEntry:
    """Say what was counted in the box at the end of a day.

    It stays what was there: an entry of an earlier day that comes later changes what the count
    found missing.
    """
    check_date(moved_on, today, "moved_on")
    locked = _locked(offcut, form_key)
    return _enter(
        locked,
        Kind.COUNTED,
        counted - recount(locked, moved_on),
        moved_on,
        by=by,
        reason=reason,
        form_key=form_key,
        counted=counted,
    )


@transaction.atomic
def reverse_offcut_entry(
    *, entry: OffcutEntry, by: User | None = None, reason: str = ""
) -> OffcutEntry:
    """Take an entry back by a new one of the same day; both stay in the ledger."""
    locked = _locked(entry.offcut)
    # what a count found missing may have moved while this waited for the lock
    entry.refresh_from_db(fields=["change"])
    refuse_reversal(entry)
    return _enter(
        locked,
        Kind.REVERSED,
        -entry.change,
        entry.moved_on,
        by=by,
        plan_id=entry.plan_id,
        reason=reason,
        takes_back=entry,
    )


def recount(offcut: Offcut, on: datetime.date | None = None) -> int:
    """Return what the ledger of one size adds up to, at the end of a day or now (one query)."""
    entries = offcut.entries.filter(moved_on__lte=on) if on else offcut.entries.all()
    return int(entries.aggregate(total=models.Sum("change"))["total"] or 0)


def replay_counts(entries: Sequence[OffcutEntry]) -> tuple[int, list[OffcutEntry]]:
    """Return what standing entries in the order of their days add up to, and the counts moved.

    The change of a count is made to follow from what it counted.
    """
    balance, moved = 0, []
    for entry in entries:
        if entry.counted is not None and entry.change != entry.counted - balance:
            entry.change = entry.counted - balance
            moved.append(entry)
        balance += entry.change
    return balance, moved


def keep_counts(offcut: Offcut) -> None:
    """Let every count of a locked size stay what it counted, whatever came in before it since."""
    entries = list(offcut.entries.standing().order_by("moved_on", "pk"))
    offcut.count, moved = replay_counts(entries)
    OffcutEntry.objects.bulk_update(moved, ["change"])


def _locked(offcut: Offcut, form_key: uuid.UUID | None = None) -> Offcut:
    locked = Offcut.objects.select_for_update(no_key=True).get(pk=offcut.pk)
    refuse_second_click(OffcutEntry.objects.all(), form_key)
    return locked


def _enter(
    offcut: Offcut,
    kind: str,
    change: int,
    moved_on: datetime.date,
    *,
    by: User | None,
    reason: str,
    plan_id: int | None = None,
    form_key: uuid.UUID | None = None,
    takes_back: OffcutEntry | None = None,
    counted: int | None = None,
) -> OffcutEntry:
    before = offcut.count
    entry = OffcutEntry.objects.create(
        offcut=offcut,
        moved_on=moved_on,
        kind=kind,
        change=change,
        plan_id=plan_id,
        takes_back=takes_back,
        reason=reason,
        made_by=by,
        form_key=form_key,
        counted=counted,
        change_at_count=None if counted is None else change,
    )
    keep_counts(offcut)
    if offcut.count < 0:
        there = f"only {before}" if before else "none"
        raise NotThatMany(f"There is {there} of this size in stock.", where="count")
    if offcut.count > MOST:
        raise NotThatMany(f"Enter at most {MOST:,} of one size.", where="count")
    offcut.save(update_fields=["count"])
    entry.refresh_from_db(fields=["change"])
    return entry
