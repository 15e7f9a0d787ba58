"""What if: sliders that the price answers to, ways to a wanted price, and whether a tool pays."""

from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.web.parts import beside_the_entry, part_or_page
from pricing.costs.services import Answer
from pricing.costs.views import answer_question, question_context, read_question
from pricing.what_ifs.drawing import (
    attack_rows,
    change_figures,
    change_rows,
    floor_figures,
    way_rows,
)
from pricing.what_ifs.forms import WhatIfForm
from pricing.what_ifs.services import answer_with, attacks, floors, tool_pays, ways_to


@heavy()
@require_GET
@may_see
def what_if(request: WorkshopRequest, pk: int) -> HttpResponse:
    """What would be with other figures; sent in part while a slider moves.

    A question that cannot be read leaves the last good answer standing and is explained.
    """
    question = read_question(request, pk, WhatIfForm, "what_if")
    form = question.form
    context = question_context(request, question)
    answer, refusal = answer_question(request, question)
    if answer is not None and isinstance(form, WhatIfForm):
        try:
            context |= _page(answer, form, request)
        except Refusal as refused:
            refusal, answer = refused, None
    context |= {"refusal": refusal, "has_errors": bool(form.errors or refusal)}
    part = "what_ifs/_answer" if answer else "costs/_live_problems"
    response = part_or_page(
        request, f"pricing/{part}.html", "pricing/what_ifs/what_if.html", context
    )
    return response if answer else beside_the_entry(response)


def _page(answer: Answer, form: WhatIfForm, request: WorkshopRequest) -> dict[str, Any]:
    workshop, change = request.workshop, form.change()
    then = answer_with(answer, change)
    page: dict[str, Any] = {
        "then": then,
        "is_nothing": change.is_nothing,
        "changes": form.changes_in_words(),
        "figures": change_figures(answer, then, workshop),
        "rows": change_rows(answer, then, workshop),
        "tool": _tool(answer, form),
    }
    if answer.price is not None:
        page["floors"] = floor_figures(floors(answer), workshop)
        page["attacks"] = attack_rows(attacks(answer), workshop)
        page["target"] = form.cleaned_data.get("target")
    return page


@heavy()
@require_GET
@may_see
def what_if_ways(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The ways to a wanted price; loaded after the page, because sizes take plans of their own."""
    question = read_question(request, pk, WhatIfForm, "what_if")
    answer, refusal = answer_question(request, question)
    target = question.form.cleaned_data.get("target") if answer else None
    rows: list[dict[str, str]] = []
    if answer is not None and target is not None:
        try:
            rows = way_rows(ways_to(answer, target), request.workshop)
        except Refusal as refused:
            refusal = refused
    context = question_context(request, question) | {
        "ways": rows,
        "target": target,
        "refusal": refusal,
    }
    return part_or_page(
        request, "pricing/what_ifs/_ways.html", "pricing/what_ifs/ways.html", context
    )


def _tool(answer: Answer, form: WhatIfForm) -> dict[str, Any] | None:
    """Return after how many pieces a tool pays, or why it never does; None when none is named."""
    given = form.cleaned_data
    price = given.get("tool_price")
    if price is None:
        return None
    try:
        found = tool_pays(
            answer,
            price=price,
            minutes=given.get("tool_minutes") or Decimal(0),
            saved_cost=given.get("tool_cost") or Decimal(0),
        )
    except Refusal as refusal:
        return {"why_not": refusal.message}
    batches = -(-found.count // answer.ask.quantity)
    return {"count": found.count, "gain": found.gain_each, "batches": batches}
