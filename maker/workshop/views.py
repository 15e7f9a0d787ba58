"""My workshops, a new one, and the settings of one, section by section."""

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, fields
from typing import Any

from babel.core import negotiate_locale
from babel.numbers import get_territory_currencies
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation.trans_real import parse_accept_lang_header
from django.views.decorators.http import require_http_methods, require_safe

from maker.accounts.models import Membership
from maker.calc.currencies import LOCALES
from maker.calc.money import cash_step, format_money
from maker.calc.refusal import Refusal
from maker.web.access import may_own
from maker.web.row_pages import Entry, entry_page
from maker.workshop.date_forms import CalendarDateRows, DatesForm
from maker.workshop.document_forms import InvoicesForm, QuotesForm
from maker.workshop.forms import (
    CountingForm,
    HourForm,
    NewWorkshopForm,
    OverheadRows,
    PricesForm,
    ProfileForm,
    SettingsForm,
    SuppliesForm,
    TaxForm,
)
from maker.workshop.inputs import overhead_per_hour
from maker.workshop.models import CalendarDate, OverheadItem, Workshop
from maker.workshop.services import DateEntry, OverheadEntry, open_workshop, save_settings

# Where lengths are said in inches.
INCH_TERRITORIES = ("US", "CA", "LR", "MM")


@login_required
@require_safe
def workshop_list(request: HttpRequest) -> HttpResponse:
    """List my workshops; with only one, go straight in unless `?all` asks for the list."""
    memberships = list(Membership.objects.of_user(request.user))
    if len(memberships) == 1 and "all" not in request.GET:
        return redirect("pricing:home", memberships[0].workshop.slug)
    has_examples = any(row.may_own and row.workshop.is_demo for row in memberships)
    context = {"memberships": memberships, "has_examples": has_examples}
    return render(request, "maker/workshop/list.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def workshop_new(request: Any) -> HttpResponse:
    """Add a workshop of one's own."""
    locale = _locale_of(request)
    form = NewWorkshopForm(request.POST or None, initial=_first_guess(locale))
    if request.method == "POST" and form.is_valid():
        workshop = open_workshop(owner=request.user, locale=locale, **form.cleaned_data)
        return redirect("pricing:home", workshop.slug)
    return render(request, "maker/workshop/new.html", {"form": form})


def _locale_of(request: HttpRequest) -> str:
    """Guess from the browser how numbers are written where she is."""
    wanted = parse_accept_lang_header(request.headers.get("Accept-Language", "").lower())
    found = negotiate_locale([code.replace("-", "_") for code, _ in wanted], LOCALES) or ""
    # it comes back in the browser's spelling
    return {locale.lower(): locale for locale in LOCALES}.get(found.lower(), "en_GB")


def _first_guess(locale: str) -> dict[str, str]:
    """Guess currency and unit from the country the browser names."""
    territory = locale.partition("_")[2]
    currencies = get_territory_currencies(territory, timezone.localdate())
    unit = Workshop.Unit.INCH if territory in INCH_TERRITORIES else Workshop.Unit.MM
    return {"currency": currencies[0] if currencies else "EUR", "unit": unit}


@may_own
@require_http_methods(["GET", "POST"])
def workshop_settings(request: Any) -> HttpResponse:
    """Name and contact."""
    return _section(request, ProfileForm, "profile")


@may_own
@require_http_methods(["GET", "POST"])
def workshop_counting(request: Any) -> HttpResponse:
    """Currency, way of writing numbers, unit, stock valuation."""
    return _section(request, CountingForm, "counting")


@may_own
@require_http_methods(["GET", "POST"])
def workshop_tax(request: Any) -> HttpResponse:
    """Tax."""
    return _section(request, TaxForm, "tax")


@may_own
@require_http_methods(["GET", "POST"])
def workshop_supplies(request: Any) -> HttpResponse:
    """When to buy and how much, slow stock, start of the tax year."""
    return _section(request, SuppliesForm, "supplies")


@may_own
@require_http_methods(["GET", "POST"])
def workshop_prices(request: Any) -> HttpResponse:
    """Rounding in coins, deposits, and when a price is looked at again."""
    currency = request.workshop.currency
    return _section(request, PricesForm, "prices", coins=cash_step(currency))


@may_own
@require_http_methods(["GET", "POST"])
def workshop_dates(request: Any) -> HttpResponse:
    """Hours of each weekday, dates that differ, and how long others take."""
    return _section(request, DatesForm, "dates", rows_of=_date_rows)


@may_own
@require_http_methods(["GET", "POST"])
def workshop_quotes(request: Any) -> HttpResponse:
    """What quotes say, and terms."""
    return _section(request, QuotesForm, "quotes")


@may_own
@require_http_methods(["GET", "POST"])
def workshop_invoices(request: Any) -> HttpResponse:
    """Bank account, and who issues invoices."""
    return _section(request, InvoicesForm, "invoices")


@may_own
@require_http_methods(["GET", "POST"])
def workshop_hour(request: Any) -> HttpResponse:
    """Wage and overhead, and what an hour comes to."""
    items = list(OverheadItem.objects.of(request.workshop))
    figures = _hour(request.workshop, items)
    return _section(request, HourForm, "hour", rows_of=_overhead_rows, figures=figures)


def _section(
    request: Any,
    form_class: type[SettingsForm],
    name: str,
    *,
    rows_of: Callable[[Workshop, Any], Any] | None = None,
    **more: Any,
) -> HttpResponse:
    """Show or save one section; `rows_of` gives its rows, if it has any."""

    def entry_of(workshop: Workshop, data: Any) -> Entry:
        # the form writes into its workshop while it is checked; the page's own must stay as stored
        form = form_class(data, workshop=copy(workshop))
        return Entry(form, rows_of(workshop, data) if rows_of else None)

    def save(entry: Entry) -> HttpResponse:
        save_settings(
            workshop=entry.form.instance,
            fields=list(form_class._meta.fields or ()),
            edit_number=entry.edit_number,
            **({} if entry.rows is None else _entries(entry.rows)),
        )
        messages.success(request, "Saved.")
        return redirect(request.path)

    template = f"maker/workshop/{name}.html"
    return entry_page(request, template, request.workshop, entry_of, save, **more)


def _overhead_rows(workshop: Workshop, data: Any) -> Any:
    items = OverheadItem.objects.of(workshop)
    initial = [{"name": item.name, "amount": item.amount, "period": item.period} for item in items]
    rows = OverheadRows(data, initial=initial, prefix="overhead", form_kwargs={})
    for form in [*rows.forms, rows.empty_form]:
        form.fields["amount"].unit = workshop.currency
        form.fields["amount"].locale = workshop.locale
    return rows


def _date_rows(workshop: Workshop, data: Any) -> Any:
    columns = ("kind", "first_on", "last_on", "minutes", "note")
    initial = list(CalendarDate.objects.of(workshop).values(*columns))
    return CalendarDateRows(
        data, initial=initial, prefix="dates", form_kwargs={"workshop": workshop}
    )


# how a row of each group is stored, by the prefix of its rows
_ENTRIES: dict[str, type[OverheadEntry] | type[DateEntry]] = {
    "overhead": OverheadEntry,
    "dates": DateEntry,
}


def _entries(rows: Any) -> dict[str, Any]:
    """Return the rows as `save_settings` takes them."""
    entry = _ENTRIES[rows.prefix]
    names = [column.name for column in fields(entry)]
    return {
        rows.prefix: [
            entry(**{name: form.cleaned_data[name] for name in names}) for form in rows.kept()
        ]
    }


@dataclass(frozen=True, slots=True)
class _Figure:
    label: str
    value_text: str
    note: str = ""
    unit: str = ""
    main: bool = False


def _hour(workshop: Workshop, items: Sequence[OverheadItem]) -> list[_Figure]:
    """Return what an hour costs as it is stored, with how that comes about."""

    def money(amount: Any) -> str:
        return format_money(amount, workshop.currency, workshop.locale)

    wage = _Figure("Hourly wage", money(workshop.wage_per_hour), "your own pay")
    try:
        overhead, how = overhead_per_hour(workshop, items)
    except Refusal as refusal:
        return [wage, _Figure("Hourly overhead", "–", refusal.message)]
    return [
        wage,
        _Figure("Hourly overhead", money(overhead), how),
        _Figure(
            "Hourly cost",
            money(workshop.wage_per_hour + overhead),
            "wage + overhead",
            main=True,
        ),
    ]
