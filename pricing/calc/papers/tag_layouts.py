"""The four layouts of a price tag: sticker, hanging tag, folded tag, card for the table.

A tag has one side of text or two: the upper one of what is folded is printed upside down, so that
it stands upright once the card is folded. Sizes are common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from maker.calc.refusal import Refusal
from maker.calc.units import format_length
from pricing.calc.papers.labels import LabelGeometry, TagType, tag_type

# the hole for the string, and the strip that is kept free for it
HOLE_MM, HOLE_STRIP_MM = Decimal(4), Decimal(10)
# digits and signs of our type are about so wide for each mm of height; the last share is air
_WIDTH_OF_DIGIT = Decimal("0.58")
# of the width of a table card: how wide the item is drawn on it
PICTURE_SHARE = Decimal("0.36")


class TagLayout(StrEnum):
    """How a tag is made of its label."""

    STICKER = "sticker"
    HANGING = "hanging"
    FOLDED = "folded"
    CARD = "card"

    @property
    def is_folded(self) -> bool:
        """Whether it is folded across its middle."""
        return self in (TagLayout.FOLDED, TagLayout.CARD)

    @property
    def is_cut(self) -> bool:
        """Whether it is cut from card along its outline."""
        return self is not TagLayout.STICKER


# smallest labels, width and height in mm, that hold a layout
SMALLEST = {
    TagLayout.STICKER: (Decimal(0), Decimal(0)),
    TagLayout.HANGING: (Decimal(25), Decimal(40)),
    TagLayout.FOLDED: (Decimal(30), Decimal(50)),
    TagLayout.CARD: (Decimal(60), Decimal(80)),
}
# the sheet for a layout where none is chosen, by paper
USUAL_SHEETS = {
    (TagLayout.STICKER, "A4"): "a4-24",
    (TagLayout.STICKER, "letter"): "letter-30",
    (TagLayout.HANGING, "A4"): "a4-hanging",
    (TagLayout.HANGING, "letter"): "letter-hanging",
    (TagLayout.FOLDED, "A4"): "a4-folded",
    (TagLayout.FOLDED, "letter"): "letter-folded",
    (TagLayout.CARD, "A4"): "a4-table",
    (TagLayout.CARD, "letter"): "letter-table",
}


class LabelTooSmall(Refusal):
    """A layout needs a larger label."""


@dataclass(frozen=True, slots=True)
class TagPlan:
    """Where text goes on a label, in mm: one side is `height` high and begins `top` down.

    `picture` is how wide and high the item is drawn before the words: 0 where there is no room.
    `back_lines` is how many small lines the upper side of a folded tag has room for; `qr_top` is
    where the code begins on its side.
    """

    layout: TagLayout
    width: Decimal
    height: Decimal
    top: Decimal
    type: TagType
    back_lines: int
    qr_top: Decimal
    picture: Decimal = Decimal(0)

    @property
    def price_width(self) -> Decimal:
        """How wide a price may be; the code of a hanging tag is below it."""
        beside = self.type.qr if self.layout is not TagLayout.HANGING else Decimal(0)
        beside += self.picture
        return self.width - 2 * self.type.padding - beside

    @property
    def small_width(self) -> Decimal:
        """How wide small lines may be; those of a folded tag are on its other side."""
        text = self.width - 2 * self.type.padding
        return text if self.layout is TagLayout.FOLDED else self.price_width


def plan_tag(
    layout: TagLayout,
    geometry: LabelGeometry,
    *,
    with_qr: bool,
    with_picture: bool = False,
    prices: Sequence[str] = (),
    unit: str = "mm",
) -> TagPlan:
    """Return where text goes and how large it is; every price fits its line.

    Errors: LabelTooSmall.
    """
    width, height = geometry.label_width, geometry.label_height
    least_width, least_height = SMALLEST[layout]
    if width < least_width or height < least_height:
        least = " x ".join(format_length(each, unit) for each in (least_width, least_height))
        raise LabelTooSmall(
            f"This layout needs labels of at least {least}. Choose a larger sheet.", where="sheet"
        )
    top = side = Decimal(0)
    if layout.is_folded:
        side = top = height / 2
    elif layout is TagLayout.HANGING:
        top, side = HOLE_STRIP_MM, height - HOLE_STRIP_MM
    else:
        side = height
    if layout is TagLayout.HANGING and with_qr:
        qr = min(Decimal(22), width / 2)
        face = replace(geometry, label_height=side - qr)
        sizes = replace(tag_type(face, with_qr=False, is_large=True), qr=qr)
        qr_top = side - qr - sizes.padding
        side = qr_top
    else:
        face = replace(geometry, label_height=side)
        sizes = tag_type(face, with_qr=with_qr, is_large=layout.is_cut)
        qr_top = (side - sizes.qr) / 2
    back = 0
    if layout is TagLayout.FOLDED:
        back = int((side - 2 * sizes.padding) / (Decimal("1.22") * sizes.small))
    # a code takes the room beside the words
    has_room = layout is TagLayout.CARD and with_picture and not with_qr
    picture = min(side - 2 * sizes.padding, width * PICTURE_SHARE) if has_room else Decimal(0)
    plan = TagPlan(layout, width, side, top, sizes, back, qr_top, picture)
    longest = max((len(price) for price in prices), default=0)
    if longest:
        largest = plan.price_width / (longest * _WIDTH_OF_DIGIT)
        plan = replace(plan, type=replace(sizes, price=min(sizes.price, largest)))
    return plan
