"""Keeps what materials would fetch, and asks for the accountant's pack."""

from collections.abc import Sequence

from django.db import transaction
from django.urls import reverse

from catalogue.materials.models import Material
from catalogue.stock.services import lock_materials
from maker.accounts.models import User
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work
from maker.workshop.models import Workshop
from pricing.calc.spending.tax_year import TaxYear
from pricing.tax_year.pack import make_pack


@transaction.atomic
def keep_would_fetch(*, materials: Sequence[Material]) -> int:
    """Write what materials would fetch and whether they are sold above cost; return how many."""
    locked = lock_materials(material.pk for material in materials)
    for material in materials:
        row = locked[material.pk]
        row.fetches_each = material.fetches_each
        row.is_sold_above_cost = material.is_sold_above_cost
        row.save(update_fields=["fetches_each", "is_sold_above_cost"])
    return len(locked)


def ask_pack(*, workshop: Workshop, year: TaxYear, by: User | None) -> Work:
    """Have the accountant's pack of a tax year made. Errors: TooMuchWaits."""
    page = reverse("pricing:tax_year", args=[workshop.slug, year.first.year])
    under_way = Work.objects.of(workshop).under_way().in_short()
    for before in under_way.filter(came_from=page, kind=Work.Kind.EXPORT).order_by("-pk")[:1]:
        return before  # the second click
    return ask_work(
        workshop=workshop,
        kind=Work.Kind.EXPORT,
        title=f"Accountant’s pack {year.name}",
        doing=make_pack,
        given={"year": year.first.year},
        came_from=page,
        by=by,
    )
