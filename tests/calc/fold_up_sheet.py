"""Measures any blank as it lies on the sheet: panels, scores, cuts, hinges and glued places."""

import math
from collections.abc import Iterator
from itertools import combinations

from catalogue.calc.flat_patterns.pattern import FlatPiece, GlueArea, Hinge, PanelKind, StrokeKind
from tests.calc.folding import (
    Flat,
    Joint,
    Polygon,
    Segment,
    area,
    bare,
    chain,
    common_border,
    edges,
    flat,
    outside_by,
    overlap,
    shared,
    to_segment,
)

FOLDS = (StrokeKind.VALLEY, StrokeKind.MOUNTAIN)
LOOSE_THINGS = ("board", "face", "base card")  # what is no panel, yet glued onto


class Laid:
    """A blank in floats, with the lines a hand cuts and folds along."""

    def __init__(self, piece: FlatPiece) -> None:
        self.piece = piece
        self.width, self.height = float(piece.width), float(piece.height)
        self.near = 1e-7 * max(self.width, self.height)
        self.blank: Polygon = [
            (0.0, 0.0),
            (self.width, 0.0),
            (self.width, self.height),
            (0.0, self.height),
        ]
        self.panels = {each.name: flat(each.outline) for each in piece.panels}
        self.kinds = {each.name: each.kind for each in piece.panels}
        self.removed = [flat(each) for each in piece.removed]
        self.cuts = self.lines(StrokeKind.CUT) + edges(self.blank)
        self.folds = self.lines(*FOLDS)

    def lines(self, *kinds: StrokeKind) -> list[tuple[Flat, Flat]]:
        """The straight parts of every line drawn as one of these kinds."""
        wanted = [flat(each.points) for each in self.piece.strokes if each.kind in kinds]
        return [side for points in wanted for side in chain(points)]

    def joints(self) -> list[Joint]:
        """The hinges, each turned so that its second panel lies left of start-end."""
        found = []
        for hinge in self.piece.hinges:
            (start, end) = flat((hinge.start, hinge.end))
            if not self._lies_left(self.panels[hinge.second], start, end):
                start, end = end, start
            angle = math.radians(hinge.angle_deg)
            found.append(Joint(hinge.first, hinge.second, start, end, angle))
        return found

    def _lies_left(self, outline: Polygon, start: Flat, end: Flat) -> bool:
        """Whether an outline that has start-end as a side runs along it forwards."""
        for side in edges(outline):
            step = (side[1][0] - side[0][0], side[1][1] - side[0][1])
            middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
            if to_segment(middle, side) <= 100 * self.near:
                return step[0] * (end[0] - start[0]) + step[1] * (end[1] - start[1]) > 0
        return True


def faults_on_the_sheet(piece: FlatPiece) -> Iterator[str]:
    """What is wrong with a blank before anything is folded."""
    laid = Laid(piece)
    for check in (_outlines, _cover, _strokes, _hinges, _borders, _glue_on_the_sheet):
        yield from check(laid)


def _outlines(laid: Laid) -> list[str]:
    found = []
    if len(laid.panels) != len(laid.piece.panels):
        found.append("two panels have one name")
    named = [*laid.panels.items(), *(("removed part", each) for each in laid.removed)]
    for name, outline in named:
        if area(outline) <= 0:
            found.append(f"{name} does not run counter-clockwise")
        if max(outside_by(p, laid.blank) for p in outline) > laid.near:
            found.append(f"{name} leaves the blank")
    return found


def _cover(laid: Laid) -> list[str]:
    """Panels and removed parts fill the blank, and no two of them overlap; a hole has one panel."""
    small = laid.near * max(laid.width, laid.height)
    holes = [gone for gone in laid.removed if any(_is_hole(gone, p) for p in laid.panels.values())]
    gone = [("a removed part", each) for each in laid.removed if each not in holes]
    parts = [*laid.panels.items(), *gone]
    found = [
        f"{one} and {other} overlap"
        for (one, first), (other, second) in combinations(parts, 2)
        if overlap(first, second) > small
    ]
    left = laid.width * laid.height - sum(area(outline) for _, outline in parts)
    if abs(left) > 10 * small:
        found.append(f"panels and removed parts leave {left:.6g} of the blank")
    for hole in holes:
        if any(bare(side, laid.cuts, laid.near) > laid.near for side in edges(hole)):
            found.append("a hole is not cut round")
    return found


def _is_hole(gone: Polygon, panel: Polygon) -> bool:
    sides = edges(panel)
    return all(
        outside_by(p, panel) == 0 and min(to_segment(p, side) for side in sides) > 0.1 for p in gone
    )


def _strokes(laid: Laid) -> list[str]:
    found = []
    for stroke in laid.piece.strokes:
        points = flat(stroke.points)
        if max(outside_by(p, laid.blank) for p in points) > laid.near:
            found.append(f"the line {stroke.name} leaves the blank")
    for axis, scores in enumerate((laid.piece.x_scores, laid.piece.y_scores)):
        drawn = [a[axis] for a, b in laid.folds if abs(a[axis] - b[axis]) <= laid.near]
        for score in scores:
            if not any(abs(float(score) - place) <= laid.near for place in drawn):
                found.append(f"no fold is drawn at the {'xy'[axis]} score {float(score):.6g}")
    return found


def _borders(laid: Laid) -> list[str]:
    """Where panels touch they are hinged or slit; what is removed is cut round."""
    found = []
    hinged: dict[frozenset[str], list] = {}
    for hinge in laid.piece.hinges:
        pair = frozenset((hinge.first, hinge.second))
        hinged.setdefault(pair, []).append(tuple(flat((hinge.start, hinge.end))))
    for one, other in combinations(laid.panels, 2):
        scores = hinged.get(frozenset((one, other)), [])
        if scores:
            scores = scores + laid.folds
        for side in common_border(laid.panels[one], laid.panels[other], laid.near):
            if bare(side, [*scores, *laid.cuts], laid.near) > 10 * laid.near:
                found.append(f"{one} and {other} are neither hinged nor slit apart")
    for gone in laid.removed:
        for name, outline in laid.panels.items():
            for side in common_border(outline, gone, laid.near):
                if bare(side, laid.cuts, laid.near) > 10 * laid.near:
                    found.append(f"{name} is not cut from what is removed")
    return found


def _hinges(laid: Laid) -> list[str]:
    """Each hinge is a border of both its panels, lies on a fold and is not cut through."""
    found = []
    for hinge in laid.piece.hinges:
        name = f"the hinge {hinge.first}-{hinge.second}"
        start, end = flat((hinge.start, hinge.end))
        if math.dist(start, end) <= laid.near:
            found.append(f"{name} has no length")
            continue
        found += [f"{name} {fault}" for fault in _hinge_line(laid, hinge, start, end)]
    return found


def _hinge_line(laid: Laid, hinge: Hinge, start: Flat, end: Flat) -> list[str]:
    first, second = laid.panels[hinge.first], laid.panels[hinge.second]
    border = common_border(first, second, laid.near)
    line = [(start, end)]
    if _is_curved(laid, start, end):
        # the border itself is the score; the hinge names its two ends
        line = border
        reach = [math.dist(p, q) for p in (start, end) for q in (border[0][0], border[-1][1])]
        if not border or min(reach[:2]) > laid.near or min(reach[2:]) > laid.near:
            return ["does not end where the border of its panels ends"]
    found = []
    if any(bare(part, border, laid.near) > 10 * laid.near for part in line):
        found.append("is no border of its panels")
    drawn = laid.lines(*_kinds_for(hinge.angle_deg))
    if any(bare(part, drawn, laid.near) > 10 * laid.near for part in line):
        found.append(f"lies on no {' or '.join(_kinds_for(hinge.angle_deg))} fold")
    if any(shared(part, laid.cuts, laid.near) for part in line):
        found.append("is cut")
    return found


def _is_curved(laid: Laid, start: Flat, end: Flat) -> bool:
    """Whether a curved fold runs from start to end."""
    for stroke in laid.piece.strokes:
        points = flat(stroke.points)
        if stroke.is_curve and stroke.kind in FOLDS:
            for a, b in ((start, end), (end, start)):
                if math.dist(points[0], a) + math.dist(points[-1], b) <= laid.near:
                    return True
    return False


def _kinds_for(angle_deg: float) -> tuple[StrokeKind, ...]:
    if angle_deg > 0:
        return (StrokeKind.VALLEY,)
    if angle_deg < 0:
        return (StrokeKind.MOUNTAIN,)
    return (*FOLDS, StrokeKind.GUIDE)


def _glue_on_the_sheet(laid: Laid) -> list[str]:
    found = []
    for glue in laid.piece.glue_areas:
        outline = flat(glue.outline)
        if abs(area(outline) - float(glue.area)) > laid.near * laid.width:
            found.append(f"the glue on {glue.panel} says another area than it covers")
        if max(outside_by(p, laid.panels[glue.panel]) for p in outline) > 10 * laid.near:
            found.append(f"the glue on {glue.panel} leaves it")
        if min(abs(float(glue.bead) - line) for line in _beads(laid, glue)) > 10 * laid.near:
            found.append(f"the bead on {glue.panel} is not as long as its fold or its free edges")
    return found


def _beads(laid: Laid, glue: GlueArea) -> list[float]:
    """One line of glue may follow a fold (a tab's any, else the longest), or the edges, or both."""
    sides = edges(flat(glue.outline))
    outline = laid.panels[glue.panel]
    folds = [
        flat((hinge.start, hinge.end))
        for hinge in laid.piece.hinges
        if glue.panel in (hinge.first, hinge.second)
    ]
    free = [side for side in edges(outline) if bare(side, folds, laid.near) > 10 * laid.near]
    lengths = [math.dist(*side) for side in sides]
    found = [_length_along(sides, free, laid), sum(lengths), max(lengths)]
    folds.sort(key=lambda fold: -math.dist(*fold))
    if laid.kinds[glue.panel] is not PanelKind.TAB:
        folds = folds[:1]
    found += [math.dist(*fold) for fold in folds]
    found += [_length_along(sides, [fold], laid) for fold in folds]
    return found


def _length_along(sides: list[Segment], lines: list[Segment], laid: Laid) -> float:
    return sum(math.dist(*side) - bare(side, lines, laid.near) for side in sides)
