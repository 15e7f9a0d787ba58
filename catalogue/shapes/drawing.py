"""Draws flat patterns as SVG: cut solid, fold dashed, glue hatched, with names and sizes.

One drawing serves the page (lines and letters keep their size whatever the piece measures) and
the file (true size). Lines are told apart by their dashes: long dashes are valley folds, dashes
and dots mountain folds, as in ordinary technical drawing.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from catalogue.calc.flat_patterns.pattern import (
    FlatPattern,
    FlatPiece,
    PanelKind,
    Point,
    StrokeKind,
)
from catalogue.calc.folded.space import Flat, middle_of
from catalogue.shapes.look import (
    FACE,
    GROUP_NAMES,
    HAIRLINE,
    INK,
    SHEET,
    SOFT,
    Look,
    Placing,
    n,
    stroke_look,
    text_width,
)
from catalogue.shapes.measures import sizes_beside
from catalogue.shapes.words import (
    in_mm,
    piece_description,
    piece_title,
)

# drawing units of the page; 640 of them are as wide as a phone
PAGE_WIDTH = 640.0
PAGE_TEXT = 25.0
MOST_PAGE_HEIGHT = 760.0


@dataclass(slots=True)
class Drawn:
    """One piece drawn: its parts, the room it takes, and the names in the key."""

    svg: str
    width: float
    height: float
    key: list[str] = field(default_factory=list)


def piece_for_page(piece: FlatPiece, *, unit: str, name: str) -> tuple[str, list[str]]:
    """Return a piece drawn for the page, and names of panels too small to hold them (numbered).

    `name` makes the ids of this drawing its own on the page.
    """
    width, height = float(in_mm(piece.width, unit)), float(in_mm(piece.height, unit))
    text, line = PAGE_TEXT, 2.2
    room = text * 3.6
    scale = min((PAGE_WIDTH - room - 2 * line) / width, (MOST_PAGE_HEIGHT - room) / height)
    drawn = draw_piece(piece, unit=unit, look=Look(scale, text, line), name=name)
    return (
        _framed(
            drawn.svg,
            title=piece_title(piece, unit),
            description=piece_description(piece, unit),
            name=name,
            box=(0.0, 0.0, drawn.width, drawn.height),
            size=(n(drawn.width), n(drawn.height)),
        ),
        drawn.key,
    )


def pattern_svg(pattern: FlatPattern, *, unit: str | None = None, with_notes: bool = True) -> str:
    """Return all pieces in one SVG file at true size, one below the other.

    `unit` writes sizes in the other unit than the pattern's. Cuts, valley folds, mountain folds,
    glue and notes are groups of their own; without notes only lines are left, for a machine that
    cuts and scores.
    """
    shown = unit or pattern.unit
    gap, parts, key = 8.0, [], []
    wide, y = 0.0, 0.0
    look = Look(scale=1.0, text=3.4, line=0.3, with_notes=with_notes)
    for number, piece in enumerate(pattern.pieces, 1):
        drawn = draw_piece(
            piece, unit=pattern.unit, look=look, name=f"piece-{number}", shown_unit=shown
        )
        heading = ""
        if with_notes:
            words = escape(piece_title(piece, pattern.unit))
            heading = f'<text x="{n(look.line * 2)}" y="{n(look.text)}">{words}</text>'
            y += look.text * 0.8
        parts.append(
            f'<g id="piece-{number}" transform="translate(0 {n(y)})">{heading}'
            f'<g transform="translate(0 {n(look.text * 1.6 if with_notes else 0)})">'
            f"{drawn.svg}</g></g>"
        )
        y += drawn.height + (look.text * 1.6 if with_notes else 0) + gap
        wide = max(wide, drawn.width)
        key += [f"{piece.name}, {line}" for line in drawn.key]
    if with_notes:
        legend, legend_height = _legend(key, look)
        parts.append(f'<g id="key" transform="translate(0 {n(y)})">{legend}</g>')
        y += legend_height
        wide = max(wide, 110.0)
    in_inches = pattern.unit == "in"
    size = tuple(f"{n(v / 25.4)}in" if in_inches else f"{n(v)}mm" for v in (wide, y))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        + _framed(
            "".join(parts),
            title=f"Flat pattern: {pattern.form.replace('_', ' ')}",
            description=" ".join(
                f"{piece.name}: {piece_description(piece, pattern.unit)}"
                for piece in pattern.pieces
            ),
            name="pattern",
            box=(0.0, 0.0, wide, y),
            size=(size[0], size[1]),
            text=look.text,
        )
        + "\n"
    )


def _framed(
    inner: str,
    *,
    title: str,
    description: str,
    name: str,
    box: tuple[float, float, float, float],
    size: tuple[str, str],
    text: float = PAGE_TEXT,
) -> str:
    x, y, width, height = box
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{size[0]}" height="{size[1]}"'
        f' viewBox="{n(x)} {n(y)} {n(width)} {n(height)}"'
        f' aria-labelledby="{name}-title" aria-describedby="{name}-desc"'
        f' font-family="{FACE}" font-size="{n(text)}" fill="{INK}">'
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(description)}</desc>{inner}</svg>'
    )


def draw_piece(
    piece: FlatPiece, *, unit: str, look: Look, name: str, shown_unit: str | None = None
) -> Drawn:
    """Return the parts of a piece's drawing; y runs upwards on the sheet, downwards here."""
    scale = look.scale
    width, height = float(in_mm(piece.width, unit)), float(in_mm(piece.height, unit))
    left = look.margin if look.with_notes else look.line * 2
    top = look.line * 2
    shown = shown_unit or unit

    def at(point: Point) -> Flat:
        x, y = float(in_mm(point.x, unit)), float(in_mm(point.y, unit))
        return left + x * scale, top + (height - y) * scale

    parts: list[str] = []
    key: list[str] = []
    if look.with_notes:
        parts.append(_papers(piece, at, look, name, (left, top, width * scale, height * scale)))
    parts.append(line_groups(piece, at, look, name))
    if look.with_notes:
        names, key = panel_names(piece, at, look)
        parts.append(
            f'<g id="{name}-notes">{names}{sizes_beside(piece, unit, shown, look, left, top)}</g>'
        )
    below = look.margin if look.with_notes else look.line * 2
    return Drawn(
        "".join(parts),
        left + width * scale + look.line * 2,
        top + height * scale + below,
        key,
    )


def _papers(
    piece: FlatPiece, at: Placing, look: Look, name: str, box: tuple[float, float, float, float]
) -> str:
    """Return the sheet with what is removed shaded and what is glued hatched."""
    x, y, width, height = box
    removed = "".join(f'<path d="{closed_path(map(at, outline))}"/>' for outline in piece.removed)
    patterns, glued = "", ""
    for side, is_on_back in GLUE_SIDES:
        areas = [area for area in piece.glue_areas if area.on_back is is_on_back]
        if areas:
            paths = "".join(f'<path d="{closed_path(map(at, area.outline))}"/>' for area in areas)
            patterns += hatch_pattern(f"{name}-hatch-{side}", look, is_on_back=is_on_back)
            glued += f'<g id="{name}-glue-{side}" fill="url(#{name}-hatch-{side})">{paths}</g>'
    return (
        f"<defs>{patterns}</defs>"
        f'<rect x="{n(x)}" y="{n(y)}" width="{n(width)}" height="{n(height)}" fill="{SHEET}"/>'
        f'<g id="{name}-removed" fill="{HAIRLINE}">{removed}</g>'
        f"{glued}"
    )


def hatch_pattern(name: str, look: Look, *, is_on_back: bool) -> str:
    """Return slanted lines for glued places: rising to the right, on the back falling."""
    step = look.text * 0.42
    return (
        f'<pattern id="{name}" width="{n(step)}" height="{n(step)}"'
        f' patternUnits="userSpaceOnUse" patternTransform="rotate({-45 if is_on_back else 45})">'
        f'<path d="M0 0V{n(step)}" stroke="{SOFT}" stroke-width="{n(look.line * 0.9)}"/>'
        "</pattern>"
    )


def line_groups(piece: FlatPiece, at: Placing, look: Look, name: str) -> str:
    """Return the lines of a piece, one group for each kind, so that a machine can tell them."""
    groups = []
    for kind, group_name in GROUP_NAMES.items():
        paths = "".join(
            f'<path d="{_open(map(at, stroke.points))}"/>'
            for stroke in piece.strokes
            if stroke.kind is kind
        )
        if paths:
            groups.append(f'<g id="{name}-{group_name}" {stroke_look(kind, look)}>{paths}</g>')
    return "".join(groups)


def _open(points: Iterable[Flat]) -> str:
    found = list(points)
    ends = "Z" if len(found) > 2 and found[0] == found[-1] else ""
    if ends:
        found.pop()
    return "M" + "L".join(f"{n(x)} {n(y)}" for x, y in found) + ends


def closed_path(points: Iterable[Flat]) -> str:
    return "M" + "L".join(f"{n(x)} {n(y)}" for x, y in points) + "Z"


def panel_names(piece: FlatPiece, at: Placing, look: Look) -> tuple[str, list[str]]:
    """Return names in their panels; a number where a name is too long, and what it means."""
    parts: list[str] = []
    key: list[str] = []
    for panel in piece.panels:
        outline = [at(point) for point in panel.outline]
        xs, ys = [x for x, _ in outline], [y for _, y in outline]
        wide, high = (max(xs) - min(xs)) * 0.92, (max(ys) - min(ys)) * 0.92
        x, y = middle_of(outline)
        words, size, turned = panel.name, look.text, False
        fits = _fitting(words, size, wide, high)
        if fits:
            size, turned = fits
        else:
            key.append(f"{len(key) + 1}: {words}")
            words = str(len(key))
            size = min(size, max(min(wide, high), look.text * 0.6))
        soft = f' fill="{SOFT}"' if panel.kind is PanelKind.TAB else ""
        turn = f' transform="rotate(-90 {n(x)} {n(y)})"' if turned else ""
        rim = f' stroke="{SHEET}" stroke-width="{n(size * 0.22)}" paint-order="stroke"'
        if look.draws_patches:
            rim = ""
            half = text_width(words, size) / 2
            parts.append(
                f'<rect x="{n(x - half)}" y="{n(y - size * 0.5)}" width="{n(2 * half)}"'
                f' height="{n(size)}" fill="#fff"{turn}/>'
            )
        parts.append(
            f'<text x="{n(x)}" y="{n(y + size * 0.35)}" font-size="{n(size)}"'
            f' text-anchor="middle"{rim}{soft}{turn}>{escape(words)}</text>'
        )
    return "".join(parts), key


def _fitting(words: str, size: float, wide: float, high: float) -> tuple[float, bool] | None:
    """Return a letter size that fits and whether the words stand upright; None for neither."""
    for smaller in (size, size * 0.85):
        long = text_width(words, smaller)
        if long <= wide and smaller * 1.05 <= high:
            return smaller, False
        if long <= high and smaller * 1.05 <= wide:
            return smaller, True
    return None


# the sides glue is spread on, as groups of a drawing are named: is it the back?
GLUE_SIDES = (("good", False), ("back", True))
GLUE_WORDS = {
    False: "//// glue on the right side",
    True: "\\\\ glue on the back",
}
REMOVED_WORDS = "shaded: cut away"
KEY_LINES = (
    (StrokeKind.CUT, "cut"),
    (StrokeKind.MOUNTAIN, "mountain: fold away from you"),
    (StrokeKind.VALLEY, "valley: fold towards you"),
    (StrokeKind.GUIDE, "guide: neither cut nor fold"),
)


def _legend(names: list[str], look: Look) -> tuple[str, float]:
    """Return the key of a file as lines of text, and how high it is."""
    step = look.text * 1.5
    parts = []
    y = step
    for kind, words in KEY_LINES:
        parts.append(
            f'<path d="M{n(look.line * 2)} {n(y - look.text * 0.3)}h{n(look.text * 4)}"'
            f" {stroke_look(kind, look)}/>"
            f'<text x="{n(look.text * 5)}" y="{n(y)}">{words}</text>'
        )
        y += step
    glue = (f"hatched, {words}" for words in GLUE_WORDS.values())
    for words in (*glue, REMOVED_WORDS, *names):
        parts.append(f'<text x="{n(look.line * 2)}" y="{n(y)}">{escape(words)}</text>')
        y += step
    return "".join(parts), y


def sample_line(kind: StrokeKind) -> str:
    """Return a short line of one kind for the key on the page."""
    look = Look(1.0, 12.0, 2.0)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="54" height="12" viewBox="0 0 54 12"'
        f' aria-hidden="true"><path d="M1 6h52" {stroke_look(kind, look)}/></svg>'
    )


def sample_hatch(*, is_on_back: bool) -> str:
    """Return a patch of hatching for the key on the page."""
    lines = "".join(f"M{x} 1l10 10" if is_on_back else f"M{x} 11l10 -10" for x in range(2, 42, 8))
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="54" height="12" viewBox="0 0 54 12"'
        f' aria-hidden="true"><path d="{lines}" fill="none" stroke="{SOFT}" stroke-width="2"/>'
        "</svg>"
    )


def key_of(pieces: Iterable[FlatPiece]) -> list[tuple[str, str]]:
    """Return the key of a drawing: samples of the lines and hatchings that occur, in words too."""
    shown = tuple(pieces)
    key = [(sample_line(kind), words) for kind, words in used_kinds(shown)]
    sides = {area.on_back for piece in shown for area in piece.glue_areas}
    key += [
        (sample_hatch(is_on_back=side), f"hatched, {GLUE_WORDS[side]}") for side in sorted(sides)
    ]
    return key


def used_kinds(pieces: Iterable[FlatPiece]) -> list[tuple[StrokeKind, str]]:
    """Return the kinds of lines that occur, with their words, in the order of the key."""
    found = {stroke.kind for piece in pieces for stroke in piece.strokes}
    return [(kind, words) for kind, words in KEY_LINES if kind in found]
