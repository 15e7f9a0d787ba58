"""Removing a photo or PDF from a receipt or expense, and the way back."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from catalogue.receipt_files.models import ReceiptFile
from catalogue.receipt_files.services import put_back_file, remove_file
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.messages import undo_message


@require_POST
@may_change
def receipt_file_remove(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Remove a photo or PDF; one that is gone already is not a fault."""
    row = row_or_404(ReceiptFile.objects.of(request.workshop), pk)
    remove_file(row=row)
    back = reverse("catalogue:receipt_file_put_back", args=[request.workshop.slug, pk])
    undo_message(request, f"Removed “{row}”.", back)
    return _page_of(request, row)


@require_POST
@may_change
def receipt_file_put_back(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Bring a removed photo or PDF back."""
    row = row_or_404(ReceiptFile.objects.of(request.workshop), pk)
    put_back_file(row=row)
    messages.success(request, f"Restored “{row}”.")
    return _page_of(request, row)


def _page_of(request: WorkshopRequest, row: ReceiptFile) -> HttpResponse:
    slug = request.workshop.slug
    if row.purchase_id:
        return redirect("catalogue:purchase", slug, row.purchase_id)
    if row.expense_id:
        return redirect("catalogue:expense", slug, row.expense_id)
    return redirect("catalogue:purchase_list", slug)
