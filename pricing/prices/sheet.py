"""Columns of the asked prices as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from django.utils import timezone

from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.prices.models import PriceListQuerySet


def price_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)
    return (
        Column("Design", width=32),
        Column("Code", width=14),
        Column("Channel"),
        Column("Bought at once, from", ColumnKind.WHOLE),
        Column("Price", ColumnKind.MONEY, digits),
        Column("With tax", width=10),
        Column("Lowest price when set", ColumnKind.MONEY, digits),
        Column("Cost when set", ColumnKind.NUMBER),
        Column("Date set", ColumnKind.DATE),
        Column("Version", ColumnKind.WHOLE),
        Column("Colourway"),
        Column("Options", width=32),
        Column("Made at once", ColumnKind.WHOLE),
    )


def price_rows(prices: PriceListQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each price, by channel, design and quantity (one query)."""
    rows = prices.select_related("design", "channel", "version", "colourway").in_order()
    for price in rows:
        yield (
            price.design.name,
            price.design.code,
            price.channel.name,
            price.bought_at_once,
            price.price,
            "yes" if price.includes_tax else "no",
            price.floor_each,
            price.cost_each,
            timezone.localdate(price.set_at),
            price.version.number,
            price.colourway.name if price.colourway else "",
            ", ".join(f"{option}: {choice}" for option, choice in sorted(price.choices.items())),
            price.made_at_once,
        )
