"""Pages of a change of an order: written, offered, answered, withdrawn."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.designs.forms import ChosenDesignForm
from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.lists import whole_number
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.orders.change_answers import accept_change, decline_change, offer_change
from pricing.orders.change_effects import WorkedChange, day_of, said_of, work_out_change
from pricing.orders.change_fees import fee_effects, said_fees
from pricing.orders.change_forms import AnswerForm, ChangeForm
from pricing.orders.change_undoing import counter_change, undo_accepted
from pricing.orders.changes import (
    add_item,
    restore_change,
    save_change,
    start_change,
    withdraw_change,
)
from pricing.orders.inputs import lines_now
from pricing.orders.models import OrderChange
from pricing.orders.services import BY_HAND
from pricing.orders.views import back_to, order_or_404
from pricing.quotes.forms import QuoteLineForm

State = OrderChange.State


def _change_or_404(request: WorkshopRequest, pk: int, change: int) -> OrderChange:
    rows = OrderChange.objects.of(request.workshop).filter(order=pk)
    return row_or_404(rows.select_related("order__quote__customer__workshop"), change)


def _page_of(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    return redirect("pricing:order_change", request.workshop.slug, pk, change)


@require_POST
@may_change
def change_new(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Start a change, or lead to the open one."""
    row = order_or_404(request, pk)
    with refusal_told(request):
        return _page_of(request, pk, start_change(order=row).pk)
    return back_to(request, pk)


@heavy()
@require_http_methods(["GET", "POST"])
@may_see
def order_change(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Show a change with its effects; a draft is entered here."""
    row = _change_or_404(request, pk, change)
    may_write = request.membership.may_change and row.state == State.DRAFT
    if request.method == "POST" and not may_write:
        return _refused_post(request, row)
    form = _form(request, row, request.POST or None) if may_write else None
    both: list[BothValues] = []
    if form is not None and request.method == "POST" and form.is_valid():
        try:
            save_change(
                change=row,
                typed=form.typed(),
                today=timezone.localdate(),
                edit_number=form.cleaned_data["edit_number"],
            )
            if "offer" in request.POST:
                offer_change(change=_change_or_404(request, pk, change), today=timezone.localdate())
                messages.success(
                    request, f"Change {row.number} is offered. Send it, then note the answer."
                )
        except ChangedMeanwhile as changed:
            stored = _change_or_404(request, pk, change)
            both = show_both(form, _form(request, stored, None), stored.edit_number)
            show_refusal(form, changed)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            if "offer" not in request.POST:
                messages.success(request, "Saved the change.")
            return _page_of(request, pk, change)
    status = 422 if request.method == "POST" else 200
    context = _context(request, row, form) | {"both": both}
    return render(request, "pricing/orders/change.html", context, status=status)


def _refused_post(request: WorkshopRequest, row: OrderChange) -> HttpResponse:
    if not request.membership.may_change:
        return HttpResponse(status=403)
    messages.info(request, f"Change {row.number} is {row.get_state_display()}. It stays as it is.")
    return _page_of(request, row.order_id, row.pk)


def _form(request: WorkshopRequest, row: OrderChange, data: Any) -> ChangeForm:
    ordered = lines_now(row.order)
    ways: dict[int, list[Colourway]] = {}
    found = Colourway.objects.filter(version__in={line.version_id for line in ordered})
    for way in found.order_by("position", "pk"):
        ways.setdefault(way.version_id, []).append(way)
    return ChangeForm(
        data,
        workshop=request.workshop,
        change=row,
        ordered=ordered,
        extras=list(row.lines.select_related("design").order_by("position", "pk")),
        fewer=dict(row.less.values_list("line", "quantity")),
        ways=ways,
    )


def _context(request: WorkshopRequest, row: OrderChange, form: ChangeForm | None) -> dict[str, Any]:
    shop = request.workshop

    def money(amount: Any) -> str:
        return format_money(Decimal(str(amount)), shop.currency, shop.locale)

    worked: WorkedChange | None = None
    problem = ""
    fees = fee_effects(row) if row.state == State.DRAFT else []
    if row.state == State.DRAFT:
        try:
            worked = work_out_change(row, timezone.localdate())
            problem = worked.problem
        except Refusal as refusal:
            problem = refusal.message
    return {
        "order": row.order,
        "change": row,
        "may_be_undone": row.state == State.ACCEPTED and row.order.state in BY_HAND,
        "form": form,
        "worked": worked,
        "problem": problem,
        "figures": _figures(row, worked, money),
        "taken_back": said_fees([fee for fee in fees if fee.amount < 0], money),
        "said": said_of(row.document, money) if row.document else None,
    }


def _figures(row: OrderChange, worked: WorkedChange | None, money: Any) -> dict[str, Any]:
    """Return price and date effect as they are told."""
    if worked is not None:
        return {
            "change": money(worked.total_change),
            "after": money(worked.total_after),
            "minutes": _whole_minutes(worked.minutes),
            "earliest_before": worked.earliest_before,
            "earliest_on": worked.earliest_on,
            "due_on": worked.change.due_on or row.order.due_on,
        }
    if not row.document:
        return {}
    own = row.document["own"]
    return {
        "change": money(row.document["total_change"]),
        "after": money(row.document["total_after"]),
        "minutes": _whole_minutes(Decimal(own["minutes"]) if own["minutes"] else None),
        "earliest_before": day_of(own["earliest_before"]),
        "earliest_on": day_of(own["earliest_on"]),
        "due_on": day_of(row.document["due_on"]),
    }


def _whole_minutes(minutes: Decimal | None) -> str:
    """Say by how much work grows or shrinks; empty where that is not known."""
    return "" if minutes is None else str(round(minutes)).replace("-", "−")


@heavy()
@require_http_methods(["GET", "POST"])
@may_change
def change_item(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Add an extra item: its design, then how many and with what."""
    row, shop = _change_or_404(request, pk, change), request.workshop
    if row.state != State.DRAFT:
        return _refused_post(request, row)
    asked = ChosenDesignForm(request.GET if "design" in request.GET else None, workshop=shop)
    context: dict[str, Any] = {"order": row.order, "change": row, "design_form": asked}
    page = "pricing/orders/change_item.html"
    if not asked.is_bound:
        return render(request, page, context)
    if not asked.is_valid():
        return render(request, page, context, status=422)
    design = asked.cleaned_data["design"]
    versions = list(DesignVersion.objects.filter(design=design).newest_first())
    wanted = whole_number(request.POST.get("version"), versions[0].pk)
    if wanted not in [version.pk for version in versions]:
        raise Http404("This design has no such version.")
    version = DesignVersion.objects.with_recipe().get(pk=wanted)
    form = QuoteLineForm(
        request.POST or None,
        initial={"edit_number": row.edit_number},
        workshop=shop,
        version=version,
        versions=versions,
    )
    if request.method == "POST" and form.is_valid():
        try:
            line = add_item(
                change=row, line=form.line(), edit_number=form.cleaned_data["edit_number"]
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Added {line.quantity} × “{design}”.")
            return _page_of(request, pk, change)
    context |= {"form": form, "design": design}
    return render(request, page, context, status=422 if request.method == "POST" else 200)


@require_http_methods(["GET", "POST"])
@may_change
def change_answer(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Note what the customer said to a change: who, how and when."""
    row, today = _change_or_404(request, pk, change), timezone.localdate()
    customer = row.order.quote.customer
    first = {"who": customer.contact or customer.name, "on": today}
    form = AnswerForm(request.POST or None, initial=first)
    if request.method == "POST" and form.is_valid():
        typed: Mapping[str, Any] = form.cleaned_data
        shared = {"change": row, "who": typed["who"], "how": typed["how"], "on": typed["on"]}
        try:
            if "decline" in request.POST:
                held = decline_change(**shared, note=typed["note"], today=today)
            else:
                held = accept_change(**shared, today=today)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            text = f"Change {held.number} is {held.get_state_display()}."
            if held.state == State.ACCEPTED:
                back = reverse(
                    "pricing:order_change_undo", args=[request.workshop.slug, pk, change]
                )
                undo_message(request, text, back)
            else:
                messages.success(request, text)
            return back_to(request, pk)
    elif request.method == "GET" and row.state != State.OFFERED:
        return _refused_post(request, row)
    context = {"order": row.order, "change": row, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/change_answer.html", context, status=status)


@require_POST
@may_change
def change_withdraw(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Take an open change back."""
    row = _change_or_404(request, pk, change)
    with refusal_told(request):
        withdraw_change(change=row)
        back = reverse("pricing:order_change_restore", args=[request.workshop.slug, pk, change])
        undo_message(request, f"Change {row.number} is withdrawn.", back)
    return back_to(request, pk)


@require_POST
@may_change
def change_restore(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Make a change that is not accepted a draft again."""
    row = _change_or_404(request, pk, change)
    with refusal_told(request):
        restore_change(change=row)
        messages.success(request, f"Change {row.number} is a draft again.")
    return _page_of(request, pk, change)


@require_POST
@may_change
def change_undo(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Let an accepted change wait for an answer again."""
    row = _change_or_404(request, pk, change)
    with refusal_told(request):
        held = undo_accepted(change=row)
        text = f"Change {held.number} is waiting for an answer again. Check the deliveries."
        messages.success(request, text)
    return _page_of(request, pk, change)


@require_POST
@may_change
def change_counter(request: WorkshopRequest, pk: int, change: int) -> HttpResponse:
    """Start a change that takes an accepted one back."""
    row = _change_or_404(request, pk, change)
    with refusal_told(request):
        draft = counter_change(change=row, today=timezone.localdate())
        text = f"Change {draft.number} undoes change {row.number}. Check it, then offer it."
        messages.success(request, text)
        return _page_of(request, pk, draft.pk)
    return _page_of(request, pk, change)
