"""A piece drawn small for the bench: its folds carry the numbers of the score tables."""

from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.calc.flat_patterns.pattern import FlatPiece, Point
from catalogue.calc.folded.space import Flat
from catalogue.shapes.drawing import closed_path, line_groups, panel_names
from catalogue.shapes.look import FACE, HAIRLINE, INK, SHEET, SOFT, Look, n
from catalogue.shapes.printing import hatching, image
from catalogue.shapes.words import in_mm, piece_description, piece_title, score_lines

# room for two rows of numbers, and how near to each other they may stand, in mm on paper
_ROOM, _APART, _ROW = 6.4, 3.4, 2.9
_TEXT = 2.3


@dataclass(frozen=True, slots=True)
class SmallDrawing:
    """A drawing as the address of an image, what it shows, and what numbers in panels mean."""

    image: str
    words: str
    numbers: tuple[str, ...]


def small_drawing(
    piece: FlatPiece, unit: str, *, name: str, width: float = 78.0, height: float = 54.0
) -> SmallDrawing:
    """Return a piece drawn to fit `width` x `height` mm; `name` makes its ids its own.

    Numbers below it are those of the table from the left edge, numbers beside it those of the
    table from the bottom edge.
    """
    wide, high = float(in_mm(piece.width, unit)), float(in_mm(piece.height, unit))
    scale = min((width - _ROOM - 1) / wide, (height - _ROOM - 1) / high)
    left, top, bottom = _ROOM, 0.5, 0.5 + high * scale

    def at(point: Point) -> Flat:
        x, y = float(in_mm(point.x, unit)), float(in_mm(point.y, unit))
        return left + x * scale, bottom - y * scale

    look = Look(scale=scale, text=2.6, line=0.22, draws_patches=True)
    removed = "".join(f'<path d="{closed_path(map(at, part))}"/>' for part in piece.removed)
    glued = "".join(
        f'<path d="{hatching([at(point) for point in area.outline], area.on_back, 1.5)}"/>'
        for area in piece.glue_areas
    )
    names, numbers = panel_names(piece, at, look)
    across = [
        left + float(in_mm(place, unit)) * scale
        for place, _, _ in score_lines(piece, piece.x_scores, True)
    ]
    up = [
        bottom - float(in_mm(place, unit)) * scale
        for place, _, _ in score_lines(piece, piece.y_scores, False)
    ]
    whole_width, whole_height = left + wide * scale + 0.5, bottom + _ROOM
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{n(whole_width)}mm"'
        f' height="{n(whole_height)}mm" viewBox="0 0 {n(whole_width)} {n(whole_height)}"'
        f' font-family="{FACE}" font-size="{n(look.text)}" fill="{INK}">'
        f'<rect x="{n(left)}" y="{n(top)}" width="{n(wide * scale)}" height="{n(high * scale)}"'
        f' fill="{SHEET}" stroke="{INK}" stroke-width="{n(look.line * 0.6)}"/>'
        f'<g fill="{HAIRLINE}">{removed}</g>'
        f'<g fill="none" stroke="{SOFT}" stroke-width="0.12">{glued}</g>'
        f"{line_groups(piece, at, look, name)}{names}"
        f'<g font-size="{n(_TEXT)}" fill="{SOFT}">{_below(across, bottom)}{_beside(up, left)}</g>'
        "</svg>"
    )
    words = f"{piece_title(piece, unit)}. {piece_description(piece, unit)}"
    return SmallDrawing(image(svg), words, tuple(numbers))


def _below(places: Iterable[float], bottom: float) -> str:
    return "".join(
        f'<path d="M{n(x)} {n(bottom)}v{n(0.9 + row * _ROW)}" stroke="{SOFT}"'
        f' stroke-width="0.12"/><text x="{n(x)}" y="{n(bottom + 3.0 + row * _ROW)}"'
        f' text-anchor="middle">{number}</text>'
        for number, (x, row) in enumerate(_rows(places), 1)
    )


def _beside(places: Iterable[float], left: float) -> str:
    return "".join(
        f'<path d="M{n(left)} {n(y)}h{n(-0.9 - row * _ROW)}" stroke="{SOFT}"'
        f' stroke-width="0.12"/><text x="{n(left - 1.2 - row * _ROW)}" y="{n(y + 0.8)}"'
        f' text-anchor="end">{number}</text>'
        for number, (y, row) in enumerate(_rows(places), 1)
    )


def _rows(places: Iterable[float]) -> list[tuple[float, int]]:
    """Return each place with its row: the second where it would meet the one before."""
    found: list[tuple[float, int]] = []
    for place in places:
        is_near = bool(found) and abs(place - found[-1][0]) < _APART
        found.append((place, 1 - found[-1][1] if is_near else 0))
    return found
