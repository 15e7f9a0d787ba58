"""What tags can be printed for: each priced item of a channel, and designs without a price."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from catalogue.designs.models import Design
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import DesignVersion
from maker.kept import Kept, as_stored
from maker.workshop.models import Workshop
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


# channels of workshops: some thousand prices take a few MB
_ITEMS: Kept[TagItems] = Kept(2)


def tag_items(workshop: Workshop, channel: Channel | None) -> TagItems:
    """Return the items of designs in use with the price one buyer usually pays.

    That is the price from the largest quantity a buyer of the channel usually takes, else the one
    from the smallest quantity there is. Two queries, and six more where something changed.
    """
    designs = Design.objects.of(workshop).in_use().by_name()
    entries = PriceListEntry.objects.of(workshop).current().filter(channel=channel)
    entries = entries.filter(design__retired_on=None).order_by("-bought_at_once", "pk")
    most = (channel.bought_at_once if channel else None) or 1

    def content() -> Hashable | None:
        rows = as_stored(
            entries.values_list(
                *("version__recipe_stamp", "pk", "design_id", "version_id", "colourway__name"),
                *("choices", "bought_at_once", "price", "set_at"),
            )
        )
        if any(stamp is None for stamp, *_ in rows):
            return None
        return most, rows, as_stored(designs.values_list())

    return _ITEMS.result_of(
        content, lambda: _items_of(list(designs), entries.with_items().defer("basis"), most)
    )


def _items_of(designs: Sequence[Design], listed: Iterable[PriceListEntry], most: int) -> TagItems:
    entries: dict[str, list[PriceListEntry]] = {}
    for entry in listed:
        entries.setdefault(entry_name(entry), []).append(entry)
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
