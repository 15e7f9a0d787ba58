"""A price explained for a customer: what is in it, without wage, margin, fees or costs."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from catalogue.recipes.inputs import item_cautions
from catalogue.recipes.item_picture import item_of, item_picture
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.workshop.inputs import quantity_steps
from pricing.costs.views import Question, answer_question, read_question
from pricing.for_customers.drawing import told
from pricing.for_customers.forms import DefenceForm
from pricing.for_customers.printing import defence_pdf
from pricing.for_customers.services import explain_price
from pricing.prices.inputs import listed_prices


@dataclass(frozen=True, slots=True)
class _Told:
    """What may be told, and whether its price is the list's; None with the reason why not."""

    view: dict[str, Any] | None
    refusal: Refusal | None
    is_listed: bool = False


def _told(request: WorkshopRequest, question: Question) -> _Told:
    """Return what may be told; None with the reason when it cannot be worked out."""
    form = question.form
    answer, refusal = answer_question(request, question)
    if answer is None or not isinstance(form, DefenceForm):
        return _Told(None, refusal)
    try:
        explained = explain_price(
            answer=answer,
            asked_price=form.cleaned_data.get("asked_price"),
            listed=listed_prices(
                question.version,
                form.chosen_channel(),
                form.chosen_colourway(),
                answer.cost.parts.choices,
            ),
            steps=quantity_steps(request.workshop) if "quantities" in form.shown() else (),
        )
    except Refusal as no_price:
        return _Told(None, no_price)
    colourway = form.chosen_colourway()
    words = [f"Colour: {colourway.name}"] if colourway else []
    view = told(explained, form.shown(), request.workshop, words)
    return _Told(view, None, explained.is_listed)


@heavy()
@require_GET
@may_see
def for_customer(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The price for a customer, with ticks for what is told."""
    question = read_question(request, pk, DefenceForm, "for_customer")
    found = _told(request, question)
    context = {
        "design": question.design,
        "version": question.version,
        "form": question.form,
        "query": request.GET.urlencode(),
        "recipe_url": reverse(
            "catalogue:recipe", args=[request.workshop.slug, pk, question.version.number]
        ),
        "told": found.view,
        "is_listed": found.is_listed,
        "refusal": found.refusal,
        "has_errors": bool(question.form.errors or found.refusal),
    }
    return render(request, "pricing/for_customers/for_customer.html", context)


@heavy()
@require_GET
@may_see
def for_customer_pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The same as a PDF."""
    question = read_question(request, pk, DefenceForm, "for_customer")
    found = _told(request, question)
    if found.view is None:
        refusal = found.refusal
        messages.error(request, refusal.message if refusal else "Some entries aren't valid.")
        return redirect(question.address)
    ask = question.form.ask()
    item = item_of(
        question.version,
        colourway=question.form.chosen_colourway(),
        choices=dict(ask.choices),
        is_page=False,
    )
    picture = item_picture(item, name="i")
    pdf = defence_pdf(
        found.view,
        picture=str(picture.svg) if picture else "",
        design=question.design,
        finished_size=question.version.finished_size,
        cautions=item_cautions(question.version, dict(ask.choices), ask.quantity),
        workshop=request.workshop,
        today=timezone.localdate(),
    )
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="price-explained-{pk}.pdf"'
    return response
