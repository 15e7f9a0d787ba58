"""Rows of a workshop -> the values of its file, in the order they were entered."""

from collections import Counter
from typing import Any

from django.db import models

from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import FileColumns, Supplier
from maker.workshop.models import CalendarDate, OverheadItem, Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.customer_pages.models import QuoteMessage
from pricing.customers.models import Customer
from pricing.letters.models import Letter
from pricing.price_tags.models import LabelSheet
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import DocumentSeries, Quote, QuoteDrop, QuoteExtra, QuoteLine
from pricing.spending.models import Budget
from pricing.workshop_file import schema
from pricing.workshop_file.bases import with_names
from pricing.workshop_file.cutting import cutting_values
from pricing.workshop_file.enquiries import enquired_quotes, enquiry_keys, enquiry_values
from pricing.workshop_file.expenses import closed_month_values, expense_values
from pricing.workshop_file.fairs import fair_line_keys, fair_values
from pricing.workshop_file.finished import (
    batch_keys,
    entries_of_batches,
    finished_values,
    place_keys,
)
from pricing.workshop_file.frozen import sorted_keys
from pricing.workshop_file.orders import order_values, ordered_quotes
from pricing.workshop_file.shops import settled_keys, shop_values
from pricing.workshop_file.timings import timing_values
from pricing.workshop_file.true_prices import decided_quotes, price_keys, true_price_values

Values = dict[str, Any]

VERSIONS_AT_ONCE = 100


def workshop_document(workshop: Workshop) -> Values:
    """Return everything of the workshop; a few queries for each hundred versions."""
    materials = list(
        Material.objects.of(workshop)
        .select_related("supplier")
        .prefetch_related(
            models.Prefetch(
                "packs",
                Pack.objects.select_related("supplier").order_by("position", "pk"),
            )
        )
        .order_by("pk")
    )
    packs = {pk: name for material in materials for pk, name in _pack_names(material).items()}
    names = {str(material.pk): material.name for material in materials}
    line_keys: dict[int, str] = {}
    prices = price_keys(workshop)
    named = decided_quotes(workshop) | ordered_quotes(workshop) | enquired_quotes(workshop)
    quotes, quote_keys = _quotes(workshop, names, named)
    expenses, expense_keys, receipt_keys = expense_values(workshop)
    entry_keys: dict[int, str] = {}
    places = place_keys(workshop)
    fair_lines = fair_line_keys(workshop)
    enquiries = enquiry_keys(workshop)
    settled = settled_keys(workshop)
    return {
        "format": schema.FORMAT,
        "version": schema.VERSION,
        "workshop": schema.WORKSHOP.written(workshop),
        "overhead_items": [
            schema.OVERHEAD_ITEM.written(row) for row in OverheadItem.objects.of(workshop)
        ],
        "calendar_dates": [
            schema.CALENDAR_DATE.written(row) for row in CalendarDate.objects.of(workshop)
        ],
        "suppliers": [
            schema.SUPPLIER.written(row) for row in Supplier.objects.of(workshop).order_by("pk")
        ],
        "materials": [_material(row, packs) for row in materials],
        "receipts": [
            ({"key": receipt_keys[row.pk]} if row.pk in receipt_keys else {})
            | _receipt(row, packs, line_keys)
            for row in _receipts(workshop)
        ],
        "expenses": expenses,
        "closed_months": closed_month_values(workshop),
        "stock_entries": _stock_entries(workshop, line_keys, entry_keys),
        "designs": _designs(workshop),
        "channels": [
            schema.CHANNEL.written(row)
            | {"tiers": [schema.CHANNEL_TIER.written(tier) for tier in row.tiers.all()]}
            for row in Channel.objects.of(workshop)
            .prefetch_related(
                models.Prefetch("tiers", ChannelTier.objects.order_by("bought_at_once", "pk"))
            )
            .order_by("pk")
        ],
        "prices": [
            {
                # a key is only said where something speaks of the price
                **({"key": prices[row.pk]} if row.pk in prices else {}),
                "design": row.design.name,
                "version": row.version.number,
                "channel": row.channel.name,
                "colourway": row.colourway.name if row.colourway else None,
                "choices": dict(sorted(row.choices.items())),
            }
            | schema.PRICE.written(row)
            | {"basis": sorted_keys(with_names(row.basis, names))}
            for row in PriceListEntry.objects.of(workshop)
            .select_related("design", "version", "channel", "colourway")
            .order_by("pk")
        ],
        "label_sheets": [
            schema.LABEL_SHEET.written(row)
            for row in LabelSheet.objects.of(workshop).order_by("pk")
        ],
        "letters": [
            schema.LETTER.written(row) for row in Letter.objects.of(workshop).order_by("pk")
        ],
        "budgets": [
            schema.BUDGET.written(row) for row in Budget.objects.of(workshop).order_by("pk")
        ],
        "customers": [
            schema.CUSTOMER.written(row) for row in Customer.objects.of(workshop).order_by("pk")
        ],
        "document_series": [
            schema.DOCUMENT_SERIES.written(row)
            for row in DocumentSeries.objects.filter(workshop=workshop).order_by("pk")
        ],
        "quotes": quotes,
        "enquiries": enquiry_values(workshop, quote_keys, enquiries),
        "orders": order_values(workshop, quote_keys, expense_keys, _quote_line),
        "fairs": fair_values(workshop, quote_keys, expense_keys, places, fair_lines, enquiries),
        **finished_values(workshop, entry_keys, places, fair_lines, settled),
        "shops": shop_values(workshop, places, settled),
        **cutting_values(workshop),
        **timing_values(workshop, batch_keys(workshop)),
        **true_price_values(workshop, prices, quote_keys),
        "file_columns": [
            {"supplier": row.supplier.name if row.supplier else None}
            | schema.FILE_COLUMNS.written(row)
            for row in FileColumns.objects.of(workshop).select_related("supplier").order_by("pk")
        ],
    }


def pack_names(packs: list[str]) -> list[str]:
    """Return what packs are called by in a file: their name, numbered where it is there twice."""
    times = Counter(packs)
    taken = set(packs)
    names = []
    for place, pack in enumerate(packs, 1):
        name = pack if times[pack] == 1 else f"{pack} #{place}"
        while times[pack] > 1 and name in taken:
            name += "#"
        taken.add(name)
        names.append(name)
    return names


def _pack_names(material: Material) -> dict[int, str]:
    packs = list(material.packs.all())
    names = pack_names([pack.name for pack in packs])
    return {pack.pk: name for pack, name in zip(packs, names, strict=True)}


def _name(row: Supplier | None) -> str | None:
    return row.name if row else None


def _material(row: Material, packs: dict[int, str]) -> Values:
    return (
        schema.MATERIAL.written(row)
        | {"supplier": _name(row.supplier)}
        | {
            "packs": [
                # a key is only said where the name alone would not do
                ({"key": packs[pack.pk]} if packs[pack.pk] != pack.name else {})
                | schema.PACK.written(pack)
                | {"supplier": _name(pack.supplier)}
                for pack in row.packs.all()
            ]
        }
    )


def _receipts(workshop: Workshop) -> models.QuerySet[Purchase]:
    lines = PurchaseLine.objects.select_related("material").order_by("position", "pk")
    return (
        Purchase.objects.of(workshop)
        .select_related("supplier")
        .prefetch_related(models.Prefetch("lines", lines))
        .order_by("pk")
    )


def _receipt(row: Purchase, packs: dict[int, str], line_keys: dict[int, str]) -> Values:
    lines = []
    for line in row.lines.all():
        line_keys[line.pk] = f"line {len(line_keys) + 1}"
        lines.append(
            {
                "key": line_keys[line.pk],
                "material": line.material.name,
                "pack": packs[line.pack_id] if line.pack_id else None,
            }
            | schema.PURCHASE_LINE.written(line)
        )
    return {"supplier": row.supplier.name} | schema.PURCHASE.written(row) | {"lines": lines}


def _stock_entries(
    workshop: Workshop, line_keys: dict[int, str], keys: dict[int, str]
) -> list[Values]:
    """Return the movements; `keys` gets what those are called that something speaks of."""
    rows = list(StockEntry.objects.of(workshop).select_related("material").order_by("pk"))
    named = {row.takes_back_id for row in rows if row.takes_back_id} | entries_of_batches(workshop)
    entries = []
    for row in rows:
        entry: Values = {"material": row.material.name}
        if row.pk in named:
            keys[row.pk] = f"entry {len(keys) + 1}"
            entry["key"] = keys[row.pk]
        entry |= schema.STOCK_ENTRY.written(row)
        if row.takes_back_id:
            # moves the same receipt line as the entry it takes back
            entry["takes_back"] = keys[row.takes_back_id]
        elif row.purchase_line_id:
            entry["receipt_line"] = line_keys[row.purchase_line_id]
        entries.append(entry)
    return entries


def _designs(workshop: Workshop) -> list[Values]:
    versions: dict[int, list[Values]] = {}
    rows = DesignVersion.objects.of(workshop).with_recipe().order_by("design_id", "number", "pk")
    # SQLite refuses to look up thousands of materials at once
    for row in rows.iterator(chunk_size=VERSIONS_AT_ONCE):
        versions.setdefault(row.design_id, []).append(
            schema.DESIGN_VERSION.written(row)
            | ({"places": row.places} if row.places else {})
            | {"recipe": recipe_document(row)}
        )
    return [
        schema.DESIGN.written(row) | {"versions": versions.get(row.pk, [])}
        for row in Design.objects.of(workshop).order_by("pk")
    ]


def _quotes(
    workshop: Workshop, names: dict[str, str], named: set[int]
) -> tuple[list[Values], dict[int, str]]:
    """Return the quotes, and the keys of those that something in the file speaks of."""
    lines = QuoteLine.objects.select_related("design", "version", "colourway")
    rows = list(
        Quote.objects.of(workshop)
        .select_related("customer", "channel")
        .prefetch_related(
            models.Prefetch("lines", lines.order_by("position", "pk")),
            models.Prefetch("extras", QuoteExtra.objects.order_by("position", "pk")),
            models.Prefetch("drops", QuoteDrop.objects.order_by("position", "pk")),
            models.Prefetch("messages", QuoteMessage.objects.order_by("said_at", "pk")),
        )
        .order_by("pk")
    )
    followed = {row.replaces_id for row in rows if row.replaces_id}
    keys: dict[int, str] = {}
    quotes = []
    for row in rows:
        quote: Values = {}
        if row.pk in followed or row.pk in named:
            keys[row.pk] = f"quote {len(keys) + 1}"
            quote["key"] = keys[row.pk]
        quote |= {
            "customer": row.customer.name,
            "channel": row.channel.name if row.channel else None,
            "replaces": keys[row.replaces_id] if row.replaces_id else None,
        }
        quote |= schema.QUOTE.written(row)
        quote["lines"] = [_quote_line(line) for line in row.lines.all() if line.change_id is None]
        # said only where there are any
        extras = [schema.QUOTE_EXTRA.written(each) for each in row.extras.all()]
        drops = [schema.QUOTE_DROP.written(each) for each in row.drops.all()]
        quote |= ({"extras": extras} if extras else {}) | ({"drops": drops} if drops else {})
        quote["messages"] = [schema.QUOTE_MESSAGE.written(each) for each in row.messages.all()]
        quotes.append(quote | {"frozen": sorted_keys(_frozen(row.frozen, names))})
    return quotes, keys


def _frozen(frozen: Values, names: dict[str, str]) -> Values:
    """Return what a sent quote said, with materials its lines were worked out from by name."""
    basis = frozen.get("basis", {})
    if "lines" not in basis:
        return frozen
    lines = [with_names(line, names) for line in basis["lines"]]
    return {**frozen, "basis": {**basis, "lines": lines}}


def _quote_line(line: QuoteLine) -> Values:
    return {
        "design": line.design.name,
        "version": line.version.number,
        "colourway": line.colourway.name if line.colourway else None,
        "choices": dict(sorted(line.choices.items())),
    } | schema.QUOTE_LINE.written(line)
