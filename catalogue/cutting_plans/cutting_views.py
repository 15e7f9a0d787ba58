"""What is done with a plan at the bench: sheets taken from stock, offcuts put into the box."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.cutting_plans.forms import CutForm
from catalogue.cutting_plans.keeping import KeepEntry
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import (
    cut_plan,
    keep_plan_offcuts,
    uncut_plan,
    unkeep_plan_offcuts,
)
from catalogue.cutting_plans.stored import read_asked, read_groups, read_plans
from catalogue.cutting_plans.usage import usage_of
from catalogue.materials.models import Material
from catalogue.stock.counts import say_counts
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told


def _plan(request: WorkshopRequest, pk: int) -> CuttingPlan:
    return row_or_404(CuttingPlan.objects.of(request.workshop), pk)


def _back(request: WorkshopRequest, pk: int) -> HttpResponse:
    address = reverse("catalogue:plan", args=[request.workshop.slug, pk])
    return redirect(f"{address}#bench")


def _cut_form(request: WorkshopRequest, row: CuttingPlan) -> CutForm:
    """Return what was sent, with the lots of what the plan takes."""
    materials: list[Material] = []
    if row.plans is not None:
        groups = read_groups(row.jobs)
        usage = usage_of(groups, read_plans(row.plans, groups))
        materials = list(Material.objects.of(request.workshop).filter(pk__in=usage.amounts))
    kept = dict(read_asked(row.asked).lots)
    return CutForm(request.POST, materials=materials, kept=kept, workshop=request.workshop)


@require_POST
@may_change
def plan_cut(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take the sheets and offcuts of the plan from stock."""
    row = _plan(request, pk)
    form = _cut_form(request, row)
    if not form.is_valid():
        for errors in form.errors.values():
            messages.error(request, " ".join(map(str, errors)))
        return _back(request, pk)
    with refusal_told(request):
        entries = cut_plan(
            plan=row,
            cut_on=form.cleaned_data["cut_on"],
            today=timezone.localdate(),
            form_key=form.cleaned_data["form_key"],
            lots=form.lots(),
            by=request.user,
        )
        undo_message(
            request,
            "Marked as cut. Now add the offcuts worth keeping.",
            reverse("catalogue:plan_uncut", args=[request.workshop.slug, pk]),
        )
        say_counts(request, entries)
    return _back(request, pk)


@require_POST
@may_change
def plan_uncut(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take back what the cut took."""
    with refusal_told(request):
        entries = uncut_plan(plan=_plan(request, pk), by=request.user)
        messages.success(request, "Undone: the sheets are back in stock.")
        say_counts(request, entries)
    return _back(request, pk)


@require_http_methods(["GET", "POST"])
@may_change
def plan_keep(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put the offcuts that are ticked into the box."""
    row = _plan(request, pk)
    if row.plans is None:
        return _back(request, pk)
    entry = KeepEntry(request.workshop, row, request.POST if request.method == "POST" else None)
    if request.method == "POST" and entry.is_valid():
        try:
            many = keep_plan_offcuts(
                plan=row,
                keep=entry.kept(),
                kept_on=entry.form.cleaned_data["kept_on"],
                today=timezone.localdate(),
                by=request.user,
            )
        except Refusal as refusal:
            entry.form.add_error(None, refusal.message)
        else:
            undo_message(
                request,
                f"{many} offcut{'' if many == 1 else 's'} in stock.",
                reverse("catalogue:plan_unkeep", args=[request.workshop.slug, pk]),
            )
            return _back(request, pk)
    context = {"plan": row, "entry": entry, "form": entry.form, "formset": entry.rows}
    status = 422 if request.method == "POST" else 200
    return render(request, "catalogue/cutting_plans/keep.html", context, status=status)


@require_POST
@may_change
def plan_unkeep(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take the plan's offcuts out of the box again."""
    with refusal_told(request):
        unkeep_plan_offcuts(plan=_plan(request, pk), by=request.user)
        messages.success(request, "Undone: those offcuts are removed.")
    return _back(request, pk)
