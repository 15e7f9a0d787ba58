"""How sure a price is: its range, the chance that it pays her, and which step to time first."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from pricing.costs.views import answer_question, question_context, read_question
from pricing.price_range.drawing import certainty_page
from pricing.price_range.forms import RangeForm
from pricing.price_range.services import certainty_of


@heavy()
@require_GET
@may_see
def design_range(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The range of a price; a question that cannot be read is kept and explained."""
    question = read_question(request, pk, RangeForm, "design_range")
    form, workshop = question.form, request.workshop
    context = question_context(request, question)
    answer, context["refusal"] = answer_question(request, question)
    if answer is not None and isinstance(form, RangeForm):
        try:
            sure = certainty_of(
                answer=answer,
                asked_price=form.cleaned_data.get("asked_price"),
                wanted=form.wanted_chance(),
            )
            context |= certainty_page(sure, workshop, context["recipe_url"])
        except Refusal as refusal:
            if refusal.where in form.fields:
                form.add_error(refusal.where, refusal.message)
            context["refusal"] = refusal
    context["has_errors"] = bool(form.errors or context["refusal"])
    return render(request, "pricing/price_range/price_range.html", context)
