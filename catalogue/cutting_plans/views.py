"""Pages of cutting plans: the list, a new one, a plan with its drawings, progress and files."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.cutting_plans.drawing import PlanPages, plan_pages
from catalogue.cutting_plans.entry import PlanEntry
from catalogue.cutting_plans.first import first_of
from catalogue.cutting_plans.forms import CutForm, LongerForm, PlanFilter
from catalogue.cutting_plans.keeping import keep_rows
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.papers import (
    MOST_LAYOUTS_AT_ONCE,
    ask_paper,
    file_name,
    pages_of,
)
from catalogue.cutting_plans.printing import plan_pdf_of
from catalogue.cutting_plans.services import AlreadyAsked, ask_plan, stop_plan, work_longer
from catalogue.cutting_plans.small_drawings import small_layout
from catalogue.cutting_plans.stored import JobGroup, Plan, read_asked, read_groups, read_plans
from catalogue.cutting_plans.summary import minutes_per_sheet, plan_figures
from catalogue.cutting_plans.tables import PlanTable
from catalogue.cutting_plans.usage import usage_of
from catalogue.materials.models import Material
from catalogue.materials.swatches import swatches_by_name
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.slow_work.showing import Waiting, waiting_for
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import show_list, whole_number
from maker.web.parts import asks_for_part
from maker.web.refusals import refusal_told
from maker.web.row_pages import list_page
from maker.web.words import amount_text

State = CuttingPlan.State
LAYOUTS_PER_PAGE = 12


@require_GET
@may_see
def plan_list(request: WorkshopRequest) -> HttpResponse:
    """List the plans, the last asked for first."""
    plans = CuttingPlan.objects.of(request.workshop).in_short()
    filter_form = PlanFilter(request.GET)
    table = PlanTable(filter_form.narrow(plans), workshop=request.workshop)
    show_list(request, table)
    sheets = Material.objects.of(request.workshop).in_use().filter(kind=Material.Kind.SHEET)
    return list_page(
        request,
        "catalogue/cutting_plans/list.html",
        table,
        filter_form,
        one="plan",
        unfiltered=plans,
        has_sheets=sheets.exists,  # asked by the page only when there is no plan
    )


@require_http_methods(["GET", "POST"])
@may_change
def plan_new(request: WorkshopRequest) -> HttpResponse:
    """Ask for a plan; while she fills it in the page shows what there is to choose."""
    workshop = request.workshop
    is_sent = request.method == "POST"
    first = None if is_sent else first_of(workshop, request.GET)
    entry = PlanEntry(workshop, request.POST if is_sent else None, first)
    is_look = is_sent and request.POST.get("step") != "plan"
    if is_sent and not is_look and entry.is_valid():
        try:
            made = _ask(request, entry)
        except AlreadyAsked as already:
            messages.info(request, already.message)
            return redirect("catalogue:plan", workshop.slug, already.plan.pk)
        except Refusal as refusal:
            entry.refuse(refusal)
        else:
            return redirect("catalogue:plan", workshop.slug, made.pk)
    context = {
        "entry": entry,
        "form": entry.form,
        "formsets": entry.formsets if is_sent and not is_look else [],
        "more_errors": entry.more_errors if is_sent and not is_look else [],
        "has_errors": is_sent and not is_look,
    }
    status = 422 if is_sent and not is_look else 200
    return render(request, "catalogue/cutting_plans/new.html", context, status=status)


def _ask(request: WorkshopRequest, entry: PlanEntry) -> CuttingPlan:
    return ask_plan(
        workshop=request.workshop,
        ask=entry.ask(),
        name=entry.name(),
        seconds=int(entry.form.cleaned_data["seconds"]),
        by=request.user,
        form_key=entry.form.cleaned_data["form_key"],
    )


@require_GET
@may_see
def plan(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show a plan sheet by sheet, or how far the work on it is."""
    row = _plan(request, pk)
    groups = read_groups(row.jobs)
    is_under_way = row.state in (State.WAITING, State.WORKING)
    context: dict[str, Any] = {
        "plan": row,
        "asked": read_asked(row.asked),
        "is_under_way": is_under_way,
        "longer_form": LongerForm(),
    }
    if is_under_way:
        context["waiting"] = _waiting(row)
    if row.plans is not None:
        plans = read_plans(row.plans, groups)
        is_stopped = row.state == State.CANCELLED
        pages = plan_pages(groups, plans, request.workshop, is_stopped=is_stopped)
        context |= _layouts(request, pages) | _shelf(request, row, groups, plans)
        minutes = minutes_per_sheet(request.workshop, context["asked"])
        context["figures"] = plan_figures(groups, plans, request.workshop, minutes)
        context["to_buy"] = [note for group in pages.groups for note in group.to_buy]
        context["is_proven"] = all(one.proven for one in plans)
    return render(request, "catalogue/cutting_plans/plan.html", context)


def _plan(request: WorkshopRequest, pk: int) -> CuttingPlan:
    return row_or_404(CuttingPlan.objects.of(request.workshop), pk)


def _layouts(request: WorkshopRequest, pages: PlanPages) -> dict[str, Any]:
    """Return the layouts of one page, drawn; a plan of thousands of pieces has many."""
    paginator = Paginator(range(1, pages.layout_count + 1), LAYOUTS_PER_PAGE)
    page = paginator.get_page(whole_number(request.GET.get("page"), 1))
    shown = [pages.layout(number) for number in page.object_list]
    titles = [group.title for group in pages.groups]
    materials = Material.objects.of(request.workshop).filter(name__in=titles)
    swatches = swatches_by_name(materials.select_related("picture"), request.workshop)
    groups = [
        (
            group,
            [
                (one, small_layout(pages, one.number))
                for one in shown
                if group.first <= one.number <= group.last
            ],
            swatches.get(group.title, ""),
        )
        for group in pages.groups
    ]
    # the first page says of every material how many sheets it takes; later ones only draw
    return {"groups": [each for each in groups if each[1] or page.number == 1], "page": page}


def _shelf(
    request: WorkshopRequest,
    row: CuttingPlan,
    groups: tuple[JobGroup, ...],
    plans: tuple[Plan, ...],
) -> dict[str, Any]:
    """Return what the plan takes from the shelf, and what it leaves over (four queries)."""
    workshop = request.workshop
    usage = usage_of(groups, plans)
    rows = Material.objects.of(workshop).filter(pk__in=usage.amounts).by_name()
    materials = list(rows.select_related("picture"))
    lots = dict(read_asked(row.asked).lots)
    first = {"cut_on": timezone.localdate(), "form_key": uuid.uuid4()}
    taken = [
        (
            material,
            amount_text(usage.amounts[material.pk], material.unit, workshop),
            amount_text(material.on_hand, material.unit, workshop),
            lots.get(material.name, ""),
        )
        for material in materials
    ]
    kept = row.offcut_entries.filter(kind="kept").standing().select_related("offcut__material")
    is_over = row.state in (State.DONE, State.CANCELLED)
    return {
        "taken": taken,
        "offcuts_taken": sum(usage.offcuts.values()),
        "cut_form": CutForm(initial=first, materials=materials, kept=lots, workshop=workshop),
        "kept": list(kept.order_by("pk")),
        "keep_rows": keep_rows(workshop, groups, plans),
        "may_cut": is_over and request.membership.may_change,
    }


@require_GET
@may_see
def plan_progress(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer how far the work is; when it is over the page is to be loaded again."""
    row = row_or_404(CuttingPlan.objects.of(request.workshop).in_short(), pk)
    if not asks_for_part(request):
        return redirect("catalogue:plan", request.workshop.slug, pk)
    if row.state not in (State.WAITING, State.WORKING):
        response = HttpResponse(status=204)
        response["HX-Refresh"] = "true"
        return response
    context = {"plan": row, "waiting": _waiting(row)}
    return render(request, "catalogue/cutting_plans/_progress.html", context)


def _waiting(row: CuttingPlan) -> Waiting | None:
    return waiting_for(row.asked_at, is_begun=row.state == State.WORKING)


@require_POST
@may_change
def plan_stop(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Stop the work; the best so far is kept."""
    with refusal_told(request, messages.INFO):
        stop_plan(plan=_plan(request, pk))
    return redirect("catalogue:plan", request.workshop.slug, pk)


@require_POST
@may_change
def plan_longer(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Give a plan that is not proven more time."""
    row = _plan(request, pk)
    form = LongerForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose how long.")
        return redirect("catalogue:plan", request.workshop.slug, pk)
    with refusal_told(request):
        work_longer(plan=row, seconds=int(form.cleaned_data["seconds"]))
    return redirect("catalogue:plan", request.workshop.slug, pk)


@heavy()
@require_GET
@may_see
def plan_pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with the plan as a PDF for the bench; a long one is drawn by a worker."""
    row = _plan(request, pk)
    if row.plans is None:
        raise Http404("There is no plan yet.")
    pages = pages_of(row, request.workshop)
    address = reverse("catalogue:plan", args=[request.workshop.slug, pk])
    try:
        if pages.layout_count > MOST_LAYOUTS_AT_ONCE:
            work = ask_paper(plan=row, pages=pages, by=request.user, came_from=address)
            return redirect("maker:work", request.workshop.slug, work.pk)
        content = plan_pdf_of(row, pages)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect(address)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{file_name(row)}"'
    return response


@require_GET
@may_see
def plan_layout(request: WorkshopRequest, pk: int, number: int) -> HttpResponse:
    """Answer with one layout as an SVG file."""
    row = _plan(request, pk)
    if row.plans is None:
        raise Http404("There is no plan yet.")
    pages = pages_of(row, request.workshop)
    if not 1 <= number <= pages.layout_count:
        raise Http404("The plan has no such layout.")
    response = HttpResponse(pages.layout(number).svg, content_type="image/svg+xml")
    response["Content-Disposition"] = f'attachment; filename="layout-{number}.svg"'
    return response
