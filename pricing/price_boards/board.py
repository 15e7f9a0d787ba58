"""What a price board says: the asked prices of a channel, by group, and nothing else of a price."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from catalogue.designs.models import Design
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import DesignVersion
from catalogue.shapes.groups import group_title
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.fairs.drawing import item_name
from pricing.fairs.models import Fair, FairBundle, FairDesign
from pricing.prices.inputs import item_words
from pricing.prices.models import PriceListEntry

OTHERS = "More"


class NoPrices(Refusal):
    """The channel has no prices to put on a board."""


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One thing with its price for one; `more` are prices from larger quantities, in words."""

    name: str
    words: str
    price: str
    more: tuple[str, ...]
    picture: str


@dataclass(frozen=True, slots=True)
class BoardGroup:
    """What stands on one page."""

    title: str
    rows: tuple[BoardRow, ...]


def board_of(channel: Channel, workshop: Workshop) -> tuple[BoardGroup, ...]:
    """Return the groups of a channel's board (a fixed number of queries). Refusal: NoPrices.

    Items of a design that cost the same are one row. A price set when prices were shown the other
    way, with or without tax, says nothing today.
    """
    listed = PriceListEntry.objects.of(workshop).current().in_use().with_items().defer("basis")
    listed = listed.filter(channel=channel, includes_tax=workshop.prices_include_tax)
    entries = list(listed.order_by(models.functions.Lower("design__name"), "bought_at_once", "pk"))
    if not entries:
        raise NoPrices(f"{channel} has no prices yet. Save one on a design's Price page.")
    return _groups(entries, workshop)


def fair_board_of(fair: Fair, workshop: Workshop) -> tuple[BoardGroup, ...]:
    """Return what is on a fair's board: its items at their prices there, bundles last.

    A table has few items of each group, so that they share their pages. Refusal: NoPrices.
    """
    items = {item.pk: item for item in fair.designs.with_items().in_order()}
    if not items:
        raise NoPrices(f"Nothing is on the table of {fair} yet. Add items first.")
    entries = [
        PriceListEntry(
            design=item.version.design,
            version=item.version,
            colourway=item.colourway,
            choices=item.choices,
            price=item.price,
            bought_at_once=1,
        )
        for item in items.values()
    ]
    bundles = fair.bundles.prefetch_related("items").order_by("name", "pk")
    rows = [row for group in _groups(entries, workshop) for row in group.rows]
    rows += [_bundle_row(bundle, items, workshop) for bundle in bundles]
    return (BoardGroup(fair.name, tuple(rows)),)


def _bundle_row(
    bundle: FairBundle, items: Mapping[int, FairDesign], workshop: Workshop
) -> BoardRow:
    parts = sorted(bundle.items.all(), key=lambda part: (items[part.item_id].position, part.pk))
    words = ", ".join(
        f"{part.count} × {name}" if part.count > 1 else name
        for part in parts
        for name in [item_name(items[part.item_id])]
    )
    price = format_money(bundle.price, workshop.currency, workshop.locale)
    return BoardRow(bundle.name, words, price, (), "")


def _groups(entries: list[PriceListEntry], workshop: Workshop) -> tuple[BoardGroup, ...]:
    designs = {entry.design_id: entry.design for entry in entries}
    newest = DesignVersion.objects.newest_of(list(designs.values())).with_what_is_seen()
    versions = {version.design_id: version for version in newest}
    groups: dict[str, list[BoardRow]] = {}
    for pk, design in designs.items():
        version = versions[pk]
        title = next(
            (group_title(piece.form) for piece in version.pieces.all() if piece.form), OTHERS
        )
        mine = [entry for entry in entries if entry.design_id == pk]
        groups.setdefault(title, []).extend(_rows(design, mine, version, workshop))
    last = groups.pop(OTHERS, None)
    ordered = [*sorted(groups.items()), *([(OTHERS, last)] if last else [])]
    return tuple(BoardGroup(title, tuple(rows)) for title, rows in ordered)


def _rows(
    design: Design, entries: Iterable[PriceListEntry], version: DesignVersion, workshop: Workshop
) -> list[BoardRow]:
    items: dict[tuple[str, int], list[tuple[int, Decimal]]] = {}
    first_of: dict[str, PriceListEntry] = {}
    seen: Counter[tuple[str, int]] = Counter()
    for entry in entries:
        words = item_words(entry)
        first_of.setdefault(words, entry)
        quantity = words, entry.bought_at_once
        # a table may have two versions of an item: each price is a row of its own
        items.setdefault((words, seen[quantity]), []).append((entry.bought_at_once, entry.price))
        seen[quantity] += 1
    alike: dict[tuple[tuple[int, Decimal], ...], dict[str, None]] = {}
    for (words, _), prices in items.items():
        alike.setdefault(tuple(prices), {})[words] = None

    def money(amount: Decimal) -> str:
        return format_money(amount, workshop.currency, workshop.locale)

    rows = []
    for ((first, price), *larger), same in alike.items():
        more = [f"{many} or more: {money(each)} each" for many, each in larger]
        if first > 1:
            more.insert(0, f"from {first}")
        said = "" if len(alike) == 1 else " / ".join(word for word in same if word)
        picture = _picture(version, first_of[next(iter(same))])
        rows.append(BoardRow(design.name, said, money(price), tuple(more), picture))
    return rows


def _picture(version: DesignVersion, entry: PriceListEntry) -> str:
    """Return the item in its colourway as an SVG; empty when nothing is cut."""
    named = entry.colourway.name if entry.colourway else ""
    colourway = next((way for way in version.colourways.all() if way.name == named), None)
    item = item_of(version, colourway=colourway, choices=entry.choices)
    picture = item_picture(item, name="i", width=240.0, height=192.0)
    return str(picture.svg) if picture else ""
