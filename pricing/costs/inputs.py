"""Rows of the workshop and its channels -> the values the sums speak of."""

import datetime
from collections.abc import Iterable
from decimal import ROUND_CEILING, Decimal

from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.designs.models import Design
from catalogue.recipes.models import ColourwayMaterial, Role
from catalogue.suppliers.models import Supplier
from maker.calc.money import minor_digits
from maker.workshop.inputs import overhead_per_hour
from maker.workshop.models import CalendarDate, OverheadItem, Workshop
from pricing.calc.costing.rates import USUAL_DAY_MINUTES, WorkshopRates
from pricing.calc.schedule.calendar import CountedDays, WorkCalendar
from pricing.calc.schedule.job import Bench, Promise
from pricing.calc.schedule.ready import DateTerms


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
    """Return how dates are counted from a day on (two queries).

    Accepted quotes that are needed later are promised work; `without` is the key of one that is
    not to count.
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
        promises=_promises(workshop, on, carrier_days, without),
    )


def _promises(
    workshop: Workshop, on: datetime.date, carrier_days: CountedDays, without: object
) -> tuple[Promise, ...]:
    """Return the work of accepted quotes; they belong to a feature above, so they are named."""
    rows = (
        workshop.customers.filter(quotes__state="accepted", quotes__needed_on__gt=on)
        .values_list(
            "quotes__pk",
            "quotes__number",
            "quotes__needed_on",
            "quotes__delivery",
            "quotes__frozen__own__minutes",
        )
        .order_by("quotes__needed_on", "quotes__pk")
    )
    found = []
    for pk, number, needed_on, delivery, minutes in rows:
        if pk == without or needed_on is None:
            continue
        due_on = needed_on
        if delivery:
            due_on = carrier_days.before(carrier_days.last_until(needed_on), workshop.transit_days)
        whole = int(Decimal(minutes or 0).to_integral_value(rounding=ROUND_CEILING))
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
