"""Pictures of the folded thing, seen from the right and above, in each state of folding."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin
from xml.sax.saxutils import escape

from catalogue.calc.flat_patterns.pattern import FlatPattern
from catalogue.calc.folded.assembly import is_bent, lies_flat, states_of, thing_facets
from catalogue.calc.folded.depth import back_to_front
from catalogue.calc.folded.space import CUT, FOLD, Facet, Flat, Vector, dot

INK, PAPER = "#1f2747", "#f5efe2"
# light from the left above; tones of the good side and of the inside, from dark to light
LIGHT: Vector = (-0.42, -0.55, 0.72)
OUTSIDE = ((201, 189, 161), (255, 253, 248))
INSIDE = ((150, 172, 165), (215, 232, 223))
WIDTH, HEIGHT = 400.0, 320.0
ROOM = 10.0


@dataclass(frozen=True, slots=True)
class Camera:
    """Where the thing is looked at from, in degrees: to the right of the front, and above it."""

    azimuth: float = 32.0
    elevation: float = 24.0

    @property
    def eye(self) -> Vector:
        """The direction from the thing to the eye."""
        a, e = radians(self.azimuth), radians(self.elevation)
        return sin(a) * cos(e), -cos(a) * cos(e), sin(e)

    def seen(self, point: Vector) -> Flat:
        """Return a point of the room on the picture, y downwards."""
        a, e = radians(self.azimuth), radians(self.elevation)
        right = (cos(a), sin(a), 0.0)
        up = (-sin(a) * sin(e), cos(a) * sin(e), cos(e))
        return dot(right, point), -dot(up, point)


Spot = tuple[int, int]  # a place of the picture, in tenths


@dataclass(frozen=True, slots=True)
class Patch:
    """A polygon of the picture: what is filled, and which of its edges are drawn how."""

    fill: str
    area: str
    cuts: str
    folds: str


def picture_of(
    facets: Sequence[Facet], camera: Camera, *, width: float = WIDTH, height: float = HEIGHT
) -> list[Patch]:
    """Return the facets painted from back to front, as large as the picture allows."""
    if not facets:
        return []
    spots = [camera.seen(point) for facet in facets for point in facet.points]
    left, right = min(x for x, _ in spots), max(x for x, _ in spots)
    top, bottom = min(y for _, y in spots), max(y for _, y in spots)
    scale = min(
        (width - 2 * ROOM) / max(right - left, 1e-9), (height - 2 * ROOM) / max(bottom - top, 1e-9)
    )
    dx = width / 2 - scale * (left + right) / 2
    dy = height / 2 - scale * (top + bottom) / 2

    def spot(point: Vector) -> Spot:
        x, y = camera.seen(point)
        return round((x * scale + dx) * 10), round((y * scale + dy) * 10)

    ordered = back_to_front(facets, eye=camera.eye, size=max(right - left, bottom - top))
    return [_patch(facet, [spot(point) for point in facet.points], camera) for facet in ordered]


def _patch(facet: Facet, spots: list[Spot], camera: Camera) -> Patch:
    pairs = list(zip(spots, (*spots[1:], spots[0]), facet.edges, strict=True))
    return Patch(
        fill=PAPER if facet.is_hole else tone(facet.normal, camera),
        area=_path(spots) + "z",
        cuts=_joined([(a, b) for a, b, kind in pairs if kind == CUT]),
        folds=_joined([(a, b) for a, b, kind in pairs if kind == FOLD]),
    )


def _joined(segments: list[tuple[Spot, Spot]]) -> str:
    """Return segments as one path, going on where the next begins at the end of the last."""
    runs: list[list[Spot]] = []
    for a, b in segments:
        if runs and runs[-1][-1] == a:
            runs[-1].append(b)
        else:
            runs.append([a, b])
    return "".join(map(_path, runs))


def _path(spots: list[Spot]) -> str:
    """Write a line from its start by what each step adds, the shortest way to write it."""
    x, y = spots[0]
    parts = [f"M{x / 10:g} {y / 10:g}"]
    for next_x, next_y in spots[1:]:
        parts.append(f"l{(next_x - x) / 10:g} {(next_y - y) / 10:g}".replace(" -", "-"))
        x, y = next_x, next_y
    return "".join(parts)


def tone(normal: Vector, camera: Camera) -> str:
    """Return the colour of a side by how it faces the light; the inside is of another paper."""
    is_outside = dot(normal, camera.eye) >= 0
    facing = dot(normal, LIGHT) * (1 if is_outside else -1)
    share = min(max((facing + 0.75) / 1.7, 0.0), 1.0)
    dark, light = OUTSIDE if is_outside else INSIDE
    return "#" + "".join(
        f"{round(low + (high - low) * share):02x}" for low, high in zip(dark, light, strict=True)
    )


def patches_svg(patches: Sequence[Patch], line: float = 1.5, *, is_bent: bool = False) -> str:
    """Return the patches as SVG paths; a hairline of their own tone closes the seams.

    What is bent has an outline where no edge is: it is drawn below, wider than what covers it.
    """
    parts = []
    if is_bent:
        areas = "".join(patch.area for patch in patches)
        parts.append(f'<path d="{areas}" stroke="{INK}" stroke-width="{2 * line:g}"/>')
    for patch in patches:
        parts.append(f'<path d="{patch.area}" fill="{patch.fill}" stroke="{patch.fill}"/>')
        for path, width in ((patch.folds, line * 0.6), (patch.cuts, line)):
            if path:
                parts.append(f'<path d="{path}" stroke="{INK}" stroke-width="{width:g}"/>')
    return "".join(parts)


# what lies flat is looked at from higher up
FROM_ABOVE = Camera(azimuth=24.0, elevation=52.0)

# states of folding the slider steps through
FRAMES = 16
# of what has many facets: each state is sent with the page
FRAMES_OF_MANY = 10
MANY_PANELS = 16


@dataclass(frozen=True, slots=True)
class Frame:
    """One state of folding."""

    percent: int
    svg: str
    is_shown: bool


def camera_for(pattern: FlatPattern) -> Camera:
    """Return where the thing is looked at from."""
    return FROM_ABOVE if lies_flat(pattern) else Camera()


def finished_svg(pattern: FlatPattern, *, title: str, width: float = WIDTH) -> str:
    """Return a picture of the finished thing that stands by itself."""
    height = width * HEIGHT / WIDTH
    patches = picture_of(
        thing_facets(pattern, 1.0), camera_for(pattern), width=width, height=height
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width:g}"'
        f' height="{height:g}" viewBox="0 0 {width:g} {height:g}" fill="none"'
        f' stroke-linejoin="round" stroke-width="0.7"><title>{escape(title)}</title>'
        f"{patches_svg(patches, is_bent=is_bent(pattern))}</svg>"
    )


def folding_frames(pattern: FlatPattern) -> tuple[Frame, ...]:
    """Return the thing in each state from flat to finished; the finished one is shown at first."""
    bent, camera = is_bent(pattern), camera_for(pattern)
    has_many = bent or len(pattern.pieces[0].panels) > MANY_PANELS
    count = FRAMES_OF_MANY if has_many else FRAMES
    found = []
    states = states_of(pattern, (at / count for at in range(count + 1)))
    for at, facets in enumerate(states):
        svg = patches_svg(picture_of(facets, camera), is_bent=bent)
        found.append(Frame(round(100 * at / count), svg, at == count))
    return tuple(found)


def folds(pattern: FlatPattern) -> bool:
    """Whether there is anything to fold."""
    return is_bent(pattern) or any(hinge.angle_deg for hinge in pattern.pieces[0].hinges)
