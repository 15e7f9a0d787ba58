"""The proof and the names on the maker's side: approved as noted, unlocked, names entered."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change
from maker.web.refusals import refusal_told, show_refusal
from pricing.orders.approvals import approve, named_lines, save_names, undo_approval
from pricing.orders.change_forms import ApprovalForm, NamesForm
from pricing.orders.models import OrderApproval
from pricing.orders.views import back_to, order_or_404


def _kind(kind: str) -> OrderApproval.Kind:
    if kind not in OrderApproval.Kind:
        raise Http404("There is no such approval.")
    return OrderApproval.Kind(kind)


@require_http_methods(["GET", "POST"])
@may_change
def approval_new(request: WorkshopRequest, pk: int, kind: str) -> HttpResponse:
    """Note that the customer approved the proof or the names: who, how and when."""
    row, chosen, today = order_or_404(request, pk), _kind(kind), timezone.localdate()
    customer = row.quote.customer
    first = {"who": customer.contact or customer.name, "on": today}
    form = ApprovalForm(request.POST or None, initial=first)
    if request.method == "POST" and form.is_valid():
        try:
            approve(order=row, kind=chosen, today=today, **form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            verb = "are" if chosen == OrderApproval.Kind.NAMES else "is"
            messages.success(request, f"The {chosen.label} {verb} approved.")
            return back_to(request, pk)
    context = {"order": row, "form": form, "kind": chosen}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/approval.html", context, status=status)


@require_POST
@may_change
def approval_undo(request: WorkshopRequest, pk: int, kind: str) -> HttpResponse:
    """Unlock the names, or ask for the proof again."""
    row, chosen = order_or_404(request, pk), _kind(kind)
    with refusal_told(request):
        undo_approval(order=row, kind=chosen)
        messages.success(request, f"The approval of the {chosen.label} was undone.")
    return back_to(request, pk)


@require_http_methods(["GET", "POST"])
@may_change
def order_names(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Enter or correct the names on items until they are approved."""
    row = order_or_404(request, pk)
    named = named_lines(row)
    form = NamesForm(request.POST or None, named=named)
    if request.method == "POST" and form.is_valid():
        try:
            save_names(order=row, names=form.names())
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, "Saved the names.")
            return back_to(request, pk)
    context = {"order": row, "form": form, "named": named}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/names.html", context, status=status)
