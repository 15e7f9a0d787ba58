"""The demo's asked prices with what each was set against: costs of the day it was set.

Which design, channel, batch, price and day is chosen in the demo's file; the figures are the
services' own. `test_demo_quotes.py` holds the file to them and writes it anew.
"""

from typing import Any

from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.channels.models import Channel
from pricing.prices.models import PriceListEntry
from pricing.prices.services import set_price
from pricing.workshop_file.demo import demo_document
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.pricing.demo_quotes import NEWEST

# worked out, not chosen
FIGURES = ("cost_each", "floor_each", "target_each", "basis")
# what a cost rests on; receipts and ledger as of a day come beside it
_COSTS = (
    *("format", "version", "workshop", "overhead_items", "suppliers", "materials"),
    *("designs", "channels"),
)


def prices_with_figures(by: User) -> list[dict[str, Any]]:
    """Return the prices of the demo's file, each with its figures worked out on its day."""
    document = demo_document(today=NEWEST)
    rows: list[dict[str, Any]] = document["prices"]
    found: dict[int, dict[str, Any]] = {}
    for day in sorted({row["set_at"][:10] for row in rows}):
        of_day = [place for place, row in enumerate(rows) if row["set_at"][:10] == day]
        workshop = import_workshop(_as_of(document, day), name=f"As of {day}")
        for place in of_day:
            _set(workshop, rows[place], by)
        made = export_workshop(workshop)["prices"]
        for place, row in zip(of_day, made, strict=True):
            found[place] = {key: row[key] for key in FIGURES}
    return [
        {key: value for key, value in row.items() if key not in FIGURES} | found[place]
        for place, row in enumerate(rows)
    ]


def _as_of(document: dict[str, Any], day: str) -> dict[str, Any]:
    """Return the demo with the receipts and the ledger there were by a day."""
    entries = [row for row in document["stock_entries"] if row["moved_on"] <= day]
    known = {row["receipt_line"] for row in entries if "receipt_line" in row}
    receipts = [
        row
        for row in document["receipts"]
        if any(line.get("key") in known for line in row["lines"])
    ]
    there = {key: document[key] for key in _COSTS}
    return {**there, "receipts": receipts, "stock_entries": entries}


def _set(workshop: Workshop, row: dict[str, Any], by: User) -> PriceListEntry:
    versions = DesignVersion.objects.of(workshop).filter(design__name=row["design"])
    version = versions.with_recipe().get(number=row["version"])
    channel = Channel.objects.of(workshop).with_tiers().get(name=row["channel"])
    way = row.get("colourway")
    return set_price(
        version=version,
        workshop=workshop,
        channel=channel,
        ask=Ask(
            row["made_at_once"],
            tuple(sorted(row.get("choices", {}).items())),
            bought_at_once=row.get("bought_at_once", 1),
        ),
        price=PriceListEntry._meta.get_field("price").to_python(row["price"]),
        colourway=version.colourways.get(name=way) if way else None,
        by=by,
    )
