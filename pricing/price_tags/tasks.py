"""Many price tags as slow work: the PDF is made by a worker and kept for some days."""

from collections.abc import Mapping
from dataclasses import asdict, fields
from decimal import Decimal
from typing import Any

from maker.slow_work.doing import Ending, File, Outcome, Watch
from maker.slow_work.models import Work
from pricing.calc.papers.labels import LabelGeometry
from pricing.price_tags.services import Tag, print_tags, remember_tags
from pricing.prices.models import PriceListEntry


def given_for(
    *,
    tags: list[Tag],
    geometry: LabelGeometry,
    options: Mapping[str, Any],
    name: str,
    sheets: int,
    printed: list[tuple[PriceListEntry | None, Decimal, int]],
) -> dict[str, object]:
    """Return all that `make_tags` needs as plain values; `options` are those of `print_tags`."""
    return {
        "tags": [asdict(tag) for tag in tags],
        "geometry": {name: str(value) for name, value in asdict(geometry).items()},
        "options": dict(options),
        "name": name,
        "sheets": sheets,
        "printed": [[entry.pk, str(price), count] for entry, price, count in printed if entry],
    }


def make_tags(work: Work, watch: Watch) -> Ending:
    """Make the PDF, and keep which prices the tags say when it is there."""
    given, sheets = work.given, work.given["sheets"]
    sizes: dict[str, Any] = {
        one.name: (int if one.name in ("columns", "rows") else Decimal)(given["geometry"][one.name])
        for one in fields(LabelGeometry)
    }
    pdf = print_tags(
        tags=[Tag(**tag) for tag in given["tags"]],
        geometry=LabelGeometry(**sizes),
        on_page=lambda page: watch.look(min(page, sheets), sheets, "Laying out labels"),
        **given["options"],
    )

    def ending() -> Outcome:
        by = work.asked_by
        if by is not None:
            keys = [key for key, _, _ in given["printed"]]
            entries = PriceListEntry.objects.of(work.workshop).in_bulk(keys)
            remember_tags(
                printed=[
                    (entries.get(key), Decimal(price), count)
                    for key, price, count in given["printed"]
                ],
                by=by,
            )
        file = File(given["name"], "application/pdf", pdf)
        return Outcome(says=[("success", "The price tags are ready.")], file=file)

    return ending
