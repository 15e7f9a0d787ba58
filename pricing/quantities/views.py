"""The list of a design: every quantity priced, as a page, on the price list and as a PDF."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from catalogue.sheet_plans.services import sheet_planner
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.slow_work.models import Work
from maker.slow_work.showing import shown
from maker.web.access import WorkshopRequest, may_change, may_see
from pricing.costs.views import Question, question_context, read_question
from pricing.prices.inputs import listed_prices
from pricing.prices.models import PriceListEntry
from pricing.quantities.drawing import (
    below_anywhere,
    below_lowest_notice,
    break_rows,
    cliff_rows,
    list_rows,
    quantities_chart,
    quantities_figures,
)
from pricing.quantities.forms import QuantitiesForm
from pricing.quantities.printing import chosen_words, price_list_pdf
from pricing.quantities.services import WorkedQuantities, kept_answer, listed_rows, publish
from pricing.quantities.tasks import ask_quantities, values_of


@dataclass(frozen=True, slots=True)
class Answered:
    """The list a question asks for; or the work on it, or why there is none."""

    worked: WorkedQuantities | None = None
    work: Work | None = None
    refusal: Refusal | None = None


def _answer(request: WorkshopRequest, question: Question) -> Answered:
    """Answer a question at once or let a worker do it; nothing when it cannot be read."""
    form = question.form
    if not form.is_valid():
        return Answered()
    try:
        values = values_of(question, request.workshop)
        asked = Work.objects.of(request.workshop).defer("given", "data")
        work = asked.filter(form_key=values.key()).first()
        if work is not None and work.state == Work.State.DONE:
            return Answered(kept_answer(work, values) or values.answer(sheet_planner()))
        worked = None if work else values.answer_at_once()
        if worked is None and work is None:
            query = request.GET.urlencode()
            work = ask_quantities(question=question, values=values, query=query, by=request.user)
        return Answered(worked, work)
    except Refusal as refusal:
        if refusal.where in form.fields:
            form.add_error(refusal.where, refusal.message)
        return Answered(refusal=refusal)


def _listed(question: Question) -> list[PriceListEntry]:
    """Return what is on the list for the item and channel of the question."""
    form = question.form
    choices = dict(form.ask().choices)
    return listed_prices(question.version, form.chosen_channel(), form.chosen_colourway(), choices)


def _page(question: Question, worked: WorkedQuantities, request: WorkshopRequest) -> dict[str, Any]:
    form, workshop, every_quantity = question.form, request.workshop, worked.every_quantity
    given = form.cleaned_data
    ask = form.ask().sold_through(worked.channel)
    asked = min(max(ask.bought, every_quantity.rows[0].quantity), every_quantity.rows[-1].quantity)
    given["quantity"] = asked
    limit = form.limit() if isinstance(form, QuantitiesForm) else given["setup_limit"]
    figures, missing = quantities_figures(worked, given, limit, workshop)
    cliffs, more_cliffs = cliff_rows(every_quantity)
    shown, listed = listed_rows(every_quantity, given["steps"]), _listed(question)
    return {
        "every_quantity": every_quantity,
        "figures": figures,
        "missing": missing,
        "chart": quantities_chart(every_quantity, workshop, asked),
        "rows": list_rows(shown, every_quantity, workshop, asked, listed),
        "listed": listed,
        "breaks": break_rows(every_quantity, workshop),
        "below_anywhere": below_anywhere(every_quantity, workshop),
        "below_lowest": below_lowest_notice(every_quantity, shown, workshop),
        "cliffs": cliffs,
        "more_cliffs": more_cliffs,
        "offer": every_quantity.offer_for(asked),
        "channel": form.chosen_channel(),
        "asked": asked,
        "batch": ask.quantity if ask.bought < ask.quantity else 0,
    }


@heavy()
@require_GET
@may_see
def quantities(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Every quantity's price, where it jumps and why, and the least order to accept."""
    question = read_question(request, pk, QuantitiesForm, "quantities")
    answered = _answer(request, question)
    context = question_context(request, question) | {"refusal": answered.refusal}
    if answered.worked:
        context |= _page(question, answered.worked, request)
    elif answered.work:
        context |= shown(answered.work, request.membership, request.user)
    context["has_errors"] = bool(question.form.errors or answered.refusal)
    return render(request, "pricing/quantities/quantities.html", context)


@require_POST
@may_change
def quantities_publish(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Put the rows shown on the price list of the channel."""
    question = read_question(request, pk, QuantitiesForm, "quantities")
    answered = _answer(request, question)
    worked, refusal = answered.worked, answered.refusal
    channel = question.form.chosen_channel() if worked else None
    if worked is None or channel is None:
        said = "Some entries aren't valid, or there is no sales channel."
        if refusal or answered.work:
            said = refusal.message if refusal else "The prices are still being calculated."
        messages.error(request, f"{said} Nothing was saved.")
        return redirect(question.address)
    try:
        kept = publish(
            every_quantity=worked.every_quantity,
            quantity_rows=listed_rows(worked.every_quantity, question.form.cleaned_data["steps"]),
            version=question.version,
            workshop=request.workshop,
            channel=channel,
            ask=question.form.ask(),
            colourway=question.form.chosen_colourway(),
            by=request.user,
            below_is_meant="below" in request.POST,
        )
    except Refusal as refused:
        messages.error(request, refused.message)
        return redirect(question.address)
    quantities = ", ".join(str(entry.bought_at_once) for entry in kept)
    words = ", ".join(chosen_words(question.version, question.form))
    what = f"{question.design.name} ({words})" if words else question.design.name
    messages.success(request, f"Saved for {channel.name}: {what}, from {quantities}.")
    now = {entry.pk for entry in kept}
    others = [entry for entry in _listed(question) if entry.pk not in now]
    left = ", ".join(str(entry.bought_at_once) for entry in others)
    if left:
        messages.info(request, f"Prices from {left} are unchanged. Check them.")
    return redirect("pricing:price_list", request.workshop.slug)


@heavy()
@require_GET
@may_see
def quantities_pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The price list for customers, as a PDF: the prices kept for this item, nothing of her own."""
    question = read_question(request, pk, QuantitiesForm, "quantities")
    form = question.form
    if not form.is_valid():
        messages.error(request, "Some entries aren't valid.")
        return redirect(question.address)
    entries = _listed(question)
    if not entries:
        messages.error(request, "None of these prices is on the list yet. Save them first.")
        return redirect(question.address)
    pdf = price_list_pdf(
        entries,
        design=question.design,
        version=question.version,
        workshop=request.workshop,
        form=form,
        today=timezone.localdate(),
    )
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="price-list-{pk}.pdf"'
    return response
