"""What tags can be printed for: each priced item of a channel, and designs without a price."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from catalogue.designs.models import Design
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import DesignVersion
from pricing.channels.models import Channel
from pricing.prices.inputs import entry_name
from pricing.prices.models import PriceListEntry


@dataclass(frozen=True, slots=True)
class TagItem:
    """One thing to print tags for: a design, or one of its colourways and options with a price."""

    name: str
    design: Design
    entry: PriceListEntry | None


@dataclass(frozen=True, slots=True)
class TagItems:
    """Everything tags can be printed for, found by name or by the design's code."""

    items: tuple[TagItem, ...]
    _found: Mapping[str, tuple[TagItem, ...]] = field(repr=False)

    def called(self, name: str) -> tuple[TagItem, ...]:
        """Return what is called so: one, none, or the priced items of a design with several."""
        return self._found.get(name.casefold(), ())

    def priced(self) -> list[TagItem]:
        """Return those with a price."""
        return [item for item in self.items if item.entry is not None]


def tag_items(designs: Sequence[Design], channel: Channel | None) -> TagItems:
    """Return the items of these designs with the price one buyer usually pays (three queries).

    That is the price from the largest quantity a buyer of the channel usually takes, else the one
    from the smallest quantity there is.
    """
    entries: dict[str, list[PriceListEntry]] = {}
    if channel is not None:
        wanted = {design.pk for design in designs}
        listed = PriceListEntry.objects.current().filter(channel=channel).defer("basis")
        for entry in listed.with_items().order_by("-bought_at_once", "pk"):
            if entry.design_id in wanted:
                entries.setdefault(entry_name(entry), []).append(entry)
    most = (channel.bought_at_once if channel else None) or 1
    chosen = {
        name: next((row for row in rows if row.bought_at_once <= most), rows[-1])
        for name, rows in entries.items()
    }
    of_design: dict[int, list[TagItem]] = {}
    by_pk = {design.pk: design for design in designs}
    for name, entry in sorted(chosen.items()):
        item = TagItem(name, by_pk[entry.design_id], entry)
        of_design.setdefault(entry.design_id, []).append(item)
    items: list[TagItem] = []
    found: dict[str, tuple[TagItem, ...]] = {}
    for design in designs:
        own = of_design.get(design.pk) or [TagItem(design.name, design, None)]
        items += own
        found |= {item.name.casefold(): (item,) for item in own}
        plain = [item for item in own if item.name == design.name]
        for name in filter(None, (design.name, design.code)):
            found.setdefault(name.casefold(), tuple(plain or own))
    return TagItems(tuple(items), found)


def pictures_of(items: Sequence[TagItem]) -> dict[str, str]:
    """Return each item drawn as an SVG, by its name (a fixed number of queries)."""
    newest = DesignVersion.objects.newest_of([item.design for item in items])
    versions = {version.design_id: version for version in newest.with_what_is_seen()}
    drawn = {}
    for item in items:
        version = versions.get(item.design.pk)
        if version is None:
            continue
        named = item.entry.colourway.name if item.entry and item.entry.colourway else ""
        colourway = next((way for way in version.colourways.all() if way.name == named), None)
        choices = item.entry.choices if item.entry else {}
        seen = item_of(version, colourway=colourway, choices=choices, is_page=False)
        picture = item_picture(seen, name="i", width=240.0, height=240.0)
        if picture:
            drawn[item.name] = str(picture.svg)
    return drawn
