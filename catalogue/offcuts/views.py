"""Pages of the offcuts box: the list, one size with its ledger, putting in, taking back."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.materials.models import Material
from catalogue.offcuts.forms import OffcutFilter, OffcutForm, OffcutMoveForm
from catalogue.offcuts.inputs import fits_of
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.offcuts.services import (
    count_offcuts,
    keep_offcuts,
    reverse_offcut_entry,
    take_offcuts,
)
from catalogue.offcuts.sheet import offcut_columns, offcut_rows
from catalogue.offcuts.tables import OffcutLedger, OffcutTable, size_text
from catalogue.stock.ledger import AlreadyEntered
from maker.exports.answers import export_response, wanted_format
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told
from maker.web.row_pages import Entry, entry_page, list_page

Kind = OffcutEntry.Kind


@require_GET
@may_see
def offcut_list(request: WorkshopRequest) -> HttpResponse:
    """List the offcuts by material with what each would do for, as a page or a file."""
    offcuts = Offcut.objects.of(request.workshop).select_related("material")
    filter_form = OffcutFilter(request.GET)
    found = filter_form.narrow(offcuts).largest_first()
    if wanted_format(request):
        columns = offcut_columns(request.workshop)
        rows = offcut_rows(found, request.workshop)
        return export_response(request, title="Offcuts", columns=columns, rows=rows)
    table = OffcutTable(found, workshop=request.workshop)
    show_list(request, table)
    shown = [row.record for row in table.paginated_rows]
    table.fits_of = fits_of(shown, request.workshop)
    sheets = Material.objects.of(request.workshop).in_use().filter(kind=Material.Kind.SHEET)
    return list_page(
        request,
        "catalogue/offcuts/list.html",
        table,
        filter_form,
        one="size",
        unfiltered=offcuts,
        has_sheets=sheets.exists,  # asked by the page only when there is no offcut
    )


@require_http_methods(["GET", "POST"])
@may_change
def offcut_new(request: WorkshopRequest) -> HttpResponse:
    """Add offcutsto the box by hand."""
    first = {
        "form_key": uuid.uuid4(),
        "moved_on": timezone.localdate(),
        "count": 1,
        "material": request.GET.get("material", ""),
    }

    def entry_of(row: Offcut, data: Any) -> Entry:
        return Entry(OffcutForm(data, initial=first, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        typed = entry.form.cleaned_data
        with refusal_told(request, messages.INFO, only=AlreadyEntered):
            kept = keep_offcuts(
                material=typed["material"],
                width_mm=typed["width"],
                height_mm=typed["height"],
                count=typed["count"],
                moved_on=typed["moved_on"],
                today=timezone.localdate(),
                by=request.user,
                form_key=typed["form_key"],
            )
            _say_entered(request, kept)
        return redirect("catalogue:offcut_list", request.workshop.slug)

    return entry_page(request, "catalogue/offcuts/new.html", Offcut(), entry_of, save)


@require_http_methods(["GET", "POST"])
@may_see
def offcut(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show one size with its ledger, and enter what became of it."""
    row = row_or_404(Offcut.objects.of(request.workshop).select_related("material"), pk)
    first = {"form_key": uuid.uuid4(), "moved_on": timezone.localdate(), "count": 1}

    def entry_of(row: Offcut, data: Any) -> Entry:
        return Entry(OffcutMoveForm(data, initial=first, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        with refusal_told(request, messages.INFO, only=AlreadyEntered):
            _say_entered(request, _move(request, row, entry.form.cleaned_data))
        return redirect("catalogue:offcut", request.workshop.slug, pk)

    ledger = OffcutLedger(row.entries.for_ledger(), workshop=request.workshop)
    return entry_page(
        request,
        "catalogue/offcuts/offcut.html",
        row,
        entry_of,
        save,
        offcut=row,
        size=size_text(row.width_mm, row.height_mm, request.workshop),
        fits=fits_of([row], request.workshop)[row.pk],
        ledger=show_list(request, ledger),
    )


def _move(request: WorkshopRequest, row: Offcut, typed: dict[str, Any]) -> OffcutEntry:
    common = {
        "moved_on": typed["moved_on"],
        "today": timezone.localdate(),
        "by": request.user,
        "reason": typed["reason"],
        "form_key": typed["form_key"],
    }
    if typed["kind"] == Kind.COUNTED:
        return count_offcuts(offcut=row, counted=typed["count"], **common)
    if typed["kind"] == Kind.KEPT:
        return keep_offcuts(
            material=row.material,
            width_mm=row.width_mm,
            height_mm=row.height_mm,
            count=typed["count"],
            **common,
        )
    return take_offcuts(offcut=row, count=typed["count"], kind=typed["kind"], **common)


def _say_entered(request: WorkshopRequest, entry: OffcutEntry) -> None:
    size = size_text(entry.offcut.width_mm, entry.offcut.height_mm, request.workshop)
    if entry.counted is not None:
        more = f"{abs(entry.change)} {'more' if entry.change > 0 else 'less'} than"
        found = more if entry.change else "as many as"
        said = f"{entry.counted} of {size} counted, {found} expected."
    else:
        way = "in" if entry.change > 0 else "out"
        said = f"{abs(entry.change)} of {size} {way}: {entry.get_kind_display()}."
    undo_message(
        request,
        f"{said} {entry.offcut.count} in stock.",
        reverse("catalogue:offcut_reverse", args=[request.workshop.slug, entry.pk]),
    )


@require_POST
@may_change
def offcut_reverse(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take a movement back by a new one."""
    entry = row_or_404(OffcutEntry.objects.of(request.workshop).select_related("offcut"), pk)
    with refusal_told(request):
        reverse_offcut_entry(entry=entry, by=request.user)
        messages.success(request, "Undone. Both entries stay in the history.")
    return redirect("catalogue:offcut", request.workshop.slug, entry.offcut_id)
