"""Bends card without stretching it: pillow boxes on a cylinder, cone and cup round their point."""

import math

import numpy as np

from catalogue.calc.flat_patterns.pattern import FlatPattern, PanelKind, StrokeKind
from tests.calc.fold_up_forms import FOLDS, Reading, measures
from tests.calc.folding import Flat, Segment, along, edges, flat, to_segment, volume


@measures("pillow_box")
def pillow_box(r: Reading) -> None:
    """Two panels bent to arcs of one cylinder; the ends fold in along curves of 45 degrees."""
    if not r.counted(2, 0):
        return
    chord, rise, w = r["chord"], r["T"] / 2, r.x[0]
    # the circle over the chord with this rise at its middle; the arc's length by summing it up
    radius = (chord**2 / 4 + rise**2) / (2 * rise)
    half = math.asin(chord / 2 / radius)
    turns = np.linspace(-half, half, 20001)
    arc = np.stack((radius * np.sin(turns), radius * np.cos(turns)), axis=1)
    r.same("a panel, beside the arc", w, float(np.linalg.norm(np.diff(arc, axis=0), axis=1).sum()))
    r.same("the second panel beside the first", r.x[1] - w, w)
    r.same("the tab", r.width - r.x[1], r["g"])

    def lift(x: float) -> float:
        """How far a point of a panel stands over the plane of the side folds, once bent."""
        return radius * math.cos((x % w - w / 2) / radius) - (radius - rise)

    low, high = rise, r.height - rise
    r.same("corner to corner", high - low, r["L"])
    creases = curved(r, *FOLDS)
    rims = [p for p in curved(r, StrokeKind.CUT) if not low + r.near < p[1] < high - r.near]
    for what, found in (("creases", creases), ("flap edges", rims)):
        for end, x in ((y, x) for y in (low, high) for x in (w / 2, 3 * w / 2)):
            there = [p for p in found if abs(p[0] - x) < w / 2 and abs(p[1] - end) <= rise + r.near]
            r.least(f"the points drawn of the {what} at an end", len(there), 9)
    # a crease lies in a plane at 45 degrees: it is as far in from the corners as it is up. Folded
    # over, the flap stands upright; its edge must come down to the other panel's crease
    for inwards, points in ((1, creases), (-1, rims)):
        for x, y in points:
            depth = y - low if y < r.height / 2 else high - y
            r.same("a point of a curve", depth, inwards * lift(x))
    s = np.linspace(-w / 2, w / 2, 20001)
    z = radius * np.cos(s / radius) - (radius - rise)
    inside = 2 * z * (r["L"] - 2 * z) * np.cos(s / radius)
    r.holds(float(np.trapezoid(inside, s)))
    r.stands(chord, 2 * rise, high - low)
    for name, measured in (("R", radius), ("alpha", half), ("panel", w), ("rise", rise)):
        r.says(name, measured)


def curved(r: Reading, *kinds: StrokeKind) -> list[Flat]:
    """The points of the curved lines of these kinds."""
    strokes = [s for s in r.piece.strokes if s.is_curve and s.kind in kinds]
    return [p for stroke in strokes for p in flat(stroke.points)]


def sector(r: Reading) -> tuple[float, float, float]:
    """Measures the wall's outline: outer and inner radius round its point, and its angle.

    The two longest sides are the seam; their lines meet in the point the card is rolled round.
    """
    wall = flat(next(each for each in r.piece.panels if each.kind is PanelKind.WALL).outline)
    sides = edges(wall)
    one, other = sorted(sorted(sides, key=lambda side: math.dist(*side))[-2:], key=sides.index)
    r.same("one side of the seam beside the other", math.dist(*one), math.dist(*other))
    middle = crossing(one, other)
    far = [max(math.dist(p, middle) for p in side) for side in (one, other)]
    close = [min(math.dist(p, middle) for p in side) for side in (one, other)]
    for place in wall:
        reach = math.dist(place, middle)
        r.same("a rim's point, off the rim", min(abs(reach - far[0]), abs(reach - close[0])), 0.0)
    tips = [max(side, key=lambda p: math.dist(p, middle)) for side in (one, other)]
    turn = [math.atan2(y - middle[1], x - middle[0]) for x, y in tips]
    # the rims are many short sides: together they turn by the whole angle
    arc = [s for s in sides if min(math.dist(p, middle) for p in s) > far[0] - r.near]
    angle = sum(2 * math.asin(math.dist(*s) / 2 / far[0]) for s in arc)
    r.same("the rim's turn", math.cos(angle), math.cos(turn[1] - turn[0]), 1e-7)
    r.same("one side's reach beside the other's", far[1], far[0])
    # the tab goes along one side of the seam and must stay between the rims once rolled
    tab = next(each for each in r.piece.panels if each.kind is PanelKind.TAB)
    for x, y in flat(tab.outline):
        reach = math.dist((x, y), middle)
        r.least("the tab, from the point", reach, close[0])
        r.least("the rim, over the tab", far[0], reach)
    for axis, end in ((0, r.width), (1, r.height)):
        reached = [p[axis] for each in r.piece.panels for p in flat(each.outline)]
        r.same("the blank, from its edge", min(reached), 0.0)
        r.same("the blank, to its other edge", max(reached), end)
    r.says("tab", max(min(to_segment(p, s) for s in (one, other)) for p in flat(tab.outline)))
    r.same("the tab", r.details["tab"], r["g"])
    r.says("slant", math.dist(*one))
    r.says("theta", angle)
    r.says("angle_deg", math.degrees(angle))
    return far[0], close[0], angle


def crossing(one: Segment, other: Segment) -> Flat:
    """Where the lines through two segments meet."""
    (x0, y0), (x1, y1) = one
    (x2, y2), (x3, y3) = other
    rows = [[x1 - x0, x2 - x3], [y1 - y0, y2 - y3]]
    share = float(np.linalg.solve(rows, [x2 - x0, y2 - y0])[0])
    return along(one, share)


@measures("cone")
def cone(r: Reading) -> None:
    """A sector rolled until its straight edges meet."""
    slant, point, angle = sector(r)
    r.same("the wall's point", point, 0.0)
    rim = slant * angle / math.tau
    height = math.sqrt(slant**2 - rim**2)
    r.same("the rim's radius", rim, r["r"])
    r.same("the height", height, r["h"])
    r.holds(rolled(rim, 0.0, height))
    r.stands(2 * rim, 2 * rim, height)


@measures("frustum")
def frustum(r: Reading) -> None:
    """A ring sector rolled until its straight edges meet."""
    outer, inner, angle = sector(r)
    upper, lower = outer * angle / math.tau, inner * angle / math.tau
    height = math.sqrt((outer - inner) ** 2 - (upper - lower) ** 2)
    r.same("the upper radius", upper, r["r1"])
    r.same("the lower radius", lower, r["r2"])
    r.same("the height", height, r["h"])
    r.says("R_outer", outer)
    r.says("R_inner", inner)
    r.holds(rolled(upper, lower, height))
    r.stands(2 * upper, 2 * upper, height)


def rolled(upper: float, lower: float, height: float, sides: int = 3600) -> float:
    """The volume of a cup of many flat sides, made up for the slivers outside them."""
    wedge = math.tau / sides
    top = [(upper * math.cos(i * wedge), upper * math.sin(i * wedge), height) for i in range(sides)]
    foot = [(lower * math.cos(i * wedge), lower * math.sin(i * wedge), 0.0) for i in range(sides)]
    walls = [[foot[i], foot[(i + 1) % sides], top[(i + 1) % sides], top[i]] for i in range(sides)]
    slivers = wedge / math.sin(wedge)
    return slivers * volume([top, list(reversed(foot)), *walls])


def faults_of_bent_folds(pattern: FlatPattern) -> list[str]:
    """Scores of bent card folded by another angle than its curves meet at."""
    found = []
    for hinge in pattern.pieces[0].hinges:
        wanted = 0.0  # a seam of a cone or cup goes on round the curve
        if pattern.form == "pillow_box":
            # ends stand upright on the middle of their panel; along the sides two arcs meet, each
            # rising from the plane of the folds as steeply as its chord and middle say
            wanted = -90.0
            if hinge.start.x == hinge.end.x:
                rise = float(pattern.inputs["T"] / pattern.inputs["chord"])
                wanted = 2 * math.degrees(2 * math.atan(rise)) - 180
        if abs(hinge.angle_deg - wanted) > 1e-7:
            found.append(f"{hinge.first}-{hinge.second} is folded by {hinge.angle_deg:.6g}")
    return found
