"""What a kept price is for: a design's options and colourway, and which price holds for how many.

A colourway and a choice belong to one version of a recipe; across versions they are the same when
they are called the same, so that the price of a new version takes the place of the old one's.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from catalogue.recipes.models import Colourway, DesignVersion
from pricing.prices.models import PriceListEntry


@dataclass(frozen=True, slots=True)
class Item:
    """A colourway by name (empty: none) and every choice of a version, option key by choice key."""

    colourway: str
    choices: tuple[tuple[str, str], ...]


def default_choices(version: DesignVersion) -> dict[str, str]:
    """Return what each option is without a word; `version` comes with its options."""
    chosen = {}
    for option in version.options.all():
        answers = sorted(option.choices.all(), key=lambda each: (each.position, each.pk))
        usual = next((each for each in answers if each.is_default), answers[0] if answers else None)
        if usual is not None:
            chosen[option.key] = usual.key
    return chosen


def item_of(version: DesignVersion, colourway: str, choices: Mapping[str, str]) -> Item:
    """Return an item as a version has it: an option it has and nobody answered is as usual."""
    return Item(colourway, tuple(sorted({**default_choices(version), **choices}.items())))


def kept_item(entry: PriceListEntry, version: DesignVersion) -> Item:
    """Return what a kept price is for, as another version of the design would say it."""
    return item_of(version, entry.colourway.name if entry.colourway else "", entry.choices)


def item_words(entry: PriceListEntry) -> str:
    """Return colourway and what is not as usual, in words; empty for the design as it is.

    The entry comes from `with_items()`.
    """
    usual = default_choices(entry.version)
    words = [entry.colourway.name] if entry.colourway else []
    for option in entry.version.options.all():
        chosen = entry.choices.get(option.key)
        if chosen is None or chosen == usual.get(option.key):
            continue
        name = next((each.name for each in option.choices.all() if each.key == chosen), chosen)
        words.append(f"{option.name}: {name}")
    return ", ".join(words)


def entry_name(entry: PriceListEntry) -> str:
    """Return the design with what sets this item apart: “Meadow bag (blue, Name: yes)”."""
    words = item_words(entry)
    return f"{entry.design.name} ({words})" if words else entry.design.name


def listed_prices(
    version: DesignVersion,
    channel: Any,
    colourway: Colourway | None,
    choices: Mapping[str, str],
) -> list[PriceListEntry]:
    """Return an item's prices on the list of a channel, the smallest quantity first (one query)."""
    if channel is None:
        return []
    item = item_of(version, colourway.name if colourway else "", choices)
    return price_book(channel, [version.design_id]).prices_of(version, item)


def price_at_quantity(entries: Sequence[PriceListEntry], quantity: int) -> PriceListEntry | None:
    """Return which of an item's prices holds for so many; None where they begin later."""
    return next((each for each in reversed(entries) if each.bought_at_once <= quantity), None)


@dataclass(frozen=True, slots=True)
class PriceBook:
    """The current prices of one channel, by design."""

    entries: Mapping[int, list[PriceListEntry]] = field(default_factory=dict)

    def prices_of(self, version: DesignVersion, item: Item) -> list[PriceListEntry]:
        """Return an item's prices, the smallest quantity first."""
        return [
            entry
            for entry in self.entries.get(version.design_id, [])
            if kept_item(entry, version) == item
        ]

    def price_for(self, version: DesignVersion, item: Item, quantity: int) -> PriceListEntry | None:
        """Return the price that holds for who buys so many; None where the list has none."""
        return price_at_quantity(self.prices_of(version, item), quantity)


def price_book(channel: Any, designs: Iterable[int] | None = None) -> PriceBook:
    """Return the current prices of a channel, of some designs or all (one query)."""
    return next(iter(price_books([channel], designs).values()), PriceBook())


def price_books(
    channels: Iterable[Any], designs: Iterable[int] | None = None
) -> dict[int, PriceBook]:
    """Return channel -> its current prices, of some designs or all (one query).

    A price set when prices were shown the other way, with or without tax, says nothing today.
    """
    rows = PriceListEntry.objects.current().filter(
        channel__in=list(channels),
        includes_tax=models.F("channel__workshop__prices_include_tax"),
    )
    rows = rows.select_related("colourway").defer("basis")
    if designs is not None:
        rows = rows.filter(design__in=list(designs))
    found: dict[int, dict[int, list[PriceListEntry]]] = {}
    for row in rows.order_by("bought_at_once", "pk"):
        found.setdefault(row.channel_id, {}).setdefault(row.design_id, []).append(row)
    return {channel: PriceBook(entries) for channel, entries in found.items()}
