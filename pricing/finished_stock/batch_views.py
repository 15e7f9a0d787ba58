"""Pages of a batch: entered by its recipe, begun and finished, undone, revalued."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.designs.forms import ChosenDesignForm
from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from catalogue.stock.forms import LotChoice
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.lists import count_text
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.finished_stock.asked import BatchEstimate, Estimator, materials_of
from pricing.finished_stock.forms import (
    BatchForm,
    MadeForm,
    WhichForm,
    made_initial,
)
from pricing.finished_stock.models import FinishedBatch, FinishedMove
from pricing.finished_stock.services import (
    AlreadyEntered,
    enter_opening,
    finish_batch,
    item_for,
    make_batch,
    revalue,
    start_batch,
    unmake,
)
from pricing.finished_stock.views import item_or_404

Kind = FinishedMove.Kind


def batch_or_404(request: WorkshopRequest, pk: int) -> FinishedBatch:
    """Return a batch of this workshop with its item."""
    rows = FinishedBatch.objects.of(request.workshop)
    return row_or_404(rows.select_related("item__design", "item__version", "order"), pk)


@dataclass(slots=True)
class AskedBatch:
    """A batch being entered: which item, how many, and what its recipe says."""

    version: DesignVersion
    quantity: int
    colourway_name: str
    choices: dict[str, str]
    estimate: BatchEstimate
    materials: list[Material]


def ask_batch(
    request: WorkshopRequest,
    version: DesignVersion,
    quantity: int,
    colourway_name: str,
    choices: dict[str, str],
) -> AskedBatch:
    """Work out what a batch takes. Refusals: as `Estimator`."""
    shop = request.workshop
    estimate = Estimator(shop).batch(version, quantity, colourway_name, choices)
    materials = materials_of(shop, estimate)
    return AskedBatch(version, quantity, colourway_name, choices, estimate, materials)


def batch_form(
    request: WorkshopRequest,
    asked: AskedBatch,
    lots: Mapping[int, LotChoice] = MappingProxyType({}),
    **initial: Any,
) -> BatchForm:
    """Return the form of a batch, filled in as its recipe says; `lots` by key of the material."""
    first = {
        "form_key": uuid.uuid4(),
        "good": asked.quantity,
        "minutes": asked.estimate.minutes.quantize(Decimal(1)),
        "made_on": timezone.localdate(),
    }
    return BatchForm(
        request.POST or None,
        initial=first | initial,
        workshop=request.workshop,
        materials=asked.materials,
        estimate=asked.estimate,
        lots=lots,
    )


@require_http_methods(["GET", "POST"])
@may_change
def finished_batch_new(request: WorkshopRequest) -> HttpResponse:
    """Choose a design, then say what was made of it; what it needed is taken from stock.

    Which item and how many are in the address, so that what is posted fits what was worked out.
    """
    shop = request.workshop
    design_form = ChosenDesignForm(request.GET if "design" in request.GET else None, workshop=shop)
    context: dict[str, Any] = {"design_form": design_form}
    template = "pricing/finished_stock/batch.html"
    if "design" not in request.GET:
        return render(request, template, context)
    if not design_form.is_valid() or design_form.cleaned_data["design"] is None:
        return render(request, template, context, status=422)
    design = design_form.cleaned_data["design"]
    newest = DesignVersion.objects.filter(design=design).newest_first().first()
    if newest is None:
        raise Http404("This design has no recipe.")
    version = DesignVersion.objects.with_recipe().get(pk=newest.pk)
    data = request.GET if "quantity" in request.GET else {"quantity": design.made_at_once}
    which = WhichForm(data, workshop=shop, version=version)
    context |= {"design": design, "which": which}
    if not which.is_valid():
        return render(request, template, context, status=422)
    try:
        asked = ask_batch(
            request,
            version,
            which.cleaned_data["quantity"],
            which.cleaned_data.get("colourway", ""),
            which.choices(),
        )
    except Refusal as refusal:
        context["problem"] = refusal.message
        return render(request, template, context, status=422)
    form = batch_form(request, asked)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                batch = _store(request, asked, form)
        except AlreadyEntered as already:
            messages.info(request, already.message)
            return redirect("pricing:finished_item", shop.slug, already.entry.item_id)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            back = reverse("pricing:finished_batch_undo", args=[shop.slug, batch.pk])
            undo_message(request, _said(batch), back)
            return redirect("pricing:finished_item", shop.slug, batch.item_id)
    context["form"] = form
    return render(request, template, context, status=422 if request.method == "POST" else 200)


def _said(batch: FinishedBatch) -> str:
    if batch.is_open:
        return f"Started a batch of {batch.planned}. Its materials have left stock."
    return f"Added {count_text(batch.quantity or 0, 'item')} to finished stock."


def _store(request: WorkshopRequest, asked: AskedBatch, form: BatchForm) -> FinishedBatch:
    typed = form.cleaned_data
    item = item_for(asked.version, asked.colourway_name, asked.choices)
    common = {
        "item": item,
        "today": timezone.localdate(),
        "note": typed["note"],
        "by": request.user,
        "form_key": typed["form_key"],
    }
    if "start" in request.POST:
        return start_batch(
            planned=asked.quantity,
            started_on=typed["made_on"],
            materials=form.amounts(),
            **common,
        )
    if "opening" in request.POST:
        good = max(typed["good"], 1)
        worth = asked.estimate.worth.part(good, asked.quantity)
        return enter_opening(quantity=typed["good"], on=typed["made_on"], worth=worth, **common)
    return make_batch(
        quantity=typed["good"],
        made_on=typed["made_on"],
        materials=form.amounts(),
        minutes=typed["minutes"],
        spoiled=form.spoiled(),
        **common,
    )


@require_http_methods(["GET", "POST"])
@may_change
def finished_batch_finish(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say what came out of an open batch."""
    batch, shop, today = batch_or_404(request, pk), request.workshop, timezone.localdate()
    item = item_or_404(request, batch.item_id)
    if not batch.is_open:
        messages.info(request, "This batch was already finished or undone.")
        return redirect("pricing:finished_item", shop.slug, item.pk)
    first = made_initial(batch, _usual_minutes(request, batch)) | {"made_on": today}
    form = MadeForm(request.POST or None, initial=first, workshop=shop)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            finish_batch(
                batch=batch,
                quantity=typed["good"],
                made_on=typed["made_on"],
                today=today,
                minutes=typed["minutes"],
                spoiled=form.spoiled(),
                note=typed["note"],
                by=request.user,
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(
                request, f"Added {count_text(typed['good'], 'item')} to finished stock."
            )
            if batch.order_id:
                return redirect("pricing:order_making", shop.slug, batch.order_id)
            return redirect("pricing:finished_item", shop.slug, item.pk)
    context = {"batch": batch, "item": item, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/finished_stock/finish.html", context, status=status)


def _usual_minutes(request: WorkshopRequest, batch: FinishedBatch) -> Decimal | None:
    """Return what was timed for a batch, else what its recipe says; None where neither is known."""
    if request.method == "POST":
        return None
    timed = batch.timed_runs.finished().filter(is_left_out=False)
    seconds = sum(timed.values_list("worked_seconds", flat=True))
    if seconds:
        return (Decimal(seconds) / 60).quantize(Decimal("0.01"))
    item = batch.item
    version = DesignVersion.objects.with_recipe().get(pk=item.version_id)
    try:
        estimate = Estimator(request.workshop).batch(
            version, batch.planned, item.colourway_name, item.choices
        )
    except Refusal:
        return None
    return estimate.minutes.quantize(Decimal(1))


@require_POST
@may_change
def finished_batch_undo(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Undo a batch: its items go, its materials are back in stock."""
    batch = batch_or_404(request, pk)
    if batch.order_id is not None:
        messages.info(request, "This batch belongs to an order. Undo it there.")
        return redirect("pricing:order_making", request.workshop.slug, batch.order_id)
    with refusal_told(request):
        unmake(batch=batch, by=request.user)
        messages.success(request, "Batch undone. Its materials are back in stock.")
    return redirect("pricing:finished_item", request.workshop.slug, batch.item_id)


@require_POST
@may_change
def finished_batch_revalue(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take a batch's materials at what later receipts say they cost."""
    batch, today = batch_or_404(request, pk), timezone.localdate()
    with refusal_told(request):
        moved = revalue(batch=batch, on=today, today=today, by=request.user)
        if moved is None:
            messages.info(request, "This batch has its cost of today already.")
        else:
            back = reverse("pricing:finished_move_undo", args=[request.workshop.slug, moved.pk])
            undo_message(request, "Cost of the batch updated.", back)
    return redirect("pricing:finished_item", request.workshop.slug, batch.item_id)
