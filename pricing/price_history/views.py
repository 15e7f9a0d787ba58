"""Why a price changed: two sides of one design, or two quotes to one customer."""

from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_see, row_or_404
from maker.web.lists import whole_number
from pricing.channels.models import Channel
from pricing.costs.forms import OPTION_PREFIX
from pricing.costs.views import DEFAULT_QUANTITY
from pricing.price_history.drawing import histories_page, quote_page
from pricing.price_history.forms import WORKED_OUT, NewSideForm, OldSideForm, SideForm
from pricing.price_history.quoted import change_between, lines_of, others_for
from pricing.price_history.services import (
    Histories,
    PricedJob,
    histories_between,
    ingredients_today,
    job_of,
    kept_ingredients,
    with_new_choices,
)
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote
from pricing.quotes.views import quote_or_404

# the newest prices of a design that can be chosen
MOST_ENTRIES = 100
MOST_QUOTES = 50


@require_GET
@may_see
def design_history(request: WorkshopRequest, pk: int) -> HttpResponse:
    """From one price of a design to another; a question that cannot be read is explained."""
    design = row_or_404(Design.objects.of(request.workshop), pk)
    old_form, new_form, versions = _sides(request, design)
    context: dict[str, Any] = {
        "design": design,
        "version": versions.get(max(versions, default=0)),
        "sides": (old_form, new_form),
        "query": request.GET.urlencode(),
        "refusal": None,
    }
    # both, so that everything wrong is said at once
    if all([old_form.is_valid(), new_form.is_valid()]):
        try:
            found = _histories(request, (old_form, new_form), versions)
            context |= {"found": found, **histories_page(found, request.workshop)}
        except Refusal as refusal:
            context["refusal"] = refusal
    context["has_errors"] = bool(old_form.errors or new_form.errors or context["refusal"])
    return render(request, "pricing/price_history/price_history.html", context)


Versions = dict[int, DesignVersion]


def _sides(request: WorkshopRequest, design: Design) -> tuple[SideForm, SideForm, Versions]:
    """Read both sides from the address; what is not said is the newest price, and today."""
    workshop, data = request.workshop, request.GET.copy()
    entries = list(
        PriceListEntry.objects.of(workshop)
        .filter(design=design)
        .with_items()
        .select_related("design__workshop", "channel", "version", "colourway")
        .order_by("-set_at", "-pk")[:MOST_ENTRIES]
    )
    channels = list(Channel.objects.of(workshop).in_use().with_tiers().in_order())
    numbers = list(
        DesignVersion.objects.filter(design=design).newest_first().values_list("number", flat=True)
    )
    if not numbers:
        raise Http404("This design has no recipe.")
    kept = [str(entry.pk) for entry in entries if entry.basis is not None]
    data.setdefault("from", kept[0] if kept else WORKED_OUT)
    data.setdefault("to", WORKED_OUT)
    versions: Versions = {}
    chosen = next((entry for entry in entries if str(entry.pk) == data["from"]), None)
    for before, form_class in (("", NewSideForm), ("was_", OldSideForm)):
        number = whole_number(data.get(f"{before}version"), numbers[0])
        number = number if number in numbers else numbers[0]
        data.setdefault(f"{before}version", str(number))
        if number not in versions:
            versions[number] = (
                DesignVersion.objects.filter(design=design).with_recipe().get(number=number)
            )
        if form_class is NewSideForm and chosen and "quantity" not in data:
            _same_question(data, chosen, versions[number])
        data.setdefault(f"{before}quantity", data.get("quantity", str(DEFAULT_QUANTITY)))
    forms = []
    for before, form_class in (("was_", OldSideForm), ("", NewSideForm)):
        number = whole_number(data.get(f"{before}version"), numbers[0])
        version = versions.get(number, versions[next(iter(versions))])
        form: SideForm = form_class(
            data,
            workshop=workshop,
            version=version,
            channels=channels,
            entries=entries,
            numbers=numbers,
        )
        for name, field in form.fields.items():
            if form.add_prefix(name) not in data and field.initial is not None:
                data[form.add_prefix(name)] = field.prepare_value(field.initial)
        forms.append(form)
    return forms[0], forms[1], versions


def _same_question(data: QueryDict, entry: PriceListEntry, version: DesignVersion) -> None:
    """Ask today what the price was set for, as far as the version still knows it."""
    data["quantity"] = str(entry.made_at_once)
    data["bought_at_once"] = str(entry.bought_at_once)
    data.setdefault("channel", str(entry.channel_id))
    if entry.colourway is not None:
        name = entry.colourway.name
        way = next((row for row in version.colourways.all() if row.name == name), None)
        data.setdefault("colourway", str(way.pk) if way else "")
    for option in version.options.all():
        choice = entry.choices.get(option.key)
        if choice in {each.key for each in option.choices.all()}:
            data.setdefault(OPTION_PREFIX + option.key, choice)


def _histories(
    request: WorkshopRequest, forms: tuple[SideForm, SideForm], versions: Versions
) -> Histories:
    workshop, sides = request.workshop, []
    jobs: list[PricedJob] = []
    for form in forms:
        entry = form.chosen_entry()
        if entry is not None:
            sides.append(kept_ingredients(entry))
            loaded = DesignVersion.objects.with_recipe().get(pk=entry.version_id)
            jobs.append(job_of(entry, loaded))
            continue
        version = versions[int(form.cleaned_data["version"])]
        job = PricedJob(version, form.ask(), form.chosen_channel(), form.chosen_colourway())
        jobs.append(job)
        sides.append(ingredients_today(job, workshop))
    old, new = sides
    options = with_new_choices(old, new, jobs[0], workshop)
    return histories_between(old, new, with_options=options)


@require_GET
@may_see
def quote_history(request: WorkshopRequest, pk: int) -> HttpResponse:
    """From the earlier of two quotes of a customer to the later one, line by line."""
    row, today = quote_or_404(request, pk), timezone.localdate()
    others = list(others_for(row)[:MOST_QUOTES])
    context: dict[str, Any] = {"quote": row, "others": others, "refusal": None, "change": None}
    if others:
        other = _chosen(request, row, others)
        context["other"] = other
        try:
            # what a quote kept may be long: only that of the two is read
            both = sorted(
                (row, quote_or_404(request, other.pk)), key=lambda each: (each.created_at, each.pk)
            )
            context["earlier"], context["later"] = both
            old, new = (lines_of(each, today) for each in both)
            workshop = request.workshop
            context |= quote_page(change_between(old, new), workshop.currency, workshop.locale)
        except Refusal as refusal:
            context["refusal"] = refusal
    return render(request, "pricing/price_history/quote_history.html", context)


def _chosen(request: WorkshopRequest, row: Quote, others: list[Quote]) -> Quote:
    """Return the other quote: the one asked for, the revision next to it, or the newest."""
    wanted = whole_number(request.GET.get("to"), 0)
    for other in others:
        if other.pk == wanted:
            return other
    if wanted:
        raise Http404("That quote isn't this customer's, or has no shared design.")
    beside = (
        other for other in others if row.pk == other.replaces_id or row.replaces_id == other.pk
    )
    return next(beside, others[0])
