"""A flat pattern in words: lengths on two rulers, what to score, what to cut out, what it is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.flat_patterns.numbers import MM_PER
from catalogue.calc.flat_patterns.outlines import area_of
from catalogue.calc.flat_patterns.pattern import (
    FlatPattern,
    FlatPiece,
    Form,
    Point,
    Stroke,
    StrokeKind,
)
from maker.calc.units import format_number, inch_fraction

MM_PER_INCH = MM_PER["in"]
# the finest mark of a ruler in inches
FINEST_PARTS = 64
ABOUT = "≈ "


def in_mm(value: Fraction, unit: str) -> Fraction:
    """Return a length of the pattern in millimetres."""
    return value * MM_PER_INCH if unit == "in" else value


def decimal_of(value: Fraction) -> Decimal:
    """Return an exact length with twelve digits more than any ruler has."""
    return Decimal(value.numerator) / Decimal(value.denominator)


def mm_text(value: Fraction, unit: str, decimals: int = 2) -> str:
    """Write a length in millimetres, without the unit: `85.35`."""
    return format_number(decimal_of(in_mm(value, unit)), decimals=decimals)


def inch_text(value: Fraction, unit: str) -> str:
    """Write a length in inches as on a ruler: `7 1/2`, or `≈ 3 13/64` where it is no 64th."""
    millimetres = decimal_of(in_mm(value, unit))
    whole, rest, is_exact = inch_fraction(millimetres, FINEST_PARTS)
    text = f"{whole} {rest}" if whole and rest else f"{rest or whole}"
    return text if is_exact else ABOUT + text


def ruler_text(value: Fraction, unit: str, decimals: int = 2) -> str:
    """Write a length on the ruler of the pattern's own unit, without the unit."""
    return inch_text(value, unit) if unit == "in" else mm_text(value, unit, decimals)


def length_text(value: Fraction, unit: str) -> str:
    """Write a length with its unit: `7 1/2 in`, `85.35 mm`."""
    return f"{ruler_text(value, unit)} {unit}"


def size_text(width: Fraction, height: Fraction, unit: str) -> str:
    """Write a size: `12 × 12 in`."""
    return f"{lengths_together((width, height), unit, ' × ')} {unit}"


def lengths_together(values: Sequence[Fraction], unit: str, between: str, decimals: int = 2) -> str:
    """Write lengths side by side, with one sign in front when one of them is not exact."""
    texts = [ruler_text(value, unit, decimals) for value in values]
    plain = [text.removeprefix(ABOUT) for text in texts]
    return ("" if plain == texts else ABOUT) + between.join(plain)


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One score, measured from the edge it runs along; `reach` says where it begins and ends."""

    number: int
    inches: str
    millimetres: str
    fold: str
    side: str
    reach: str


@dataclass(frozen=True, slots=True)
class ScoreTable:
    """The scores measured from one edge, cumulative, so that the sheet is laid down once."""

    edge: str
    rows: tuple[ScoreRow, ...]


FOLD_WORDS = {StrokeKind.MOUNTAIN: "mountain", StrokeKind.VALLEY: "valley"}
# The ridge a score raises lies inside the fold: common practice, no source.
GOOD_SIDE_UP = "right side up"
BACK_UP = "back up"
# strokes and scores nearer than this to each other are one line
SAME = Fraction(1, 10**9)

Span = tuple[Fraction, Fraction]


def score_tables(piece: FlatPiece, unit: str) -> list[ScoreTable]:
    """Return the scores from the left edge and from the bottom edge; empty ones are left out.

    A valley is scored from the back. Turned over like a page, the sheet has its left edge on the
    right, so the place from the left is told anew.
    """
    tables = []
    for edge, places, is_upright in (
        ("from the left edge", piece.x_scores, True),
        ("from the bottom edge", piece.y_scores, False),
    ):
        whole = piece.height if is_upright else piece.width
        rows: list[ScoreRow] = []
        for place, kind, spans in score_lines(piece, places, is_upright):
            side = GOOD_SIDE_UP
            if kind is StrokeKind.VALLEY:
                side = BACK_UP
                if is_upright:
                    side += f", {ruler_text(piece.width - place, unit)} {unit} from the left there"
            rows.append(
                ScoreRow(
                    number=len(rows) + 1,
                    inches=inch_text(place, unit),
                    millimetres=mm_text(place, unit),
                    fold=FOLD_WORDS[kind] if kind else "–",
                    side=side,
                    reach=_reach(spans, whole, "y" if is_upright else "x", unit),
                )
            )
        if rows:
            tables.append(ScoreTable(edge, tuple(rows)))
    return tables


def score_lines(
    piece: FlatPiece, places: Sequence[Fraction], is_upright: bool
) -> list[tuple[Fraction, StrokeKind | None, list[Span]]]:
    """Return the straight folds along one direction, by place and kind, with their stretches."""
    found: dict[tuple[Fraction, StrokeKind | None], list[Span]] = {}
    for stroke in piece.strokes:
        if stroke.kind not in FOLD_WORDS:
            continue
        across = [point.x if is_upright else point.y for point in stroke.points]
        if max(across) - min(across) > SAME:
            continue
        along = [point.y if is_upright else point.x for point in stroke.points]
        found.setdefault((across[0], stroke.kind), []).append((min(along), max(along)))
    known = {place for place, _ in found}
    for place in places:
        if not any(abs(place - other) <= SAME for other in known):
            found[place, None] = []
    kinds = [*FOLD_WORDS, None]
    return [
        (place, kind, _merged(found[place, kind]))
        for place, kind in sorted(found, key=lambda line: (line[0], kinds.index(line[1])))
    ]


def _merged(spans: list[Span]) -> list[Span]:
    merged: list[Span] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def _reach(spans: list[Span], whole: Fraction, axis: str, unit: str) -> str:
    if not spans or spans == [(Fraction(0), whole)]:
        return "edge to edge"
    return f"{axis} " + " and ".join(
        f"{ruler_text(start, unit)} to {ruler_text(end, unit)}" for start, end in spans
    )


def slanted_folds(piece: FlatPiece, unit: str) -> list[str]:
    """Return the folds no edge runs along: slanted ones by their ends, curves by their middle."""
    found = []
    for stroke in piece.strokes:
        if stroke.kind not in FOLD_WORDS:
            continue
        start, end = stroke.points[0], stroke.points[-1]
        word = FOLD_WORDS[stroke.kind]
        if stroke.is_curve:
            middle = stroke.points[len(stroke.points) // 2]
            found.append(
                f"{_named(stroke, 'Curve')} ({word}): from {_at(start, unit)} through "
                f"{_at(middle, unit)} to {_at(end, unit)}. Trace it from the printed template."
            )
        elif start.x != end.x and start.y != end.y:
            found.append(
                f"{_named(stroke, 'Slanted score')} ({word}): from {_at(start, unit)} to "
                f"{_at(end, unit)}."
            )
    return found


def _named(stroke: Stroke, otherwise: str) -> str:
    return stroke.name[:1].upper() + stroke.name[1:] if stroke.name else otherwise


def _at(point: Point, unit: str) -> str:
    return f"({lengths_together((point.x, point.y), unit, ', ')})"


def cut_list(piece: FlatPiece, unit: str) -> list[str]:
    """Return what is cut after scoring, in the order of work: slits, parts out, curves, holes."""
    slits: dict[str, list[str]] = {}
    curves, holes = [], []
    for stroke in piece.strokes:
        if stroke.kind is not StrokeKind.CUT:
            continue
        start, end = stroke.points[0], stroke.points[-1]
        if start == end and len(stroke.points) > 2:
            if not _is_outer(stroke, piece):
                holes.append(_hole(stroke, unit))
            elif stroke.is_curve:
                curves.append("Curved edge: cut it by the printed template.")
        elif stroke.is_curve:
            curves.append(
                f"{_named(stroke, 'Curve')}: from {_at(start, unit)} to {_at(end, unit)}."
            )
        elif _is_inside(start, end, piece):
            where, place = _slit(start, end, piece, unit)
            slits.setdefault(where, []).append(place)
    found = [f"Slit {where.format(places=_listed(places))}." for where, places in slits.items()]
    found += removed_parts(piece, unit)
    return [*found, *curves, *holes]


def _is_outer(stroke: Stroke, piece: FlatPiece) -> bool:
    """Whether a closed cut is the outline itself: it comes to the edge of the blank."""
    return any(
        point.x in (0, piece.width) or point.y in (0, piece.height) for point in stroke.points
    )


def _is_inside(start: Point, end: Point, piece: FlatPiece) -> bool:
    """Whether a straight cut does not run along an edge of the blank."""
    return not (
        (start.x == end.x and start.x in (0, piece.width))
        or (start.y == end.y and start.y in (0, piece.height))
    )


def _slit(start: Point, end: Point, piece: FlatPiece, unit: str) -> tuple[str, str]:
    """Return where a slit runs, with room for its places, and its own place."""
    if start.x == end.x:
        low, high = sorted((start.y, end.y))
        if low == 0:
            return f"at x {{places}}, from the bottom edge up to {ruler_text(high, unit)}", (
                ruler_text(start.x, unit)
            )
        if high == piece.height:
            return f"at x {{places}}, from the top edge down to y {ruler_text(low, unit)}", (
                ruler_text(start.x, unit)
            )
        return (
            f"at x {{places}}, from y {ruler_text(low, unit)} to {ruler_text(high, unit)}",
            ruler_text(start.x, unit),
        )
    if start.y == end.y:
        low, high = sorted((start.x, end.x))
        if low == 0:
            where = f"from the left edge to x {ruler_text(high, unit)}"
        elif high == piece.width:
            where = f"from the right edge to x {ruler_text(low, unit)}"
        else:
            where = f"from x {ruler_text(low, unit)} to {ruler_text(high, unit)}"
        return f"at y {{places}}, {where}", ruler_text(start.y, unit)
    return "straight {places}", f"from {_at(start, unit)} to {_at(end, unit)}"


def _listed(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _hole(stroke: Stroke, unit: str) -> str:
    xs, ys = [p.x for p in stroke.points], [p.y for p in stroke.points]
    middle = Point((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    if stroke.is_curve:
        across = ruler_text(max(xs) - min(xs), unit)
        return f"{_named(stroke, 'Hole')}: {across} {unit} across, centre at {_at(middle, unit)}."
    size = size_text(max(xs) - min(xs), max(ys) - min(ys), unit)
    return f"{_named(stroke, 'Opening')}: {size}, centre at {_at(middle, unit)}."


# a part with more corners than this is a curve
MOST_CORNERS = 12


def removed_parts(piece: FlatPiece, unit: str) -> list[str]:
    """Return the parts cut away: corners, strips, wedges; openings are holes, told by their own."""
    openings = {frozenset(stroke.points) for stroke in piece.strokes if stroke.name == "hole"}
    rectangles, others = [], []
    for outline in piece.removed:
        if frozenset(outline) in openings:
            continue
        xs, ys = [p.x for p in outline], [p.y for p in outline]
        left, right, low, high = min(xs), max(xs), min(ys), max(ys)
        box = (right - left) * (high - low)
        span = (
            f"x {ruler_text(left, unit)} to {ruler_text(right, unit)}, "
            f"y {ruler_text(low, unit)} to {ruler_text(high, unit)}"
        )
        if len(outline) == 4 and area_of(outline) == box:
            corner = left in (0, piece.width) or right in (0, piece.width)
            corner = corner and (low == 0 or high == piece.height)
            rectangles.append(f"{'Corner' if corner else 'Part'} out: {span}.")
        elif len(outline) == 3:
            others.append(f"Wedge off: {', '.join(_at(point, unit) for point in outline)}.")
        elif len(outline) <= MOST_CORNERS:
            corners = ", ".join(_at(point, unit) for point in outline)
            others.append(f"Part out, from corner to corner: {corners}.")
        else:
            others.append(f"Part out, curved: within {span}, by the printed template.")
    return _once_each([*rectangles, *others])


def _once_each(lines: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(lines))


def piece_title(piece: FlatPiece, unit: str) -> str:
    """Write the name, the count and the blank of a piece."""
    times = f", cut {piece.count}" if piece.count > 1 else ""
    return f"{piece.name}{times}: {size_text(piece.width, piece.height, unit)}"


def size_on_other_ruler(piece: FlatPiece, unit: str) -> str:
    """Write the blank on the ruler that is not her own."""
    if unit == "mm":
        scale = 1 / MM_PER_INCH
        return size_text(piece.width * scale, piece.height * scale, "in")
    return size_text(piece.width * MM_PER_INCH, piece.height * MM_PER_INCH, "mm")


def piece_description(piece: FlatPiece, unit: str) -> str:
    """Tell in a paragraph what a drawing of the piece shows."""
    parts = [f"Blank {size_text(piece.width, piece.height, unit)}."]
    for table in score_tables(piece, unit):
        places = [row.inches if unit == "in" else row.millimetres for row in table.rows]
        parts.append(f"Scores {table.edge} at {_listed(places)} {unit}.")
    parts += slanted_folds(piece, unit)
    if piece.panels:
        parts.append(f"Panels: {_listed(_once_each(panel.name for panel in piece.panels))}.")
    if piece.glue_areas:
        glued = _once_each(
            f"{area.panel} onto {area.onto}{' (spread on its back)' if area.on_back else ''}"
            for area in piece.glue_areas
        )
        parts.append(f"Glued: {_listed(glued)}.")
    return " ".join(parts)


@dataclass(frozen=True, slots=True)
class SizeRow:
    """One size of the finished thing as it is shown: what it is, its letter, on two rulers."""

    title: str
    letter: str
    text: str


def size_rows(form: Form, pattern: FlatPattern) -> list[SizeRow]:
    """Return every size the pattern was made from, defaults too."""
    rows = []
    for one in form.inputs:
        value = pattern.inputs[one.name]
        if one.is_yes_no:
            text = "yes" if value else "no"
        elif one.choices:
            text = one.choices[int(value)]
        elif one.is_count:
            text = str(value)
        else:
            text = two_rulers(value, pattern.unit)
        rows.append(SizeRow(one.title[:1].upper() + one.title[1:], one.name, text))
    return rows


def two_rulers(value: Fraction, unit: str) -> str:
    """Write a length on both rulers, her own first: `7 1/2 in (190.5 mm)`."""
    inches, millimetres = f"{inch_text(value, unit)} in", f"{mm_text(value, unit)} mm"
    return f"{inches} ({millimetres})" if unit == "in" else f"{millimetres} ({inches})"


# of a hint
MOST_WORDS = 12


def in_few_words(limit: str) -> str:
    """Return a limit as a hint: why it is one is told when it is passed."""
    return limit if len(limit.split()) <= MOST_WORDS else limit.split(", or ")[0]
