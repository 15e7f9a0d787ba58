"""Rows of the workshop and its channels -> the values the sums speak of."""

import datetime
from collections.abc import Iterable
from dataclasses import replace
from decimal import ROUND_CEILING, Decimal
from typing import Any

from django.db.models import Case, Q, When
from django.db.models.functions import Coalesce

from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.designs.models import Design
from catalogue.recipes.models import Colourway, ColourwayMaterial, Role
from catalogue.suppliers.models import Supplier
from maker.calc.money import minor_digits
from maker.workshop.inputs import overhead_per_hour
from maker.workshop.json_text import json_text
from maker.workshop.models import CalendarDate, OverheadItem, Workshop
from pricing.calc.costing.rates import USUAL_DAY_MINUTES, Ask, WorkshopRates
from pricing.calc.schedule.calendar import CountedDays, WorkCalendar
from pricing.calc.schedule.job import Bench, Promise
from pricing.calc.schedule.ready import DateTerms
from pricing.channels.models import Channel

# preparing a fair reaches no further back
MOST_DAYS_BEFORE = 28


def workshop_rates(workshop: Workshop) -> WorkshopRates:
    """Return what an hour costs and how tax is treated (one query, for the overhead items).

    Refused when the overhead has no hours to be shared over.
    """
    overhead, how = overhead_per_hour(workshop, list(OverheadItem.objects.of(workshop)))
    registered = workshop.tax_registered
    return WorkshopRates(
        wage_per_hour=workshop.wage_per_hour,
        overhead_per_hour=overhead,
        overhead_how=how,
        currency_digits=minor_digits(workshop.currency),
        tax_rate=workshop.tax_rate if registered else Decimal(0),
        prices_include_tax=workshop.prices_include_tax,
        tax_per_line=workshop.tax_rounding == Workshop.TaxRounding.LINE,
        day_minutes=usual_day_minutes(workshop),
        offcut_least_mm=(
            workshop.offcut_least_mm if workshop.offcut_value == Workshop.OffcutValue.AREA else None
        ),
    )


def usual_day_minutes(workshop: Workshop) -> int:
    """Return the minutes of a usual working day: the mean of the weekdays she works."""
    worked = [minutes for minutes in workshop.weekday_minutes if minutes]
    return max(round(sum(worked) / len(worked)), 1) if worked else USUAL_DAY_MINUTES


def date_terms(workshop: Workshop, on: datetime.date, *, without: object = None) -> DateTerms:
    """Return how dates are counted from a day on, beside what is promised (three queries).

    Accepted quotes that are needed later are promised work; `without` is the key of one that is
    not to count.
    """
    terms = terms_without_promises(workshop)
    return replace(terms, promises=_promises(workshop, on, terms.bench.carrier_days, without))


def terms_without_promises(workshop: Workshop) -> DateTerms:
    """Return how dates are counted when nothing else is to be made (two queries).

    The hours of fairs she goes to are not there for orders.
    """
    off: set[datetime.date] = set()
    other: dict[datetime.date, int] = {}
    carrier: set[datetime.date] = set()
    suppliers: set[datetime.date] = set()
    kinds = CalendarDate.Kind
    for row in CalendarDate.objects.of(workshop):
        dates = {
            row.first_on + datetime.timedelta(day)
            for day in range((row.last_on - row.first_on).days + 1)
        }
        if row.kind in (kinds.OFF, kinds.HOLIDAY):
            off |= dates
        if row.kind in (kinds.CARRIER, kinds.HOLIDAY):
            carrier |= dates
        if row.kind in (kinds.SUPPLIERS, kinds.HOLIDAY):
            suppliers |= dates
        if row.kind == kinds.HOURS:
            other |= dict.fromkeys(dates, row.minutes or 0)
    _take_fairs(workshop, off, other)
    carrier_days = CountedDays(
        frozenset(int(day) - 1 for day in workshop.carrier_weekdays), frozenset(carrier)
    )
    return DateTerms(
        bench=Bench(
            WorkCalendar(workshop.weekday_minutes, frozenset(off), other),
            carrier_days,
            workshop.buffer_days,
        ),
        supplier_days=CountedDays(holidays=frozenset(suppliers)),
        lead_days=workshop.purchase_lead_days,
        proof_days=workshop.proof_days,
        transit_days=workshop.transit_days,
    )


def _take_fairs(
    workshop: Workshop, off: set[datetime.date], other: dict[datetime.date, int]
) -> None:
    """Take the hours of fairs from the minutes of their dates, and preparing from those before.

    Fairs belong to a feature above, so they are named.
    """
    fairs: Any = workshop.fairs
    rows = fairs.filter(state="going", days__isnull=False).values_list(
        "pk",
        "prepare_hours",
        "days__held_on",
        "days__opens",
        "days__closes",
        Coalesce("days__drive_hours", "drive_hours"),
        Coalesce("days__pack_hours", "pack_hours"),
    )
    calendar = WorkCalendar(workshop.weekday_minutes, frozenset(off), other)
    first_days: dict[int, tuple[datetime.date, int]] = {}
    for pk, prepare, on, opens, closes, drive, pack in rows.order_by("days__held_on", "pk"):
        at_table = (closes.hour - opens.hour) * 60 + closes.minute - opens.minute
        taken = at_table + int((drive + pack) * 60)
        other[on] = max(calendar.minutes_on(on) - taken, 0)
        first_days.setdefault(pk, (on, int(prepare * 60)))
    for on, minutes in sorted(first_days.values()):
        day, left = on, minutes
        for _ in range(MOST_DAYS_BEFORE):
            day -= datetime.timedelta(days=1)
            there = calendar.minutes_on(day)
            taken = min(there, left)
            if taken:
                other[day] = there - taken
                left -= taken
            if not left:
                break


def _promises(
    workshop: Workshop, on: datetime.date, carrier_days: CountedDays, without: object
) -> tuple[Promise, ...]:
    """Return the work of accepted quotes that is still to be done, by the date of their order.

    They belong to features above, so they are named.
    """
    to_make = Q(quotes__order=None) | Q(quotes__order__state__in=["planned", "making"])
    rows = (
        workshop.customers.filter(to_make, quotes__state="accepted")
        .annotate(due_on=Coalesce("quotes__order__due_on", "quotes__needed_on"))
        .filter(due_on__gt=on)
        .values_list(
            "quotes__pk",
            "quotes__number",
            "due_on",
            "quotes__delivery",
            # read out of long figures only where there is no order yet
            Case(When(quotes__order=None, then=json_text("quotes__frozen__own", "minutes"))),
            Coalesce("quotes__order__quoted_minutes", Decimal(0)),
            Coalesce("quotes__order__changes_minutes", Decimal(0)),
        )
        .order_by("due_on", "quotes__pk")
    )
    found = []
    for pk, number, due_on, delivery, said, quoted, more in rows:
        if pk == without:
            continue
        if delivery:
            due_on = carrier_days.before(carrier_days.last_until(due_on), workshop.transit_days)
        asked = max(Decimal(said or quoted) + more, Decimal(0))
        whole = int(asked.to_integral_value(rounding=ROUND_CEILING))
        found.append(Promise(number, whole, due_on))
    return tuple(found)


def materials_of_other_designs(workshop: Workshop, design_ids: Iterable[int]) -> frozenset[int]:
    """Return ids of materials that designs in use, but these, have in a recipe (two queries)."""
    others = Design.objects.of(workshop).in_use().exclude(pk__in=list(design_ids))
    in_roles = Role.objects.filter(version__design__in=others)
    in_colourways = ColourwayMaterial.objects.filter(role__version__design__in=others)
    return frozenset(
        pk
        for rows in (in_roles, in_colourways)
        for pk in rows.values_list("material_id", flat=True)
    )


def supplier_terms(workshop: Workshop) -> list[SupplierTerms]:
    """Return what each supplier asks for carriage (one query)."""
    rows = Supplier.objects.of(workshop).by_name()
    return [
        SupplierTerms(*row) for row in rows.values_list("name", "carriage", "carriage_free_from")
    ]


def price_set_for(
    design: Any, channel: Channel | None, colourway: Colourway | None, ask: Ask
) -> Any:
    """Return the price she set for what is asked; None where there is none (one query)."""
    if channel is None:
        return None
    found = design.prices.current().filter(channel=channel, colourway=colourway)
    found = found.filter(bought_at_once__lte=ask.bought).defer("basis")
    choices = dict(ask.choices)
    return next(
        (row for row in found.order_by("-bought_at_once", "pk") if row.choices == choices), None
    )
