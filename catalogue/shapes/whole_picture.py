"""Pictures of a whole item, each face filled with the look of its card.

A face shows the sheet under the affine map from blank to picture, clipped to what is seen of it:
no patterns of SVG, which not every reader places alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from catalogue.calc.folded.cords import hull_of
from catalogue.calc.folded.depth import back_to_front
from catalogue.calc.folded.space import CUT, FOLD, Facet, Flat, Lie, Vector, dot
from catalogue.calc.folded.strips import Box
from catalogue.calc.folded.whole import Whole
from catalogue.materials.looks import CardLook, mixed, motif_svg
from catalogue.shapes.folded import FROM_ABOVE, INK, LIGHT, ROOM, Camera

# seen from straight before it
FACING = Camera(azimuth=0.0, elevation=0.0)
SHADOW_LENGTH = (0.35, 0.12)


@dataclass(frozen=True, slots=True)
class Screen:
    """Where a place of the room is on the picture."""

    camera: Camera
    scale: float
    dx: float
    dy: float

    def at(self, point: Vector) -> Flat:
        """Return the place on the picture, y downwards."""
        x, y = self.camera.seen(point)
        return x * self.scale + self.dx, y * self.scale + self.dy

    def matrix(self, lie: Lie) -> tuple[float, float, float, float, float, float]:
        """Return the affine map from the blank to the picture, as SVG writes one."""
        x0, y0 = self.at(lie.origin)
        ax, ay = self.camera.seen(lie.across)
        ux, uy = self.camera.seen(lie.up)
        k = self.scale
        return ax * k, ay * k, ux * k, uy * k, x0, y0


def camera_of(whole: Whole) -> Camera:
    """Return where an item is looked at from."""
    if whole.is_flat:
        return FACING
    return FROM_ABOVE if whole.lies_flat else Camera()


def screen_of(whole: Whole, width: float, height: float) -> Screen:
    """Return the screen that shows all of an item as large as the picture allows."""
    camera = camera_of(whole)
    spots = [camera.seen(point) for facet in whole.facets for point in facet.points]
    left, right = min(x for x, _ in spots), max(x for x, _ in spots)
    top, bottom = min(y for _, y in spots), max(y for _, y in spots)
    scale = min(
        (width - 2 * ROOM) / max(right - left, 1e-9), (height - 2 * ROOM) / max(bottom - top, 1e-9)
    )
    return Screen(
        camera,
        scale,
        width / 2 - scale * (left + right) / 2,
        height / 2 - scale * (top + bottom) / 2,
    )


def item_svg(
    whole: Whole,
    looks: Sequence[CardLook],
    *,
    name: str,
    label: str,
    width: float = 400.0,
    height: float = 320.0,
) -> str:
    """Return the picture of an item; `looks` by the number of the piece, `name` for its ids."""
    if not whole.facets:
        return ""
    screen = screen_of(whole, width, height)
    largest = Box.around(whole.facets).largest
    ordered = back_to_front(list(whole.facets), eye=screen.camera.eye, size=largest)
    drawing = _Drawing(screen, looks, name, max(width, height) / 400, largest, whole.bent)
    body = "".join(drawing.painted(facet) for facet in ordered)
    shadow = "" if whole.is_flat else _shadow(whole, screen)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="item-picture" role="img"'
        f' width="{width:g}" height="{height:g}" viewBox="0 0 {width:g} {height:g}" fill="none"'
        f' stroke-linejoin="round"><title>{escape(label)}</title>'
        f"{drawing.defined()}{shadow}{drawing.outlines(ordered)}{body}</svg>"
    )


class _Drawing:
    """Writes facets, and remembers what they need to be defined."""

    def __init__(
        self,
        screen: Screen,
        looks: Sequence[CardLook],
        name: str,
        line: float,
        largest: float,
        bent: frozenset[int],
    ) -> None:
        self.screen, self.looks, self.name, self.line = screen, looks, name, line
        self.bent = bent
        self.used: dict[CardLook, tuple[int, float, float]] = {}
        self.clips = 0

    def painted(self, facet: Facet) -> str:
        lie = facet.lie
        spots = [self.screen.at(point) for point in facet.points]
        area = _path(spots) + "z"
        if facet.is_hole:
            return f'<path d="{area}" fill="{INK}" fill-opacity=".55"/>'
        look = self._look(lie)
        is_front = dot(facet.normal, self.screen.camera.eye) >= 0
        shows = is_front or look.is_double_sided
        dark, light = _shades(facet.normal, is_front=is_front)
        base = look.colour if shows else look.back
        fill = mixed(mixed(base, "#000000", dark), "#ffffff", light)
        seen = ' fill-opacity=".8"' if look.is_clear else ""
        parts = [
            f'<path d="{area}" fill="{fill}"{seen}'
            + ("/>" if seen else f' stroke="{fill}" stroke-width=".6"/>')
        ]
        if shows and look.has_motif and lie is not None:
            parts.append(self._motif(look, lie, area, dark, light, facet))
        parts.append(self._edges(facet, spots, fill))
        return "".join(parts)

    def _look(self, lie: Lie | None) -> CardLook:
        number = lie.piece if lie else 0
        return self.looks[number] if number < len(self.looks) else CardLook()

    def _motif(
        self, look: CardLook, lie: Lie, area: str, dark: float, light: float, facet: Facet
    ) -> str:
        number, wide, high = self.used.get(look, (len(self.used), 0.0, 0.0))
        far_x, far_y = _far(lie, facet)
        self.used[look] = (number, max(wide, far_x), max(high, far_y))
        self.clips += 1
        clip = f"{self.name}c{self.clips}"
        matrix = " ".join(_n(value, 4) for value in self.screen.matrix(lie))
        shade = ""
        if dark > 0.005 or light > 0.005:
            tone, share = ("#000", dark) if dark > light else ("#fff", light)
            shade = f'<path d="{area}" fill="{tone}" fill-opacity="{_n(share, 2)}"/>'
        return (
            f'<clipPath id="{clip}"><path d="{area}"/></clipPath><g clip-path="url(#{clip})">'
            f'<use href="#{self.name}m{number}" transform="matrix({matrix})"/></g>{shade}'
        )

    def _edges(self, facet: Facet, spots: list[Flat], fill: str) -> str:
        ink = mixed(fill, INK, 0.62)
        drawn = []
        pairs = list(zip(spots, (*spots[1:], spots[0]), facet.edges, strict=True))
        for kind, width in ((FOLD, 0.7), (CUT, 1.1)):
            path = _joined([(a, b) for a, b, edge in pairs if edge == kind])
            if path:
                drawn.append(
                    f'<path d="{path}" stroke="{ink}" stroke-width="{_n(width * self.line, 2)}"/>'
                )
        return "".join(drawn)

    def outlines(self, ordered: Sequence[Facet]) -> str:
        """Draw below all else the rim of what is bent, which has no edge there."""
        areas = "".join(
            _path([self.screen.at(point) for point in facet.points]) + "z"
            for facet in ordered
            if facet.lie and facet.lie.piece in self.bent
        )
        if not areas:
            return ""
        width = _n(2.2 * self.line, 2)
        return f'<path d="{areas}" stroke="{INK}" stroke-opacity=".7" stroke-width="{width}"/>'

    def defined(self) -> str:
        """Return each pattern once, as far as the blanks reach."""
        motifs = "".join(
            f'<g id="{self.name}m{number}">{motif_svg(look, wide, high)}</g>'
            for look, (number, wide, high) in self.used.items()
        )
        return f"<defs>{motifs}</defs>" if motifs else ""


def _far(lie: Lie, facet: Facet) -> tuple[float, float]:
    """Return how far right and up a facet reaches on its blank."""
    far_x = far_y = 0.0
    a, b = dot(lie.across, lie.across), dot(lie.up, lie.up)
    c = dot(lie.across, lie.up)
    area = a * b - c * c
    if not area:
        return far_x, far_y
    for point in facet.points:
        away = tuple(p - o for p, o in zip(point, lie.origin, strict=True))
        p = dot((away[0], away[1], away[2]), lie.across)
        q = dot((away[0], away[1], away[2]), lie.up)
        far_x = max(far_x, (p * b - q * c) / area)
        far_y = max(far_y, (q * a - p * c) / area)
    return far_x, far_y


def _shades(normal: Vector, *, is_front: bool) -> tuple[float, float]:
    """Return how much darker and how much lighter a face is by how it meets the light."""
    facing = dot(normal, LIGHT) * (1 if is_front else -1)
    share = min(max((facing + 0.75) / 1.7, 0.0), 1.0)
    return (0.34 * (0.72 - share) if share < 0.72 else 0.0), (
        0.5 * (share - 0.72) if share > 0.72 else 0.0
    )


def _shadow(whole: Whole, screen: Screen) -> str:
    """Return what the item throws on what it stands on, away from the light."""
    low = Box.around(whole.facets).low[2]
    spots = []
    for facet in whole.facets:
        for x, y, z in facet.points:
            rise = z - low
            spots.append(
                (x + SHADOW_LENGTH[0] * rise * 0.5, y + SHADOW_LENGTH[1] * rise * 0.5, low)
            )
    hull = hull_of([screen.at(spot) for spot in spots])
    return f'<path d="{_path(hull)}z" fill="{INK}" fill-opacity=".1"/>'


def _n(value: float, places: int = 1) -> str:
    text = f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
    return "0" if text in ("-0", "") else text


def _path(spots: Sequence[Flat]) -> str:
    """Write a line by what each step adds, in tenths."""
    x, y = round(spots[0][0] * 10), round(spots[0][1] * 10)
    parts = [f"M{x / 10:g} {y / 10:g}"]
    for spot in spots[1:]:
        next_x, next_y = round(spot[0] * 10), round(spot[1] * 10)
        parts.append(f"l{(next_x - x) / 10:g} {(next_y - y) / 10:g}".replace(" -", "-"))
        x, y = next_x, next_y
    return "".join(parts)


def _joined(segments: list[tuple[Flat, Flat]]) -> str:
    runs: list[list[Flat]] = []
    for a, b in segments:
        if runs and runs[-1][-1] == a:
            runs[-1].append(b)
        else:
            runs.append([a, b])
    return "".join(map(_path, runs))
