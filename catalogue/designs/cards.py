"""A design as a card: its picture, and what is asked for it."""

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.designs.asked import ASKED_FOR, AskedFor
from catalogue.designs.models import Design
from catalogue.recipes.item_picture import ItemPicture, item_of, item_picture
from catalogue.recipes.models import DesignVersion
from maker.workshop.models import Workshop

WIDTH, HEIGHT = 240.0, 192.0


@dataclass(frozen=True, slots=True)
class DesignCard:
    """A design as it is shown in a list of pictures."""

    design: Design
    picture: ItemPicture | None
    asked: AskedFor | None


def design_cards(designs: Sequence[Design], workshop: Workshop) -> list[DesignCard]:
    """Return the cards of designs, in their order; a fixed number of queries."""
    pictures = pictures_of(designs)
    asked: dict[int, AskedFor] = {}
    for known in ASKED_FOR:
        asked.update(known(workshop, designs))
    return [DesignCard(one, pictures.get(one.pk), asked.get(one.pk)) for one in designs]


def pictures_of(
    designs: Sequence[Design], *, width: float = WIDTH, height: float = HEIGHT, name: str = "design"
) -> dict[int, ItemPicture]:
    """Return the picture of each design's newest version, by key; a fixed number of queries."""
    if not designs:
        return {}
    found = {}
    for version in DesignVersion.objects.newest_of(designs).with_what_is_seen():
        picture = item_picture(
            item_of(version), name=f"{name}{version.design_id}", width=width, height=height
        )
        if picture:
            found[version.design_id] = picture
    return found
