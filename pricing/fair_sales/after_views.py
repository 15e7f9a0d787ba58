"""What is done with a day's sales on a larger screen: the list, paper, counting back, settling."""

import datetime
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.web.words import money
from pricing.fair_sales.counting import book_differences, count_rows
from pricing.fair_sales.forms import COLUMNS, CountForm, DifferenceForm, PaperForm, SettleForm
from pricing.fair_sales.listing import item_names, money_of, sale_row, sales_of
from pricing.fair_sales.on_table import on_table
from pricing.fair_sales.paper import enter_tally
from pricing.fair_sales.printing import tally_pdf
from pricing.fair_sales.services import book_as_sent, restore_sale, undo_by_uuid
from pricing.fair_sales.views import day_or_404
from pricing.fairs.models import FairDay, FairSale
from pricing.fairs.stock import save_counts

PER_PAGE = 100


def _sales(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    return redirect("pricing:fair_day_sales", request.workshop.slug, pk, day)


def _when(day: FairDay) -> datetime.datetime:
    """Return the end of the day, or now: nobody knows when a stroke on paper was made."""
    closes = timezone.make_aware(datetime.datetime.combine(day.held_on, day.closes))
    return min(closes, timezone.now())


@require_GET
@may_see
def fair_day_sales(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """List what happened at the table on a day; what could not be booked comes first."""
    row = day_or_404(request, pk, day)
    sales = sales_of(row)
    failed = sales.with_problems()
    page = Paginator(sales.exclude(pk__in=failed.values("pk")), PER_PAGE).get_page(
        request.GET.get("page")
    )
    names = item_names(row)
    shown = [sale_row(each, names, request.workshop) for each in page.object_list]
    page.object_list = shown  # type: ignore[assignment]
    context = {
        "day": row,
        "page": page,
        "problems": [sale_row(each, names, request.workshop) for each in failed],
        "figures": [
            {"label": label, "value_text": money(amount, request.workshop), "main": not place}
            for place, (label, amount) in enumerate(money_of(row).items())
        ],
    }
    return render(request, "pricing/fair_sales/sales.html", context)


@heavy()
@require_GET
@may_see
def fair_tally(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Print the tally sheet of a day."""
    row = day_or_404(request, pk, day)
    try:
        pdf = tally_pdf(row, on_table(row, request.workshop), request.workshop)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return _sales(request, pk, day)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="tally-{row.held_on}.pdf"'
    return response


@require_http_methods(["GET", "POST"])
@may_change
def fair_paper(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Enter a tally sheet."""
    row, shop = day_or_404(request, pk, day), request.workshop
    table = on_table(row, shop)
    form = PaperForm(request.POST or None, workshop=shop, table=table)
    if request.method == "POST" and form.is_valid():
        try:
            made = enter_tally(
                day=row,
                table=table,
                tally=form.tally(),
                at=_when(row),
                by=request.user,
                form_key=form.cleaned_data["form_key"],
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            payments = sum(each.payments for each in made)
            text = count_text(payments, "entry", "entries")
            messages.success(request, f"Stored {text} from paper.")
            return _sales(request, pk, day)
    context = {
        "day": row,
        "form": form,
        "headings": [heading for _, heading, _, _ in COLUMNS] + ["Sold out at"],
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/fair_sales/paper.html", context, status=status)


@require_http_methods(["GET", "POST"])
@may_change
def fair_count(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Count back: taken less left, beside what phones and paper say."""
    row, shop = day_or_404(request, pk, day), request.workshop
    rows = count_rows(row)
    form = CountForm(request.POST or None, workshop=shop, rows=rows)
    if request.method == "POST" and form.is_valid():
        save_counts(
            fair=row.fair, counts=form.counts(), today=timezone.localdate(), by=request.user
        )
        messages.success(request, "Saved counts.")
        return redirect("pricing:fair_count", shop.slug, pk, day)
    context = {
        "day": row,
        "form": form,
        "difference": DifferenceForm(workshop=shop, rows=rows),
        "more": [each for each in form.rows() if (each[0].missing or 0) < 0],
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/fair_sales/count.html", context, status=status)


@require_POST
@may_change
def fair_count_book(request: WorkshopRequest, pk: int, day: int) -> HttpResponse:
    """Book what is missing as she says."""
    row, shop = day_or_404(request, pk, day), request.workshop
    form = DifferenceForm(request.POST, workshop=shop, rows=count_rows(row))
    if form.is_valid():
        settled = form.settled()
        with refusal_told(request):
            made = book_differences(
                day=row,
                table=on_table(row, shop),
                settled=settled,
                at=_when(row),
                by=request.user,
                form_key=form.cleaned_data["form_key"],
            )
            items = sum(each.payments for each in made)
            messages.success(request, f"Booked {count_text(items, 'missing item')}.")
    else:
        messages.error(request, "Choose what became of each item.")
    return redirect("pricing:fair_count", shop.slug, pk, day)


def _sale_or_404(request: WorkshopRequest, pk: int, day: int, sale: int) -> FairSale:
    rows = FairSale.objects.of(request.workshop).filter(day=day, day__fair=pk)
    return row_or_404(rows.select_related("day__fair__workshop"), sale)


@require_POST
@may_change
def fair_sale_undo(request: WorkshopRequest, pk: int, day: int, sale: int) -> HttpResponse:
    """Undo a sale; the message offers to bring it back."""
    row = _sale_or_404(request, pk, day, sale)
    with refusal_told(request):
        undo_by_uuid(day=row.day, own=row.uuid, by=request.user, now=timezone.now())
        back = reverse("pricing:fair_sale_restore", args=[request.workshop.slug, pk, day, sale])
        undo_message(request, "The sale was undone.", back)
    return _sales(request, pk, day)


@require_POST
@may_change
def fair_sale_restore(request: WorkshopRequest, pk: int, day: int, sale: int) -> HttpResponse:
    """Bring an undone sale back."""
    row = _sale_or_404(request, pk, day, sale)
    with refusal_told(request):
        restore_sale(sale=row, by=request.user)
        messages.success(request, "The sale counts again.")
    return _sales(request, pk, day)


@require_http_methods(["GET", "POST"])
@may_change
def fair_sale_settle(request: WorkshopRequest, pk: int, day: int, sale: int) -> HttpResponse:
    """Say which items a sale was that could not be booked; its money stays as it is."""
    row, shop = _sale_or_404(request, pk, day, sale), request.workshop
    if not row.problem:
        messages.info(request, "This sale was settled already.")
        return _sales(request, pk, day)
    table = on_table(row.day, shop)
    form = SettleForm(request.POST or None, workshop=shop, table=table)
    if request.method == "POST" and form.is_valid():
        try:
            book_as_sent(sale=row, counts=form.counts(), by=request.user)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, "The sale was booked.")
            return _sales(request, pk, day)
    context: dict[str, Any] = {
        "day": row.day,
        "sale": row,
        "form": form,
        "amount_text": money(row.received, shop),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/fair_sales/settle.html", context, status=status)
