"""Keeps photos and PDFs of receipts and expenses: added, removed, put back, moved along."""

import uuid
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.receipt_files.models import ReceiptFile, column_of
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.files.cleaning import NotAPicture
from maker.files.services import keep_pdf, keep_picture
from maker.workshop.models import Workshop

MOST_FILES = 10
MOST_LETTERS = 120
# pages that were left without saving, and what was removed: kept for a way back, then forgotten
LEFT_OPEN = timedelta(days=2)
REMOVED = timedelta(days=30)
PDF = b"%PDF-"
# what a file of no kind we take begins with is as good as any picture's to Pillow
WRONG_KIND = "This is not a photo or PDF, or a broken one. Choose a JPEG, PNG, WebP or PDF file."


class TooManyFiles(Refusal):
    """A receipt has as many photos and PDFs as are kept."""


class NotAReceiptFile(Refusal):
    """What was sent is neither a picture nor a PDF."""


def add_file(
    *, owner: Any, form_key: uuid.UUID | None, data: bytes, name: str, by: User | None = None
) -> ReceiptFile:
    """Keep a photo or PDF of a receipt or expense, or for the page one is entered on.

    The same one twice is kept once, and comes back when it was removed. Refused: TooManyFiles,
    NotAReceiptFile, NotAPicture, NotAPdf.
    """
    # looked into before anything is locked: a large one takes seconds
    stored = _keep(owner.workshop, data)
    tidy = "".join(c for c in name if c.isprintable())[-MOST_LETTERS:]
    return _attach(owner, form_key, stored, name=tidy, by=by)


def _keep(workshop: Workshop, data: bytes) -> dict[str, Any]:
    if data.startswith(PDF):
        return {"pdf": keep_pdf(workshop=workshop, data=data)}
    try:
        return {"picture": keep_picture(workshop=workshop, data=data)}
    except NotAPicture as refused:
        if refused.__cause__ is None:
            raise
        raise NotAReceiptFile(WRONG_KIND, where="papers") from refused


@transaction.atomic
def _attach(
    owner: Any,
    form_key: uuid.UUID | None,
    stored: dict[str, Any],
    *,
    name: str,
    by: User | None,
) -> ReceiptFile:
    Workshop.objects.select_for_update(no_key=True).get(pk=owner.workshop_id)
    rows = ReceiptFile.objects.of_entry(owner, form_key)
    before = rows.filter(**stored).first()
    if before is not None:
        put_back_file(row=before)
        return before
    if rows.standing().count() >= MOST_FILES:
        raise TooManyFiles(f"Up to {MOST_FILES} are kept. Remove one first.", where="papers")
    whose = {column_of(owner): owner} if owner.pk else {"form_key": form_key}
    return ReceiptFile.objects.create(
        workshop_id=owner.workshop_id, name=name, added_by=by, **stored, **whose
    )


def remove_file(*, row: ReceiptFile) -> None:
    """Let a photo or PDF go; `put_back_file` is the way back."""
    ReceiptFile.objects.filter(pk=row.pk).standing().update(removed_at=timezone.now())


def put_back_file(*, row: ReceiptFile) -> None:
    """Bring a removed photo or PDF back."""
    ReceiptFile.objects.filter(pk=row.pk).update(removed_at=None)


def give_files(*, workshop: Workshop, form_key: uuid.UUID | None, to: Any) -> None:
    """Let what was added on an entry page belong to what the page has made."""
    if form_key is None:
        return
    rows = ReceiptFile.objects.of(workshop).pending().filter(form_key=form_key)
    # a second click sends the same ones again
    have = set(to.files.values_list("picture", "pdf"))
    again = [row.pk for row in rows if (row.picture_id, row.pdf_id) in have]
    rows.filter(pk__in=again).delete()
    rows.update(**{column_of(to): to, "form_key": None})


def move_files(*, old: Any, to: Any) -> None:
    """Let the files of a row belong to the one that replaces it."""
    ReceiptFile.objects.filter(**{column_of(old): old}).update(**{column_of(to): to})


def copy_files(*, old: Any, to: Any) -> None:
    """Let a corrected receipt have the photos and PDFs of the one it was copied from."""
    have = set(to.files.values_list("picture", "pdf"))
    ReceiptFile.objects.bulk_create(
        ReceiptFile(
            workshop_id=one.workshop_id,
            picture_id=one.picture_id,
            pdf_id=one.pdf_id,
            name=one.name,
            added_by_id=one.added_by_id,
            **{column_of(to): to},
        )
        for one in old.files.standing().order_by("pk")
        if (one.picture_id, one.pdf_id) not in have
    )


def forget_old() -> None:
    """Delete what was added on pages that were never saved, and what was removed long ago."""
    now = timezone.now()
    ReceiptFile.objects.pending().filter(added_at__lt=now - LEFT_OPEN).delete()
    ReceiptFile.objects.filter(removed_at__lt=now - REMOVED).delete()
