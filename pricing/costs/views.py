"""The cost page: it answers while she types, and every figure opens to where it came from."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET, require_POST

from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.designs.models import Design
from catalogue.materials.swatches import swatches_by_name
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.typed import recipe_as_typed
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_compute, may_see, row_or_404
from maker.web.parts import beside_the_entry, part_or_page
from maker.workshop.inputs import quantity_steps
from maker.workshop.models import Workshop
from pricing.calc.schedule.job import NoTimeToWork
from pricing.calc.schedule.ready import Ready
from pricing.channels.models import Channel
from pricing.costs.drawing import answer_page, headline, more_row, rows_of_quantities
from pricing.costs.forms import LONGEST_PRICE, AskForm, SetPriceForm
from pricing.costs.inputs import price_set_for, supplier_terms
from pricing.costs.services import (
    Answer,
    answers_for,
    cost_and_price,
    most_without_more_sheets,
    ready_dates,
)
from pricing.costs.size_drawing import size_rows
from pricing.costs.sizes import sizes_that_save

DEFAULT_QUANTITY = 12
# price, lowest price, cost and hour: what is looked at while a recipe changes
MOST_FIGURES = 4


@dataclass(frozen=True, slots=True)
class Question:
    """What the address asks: a version of a design and the form of the rest."""

    design: Design
    version: DesignVersion
    form: AskForm
    address: str


def read_question(
    request: WorkshopRequest, pk: int, form_class: type[AskForm] = AskForm, page: str = "cost"
) -> Question:
    """Read design, version and question from the address; the newest version when none is said.

    Other pages ask more with a form of their own, and are named so that the address leads back.
    """
    return question_of(request.workshop, pk, request.GET, form_class, page)


def question_of(
    workshop: Workshop, pk: int, asked: QueryDict, form_class: type[AskForm], page: str
) -> Question:
    """Read a question as `read_question` does, from what an address asks."""
    design = row_or_404(Design.objects.of(workshop), pk)
    versions = DesignVersion.objects.of(workshop).filter(design=design).newest_first()
    number = asked.get("version", "")
    if number.isascii() and number.isdigit() and len(number) < 9:
        versions = versions.filter(number=int(number))
    version = versions.with_recipe().first()
    if version is None:
        raise Http404("This design has no such version.")
    form = _ask_form(workshop, version, asked, form_class)
    address = reverse(f"pricing:{page}", args=[workshop.slug, pk])
    query = asked.urlencode()
    return Question(design, version, form, f"{address}?{query}" if query else address)


def _ask_form(
    workshop: Workshop, version: DesignVersion, asked: QueryDict, form_class: type[AskForm]
) -> AskForm:
    """Return the form of a question with what is usual where nothing was asked."""
    channels = list(Channel.objects.of(workshop).in_use().with_tiers().in_order())
    data = asked.copy()
    if "quantity" not in data:
        usual = _usual_quantity(version.design, channels, data.get("channel", ""))
        data["quantity"] = str(usual)
    form = form_class(data, workshop=workshop, version=version, channels=channels)
    for name, field in form.fields.items():
        if name not in data and field.initial is not None:
            data[name] = field.prepare_value(field.initial)
    return form


def _usual_quantity(design: Design, channels: list[Channel], chosen: str) -> int:
    """Return what is made at once: the usual batch, or what one buyer takes if that is more."""
    channel = next((row for row in channels if str(row.pk) == chosen), None) or next(
        iter(channels), None
    )
    batch = design.made_at_once if design.made_at_once > 1 else DEFAULT_QUANTITY
    return max(batch, (channel.bought_at_once if channel else None) or 1)


def question_context(request: WorkshopRequest, question: Question) -> dict[str, Any]:
    """Return what the question, its problems and the tabs of every page about a price need."""
    design, version = question.design, question.version
    return {
        "design": design,
        "version": version,
        "form": question.form,
        "query": request.GET.urlencode(),
        "recipe_url": reverse(
            "catalogue:recipe", args=[request.workshop.slug, design.pk, version.number]
        ),
    }


def answer_question(
    request: WorkshopRequest, question: Question
) -> tuple[Answer | None, Refusal | None]:
    """Answer a question; None with the reason when it cannot be read or costed."""
    if not question.form.is_valid():
        return None, None
    try:
        answer = cost_and_price(
            version=question.version,
            workshop=request.workshop,
            ask=question.form.ask(),
            channel=question.form.chosen_channel(),
            colourway=question.form.chosen_colourway(),
        )
    except Refusal as refusal:
        if refusal.where in question.form.fields:
            question.form.add_error(refusal.where, refusal.message)
        return None, refusal
    return answer, None


def ready_or_why(
    answers: Sequence[Answer], workshop: Workshop, suppliers: Sequence[SupplierTerms]
) -> tuple[Sequence[Ready | None], Refusal | None]:
    """Return the dates answers are ready if accepted today, or why none can be said."""
    try:
        return ready_dates(answers, workshop, timezone.localdate(), suppliers), None
    except NoTimeToWork as refusal:
        return [None] * len(answers), refusal


@heavy()
@require_GET
@may_see
def cost(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Cost, price and their explanation; sent in part when the page asks while she types.

    A question that cannot be read leaves the last good answer standing and is explained.
    """
    question = read_question(request, pk)
    answer, refusal = answer_question(request, question)
    context = question_context(request, question) | {
        "refusal": refusal,
        "has_errors": bool(question.form.errors or refusal),
        "steps": request.workshop.quantity_steps,
    }
    if answer:
        suppliers = supplier_terms(request.workshop)
        (ready,), context["no_date"] = ready_or_why([answer], request.workshop, suppliers)
        context |= answer_page(
            answer,
            ready,
            request.workshop,
            suppliers,
            context["recipe_url"],
            _swatches(question.version, request.workshop),
        )
        context |= _price_to_save(request, question, answer)
        context["picture"] = item_picture(
            item_of(
                question.version,
                colourway=question.form.chosen_colourway(),
                choices=dict(question.form.ask().choices),
            ),
            name="item",
        )
    part = "_answer" if answer else "_live_problems"
    response = part_or_page(
        request, f"pricing/costs/{part}.html", "pricing/costs/cost.html", context
    )
    return response if answer else beside_the_entry(response)


def _price_to_save(request: WorkshopRequest, question: Question, answer: Answer) -> dict[str, Any]:
    """Return the entry of the price: as typed before, as saved, or as suggested.

    With it, what a saved price leaves where it is not the suggested one.
    """
    form, price = question.form, answer.price
    saved = price_set_for(
        question.design, form.chosen_channel(), form.chosen_colourway(), answer.ask
    )
    suggested = price.price_each if price else None
    typed = request.GET.get("typed", "")[:LONGEST_PRICE]
    first = {"price": typed or (saved.price if saved else suggested)}
    is_other = saved and price and saved.price != suggested
    return {
        "saved_price": saved,
        "at_saved": price.at(saved.price) if price and is_other else None,
        "price_form": SetPriceForm(initial=first, workshop=request.workshop),
    }


@heavy()
@require_POST
@may_compute
def recipe_answer(request: WorkshopRequest, pk: int, number: int) -> HttpResponse:
    """Picture and price of a recipe as it is typed, in the editor; nothing is saved.

    What cannot be read leaves the last picture and says why there is no price.
    """
    versions = DesignVersion.objects.of(request.workshop).with_recipe()
    version = versions.filter(design_id=pk, number=number).first()
    if version is None:
        raise Http404("No design of this workshop has this version.")
    page: dict[str, Any] = {}
    try:
        typed = recipe_as_typed(version, request.workshop, request.POST)
    except Refusal as refusal:
        typed, page["problem"] = version, f"No price yet. {refusal.message}"
    else:
        page |= _usual_price(typed, request.workshop)
    page["picture"] = item_picture(item_of(typed), name="item")
    return render(request, "catalogue/recipes/_answer.html", page)


def _swatches(version: DesignVersion, workshop: Workshop) -> dict[str, SafeString]:
    """Return the swatches of every material the version can be made of; no query."""
    rows: list[Any] = [*version.roles.all()]
    rows += [one for way in version.colourways.all() for one in way.materials.all()]
    return swatches_by_name((row.material for row in rows), workshop)


def _usual_price(version: DesignVersion, workshop: Workshop) -> dict[str, Any]:
    """Return the figures of the usual question about a version, or why there are none."""
    form = _ask_form(workshop, version, QueryDict(), AskForm)
    if not form.is_valid():
        return {"problem": "No price yet. The usual quantity cannot be read."}
    ask, channel = form.ask(), form.chosen_channel()
    try:
        answer = cost_and_price(version=version, workshop=workshop, ask=ask, channel=channel)
    except Refusal as refusal:
        return {"problem": f"No price yet. {refusal.message}"}
    sold = f", sales channel {channel.name}" if channel else ""
    return {
        "figures": headline(answer, workshop)[:MOST_FIGURES],
        "asked": f"{ask.quantity} made at once{sold}",
        "problem": answer.no_price.message if answer.no_price else "",
    }


@heavy()
@require_GET
@may_see
def cost_quantities(request: WorkshopRequest, pk: int) -> HttpResponse:
    """The same question for other quantities side by side; loaded after the page."""
    question = read_question(request, pk)
    rows, more = [], None
    if question.form.is_valid():
        asked = question.form.ask().quantity
        answers = answers_for(
            quantities=sorted({*quantity_steps(request.workshop), asked}),
            version=question.version,
            workshop=request.workshop,
            ask=question.form.ask(),
            channel=question.form.chosen_channel(),
            colourway=question.form.chosen_colourway(),
        )
        ready, _ = ready_or_why(answers, request.workshop, supplier_terms(request.workshop))
        rows = rows_of_quantities(answers, ready, request.workshop, asked, question.address)
        here = next((each for each in answers if each.ask.quantity == asked), None)
        more = more_row(here, most_without_more_sheets(here), question.address) if here else None
    return render(
        request,
        "pricing/costs/_quantities.html",
        {"rows": rows, "more": more, "design": question.design, "form": question.form},
    )


@heavy()
@require_GET
@may_see
def cost_sizes(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Sizes a little smaller that save a sheet of this quantity; loaded after the page."""
    question = read_question(request, pk)
    answer, refusal = answer_question(request, question)
    rows = []
    if answer:
        found = sizes_that_save(answer, question.version)
        rows = size_rows(found, question.version, request.workshop)
    context = question_context(request, question) | {
        "rows": rows,
        "answer": answer,
        "refusal": refusal,
    }
    return part_or_page(request, "pricing/costs/_sizes.html", "pricing/costs/sizes.html", context)
