"""Rows of the workshop and its channels -> the values the sums speak of."""

from collections.abc import Iterable

from catalogue.calc.carriage import SupplierTerms
from catalogue.designs.models import Design
from catalogue.recipes.models import ColourwayMaterial, Role
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
