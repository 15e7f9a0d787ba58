"""Rows of the workshop and its channels -> the values the sums speak of."""

from catalogue.calc.carriage import SupplierTerms
from catalogue.suppliers.models import Supplier
from maker.calc.money import minor_digits
from maker.workshop.inputs import overhead_per_hour
from maker.workshop.models import OverheadItem, Workshop
from pricing.calc.rates import WorkshopRates


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
        tax_rate=workshop.tax_rate if registered else workshop.tax_rate * 0,
        prices_include_tax=workshop.prices_include_tax,
        tax_per_line=workshop.tax_rounding == Workshop.TaxRounding.LINE,
        hours_per_day=workshop.hours_per_day,
        purchase_lead_days=workshop.purchase_lead_days,
        offcut_least_mm=(
            workshop.offcut_least_mm if workshop.offcut_value == Workshop.OffcutValue.AREA else None
        ),
    )


def supplier_terms(workshop: Workshop) -> list[SupplierTerms]:
    """Return what each supplier asks for carriage (one query)."""
    rows = Supplier.objects.of(workshop).by_name()
    return [
        SupplierTerms(*row) for row in rows.values_list("name", "carriage", "carriage_free_from")
    ]
