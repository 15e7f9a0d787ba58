"""How a material looks: a colour, a simple pattern of our own, or a picture of it.

A pattern is drawn on the blank in mm, y up, so that one with a direction runs as it is cut. Rows
are lines with dashes: short to write, and drawn alike by browsers and on paper.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

from django.db.models import TextChoices
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

if TYPE_CHECKING:
    from catalogue.materials.models import Material


class Pattern(TextChoices):
    """Patterns she can pick."""

    PLAIN = "plain", "plain"
    STRIPES = "stripes", "stripes"
    PINSTRIPES = "pinstripes", "fine stripes"
    DOTS = "dots", "dots"
    GINGHAM = "gingham", "gingham"
    FLOWERS = "flowers", "flowers (one way up)"
    BERRIES = "berries", "berries (one way up)"
    FLECKS = "flecks", "flecks"
    GLITTER = "glitter", "glitter"
    SHINE = "shine", "shiny"
    CLEAR = "clear", "see-through"


# what is not said
USUAL_COLOUR, USUAL_SECOND, CORE = "#f2ead9", "#ffffff", "#f7f3ea"
USUAL_STEP_MM = 12.0
# more rows than this would be finer than a picture shows
MOST_ROWS = 60


@dataclass(frozen=True, slots=True)
class CardPicture:
    """A photo or scan of a material: its address, and how large it is in mm."""

    href: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class CardLook:
    """What a material looks like. `back` is the colour of the side that does not show."""

    colour: str = USUAL_COLOUR
    pattern: str = Pattern.PLAIN
    second: str = USUAL_SECOND
    back: str = CORE
    step: float = USUAL_STEP_MM
    is_double_sided: bool = False
    picture: CardPicture | None = None

    @property
    def is_clear(self) -> bool:
        """Whether what is behind it shows through."""
        return self.pattern == Pattern.CLEAR and self.picture is None

    @property
    def has_motif(self) -> bool:
        """Whether there is more than a colour."""
        return self.picture is not None or self.pattern in _DRAWN


_COLOUR = re.compile(r"#[0-9a-f]{6}", re.ASCII)


def look_of(material: "Material", slug: str = "") -> CardLook:
    """Return the look of a material; what is not a colour (a row written past the forms) is usual.

    Its photo is seen where `slug` says from which workshop's address it comes: on its pages.
    """

    def colour(value: str, usual: str) -> str:
        return value if _COLOUR.fullmatch(value) else usual

    return CardLook(
        colour=colour(material.colour, USUAL_COLOUR),
        pattern=material.pattern,
        second=colour(material.second_colour, USUAL_SECOND),
        back=colour(material.back_colour, CORE),
        step=max(float(material.pattern_step_mm), 2.0),
        is_double_sided=material.is_double_sided,
        picture=_photo_of(material, slug) if slug and material.picture_id else None,
    )


def _photo_of(material: "Material", slug: str) -> CardPicture | None:
    stored = material.picture
    if stored is None:
        return None
    width = float(material.picture_width_mm or material.width_mm or 100)
    href = reverse("maker:picture", args=[slug, stored.pk])
    return CardPicture(href, width, width * stored.height / stored.width)


def motif_svg(look: CardLook, width: float, height: float) -> str:
    """Return what lies over the colour of a blank, in mm from its lower left corner, y up."""
    if look.picture:
        return _tiles(look.picture, width, height)
    draw = _DRAWN.get(look.pattern)
    if draw is None:
        return ""
    step = max(look.step, max(width, height) / MOST_ROWS)
    return draw(look, width, height, step)


def _tiles(picture: CardPicture, width: float, height: float) -> str:
    """Return the picture as often as it takes to cover the blank."""
    across = min(int(width / picture.width) + 1, 8)
    up = min(int(height / picture.height) + 1, 8)
    size = f'width="{_n(picture.width)}" height="{_n(picture.height)}"'
    return "".join(
        f'<image href={quoteattr(picture.href)} {size} preserveAspectRatio="none"'
        f' transform="matrix(1 0 0 -1 {_n(x * picture.width)} {_n((y + 1) * picture.height)})"/>'
        for x in range(across)
        for y in range(up)
    )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _rows(width: float, height: float, step: float, start: float, shift: float = 0.0) -> str:
    """Return lines across from `start` up, each next one `shift` to the right."""
    parts, y, odd = [], start, False
    while y <= height:
        x = -step + (shift if odd else 0.0)
        parts.append(f"M{_n(x)} {_n(y)}H{_n(width)}")
        y, odd = y + step, not odd
    return "".join(parts)


def _line(
    path: str, colour: str, width: float, dashes: str = "", *, is_round: bool = False,
    opacity: float = 1.0,
) -> str:  # fmt: skip
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{_n(width)}"'
        + (f' stroke-dasharray="{dashes}"' if dashes else "")
        + (' stroke-linecap="round"' if is_round else "")
        + (f' stroke-opacity="{_n(opacity)}"' if opacity < 1 else "")
        + "/>"
    )


def _uprights(width: float, height: float, step: float) -> str:
    count = int(width / step) + 1
    return "".join(f"M{_n(step * (at + 0.25))} 0V{_n(height)}" for at in range(count))


def _stripes(look: CardLook, width: float, height: float, step: float) -> str:
    return _line(_uprights(width, height, step), look.second, step / 2)


def _pinstripes(look: CardLook, width: float, height: float, step: float) -> str:
    return _line(_uprights(width, height, step / 2), look.second, step / 14)


def _dots(look: CardLook, width: float, height: float, step: float) -> str:
    rows = _rows(width, height, step / 2, step / 4, step / 2)
    return _line(rows, look.second, step * 0.3, f"0 {_n(step)}", is_round=True)


def _gingham(look: CardLook, width: float, height: float, step: float) -> str:
    rows = _rows(width, height, step, step / 4)
    return _line(_uprights(width, height, step), look.second, step / 2, opacity=0.5) + _line(
        rows, look.second, step / 2, opacity=0.5
    )


def _sprigs(
    look: CardLook, width: float, height: float, step: float, blossom: float, heads: int
) -> str:
    """Return rows of stems with two leaves and something on top, each row set off by half."""

    def dotted(up: float, over: float, colour: str, size: float) -> str:
        path = ""
        y, odd = up * step, False
        while y <= height + step:
            x = -step + over * step + (step / 2 if odd else 0.0)
            path += f"M{_n(x)} {_n(y)}H{_n(width)}"
            y, odd = y + step, not odd
        return _line(path, colour, size * step, f"0 {_n(step)}", is_round=True)

    leaf = mixed(look.second, "#3f6b4f", 0.75)
    stems, y, odd = "", 0.3 * step, False
    while y <= height + step:
        x = -step * 1.025 + step / 2 + (step / 2 if odd else 0.0)
        stems += f"M{_n(x)} {_n(y)}H{_n(width)}"
        y, odd = y + step, not odd
    stem = _line(stems, leaf, step * 0.42, f"{_n(step * 0.05)} {_n(step * 0.95)}")
    leaves = dotted(0.24, 0.41, leaf, 0.13) + dotted(0.32, 0.59, leaf, 0.13)
    if heads == 1:
        tops = dotted(0.62, 0.5, look.second, blossom)
        return stem + leaves + tops + dotted(0.62, 0.5, mixed(look.second, "#f3c84b", 0.8), 0.1)
    tops = dotted(0.5, 0.4, look.second, blossom) + dotted(0.5, 0.6, look.second, blossom)
    return stem + leaves + tops + dotted(0.64, 0.5, look.second, blossom)


def _flowers(look: CardLook, width: float, height: float, step: float) -> str:
    return _sprigs(look, width, height, step, 0.34, 1)


def _berries(look: CardLook, width: float, height: float, step: float) -> str:
    return _sprigs(look, width, height, step, 0.19, 3)


def _flecks(look: CardLook, width: float, height: float, step: float) -> str:
    first = _rows(width, height, step * 0.7, step * 0.2, step * 0.4)
    second = _rows(width, height, step * 0.9, step * 0.5, step * 0.7)
    return _line(first, look.second, step * 0.04, f"{_n(step * 0.25)} {_n(step * 1.45)}") + _line(
        second, look.second, step * 0.05, f"{_n(step * 0.12)} {_n(step * 1.03)}", opacity=0.6
    )


def _glitter(look: CardLook, width: float, height: float, step: float) -> str:
    found = ""
    for start, gap, size, opacity in (
        (0.1, 0.37, 0.1, 0.9),
        (0.3, 0.53, 0.14, 0.6),
        (0.2, 0.83, 0.2, 0.8),
    ):
        rows = _rows(width, height, step * 0.45, step * start, step * gap)
        found += _line(
            rows,
            look.second,
            step * size * 0.5,
            f"0 {_n(step * gap)}",
            is_round=True,
            opacity=opacity,
        )
    return found


def _shine(look: CardLook, width: float, height: float, step: float) -> str:
    """Return bands of light across, from the lower left to the upper right."""
    far = width + height
    bands = ""
    for share, wide, opacity in ((0.28, 0.10, 0.45), (0.40, 0.03, 0.4), (0.68, 0.16, 0.3)):
        x = far * share
        path = f"M{_n(x)} 0L{_n(x - height)} {_n(height)}"
        bands += _line(path, look.second, far * wide * 0.5, opacity=opacity)
    return bands


Motif = Callable[[CardLook, float, float, float], str]
_DRAWN: Mapping[str, Motif] = {
    Pattern.STRIPES: _stripes,
    Pattern.PINSTRIPES: _pinstripes,
    Pattern.DOTS: _dots,
    Pattern.GINGHAM: _gingham,
    Pattern.FLOWERS: _flowers,
    Pattern.BERRIES: _berries,
    Pattern.FLECKS: _flecks,
    Pattern.GLITTER: _glitter,
    Pattern.SHINE: _shine,
}


def mixed(first: str, second: str, share: float) -> str:
    """Return a colour between two of the form #rrggbb: `share` of the second."""
    pairs = zip(_parts(first), _parts(second), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in pairs)


def _parts(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def swatch_of(material: "Material", slug: str = "") -> SafeString:
    """Return the swatch of a material; nothing for glue or dots without a colour."""
    if material.kind != "sheet" and material.colour == USUAL_COLOUR and not material.picture_id:
        return mark_safe("")
    svg = swatch_svg(look_of(material, slug))
    return mark_safe(svg)  # noqa: S308  # drawn by us, colours checked


def swatch_svg(look: CardLook, side: float = 28.0) -> str:
    """Return a small square of a material, for lists; nothing in it has a name of its own."""
    across = 24.0
    scale = side / across
    motif = motif_svg(look, across, across)
    base = f'<rect width="{_n(side)}" height="{_n(side)}" fill="{look.colour}"/>'
    # what reaches over its edges is not seen: an svg inside a page ends at its box
    turned = f"matrix({_n(scale)} 0 0 {_n(-scale)} 0 {_n(side)})"
    over = f'<g transform="{turned}">{motif}</g>' if motif else ""
    return (
        f'<svg class="swatch" aria-hidden="true" width="{_n(side)}" height="{_n(side)}"'
        f' viewBox="0 0 {_n(side)} {_n(side)}">{base}{over}'
        f'<rect x=".5" y=".5" width="{_n(side - 1)}" height="{_n(side - 1)}" rx="3.5" fill="none"'
        ' stroke="#1f2747" stroke-opacity=".35"/></svg>'
    )
