"""Photos and PDFs beside an entry page: what a post adds, removes and puts back, and what is shown.

Whatever button was pressed, chosen files are kept at once: a browser forgets them when the page
comes back with something to correct.
"""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.urls import reverse

from catalogue.receipt_files.forms import FilesForm
from catalogue.receipt_files.models import ReceiptFile
from catalogue.receipt_files.services import add_file, put_back_file, remove_file
from maker.calc.refusal import Refusal
from maker.files.cleaning import MOST_BYTES
from maker.web.access import WorkshopRequest


@dataclass(frozen=True, slots=True)
class ShownFile:
    """A photo or PDF on a page."""

    pk: int
    name: str
    address: str
    width: int
    height: int
    pages: int
    is_removed: bool


def shown_files(rows: Sequence[ReceiptFile], slug: str) -> list[ShownFile]:
    """Return photos and PDFs as shown; no query."""
    shown = []
    for row in rows:
        page = "maker:pdf" if row.pdf_id else "maker:picture"
        shown.append(
            ShownFile(
                row.pk,
                str(row),
                reverse(page, args=[slug, row.stored.pk]),
                0 if row.pdf_id else row.stored.width,
                0 if row.pdf_id else row.stored.height,
                row.stored.pages if row.pdf_id else 0,
                row.removed_at is not None,
            )
        )
    return shown


@dataclass(frozen=True, slots=True)
class FilesTaken:
    """What a post did: the form with what was refused, and whether the page is only shown again."""

    form: FilesForm
    is_only_shown: bool


def form_key_of(request: WorkshopRequest, first: Mapping[str, Any] | None) -> uuid.UUID | None:
    """Return by what an entry page is known until it is saved: as sent, or as it opens."""
    if request.method != "POST":
        return first["form_key"] if first else None
    try:
        return uuid.UUID(request.POST.get("form_key", ""))
    except ValueError:
        return None


def take_files(
    request: WorkshopRequest, owner: Any, form_key: uuid.UUID | None = None
) -> FilesTaken:
    """Keep what was chosen, remove and put back what was pressed."""
    if request.method != "POST":
        return FilesTaken(FilesForm(), is_only_shown=False)
    form = FilesForm(request.POST, request.FILES)
    form.is_valid()
    rows = ReceiptFile.objects.of_entry(owner, form_key)
    pressed = False
    for button, change in (("remove_file", remove_file), ("put_back_file", put_back_file)):
        key = request.POST.get(button, "")
        pressed = pressed or bool(key)
        if key.isascii() and key.isdigit() and len(key) < 19:
            row = rows.filter(pk=int(key)).first()
            if row is not None:
                change(row=row)
    for file in form.cleaned_data["papers"]:
        add_one(request, form, owner, form_key, file)
    is_only_shown = pressed or "add_files" in request.POST or bool(form.errors)
    return FilesTaken(form, is_only_shown)


def add_one(
    request: WorkshopRequest,
    form: FilesForm,
    owner: Any,
    form_key: uuid.UUID | None,
    file: UploadedFile,
) -> None:
    """Keep one file, or say beside the choice why not."""
    name = file.name or ""
    try:
        add_file(
            owner=owner,
            form_key=form_key,
            data=file.read(MOST_BYTES + 1),
            name=name,
            by=request.user,
        )
    except Refusal as refusal:
        form.add_error("papers", f"{name}: {refusal.message}")


def files_context(
    request: WorkshopRequest,
    owner: Any,
    form: FilesForm,
    form_key: uuid.UUID | None = None,
    also: Any = None,
) -> dict[str, Any]:
    """Return what the fragment beside an entry shows (one query; one more with `also`, which is
    what the entry was copied from).
    """
    rows = list(ReceiptFile.objects.of_entry(owner, form_key).in_order())
    copied = list(also.files.standing().in_order()) if also else []
    slug = request.workshop.slug
    return {
        "files_form": form,
        "receipt_files": shown_files(rows, slug),
        "copied_files": shown_files(copied, slug),
    }


def files_of(request: WorkshopRequest, owner: Any) -> dict[str, Any]:
    """Return what the page of a receipt or expense shows of its photos and PDFs (one query)."""
    rows = list(ReceiptFile.objects.of_entry(owner, None).standing().in_order())
    return {
        "files_form": FilesForm(),
        "receipt_files": shown_files(rows, request.workshop.slug),
    }


def add_to_page(request: WorkshopRequest, owner: Any) -> None:
    """Keep what was chosen on the page of a receipt or expense, and say what was kept or not."""
    form = FilesForm(request.POST, request.FILES)
    form.is_valid()
    chosen = form.cleaned_data["papers"]
    for file in chosen:
        add_one(request, form, owner, None, file)
    refused = [str(problem) for problem in form.errors.get("papers", ())]
    for problem in refused:
        messages.error(request, problem)
    if len(chosen) > len(refused):
        messages.success(request, "Photo or PDF added.")
    elif not chosen:
        messages.error(request, "Choose a photo or PDF first.")
