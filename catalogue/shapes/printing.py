"""Makes the PDF of a flat pattern: templates at true size over pages to join, then the words."""

import base64
from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape

from django.template.loader import render_to_string

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import FlatPattern, FlatPiece, Point
from catalogue.calc.flat_patterns.tiles import (
    FOOT_MM,
    HEAD_MM,
    MARGIN_MM,
    OVERLAP_MM,
    PAPERS_MM,
    Tile,
    Tiling,
    letters,
    tiling_of,
)
from catalogue.calc.folded.space import Flat
from catalogue.shapes.drawing import (
    closed_path,
    key_of,
    line_groups,
    panel_names,
)
from catalogue.shapes.folded import finished_svg
from catalogue.shapes.look import FACE, HAIRLINE, INK, SHEET, SOFT, Look, n
from catalogue.shapes.words import (
    cut_list,
    in_mm,
    piece_description,
    piece_title,
    score_tables,
    size_on_other_ruler,
    size_rows,
    slanted_folds,
)
from maker.calc.refusal import Refusal
from maker.documents.pdf import FONT_FAMILY, render_pdf

# more pages than this are no template any more, and would keep the server busy
MOST_PAGES = 60
# lines of the template, in mm: thin enough to cut along
LOOK = Look(scale=1.0, text=3.6, line=0.25, draws_patches=True)


class UnknownPaper(Refusal):
    """There is no such paper to print on."""


class TooManyPages(Refusal):
    """The pattern is too large for templates on this paper."""


def template_pdf(
    pattern: FlatPattern, *, title: str, paper: str = "A4", locale: str = "en_GB"
) -> bytes:
    """Return the templates of all pieces at 100% and how to score, cut and join them.

    Refusals: UnknownPaper, TooManyPages, PdfLibraryMissing.
    """
    if paper not in PAPERS_MM:
        raise UnknownPaper(f"Choose one of {', '.join(PAPERS_MM)}.", where="paper")
    tilings = _tilings(pattern, paper)
    pages = sum(len(tiling.tiles) for tiling in tilings)
    if pages > MOST_PAGES:
        raise TooManyPages(
            f"That would need {pages} pages of {paper} (maximum {MOST_PAGES}). Use larger "
            "paper, or mark the sheet with the score table.",
            where="paper",
        )
    pieces = [
        _piece_pages(piece, tiling, pattern, number)
        for number, (piece, tiling) in enumerate(zip(pattern.pieces, tilings, strict=True), 1)
    ]
    view = {
        "title": title,
        "finished": image(finished_svg(pattern, title=title)),
        "language": locale.replace("_", "-"),
        "pieces": pieces,
        "sizes": size_rows(FORMS[pattern.form], pattern),
        "steps": pattern.steps,
        "cautions": pattern.cautions,
        "checks": pattern.checks,
        "paper": paper,
        "page_count": pages,
        "is_tiled": any(piece["several"] for piece in pieces),
        "key": [(image(sample), words) for sample, words in key_of(pattern.pieces)],
        "is_cut_away": any(piece.removed for piece in pattern.pieces),
    }
    html = render_to_string("print/flat_pattern.html", view)
    return render_pdf(html=html, css=_css(paper, title))


def template_pages(pattern: FlatPattern, paper: str) -> int:
    """Return how many pages the templates take; 0 when they are too many to be of use."""
    pages = sum(len(tiling.tiles) for tiling in _tilings(pattern, paper))
    return pages if pages <= MOST_PAGES else 0


def _tilings(pattern: FlatPattern, paper: str) -> list[Tiling]:
    return [
        tiling_of(
            float(in_mm(piece.width, pattern.unit)),
            float(in_mm(piece.height, pattern.unit)),
            paper,
        )
        for piece in pattern.pieces
    ]


def image(svg: str) -> str:
    """Return an SVG as the address of an image."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _piece_pages(
    piece: FlatPiece, tiling: Tiling, pattern: FlatPattern, number: int
) -> dict[str, Any]:
    unit = pattern.unit
    title = piece_title(piece, unit)
    inner, numbers = _true_size(piece, unit, f"t{number}")
    several = len(tiling.tiles) > 1
    pages = []
    for tile in tiling.tiles:
        words = f"{title}, at true size"
        if several:
            words += f"; tile {tile.label} of {tiling.rows} rows and {tiling.columns} columns"
        pages.append(
            {
                "image": image(_tile_svg(inner, piece, tile, tiling, unit)),
                "alt": words + ".",
                "label": tile.label if several else "",
                "joins": _joins(tile, tiling),
            }
        )
    return {
        "name": piece.name,
        "title": title,
        "count": piece.count,
        "other_size": size_on_other_ruler(piece, unit),
        "is_lying": tiling.is_lying,
        "tiles": pages,
        "several": several,
        "rows": tiling.rows,
        "columns": tiling.columns,
        "overview": image(_overview(piece, tiling, unit)) if several else "",
        "description": piece_description(piece, unit),
        "scores": score_tables(piece, unit),
        "slanted": slanted_folds(piece, unit),
        "cuts": cut_list(piece, unit),
        "grain": piece.grain,
        "numbers": numbers,
    }


def _placing(piece: FlatPiece, unit: str) -> Any:
    height = float(in_mm(piece.height, unit))

    def at(point: Point) -> Flat:
        return float(in_mm(point.x, unit)), height - float(in_mm(point.y, unit))

    return at


def _true_size(piece: FlatPiece, unit: str, name: str) -> tuple[str, list[str]]:
    """Return a piece in mm, its upper left corner at (0, 0), and what numbers on it mean."""
    at = _placing(piece, unit)
    width, height = float(in_mm(piece.width, unit)), float(in_mm(piece.height, unit))
    removed = "".join(f'<path d="{closed_path(map(at, part))}"/>' for part in piece.removed)
    hatch = "".join(
        f'<path d="{hatching([at(point) for point in area.outline], area.on_back)}"/>'
        for area in piece.glue_areas
    )
    names, numbers = panel_names(piece, at, LOOK)
    svg = (
        f'<rect width="{n(width)}" height="{n(height)}" fill="none" stroke="{INK}"'
        ' stroke-width="0.12"/>'
        f'<g fill="{HAIRLINE}">{removed}</g>'
        f'<g fill="none" stroke="{SOFT}" stroke-width="0.15">{hatch}</g>'
        f"{line_groups(piece, at, LOOK, name)}{names}"
    )
    return svg, numbers


def hatching(outline: Sequence[Flat], is_on_back: bool, step: float = 2.2) -> str:
    """Return lines at 45 degrees within an outline: rising to the right, on the back falling."""
    # turned so that the lines lie level; y runs downwards, so what rises is mirrored
    way = 1 if is_on_back else -1
    turned = [(x * way + y, y - x * way) for x, y in outline]
    low, high = min(v for _, v in turned), max(v for _, v in turned)
    parts, level = [], low + step / 2
    while level < high:
        crossings = sorted(
            u1 + (u2 - u1) * (level - v1) / (v2 - v1)
            for (u1, v1), (u2, v2) in zip(turned, (*turned[1:], turned[0]), strict=True)
            if (v1 > level) != (v2 > level)
        )
        for start, end in zip(crossings[::2], crossings[1::2], strict=False):
            x1, y1, x2, y2 = (
                (start - level) / 2, (start + level) / 2, (end - level) / 2, (end + level) / 2,
            )  # fmt: skip
            parts.append(f"M{n(x1 * way)} {n(y1)}L{n(x2 * way)} {n(y2)}")
        level += step
    return "".join(parts)


def _tile_svg(inner: str, piece: FlatPiece, tile: Tile, tiling: Tiling, unit: str) -> str:
    """Return the part of a piece that one page shows, with the marks it is joined by."""
    height = float(in_mm(piece.height, unit))
    left, top = tile.x, height - tile.y - tile.height
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{n(tile.width)}mm"'
        f' height="{n(tile.height)}mm"'
        f' viewBox="{n(left)} {n(top)} {n(tile.width)} {n(tile.height)}"'
        f' font-family="{FACE}" font-size="{n(LOOK.text)}" fill="{INK}">'
        f"{inner}{_join_marks(tile, tiling, left, top)}</svg>"
    )


def _join_marks(tile: Tile, tiling: Tiling, left: float, top: float) -> str:
    """Return lines where a neighbour begins, and crosses that lie on each other when joined."""
    right, bottom = left + tile.width, top + tile.height
    guides, crosses, words = [], [], []
    for has, x, edge in (
        (tile.column > 0, left + OVERLAP_MM, left),
        (tile.column < tiling.columns - 1, right - OVERLAP_MM, right),
    ):
        if has:
            guides.append(f"M{n(x)} {n(top)}V{n(bottom)}")
            crosses += [((x + edge) / 2, top + tile.height * share) for share in (0.25, 0.75)]
    for has, y, edge in (
        (tile.row > 0, top + OVERLAP_MM, top),
        (tile.row < tiling.rows - 1, bottom - OVERLAP_MM, bottom),
    ):
        if has:
            guides.append(f"M{n(left)} {n(y)}H{n(right)}")
            crosses += [(left + tile.width * share, (y + edge) / 2) for share in (0.25, 0.75)]
    for neighbour, x, y in _neighbours(tile, tiling, left, top):
        words.append(
            f'<text x="{n(x)}" y="{n(y)}" text-anchor="middle" fill="{SOFT}">{neighbour}</text>'
        )
    marks = "".join(
        f"M{n(x - 3)} {n(y)}H{n(x + 3)}M{n(x)} {n(y - 3)}V{n(y + 3)}" for x, y in crosses
    )
    guide = "".join(guides)
    return (
        f'<path d="{guide}" fill="none" stroke="{SOFT}" stroke-width="0.15"'
        ' stroke-dasharray="0.4 1.4"/>'
        f'<path d="{marks}" fill="none" stroke="{INK}" stroke-width="0.2"/>{"".join(words)}'
        if guide
        else ""
    )


def _neighbours(
    tile: Tile, tiling: Tiling, left: float, top: float
) -> list[tuple[str, float, float]]:
    """Return the labels of the tiles beside this one and where they are written."""
    middle_x, middle_y = left + tile.width / 2, top + tile.height / 2
    half = OVERLAP_MM / 2
    found = []
    if tile.column > 0:
        found.append((f"{letters(tile.row)}{tile.column}", left + half, middle_y))
    if tile.column < tiling.columns - 1:
        found.append((f"{letters(tile.row)}{tile.column + 2}", left + tile.width - half, middle_y))
    if tile.row > 0:
        found.append((f"{letters(tile.row - 1)}{tile.column + 1}", middle_x, top + half + 1))
    if tile.row < tiling.rows - 1:
        found.append(
            (f"{letters(tile.row + 1)}{tile.column + 1}", middle_x, top + tile.height - half + 1)
        )
    return found


def _joins(tile: Tile, tiling: Tiling) -> str:
    names = [label for label, _, _ in _neighbours(tile, tiling, 0, 0)]
    return f"Joins {', '.join(names)}" if names else ""


def _overview(piece: FlatPiece, tiling: Tiling, unit: str) -> str:
    """Return a small drawing of the blank with the tiles over it."""
    at = _placing(piece, unit)
    width, height = float(in_mm(piece.width, unit)), float(in_mm(piece.height, unit))
    left = min(tile.x for tile in tiling.tiles)
    right = max(tile.x + tile.width for tile in tiling.tiles)
    low = min(tile.y for tile in tiling.tiles)
    high = max(tile.y + tile.height for tile in tiling.tiles)
    scale = min(90 / (right - left), 60 / (high - low))
    look = Look(scale=1.0, text=4 / scale, line=0.25 / scale)
    frames = "".join(
        f'<rect x="{n(tile.x)}" y="{n(height - tile.y - tile.height)}" width="{n(tile.width)}"'
        f' height="{n(tile.height)}" fill="none" stroke="{SOFT}" stroke-width="{n(look.line)}"/>'
        f'<text x="{n(tile.x + tile.width / 2)}" y="{n(height - tile.y - tile.height / 2)}"'
        f' text-anchor="middle" font-weight="700">{escape(tile.label)}</text>'
        for tile in tiling.tiles
    )
    pad = look.line
    left, right, low, high = left - pad, right + pad, low - pad, high + pad
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{n((right - left) * scale)}mm"'
        f' height="{n((high - low) * scale)}mm"'
        f' viewBox="{n(left)} {n(height - high)} {n(right - left)} {n(high - low)}"'
        f' font-family="{FACE}" font-size="{n(look.text)}" fill="{INK}">'
        f'<rect width="{n(width)}" height="{n(height)}" fill="{SHEET}" stroke="{INK}"'
        f' stroke-width="{n(look.line)}"/>'
        f"{line_groups(piece, at, look, 'o')}{frames}</svg>"
    )


def measuring_bars() -> str:
    """Return bars of 100 mm and of 4 in with their marks, to be measured after printing."""
    parts = []
    for y, step, count, words in ((1.0, 10.0, 10, "100 mm"), (8.0, 25.4, 4, "4 in")):
        end = step * count
        marks = "".join(f"M{n(step * at + 0.5)} {n(y)}v2.4" for at in range(1, count))
        parts.append(
            f'<path d="M0.5 {n(y - 0.6)}V{n(y + 3)}M{n(end + 0.5)} {n(y - 0.6)}V{n(y + 3)}'
            f'M0.5 {n(y + 1.2)}H{n(end + 0.5)}{marks}" fill="none" stroke="{INK}"'
            ' stroke-width="0.2"/>'
            f'<text x="{n(end + 2.5)}" y="{n(y + 2.4)}" font-size="3.2">{words}</text>'
        )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="12mm" viewBox="0 0 120 12"'
        f' font-family="{FACE}" fill="{INK}">{"".join(parts)}</svg>'
    )


def _css(paper: str, title: str) -> str:
    width, height = PAPERS_MM[paper]
    quoted = title.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    small = f"font-family: {FONT_FAMILY}; font-size: 8.5pt; color: {SOFT}"
    return f"""
@page {{
  size: {width}mm {height}mm;
  margin: {MARGIN_MM + HEAD_MM}mm {MARGIN_MM}mm {MARGIN_MM + FOOT_MM}mm;
  @top-left {{ content: "{quoted}"; {small}; width: 78%; vertical-align: bottom;
    padding-bottom: 6mm }}
  @top-right {{ content: "Page " counter(page) " of " counter(pages); {small}; width: 22%;
    vertical-align: bottom; padding-bottom: 6mm }}
  @bottom-left {{ content: url("{image(measuring_bars())}"); width: 122mm; vertical-align: top;
    padding-top: 4mm }}
  @bottom-right {{ content: "Measure this after printing. Print at 100%, not fitted to the page.";
    {small}; text-align: left; width: auto; vertical-align: top; padding-top: 4mm }}
}}
@page lying {{ size: {height}mm {width}mm }}
html {{ font-family: {FONT_FAMILY}; font-size: 10pt; line-height: 1.38; color: {INK};
  overflow-wrap: anywhere }}
body, h1, h2, h3, p, ul, ol, table, figure {{ margin: 0; padding: 0 }}
h1 {{ font-size: 17pt; line-height: 1.2; color: #0b6b5d }}
h2 {{ font-size: 12.5pt; margin: 6mm 0 1.5mm; break-after: avoid }}
h3 {{ font-size: 10pt; margin: 4mm 0 1.2mm; break-after: avoid }}
p, li {{ margin-top: 1.2mm }}
ul, ol {{ padding-left: 5mm }}
.soft {{ color: {SOFT} }}
.caution {{ border: 0.4mm solid #a11d33; color: #a11d33; padding: 1.5mm 3mm; margin-top: 2mm;
  break-inside: avoid; clear: right }}
table {{ border-collapse: collapse; width: 100%; margin-top: 1.5mm }}
th, td {{ text-align: left; vertical-align: top; padding: 0.9mm 3mm 0.9mm 0;
  border-bottom: 0.15mm solid #d8cdb6; font-weight: 400 }}
thead th {{ font-size: 8.5pt; color: {SOFT}; border-bottom: 0.4mm solid {INK} }}
tbody tr {{ break-inside: avoid }}
.number {{ font-weight: 700; white-space: nowrap }}
.key {{ list-style: none; padding: 0 }}
.key img {{ margin-right: 2mm; vertical-align: middle }}
.finished {{ float: right; width: 58mm; margin-left: 6mm }}
.plain {{ list-style: none; padding: 0 }}
.tile {{ break-before: page; position: relative }}
.tile.lying {{ page: lying }}
.place {{ position: absolute; top: -5.4mm; left: 0; font-size: 8.5pt; margin: 0 }}
.tile img {{ display: block }}
.words {{ break-before: page }}
"""
