"""Pages of the enquiries: list, entry, one of them, designs for it, its quote, declined."""

import uuid
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.exports.answers import export_response, wanted_format
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list
from maker.web.messages import undo_message
from maker.web.parts import part_or_page
from maker.web.refusals import refusal_told, show_refusal
from maker.web.row_pages import Entry, archive_views, entry_page, list_page
from maker.web.rows import rows_by_key
from maker.workshop.models import Workshop
from pricing.calc.enquiries.warnings import general_warnings
from pricing.channels.models import Channel
from pricing.customers.services import customer_named
from pricing.enquiries.drawing import facts_of, suggestion_rows
from pricing.enquiries.forms import (
    DeclineForm,
    DropFormSet,
    EnquiryFilter,
    EnquiryForm,
    TakeForm,
)
from pricing.enquiries.inputs import recipients_of, suggestions_for
from pricing.enquiries.models import Enquiry
from pricing.enquiries.services import (
    AlreadyKept,
    decline_enquiry,
    quote_enquiry,
    reopen_enquiry,
    save_enquiry,
    undo_quote,
)
from pricing.enquiries.sheet import enquiry_columns, enquiry_rows
from pricing.enquiries.tables import EnquiryTable, state_badge
from pricing.quotes.delivering import distance_unit
from pricing.quotes.services import AlreadySaved


def enquiry_or_404(request: WorkshopRequest, pk: int) -> Enquiry:
    """Return an enquiry of this workshop with everything its pages need."""
    return row_or_404(Enquiry.objects.of(request.workshop).with_people(), pk)


def usual_channel(workshop: Workshop) -> Channel | None:
    """Return the channel orders are taken through: the first direct one, else the first."""
    rows = list(Channel.objects.of(workshop).in_use().with_tiers().in_order())
    direct = [row for row in rows if row.kind == Channel.Kind.DIRECT]
    return next(iter([*direct, *rows]), None)


@require_GET
@may_see
def enquiry_list(request: WorkshopRequest) -> HttpResponse:
    """List the enquiries, the newest first."""
    enquiries, today = Enquiry.objects.of(request.workshop), timezone.localdate()
    filter_form = EnquiryFilter(request.GET)
    narrowed = filter_form.narrow(enquiries)
    if wanted_format(request):
        return export_response(
            request,
            title="Enquiries",
            columns=enquiry_columns(request.workshop),
            rows=enquiry_rows(narrowed),
        )
    found = narrowed.select_related("customer").newest_first()
    table = show_list(request, EnquiryTable(found, workshop=request.workshop, today=today))
    return list_page(
        request,
        "pricing/enquiries/list.html",
        table,
        filter_form,
        one="enquiry",
        unfiltered=enquiries,
    )


@require_http_methods(["GET", "POST"])
@may_change
def enquiry_new(request: WorkshopRequest) -> HttpResponse:
    """Enter what was asked."""
    return _edit(request, Enquiry(asked_on=timezone.localdate()))


@require_http_methods(["GET", "POST"])
@may_change
def enquiry_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change what was asked."""
    return _edit(request, enquiry_or_404(request, pk))


def _edit(request: WorkshopRequest, row: Enquiry) -> HttpResponse:
    first: dict[str, Any] = {}
    if not row.pk:
        first = {"form_key": uuid.uuid4(), "customer": request.GET.get("customer")}

    def entry_of(row: Enquiry, data: Any) -> Entry:
        drops = row.drops.order_by("position", "pk") if row.pk else ()
        rows = DropFormSet(
            data,
            prefix="drops",
            initial=[
                {"address": drop.address, "quantity": drop.quantity, "distance": drop.distance}
                for drop in drops
            ],
            form_kwargs={"workshop": request.workshop},
        )
        form = EnquiryForm(data, instance=row, workshop=request.workshop, initial=first)
        return Entry(form, rows)

    @transaction.atomic
    def stored(entry: Entry) -> Enquiry:
        """Store the enquiry and a new customer: both or, when refused, nothing."""
        typed = entry.form.cleaned_data
        enquiry = entry.form.save(commit=False)
        enquiry.customer = typed["customer"] or customer_named(
            workshop=request.workshop, name=typed["new_name"]
        )
        if not enquiry.pk:
            enquiry.form_key = typed["form_key"]
        return save_enquiry(
            enquiry=enquiry, drops=entry.rows.drops(), edit_number=entry.edit_number
        )

    def save(entry: Entry) -> HttpResponse:
        try:
            saved = stored(entry)
        except AlreadyKept as already:
            saved = already.enquiry
        messages.success(request, f"Saved “{saved}”.")
        return redirect("pricing:enquiry", request.workshop.slug, saved.pk)

    return entry_page(request, "pricing/enquiries/edit.html", row, entry_of, save, enquiry=row)


@require_GET
@may_see
def enquiry(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show what was asked, what to mind, and what it became; designs are loaded after it."""
    row = enquiry_or_404(request, pk)
    context = {
        "enquiry": row,
        "badge": state_badge(row, timezone.localdate()),
        "facts": facts_of(row),
        "drops": list(row.drops.order_by("position", "pk")),
        "warnings": general_warnings(recipients_of(row)),
        "distance_unit": distance_unit(request.workshop),
        "take_key": uuid.uuid4(),
    }
    return render(request, "pricing/enquiries/enquiry.html", context)


@heavy()
@require_GET
@may_see
def enquiry_designs(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show the designs that fit contents and budget, as a page or as the part of one."""
    row = enquiry_or_404(request, pk)
    suggested = suggestions_for(row, usual_channel(request.workshop))
    context = {
        "enquiry": row,
        "suggested": suggested,
        "doing": suggestion_rows([each for each in suggested.suggestions if each.does], row),
        "others": suggestion_rows([each for each in suggested.suggestions if not each.does], row),
        "take_key": uuid.uuid4(),
    }
    return part_or_page(
        request, "pricing/enquiries/_designs.html", "pricing/enquiries/designs.html", context
    )


@require_POST
@may_change
def enquiry_quote(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Make the quote of an enquiry, with a line of the design that was chosen."""
    row = enquiry_or_404(request, pk)
    versions = DesignVersion.objects.of(request.workshop).with_recipe()
    wanted = request.POST.get("version", "")
    found = versions.filter(pk=int(wanted)) if wanted.isdecimal() and len(wanted) < 12 else ()
    form = TakeForm(request.POST)
    version_field: Any = form.fields["version"]
    version_field.use_rows(rows_by_key(found))
    if not form.is_valid():
        messages.error(request, "That design isn't there any more. Choose another.")
        return redirect("pricing:enquiry", request.workshop.slug, pk)
    version = form.cleaned_data["version"]
    try:
        made = quote_enquiry(
            enquiry=row,
            today=timezone.localdate(),
            channel=usual_channel(request.workshop),
            version=version,
            choices=_choices(version, request.POST.getlist("choice")),
            form_key=form.cleaned_data["form_key"],
        )
    except AlreadySaved as already:
        made = already.quote
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("pricing:enquiry", request.workshop.slug, pk)
    else:
        back = reverse("pricing:enquiry_undo_quote", args=[request.workshop.slug, pk])
        undo_message(request, "Created a draft quote from the enquiry.", back)
    if version is None:
        return redirect("pricing:quote_line_new", request.workshop.slug, made.pk)
    return redirect("pricing:quote", request.workshop.slug, made.pk)


def _choices(version: DesignVersion | None, typed: list[str]) -> dict[str, str]:
    """Return the choices of a design that were sent; what it does not know is left out."""
    if version is None:
        return {}
    known = {
        f"{option.key}:{choice.key}": (option.key, choice.key)
        for option in version.options.all()
        for choice in option.choices.all()
    }
    return dict(known[text] for text in typed if text in known)


@require_http_methods(["GET", "POST"])
@may_change
def enquiry_decline(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Note that nothing comes of it, and why."""
    row, today = enquiry_or_404(request, pk), timezone.localdate()
    form = DeclineForm(request.POST or None, today=today, initial={"on": today})
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            decline_enquiry(enquiry=row, reason=typed["reason"], on=typed["on"])
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:enquiry_reopen", args=[request.workshop.slug, pk])
            undo_message(request, f"“{row}” is declined.", back)
            return redirect("pricing:enquiry", request.workshop.slug, pk)
    elif request.method == "GET" and row.state != Enquiry.State.OPEN:
        messages.info(request, "Only an open enquiry can be declined.")
        return redirect("pricing:enquiry", request.workshop.slug, pk)
    status = 422 if request.method == "POST" else 200
    context = {"enquiry": row, "form": form}
    return render(request, "pricing/enquiries/decline.html", context, status=status)


@require_POST
@may_change
def enquiry_reopen(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Open an enquiry again."""
    row = enquiry_or_404(request, pk)
    with refusal_told(request):
        reopen_enquiry(enquiry=row)
        messages.success(request, f"“{row}” is open again.")
    return redirect("pricing:enquiry", request.workshop.slug, pk)


@require_POST
@may_change
def enquiry_undo_quote(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Delete the draft quote of an enquiry and open the enquiry again."""
    row = enquiry_or_404(request, pk)
    with refusal_told(request):
        undo_quote(enquiry=row)
        messages.success(request, f"“{row}” is open again. The draft quote was deleted.")
    return redirect("pricing:enquiry", request.workshop.slug, pk)


enquiry_retire, enquiry_restore = archive_views(
    Enquiry,
    restore="pricing:enquiry_restore",
    list_page="pricing:enquiry_list",
    page="pricing:enquiry",
)
