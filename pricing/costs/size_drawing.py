"""Turns sizes that save sheets into what a page shows, each with the way to take it."""

from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from catalogue.recipes.models import DesignVersion
from maker.calc.sums import plain_text
from maker.calc.units import format_length
from maker.workshop.models import Workshop
from pricing.costs.sizes import SizeSaving


def size_rows(
    found: list[SizeSaving], version: DesignVersion, workshop: Workshop
) -> list[dict[str, Any]]:
    """Return what saves sheets in words, with the address of the page that makes it so."""
    numbers = {"workshop": workshop.slug, "design": version.design_id, "number": version.number}
    rows = []
    for one in found:
        saving = one.saving
        size = saving.candidate
        if size.key:
            take = urlencode({"take": f"{size.key}={plain_text(saving.after_mm)}"})
            href = f"{reverse('catalogue:version_size', kwargs=numbers)}?{take}"
        else:
            href = f"{reverse('catalogue:recipe', kwargs=numbers)}#pieces"
        before, after = (
            format_length(length, workshop.unit, workshop.locale)
            for length in (size.size_mm, saving.after_mm)
        )
        rows.append(
            {
                "pieces": ", ".join(size.pieces),
                "title": size.title,
                "before": before,
                "after": after,
                "saved": saving.sheets_before - saving.sheets,
                "sheets_before": saving.sheets_before,
                "sheets": saving.sheets,
                "cost_before": one.cost_each_before,
                "cost": one.cost_each,
                "href": href,
            }
        )
    return rows
