"""The lines of a draft: entered with a live price beside other quantities, moved, taken off."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.designs.forms import ChosenDesignForm
from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion
from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.lists import whole_number
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from maker.workshop.inputs import quantity_steps
from pricing.quotes.dates import count_for, dates_of
from pricing.quotes.drawing import cheaper_in_all, line_figures, names_note, step_rows
from pricing.quotes.forms import QuoteLineForm
from pricing.quotes.inputs import (
    Loaded,
    WorkedQuote,
    load_for,
    names_of,
    problems_in_words,
    work_out,
)
from pricing.quotes.models import Quote, QuoteLine
from pricing.quotes.services import (
    QuoteLineInput,
    add_line,
    change_line,
    move_line,
    put_line_back,
    remove_line,
)
from pricing.quotes.views import quote_or_404, say_not_a_draft


@dataclass(slots=True)
class Entry:
    """A line being entered: its quote, design, the recipe version chosen, the stored row if any."""

    quote: Quote
    row: QuoteLine | None
    version: DesignVersion
    versions: list[DesignVersion]
    form: QuoteLineForm


def _entry(
    request: WorkshopRequest, quote: Quote, design: Design, row: QuoteLine | None, data: Any
) -> Entry:
    """Read what is typed for a line. A version that is not the design's is a 404."""
    versions = list(DesignVersion.objects.filter(design=design).newest_first())
    if not versions:
        raise Http404("This design has no recipe.")
    kept = row.version_id if row else versions[0].pk
    wanted = whole_number((data or request.GET).get("version"), kept)
    if wanted not in [version.pk for version in versions]:
        raise Http404("This design has no such version.")
    version = DesignVersion.objects.with_recipe().get(pk=wanted)
    first: dict[str, Any] = {"edit_number": quote.edit_number}
    if row is None and "quantity" in request.GET:
        first["quantity"] = request.GET["quantity"]
    form = QuoteLineForm(
        data,
        initial=first,
        workshop=request.workshop,
        version=version,
        versions=versions,
        row=row,
    )
    return Entry(quote, row, version, versions, form)


def _design(request: WorkshopRequest, pk: str | None) -> Design:
    designs = Design.objects.of(request.workshop)
    return row_or_404(designs, whole_number(pk, 0))


@require_http_methods(["GET", "POST"])
@may_change
def quote_line_new(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Choose a design, then say how many of it and with what."""
    quote = quote_or_404(request, pk)
    if not quote.is_draft:
        return say_not_a_draft(request, quote)
    design_form = ChosenDesignForm(
        request.GET if "design" in request.GET else None, workshop=request.workshop
    )
    context: dict[str, Any] = {"quote": quote, "design_form": design_form}
    if request.method == "GET" and "design" not in request.GET:
        return render(request, "pricing/quotes/line.html", context)
    if request.method == "GET" and not design_form.is_valid():
        # a foreign or an unknown design is told like any wrong choice
        return render(request, "pricing/quotes/line.html", context, status=422)
    design = _design(request, request.POST.get("design") or request.GET.get("design"))
    return _line_page(request, _entry(request, quote, design, None, request.POST or None), context)


def _line_or_404(request: WorkshopRequest, pk: int, line: int) -> QuoteLine:
    lines = QuoteLine.objects.of(request.workshop).filter(quote=pk)
    return row_or_404(lines.select_related("design", "quote__customer__workshop"), line)


@require_http_methods(["GET", "POST"])
@may_change
def quote_line(request: WorkshopRequest, pk: int, line: int) -> HttpResponse:
    """Change a line of a draft."""
    row = _line_or_404(request, pk, line)
    quote = quote_or_404(request, pk)
    if not quote.is_draft:
        return say_not_a_draft(request, quote)
    entry = _entry(request, quote, row.design, row, request.POST or None)
    return _line_page(request, entry, {"quote": quote, "line": row})


def _line_page(request: WorkshopRequest, entry: Entry, context: dict[str, Any]) -> HttpResponse:
    """Show the entry of a line with its price, or store it."""
    form = entry.form
    both: list[BothValues] = []
    taken = request.POST.get("take", "")
    if taken:
        # one of the quantities beside it, taken by its button
        typed: Any = form.data.copy()  # type: ignore[attr-defined]  # what was posted
        typed["quantity"] = taken
        form.data = typed
    is_asking = bool(taken) or request.POST.get("then") == "show"
    is_good = request.method == "POST" and form.is_valid()
    if is_good and not is_asking:
        try:
            saved = _store(entry, form.line(), form.cleaned_data["edit_number"])
        except ChangedMeanwhile as changed:
            both = _both(request, entry)
            show_refusal(form, changed)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"Saved: {saved.quantity} × “{entry.version.design}”.")
            if request.POST.get("then") == "another":
                return redirect("pricing:quote_line_new", request.workshop.slug, entry.quote.pk)
            return redirect("pricing:quote", request.workshop.slug, entry.quote.pk)
    context |= {"form": form, "entry": entry, "design": entry.version.design, "both": both}
    context |= _priced(request, entry)
    if is_asking:
        context |= _steps(request, entry)
    status = 422 if request.method == "POST" and not (is_asking and is_good) else 200
    return render(request, "pricing/quotes/line.html", context, status=status)


def _store(entry: Entry, line: QuoteLineInput, edit_number: int | None) -> QuoteLine:
    if entry.row is None:
        return add_line(quote=entry.quote, line=line, edit_number=edit_number)
    return change_line(row=entry.row, line=line, edit_number=edit_number)


def _both(request: WorkshopRequest, entry: Entry) -> list[BothValues]:
    """Put what is stored now beside what was typed; a new line has nothing stored."""
    stored = quote_or_404(request, entry.quote.pk)
    row = entry.row and QuoteLine.objects.select_related("design").get(pk=entry.row.pk)
    fresh = _entry(request, stored, entry.version.design, row, None)
    return show_both(entry.form, fresh.form if row else entry.form, stored.edit_number)


def _unsaved(entry: Entry) -> QuoteLine:
    """Return the line as it would be stored, for working it out."""
    line = entry.form.line() if entry.form.is_bound else None
    if line is None and entry.row is not None:
        return entry.row
    if line is None:
        raise Refusal("Enter how many.", where="quantity")
    return QuoteLine(
        design=entry.version.design,
        version=entry.version,
        colourway=line.colourway,
        colourway_name=line.colourway.name if line.colourway else "",
        choices=dict(line.choices or {}),
        quantity=line.quantity,
        names=line.names,
        price_asked=line.price_asked,
        other_quantities=line.other_quantities,
    )


@dataclass(frozen=True, slots=True)
class InOrder:
    """The lines of the quote with the one being entered, at `place` among them."""

    rows: tuple[QuoteLine, ...]
    place: int
    loaded: Loaded

    def worked(self, quote: Quote, row: QuoteLine, planner: PlanSheets) -> WorkedQuote:
        """Work the whole out with another line at the place of this one."""
        rows = [*self.rows[: self.place], row, *self.rows[self.place + 1 :]]
        return work_out(quote, rows, loaded=self.loaded, plan_sheets=planner)


def _in_order(entry: Entry, row: QuoteLine) -> InOrder:
    """Put a line among the others of its quote, in its place or at the end."""
    kept = list(entry.quote.lines.kept())
    places = [each.pk for each in kept]
    place = places.index(entry.row.pk) if entry.row and entry.row.pk in places else len(kept)
    rows = [*kept[:place], row, *kept[place + 1 :]]
    return InOrder(tuple(rows), place, load_for(entry.quote, rows))


def _priced(request: WorkshopRequest, entry: Entry) -> dict[str, Any]:
    """Return the figures of what is typed, or why there are none."""
    form = entry.form
    if form.is_bound and not form.is_valid():
        return {}
    if not form.is_bound and entry.row is None:
        return {}
    row = _unsaved(entry)
    within = _in_order(entry, row)
    worked = within.worked(entry.quote, row, sheet_planner())
    if worked.price is None:
        return {"problem": _problem_of(worked, within.place)}
    line = worked.price.lines[within.place]
    return {
        "figures": line_figures(line, request.workshop),
        "priced": line,
        "names_note": names_note(line.cost, len(names_of(row.names))),
    }


def _problem_of(worked: WorkedQuote, place: int) -> str:
    """Say what is in the way of a price: of this line, else of another one or of the whole."""
    own = [problem.message for problem in worked.problems if problem.place == place + 1]
    return " ".join(own) or problems_in_words(worked)


def _steps(request: WorkshopRequest, entry: Entry) -> dict[str, Any]:
    """Return the line at other quantities; options that cannot be read count as usual ones."""
    form, quote = entry.form, entry.quote
    row = QuoteLine(design=entry.version.design, version=entry.version, quantity=1)
    asked = 0
    if form.is_bound:
        form.full_clean()
        typed = form.cleaned_data
        asked = typed.get("quantity") or 0
        row.choices = {
            name.removeprefix("option_"): typed[name]
            for name in form.option_names
            if typed.get(name)
        }
        row.colourway = typed.get("colourway")
        row.colourway_name = row.colourway.name if row.colourway else ""
    within = _in_order(entry, row)
    # where fees and margin change a larger quantity may cost less in all
    others = sum(
        each.quantity
        for place, each in enumerate(within.rows)
        if place != within.place and each.version_id == entry.version.pk
    )
    tiers = sorted(tier.bought_at_once - others for tier in within.loaded.channel.tiers)
    next_tier = [start for start in tiers if start > asked][:1]
    wanted = {*quantity_steps(request.workshop), *([asked] if asked else []), *next_tier}
    planner, worked = sheet_planner(), {}
    for quantity in sorted(wanted):
        row.quantity = quantity
        worked[quantity] = within.worked(quote, row, planner).price
    priced = {many: price for many, price in worked.items() if price is not None}
    today = timezone.localdate()
    counted = count_for(quote, today)
    dates = {many: dates_of(price.order, counted, today) for many, price in priced.items()}
    return {
        "steps": step_rows(priced, dates, within.place, request.workshop, asked),
        "cheaper": cheaper_in_all(priced, request.workshop, asked),
        "is_alone": len(within.rows) == 1,
    }


def _typed(request: WorkshopRequest, pk: int) -> Entry:
    quote = quote_or_404(request, pk)
    line = whole_number(request.POST.get("line"), 0)
    row = _line_or_404(request, pk, line) if line else None
    design = row.design if row else _design(request, request.POST.get("design"))
    return _entry(request, quote, design, row, request.POST)


@require_POST
@may_change
def quote_line_price(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with the price of what is typed; stores nothing."""
    entry = _typed(request, pk)
    context = {"quote": entry.quote, "entry": entry, "form": entry.form, "is_part": True}
    return render(request, "pricing/quotes/_line_price.html", context | _priced(request, entry))


@require_POST
@may_change
def quote_line_steps(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with what is typed at other quantities; stores nothing."""
    entry = _typed(request, pk)
    context = {"quote": entry.quote, "entry": entry}
    return render(request, "pricing/quotes/_line_steps.html", context | _steps(request, entry))


@require_POST
@may_change
def quote_line_remove(request: WorkshopRequest, pk: int, line: int) -> HttpResponse:
    """Take a line off a draft, with a way back."""
    row = _line_or_404(request, pk, line)
    with refusal_told(request):
        remove_line(row=row)
        back = reverse("pricing:quote_line_put_back", args=[request.workshop.slug, pk, line])
        undo_message(request, f"Removed “{row.design}”.", back)
    return redirect("pricing:quote", request.workshop.slug, pk)


@require_POST
@may_change
def quote_line_put_back(request: WorkshopRequest, pk: int, line: int) -> HttpResponse:
    """Put a line back."""
    row = _line_or_404(request, pk, line)
    with refusal_told(request):
        put_line_back(row=row)
        messages.success(request, f"Restored “{row.design}”.")
    return redirect("pricing:quote", request.workshop.slug, pk)


@require_POST
@may_change
def quote_line_move(request: WorkshopRequest, pk: int, line: int) -> HttpResponse:
    """Let a line change places with its neighbour."""
    row = _line_or_404(request, pk, line)
    with refusal_told(request):
        move_line(row=row, up=request.POST.get("to") == "up")
    return redirect("pricing:quote", request.workshop.slug, pk)
