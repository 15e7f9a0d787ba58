"""Bench sheets as PDFs: of a batch as the price page asks, of an order, of a cutting plan."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_GET

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.troubles.time_limit import takes_its_time
from maker.web.access import WorkshopRequest, may_see, row_or_404
from pricing.bench_sheets.asked import (
    AskedSheet,
    NothingToMake,
    sheet_of_batch,
    sheet_of_order,
    sheet_of_plan,
)
from pricing.bench_sheets.drawing import sheet_view
from pricing.bench_sheets.names import names_paper
from pricing.bench_sheets.printing import bench_sheet_pdf
from pricing.costs.views import read_question
from pricing.orders.models import Order


@heavy()
@require_GET
@may_see
def bench_sheet(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The sheet of a batch; the address asks as that of the price page."""
    question = read_question(request, pk)

    def asked() -> AskedSheet:
        form = question.form
        if not form.is_valid():
            raise NothingToMake("Correct what is marked, then print the bench sheet.")
        return sheet_of_batch(
            question.version, request.workshop, form.ask(), form.chosen_colourway()
        )

    return _answer(request, asked, question.address)


@heavy()
@require_GET
@may_see
def order_bench_sheet(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The sheet of an order: all its lines, names and deliveries."""
    order = row_or_404(Order.objects.of(request.workshop).with_people(), pk)
    back = reverse("pricing:order", args=[request.workshop.slug, pk])
    return _answer(request, lambda: sheet_of_order(order), back)


@takes_its_time
@heavy()
@require_GET
@may_see
def order_names_paper(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The list of names of an order, by delivery and item."""
    order = row_or_404(Order.objects.of(request.workshop).with_people(), pk)
    try:
        pdf = names_paper(order)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("pricing:order", request.workshop.slug, pk)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="names-order-{order.pk}.pdf"'
    return response


@heavy()
@require_GET
@may_see
def plan_bench_sheet(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The sheet of the designs a cutting plan is for."""
    plan = row_or_404(CuttingPlan.objects.of(request.workshop).in_short(), pk)
    back = reverse("catalogue:plan", args=[request.workshop.slug, pk])
    return _answer(request, lambda: sheet_of_plan(plan, request.workshop), back)


def _answer(request: WorkshopRequest, asked: Callable[[], AskedSheet], back: str) -> HttpResponse:
    """Answer with the paper, or lead back with the reason why there is none."""
    try:
        sheet = asked()
        view = sheet_view(sheet, request.workshop, sheet_planner())
        pdf = bench_sheet_pdf(view, locale=request.workshop.locale)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect(back)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{sheet.file_name}"'
    return response
