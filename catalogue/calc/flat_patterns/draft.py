"""Draws one blank: strips across and up, panels between them, folds, glue."""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from catalogue.calc.flat_patterns.numbers import MM_PER, running_sums, said, to_ruler
from catalogue.calc.flat_patterns.outlines import (
    CHORD_ERROR_MM,
    area_of,
    low,
    path_length,
    rectangle,
)
from catalogue.calc.flat_patterns.pattern import (
    ZERO,
    BadSize,
    FlatPattern,
    FlatPiece,
    GlueArea,
    Hinge,
    Outline,
    Panel,
    PanelKind,
    Point,
    Sizes,
    Stroke,
    StrokeKind,
)
from catalogue.calc.flat_patterns.tracing import trace

WALL, BASE, LID, FLAP, TAB = PanelKind


class Draft:
    """A blank in the making: lay the strips, name the panels, fold, glue, finish."""

    def __init__(self, sizes: Sizes) -> None:
        self.sizes = sizes
        self.chord_error = sizes.mm(CHORD_ERROR_MM)
        self.x: tuple[Fraction, ...] = ()
        self.y: tuple[Fraction, ...] = ()
        self._panels: dict[str, Panel] = {}
        self._folds: dict[tuple[str, str], float] = {}
        self._fold_kinds: dict[tuple[str, str], StrokeKind] = {}
        self._glue: list[tuple[str, str, Outline | None, Fraction | None, bool | None]] = []
        self._creases: list[Stroke] = []
        self._openings: list[Outline] = []
        self._moves: dict[Fraction, Fraction] = {}

    def lay(self, *, across: Sequence[Fraction], up: Sequence[Fraction]) -> None:
        """Lay strips side by side: each width is rounded to the ruler, then they are added up."""
        self.lay_exactly(
            across=[self.on_ruler(width) for width in across],
            up=[self.on_ruler(height) for height in up],
        )

    def lay_exactly(self, *, across: Sequence[Fraction], up: Sequence[Fraction]) -> None:
        """Lay strips whose widths must not be rounded, because edges elsewhere equal them."""
        self.x, self.y = running_sums(across), running_sums(up)

    def on_ruler(self, width: Fraction) -> Fraction:
        """Return a width on the nearest mark of her ruler and remember by how much it moved."""
        step = self.sizes.ruler
        if step is None:
            return width
        rounded = to_ruler(width, step)
        if width > 0 and rounded == 0:
            raise BadSize(
                f"{said(width, self.sizes.unit)} is lost on a ruler of "
                f"{said(step, self.sizes.unit)}. Use a finer ruler.",
                where="ruler",
            )
        self._moves[width] = rounded
        return rounded

    def cell(self, column: int, row: int) -> Outline:
        """Return the rectangle where a strip across and a strip up cross."""
        x, y = self.x, self.y
        return rectangle(x[column], y[row], x[column + 1], y[row + 1])

    def panel(self, name: str, kind: PanelKind, outline: Outline) -> None:
        """Name a panel."""
        self._panels[name] = Panel(name, kind, outline)

    def fold(
        self, first: str, second: str, angle_deg: float, kind: StrokeKind | None = None
    ) -> None:
        """Fold the second panel on the first along the edge they share."""
        self._folds[first, second] = angle_deg
        mountain_or_valley = StrokeKind.VALLEY if angle_deg > 0 else StrokeKind.MOUNTAIN
        self._fold_kinds[first, second] = kind or mountain_or_valley

    def crease(self, name: str, kind: StrokeKind, *points: Point) -> None:
        """Score a line that is flat when the thing is done, or mark a line to work by."""
        self._creases.append(Stroke(kind, points, name))

    def opening(self, outline: Outline) -> None:
        """Cut a hole inside a panel."""
        self._openings.append(outline)

    def glue(
        self,
        panel: str,
        onto: str,
        *,
        outline: Outline | None = None,
        bead: Fraction | None = None,
        on_back: bool | None = None,
    ) -> None:
        """Spread a panel, or a part of it; the bead is as long as its fold unless told.

        A tab lies behind what it is glued to, so its good side is spread; of all else the back.
        """
        self._glue.append((panel, onto, outline, bead, on_back))

    def shift_to_corner(self) -> Point:
        """Move everything so that the blank's lower left corner is (0, 0); return its far one."""
        left, bottom = low(place for panel in self._panels.values() for place in panel.outline)
        for name, panel in self._panels.items():
            moved = tuple(Point(place.x - left, place.y - bottom) for place in panel.outline)
            self._panels[name] = Panel(name, panel.kind, moved)
        places = [place for panel in self._panels.values() for place in panel.outline]
        return Point(max(place.x for place in places), max(place.y for place in places))

    def finish(
        self,
        name: str,
        *,
        count: int = 1,
        blank: Point | None = None,
        x_scores: tuple[Fraction, ...] | None = None,
        y_scores: tuple[Fraction, ...] | None = None,
        grain: str = "",
        is_curved: bool = False,
        details: Mapping[str, Fraction] | None = None,
        marks: Mapping[str, tuple[Fraction, ...]] | None = None,
        spots: Mapping[str, tuple[Point, ...]] | None = None,
        outside: tuple[Fraction, Fraction, Fraction] | None = None,
        volume: Fraction | None = None,
        checks: Sequence[str] = (),
        steps: Sequence[str] = (),
        cautions: Sequence[str] = (),
    ) -> FlatPattern:
        """Trace the lines and return the pattern; scores are found from the folds."""
        corner = blank or Point(self.x[-1], self.y[-1])
        outlines = {name: panel.outline for name, panel in self._panels.items()}
        traced = trace(corner, outlines, self._folds)
        strokes = [
            Stroke(StrokeKind.CUT, (*loop, loop[0]), "outline", is_curved)
            for loop in traced.outlines
        ]
        strokes += [Stroke(StrokeKind.CUT, path, "slit") for path in traced.slits]
        strokes += [
            Stroke(StrokeKind.CUT, (*loop, loop[0]), "hole", True) for loop in self._openings
        ]
        strokes += [
            Stroke(self._fold_kinds[pair], path, f"{pair[0]} / {pair[1]}", len(path) > 2)
            for pair, path in traced.folds.items()
        ]
        paths = traced.folds.values()
        piece = FlatPiece(
            name=name,
            count=count,
            width=corner.x,
            height=corner.y,
            x_scores=_levels([(p.x, q.x) for p, *_, q in paths]) if x_scores is None else x_scores,
            y_scores=_levels([(p.y, q.y) for p, *_, q in paths]) if y_scores is None else y_scores,
            strokes=(*strokes, *self._creases),
            panels=tuple(self._panels.values()),
            hinges=tuple(
                Hinge(*pair, path[0], path[-1], self._folds[pair])
                for pair, path in traced.folds.items()
            ),
            glue_areas=self._glue_areas(traced.folds),
            removed=(*traced.removed, *self._openings),
            grain=grain,
            details=details or {},
            marks=marks or {},
            spots=spots or {},
        )
        return FlatPattern(
            form=self.sizes.form,
            unit=self.sizes.unit,
            inputs=dict(self.sizes.values),
            pieces=(piece,),
            outside=outside,
            volume=volume,
            checks=(*checks, *self._say_moves()),
            steps=tuple(steps),
            cautions=tuple(cautions),
        )

    def _glue_areas(
        self, folds: Mapping[tuple[str, str], tuple[Point, ...]]
    ) -> tuple[GlueArea, ...]:
        beads = {second: path_length(path) for (_, second), path in folds.items()}
        found = []
        for panel, onto, part, bead, on_back in self._glue:
            outline = part or self._panels[panel].outline
            length = beads[panel] if bead is None else bead
            is_on_back = self._panels[panel].kind is not TAB if on_back is None else on_back
            found.append(GlueArea(panel, onto, outline, length, area_of(outline), is_on_back))
        return tuple(found)

    def _say_moves(self) -> list[str]:
        unit = self.sizes.unit
        moved = {width: mark for width, mark in self._moves.items() if width != mark}
        if self.sizes.ruler is None:
            return []
        if not moved:
            return [f"Every width lies on the {said(self.sizes.ruler, unit)} ruler already."]
        return [
            f"On the ruler {said(width, unit)} becomes {said(mark, unit)} "
            f"({'+' if mark > width else '-'}{said(abs(mark - width), unit)})."
            for width, mark in moved.items()
        ]


def _levels(spans: Sequence[tuple[Fraction, Fraction]]) -> tuple[Fraction, ...]:
    """Return where lines run straight along the other axis, in order."""
    return tuple(sorted({start for start, end in spans if start == end}))


def wedge_of(sizes: Sizes, length: Fraction) -> Fraction:
    """Return by how much a tab's end is cut back, so that it neither shows nor pinches.

    About 3 mm or 1/8 in (common practice, no source), less on a short tab.
    """
    return min(sizes.either(3, Fraction(1, 8)), length / 4)


def is_thick(sizes: Sizes) -> bool:
    """Say whether the sheet is board, so that a hand can see its thickness at a fold."""
    return sizes["t"] * MM_PER[sizes.unit] >= Fraction(1, 2) and sizes["t"] > ZERO
