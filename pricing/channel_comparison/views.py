"""One design over several channels: what is left in each, and where an hour earns most."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from pricing.channel_comparison.drawing import comparison_page
from pricing.channel_comparison.forms import ComparisonForm
from pricing.channel_comparison.services import compare_channels
from pricing.costs.views import answer_question, question_context, read_question


@heavy()
@require_GET
@may_see
def design_channels(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The channels side by side; a question that cannot be read is kept and explained."""
    question = read_question(request, pk, ComparisonForm, "design_channels")
    form = question.form
    context = question_context(request, question)
    answer, context["refusal"] = answer_question(request, question)
    if answer is not None:
        try:
            compared = compare_channels(
                answer=answer,
                channels=list(form.channels.values()),
                customer_each=form.cleaned_data.get("customer_each"),
            )
            context |= comparison_page(compared, request.workshop)
        except Refusal as refusal:
            if refusal.where in form.fields:
                form.add_error(refusal.where, refusal.message)
            context["refusal"] = refusal
    context["has_errors"] = bool(form.errors or context["refusal"])
    return render(request, "pricing/channel_comparison/channel_comparison.html", context)
