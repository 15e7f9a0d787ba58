"""The items of a quote's lines, each in its card, for the pages of the quote."""

from collections.abc import Iterable, Mapping
from typing import Any

from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import DesignVersion
from pricing.quotes.inputs import ColourwayGone, colourway_of
from pricing.quotes.models import QuoteLine

WIDTH, HEIGHT = 100.0, 80.0


def add_pictures(
    shown: Iterable[dict[str, Any]],
    rows: Iterable[QuoteLine],
    versions: Mapping[int, DesignVersion] | None = None,
) -> None:
    """Put a picture beside each line; a fixed number of queries, none with loaded versions.

    Drawn from the recipe as it is: what a sent quote showed stands in its PDF.
    """
    rows = list(rows)
    if versions is None:
        keys = {row.version_id for row in rows}
        versions = DesignVersion.objects.with_what_is_seen().in_bulk(keys)
    for place, (said, row) in enumerate(zip(shown, rows, strict=False)):
        version = versions[row.version_id]
        try:
            colourway = colourway_of(row, version)
        except ColourwayGone:
            colourway = None
        said["picture"] = item_picture(
            item_of(version, colourway=colourway, choices=row.choices),
            name=f"line{place}",
            width=WIDTH,
            height=HEIGHT,
        )
