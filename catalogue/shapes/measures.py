"""Draws sizes beside a blank: from score to score, and the whole."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from xml.sax.saxutils import escape

from catalogue.calc.flat_patterns.pattern import FlatPiece
from catalogue.shapes.look import INK, SOFT, Look, n, text_width
from catalogue.shapes.words import in_mm, inch_text, mm_text


def sizes_beside(
    piece: FlatPiece, unit: str, shown: str, look: Look, left: float, top: float
) -> str:
    """Return the chains of sizes below and left of the blank, and the whole beneath each."""
    height = float(in_mm(piece.height, unit)) * look.scale
    bottom = top + height
    across = _chain(piece.x_scores, piece.width, (unit, shown), look, ROWS_BELOW)
    upright = _chain(piece.y_scores, piece.height, (unit, shown), look, ROWS_ABOVE)
    # the upright chain is drawn lying down, its rows above it, and turned to read from below
    return (
        f'<g fill="{INK}" stroke="none" font-size="{n(look.text * 0.92)}">'
        f'<g transform="translate({n(left)} {n(bottom)})">{across}</g>'
        f'<g transform="translate({n(left)} {n(bottom)}) rotate(-90)">{upright}</g></g>'
    )


# where rows of sizes stand, in letter heights: first, second, whole
ROWS_BELOW = (1.15, 2.1, 3.1)
ROWS_ABOVE = (-0.45, -1.4, -2.4)


def _chain(
    scores: Sequence[Fraction],
    whole: Fraction,
    units: tuple[str, str],
    look: Look,
    rows: tuple[float, float, float],
) -> str:
    """Return a row of sizes from score to score, staggered where they would meet, and the sum."""
    unit, shown = units
    size = look.text * 0.92
    places = sorted({Fraction(0), *scores, whole})
    first_row, second_row, whole_row = (row * look.text for row in rows)
    outwards = 1 if rows[0] > 0 else -1
    parts, ticks, end_of_first, is_staggered = [], [0.0], -1e9, False
    for start, end in pairwise(places):
        x1 = float(in_mm(start, unit)) * look.scale
        x2 = float(in_mm(end, unit)) * look.scale
        words = _plain_length(end - start, unit, shown)
        half, middle = text_width(words, size) / 2, (x1 + x2) / 2
        is_free = middle - half > end_of_first + size * 0.3
        if is_free:
            end_of_first = middle + half
        is_staggered = is_staggered or not is_free
        parts.append(_centred(words, middle, first_row if is_free else second_row))
        ticks.append(x2)
    total = ticks[-1]
    tick = look.text * 0.3 * outwards
    lines = "".join(f"M{n(x)} {n(tick / 2)}v{n(tick)}" for x in ticks)
    words = f"{_plain_length(whole, unit, shown)} {shown}"
    if len(places) > 2:
        whole_row = whole_row if is_staggered else (second_row + whole_row) / 2
        half = text_width(words, size) / 2 + size * 0.4
        level = whole_row - size * 0.35
        parts.append(_centred(words, total / 2, whole_row))
        if total > 2 * half:
            lines += (
                f"M0 {n(level)}H{n(total / 2 - half)}M{n(total / 2 + half)} {n(level)}H{n(total)}"
            )
            lines += "".join(f"M{n(x)} {n(level - tick)}v{n(2 * tick)}" for x in (0.0, total))
    else:
        parts = [_centred(words, total / 2, first_row)]
    stroke = f'stroke="{SOFT}" stroke-width="{n(look.line * 0.6)}" fill="none"'
    return f'<path d="{lines}" {stroke}/>' + "".join(parts)


def _centred(words: str, x: float, y: float) -> str:
    return f'<text x="{n(x)}" y="{n(y)}" text-anchor="middle">{escape(words)}</text>'


def _plain_length(value: Fraction, unit: str, shown: str) -> str:
    return inch_text(value, unit) if shown == "in" else mm_text(value, unit, 1)
