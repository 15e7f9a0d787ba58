"""Measures each form from its blank and score positions alone, by what the finished thing must be.

The sources are the meaning of the form (which walls stand up, which edges close) and the
thickness model: a score is a hinge in the middle of the sheet, so an inside size is the distance
between two middles less one sheet. No panel, hinge or glue area of the pattern is read here.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from catalogue.calc.flat_patterns.pattern import FlatPattern, FlatPiece, StrokeKind
from tests.calc.folding import Flat, Vector, flat, volume

FOLDS = (StrokeKind.VALLEY, StrokeKind.MOUNTAIN)


class Reading:
    """A pattern in floats, and what was found wrong with it."""

    def __init__(self, pattern: FlatPattern, piece: FlatPiece | None = None) -> None:
        self.pattern = pattern
        self.piece = piece or pattern.pieces[0]
        self.sizes = {name: float(value) for name, value in pattern.inputs.items()}
        self.x = [float(each) for each in self.piece.x_scores]
        self.y = [float(each) for each in self.piece.y_scores]
        self.width, self.height = float(self.piece.width), float(self.piece.height)
        self.details = {name: float(value) for name, value in self.piece.details.items()}
        self.near = 1e-7 * max(self.width, self.height)
        self.faults: list[str] = []
        self.measured: set[str] = set()

    def __getitem__(self, name: str) -> float:
        return self.sizes.get(name, 0.0)

    def same(self, what: str, found: float, wanted: float, near: float = 0.0) -> None:
        """Complain when two lengths that must be equal are not."""
        if abs(found - wanted) > (near or self.near):
            self.faults.append(f"{what} is {found:.8g}, must be {wanted:.8g}")

    def folds(self) -> list[tuple[Flat, Flat]]:
        """The straight parts of what is folded."""
        lines = [flat(s.points) for s in self.piece.strokes if s.kind in FOLDS]
        return [part for points in lines for part in pairwise(points)]

    def upright_folds(self) -> list[tuple[Flat, Flat]]:
        """The parts of folds that run up the blank."""
        return [(p, q) for p, q in self.folds() if abs(p[0] - q[0]) <= self.near]

    def level_folds(self, y: float, left: float, right: float) -> list[tuple[Flat, Flat]]:
        """The parts of folds that run across the blank there, from left to right."""
        return [
            part
            for part in self.folds()
            if all(abs(p[1] - y) <= self.near for p in part)
            and abs(min(p[0] for p in part) - left) <= self.near
            and abs(max(p[0] for p in part) - right) <= self.near
        ]

    def cut_points(self) -> list[Flat]:
        """The corners of every cut."""
        cuts = [s for s in self.piece.strokes if s.kind is StrokeKind.CUT]
        return [p for stroke in cuts for p in flat(stroke.points)]

    def least(self, what: str, found: float, least: float) -> None:
        """Complain when a length is too short."""
        if found < least - self.near:
            self.faults.append(f"{what} is {found:.8g}, must be {least:.8g} or more")

    def counted(self, x: int, y: int) -> bool:
        """Whether there are as many scores as the form has."""
        if (len(self.x), len(self.y)) != (x, y):
            self.faults.append(
                f"{len(self.x)} x scores and {len(self.y)} y scores, not {x} and {y}"
            )
            return False
        return True

    def holds(self, found: float) -> None:
        """Complain when the pattern claims another inside volume than was measured."""
        self.measured.add("volume")
        said = self.pattern.volume
        if said is None or abs(float(said) - found) > 1e-6 * found:
            self.faults.append(f"the volume is said to be {said}, measured {found:.8g}")

    def says(self, name: str, measured: float) -> None:
        """Complain when a named length of the pattern is not what was measured."""
        self.measured.add(name)
        if name not in self.details:
            self.faults.append(f"{name} is not said")
        else:
            self.same(f"{name}, as said", self.details[name], measured)

    def stands(self, width: float, depth: float, height: float) -> None:
        """Complain when the pattern claims another outside size than was measured."""
        self.measured.add("outside")
        said = self.pattern.outside
        if said is None:
            self.faults.append("no outside size is said")
            return
        for what, one, other in zip(
            ("width", "depth", "height"), said, (width, depth, height), strict=True
        ):
            self.same(f"the outside {what} said", float(one), other)


CHECKS: dict[str, Callable[[Reading], None]] = {}


def measures(*forms: str) -> Callable[[Callable[[Reading], None]], Callable[[Reading], None]]:
    """Mark a function as the one that measures these forms."""

    def keep(check: Callable[[Reading], None]) -> Callable[[Reading], None]:
        for form in forms:
            CHECKS[form] = check
        return check

    return keep


def faults_of_the_form(pattern: FlatPattern) -> list[str]:
    """What the scores and the blank get wrong about the finished thing."""
    reading = Reading(pattern)
    CHECKS[pattern.form](reading)
    said = set(reading.details)
    said |= {name for name in ("volume", "outside") if getattr(pattern, name) is not None}
    unmeasured = sorted(said - reading.measured)
    return [*reading.faults, *(f"{name} is said but not measured" for name in unmeasured)]


def widths(scores: Sequence[float], end: float) -> list[float]:
    """Panel widths between the edge, the scores and the other edge."""
    stops = [0.0, *scores, end]
    return [b - a for a, b in pairwise(stops)]


def walk(lengths: Sequence[float], turn: float) -> list[Flat]:
    """The corners passed when walls of these lengths stand up, turned left at every score."""
    at, heading = (0.0, 0.0), 0.0
    corners = [at]
    for length in lengths:
        at = (at[0] + length * math.cos(heading), at[1] + length * math.sin(heading))
        corners.append(at)
        heading += turn
    return corners


def prism(ground: Sequence[Flat], height: float) -> list[list[Vector]]:
    """The outward faces of a straight body over a counter-clockwise ground."""
    low = [(x, y, 0.0) for x, y in ground]
    high = [(x, y, height) for x, y in ground]
    faces = [list(reversed(low)), high]
    for i in range(len(ground)):
        j = (i + 1) % len(ground)
        faces.append([low[i], low[j], high[j], high[i]])
    return faces


def rectangle(width: float, depth: float) -> list[Flat]:
    """A ground of this width and depth."""
    return [(0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth)]


def slanting(part: tuple[Flat, Flat]) -> bool:
    """Whether a line runs neither up nor across."""
    (x0, y0), (x1, y1) = part
    return abs(x1 - x0) > 1e-9 and abs(y1 - y0) > 1e-9


def square_tube(r: Reading, t: float, tab_inside: bool = True) -> tuple[float, float]:
    """Stand four walls up; the tab must lie one sheet inside wall 1. Returns the inside size."""
    corners = walk([*widths(r.x, r.width)[:4]], math.pi / 2)
    r.same("the tab's seam, along wall 1", corners[4][0], corners[0][0])
    r.same("the tab's distance from wall 1", corners[4][1], t if tab_inside else 0.0)
    r.least("wall 1, behind which the tab lies", r.x[0], r.width - r.x[3])
    inside = (corners[1][0] - corners[3][0] - t, corners[2][1] - corners[0][1] - t)
    r.same("the inside width", inside[0], r["W"])
    r.same("the inside depth", inside[1], r["D"])
    return inside


@measures("one_piece_bag")
def one_piece_bag(r: Reading) -> None:
    """Four walls and a tab over four base flaps; the gussets fold in flat."""
    if not r.counted(4, 2 if r["hem"] else 1):
        return
    width, depth = square_tube(r, r["t"])
    r.same("the tab", r.width - r.x[3], r["g"])
    walls_and_hem(r)
    base(r)
    gussets = [p[0] for p, _ in r.upright_folds() if min(abs(p[0] - x) for x in r.x) > r.near]
    wanted = [r.x[0] + r["D"] / 2, r.x[2] + r["D"] / 2] if r["gusset"] else []
    r.same("the gusset scores", len(gussets), len(wanted))
    for found, middle in zip(sorted(gussets), wanted, strict=False):
        r.same("a gusset score beside the middle of its side", found, middle, r.near + r["t"] / 2)
    # folded flat each gusset's tip moves in by half the depth; the two must not meet
    r.least("the width between the gusset tips", r.x[0], r.x[1] - r.x[0] - r["t"])
    r.holds(volume(prism(rectangle(width, depth), r["H"])))
    r.stands(width + 2 * r["t"], depth + 2 * r["t"], r["H"] + r["t"])


def walls_and_hem(r: Reading) -> None:
    """The walls are as high as the bag; a hem stands above them to be folded in."""
    _, wall, *hem = widths(r.y, r.height)
    r.same("the height", wall, r["H"])
    r.same("the hem", sum(hem), r["hem"])


def base(r: Reading) -> None:
    """The base flaps: front and back cover it, the side flaps stay short of the far wall."""
    r.same("the base flap, edge to the far wall", r.y[0], r["D"])
    r.least("the inside width, for the side flaps", r["W"], r.y[0])
    r.says("flap", r.y[0])


@measures("two_piece_bag")
def two_piece_bag(r: Reading) -> None:
    """Two fronts with a side each; the second piece is the first turned half round."""
    if not r.counted(2, 2 if r["hem"] else 1):
        return
    t = r["t"]
    front, side, tab = walk([r.x[0], r.x[1] - r.x[0], r.width - r.x[1]], math.pi / 2)[1:]
    # the other front lies one sheet outside the tab and starts level with this side
    other = side[1] + t
    r.same("the inside depth", other - t, r["D"])
    r.same("the inside width", front[0] - t, r["W"])
    r.same("the tab", side[0] - tab[0], r["g"])
    r.same("the pieces", float(r.piece.count), 2)
    walls_and_hem(r)
    base(r)
    r.holds(volume(prism(rectangle(front[0] - t, other - t), r["H"])))
    r.stands(front[0] + t, other + t, r["H"] + t)


def free_edge(r: Reading, left: float, right: float, fold: float, end: float) -> None:
    """What hangs free between two sides from its fold: straight, tapered, pointed or curved.

    `end` is the level its free edge reaches, above or below the fold. Every corner cut between
    the two levels is looked at; nothing but the corners and the curve may be there.
    """
    way, by, across = (1 if end > fold else -1), r["shaped"], right - left
    hangs, middle = abs(end - fold), (left + right) / 2
    cut = {
        (x, (y - fold) * way)
        for x, y in r.cut_points()
        if left - r.near <= x <= right + r.near and -r.near <= (y - fold) * way
    }
    below = sorted(place for place in cut if place[1] > r.near)
    kind = ("straight", "tapered", "pointed", "curved")[round(r["edge"])]
    wanted = {
        "straight": [(left, hangs), (right, hangs)],
        "tapered": [(left + by, hangs), (right - by, hangs)],
        "pointed": [(left, hangs - by), (middle, hangs), (right, hangs - by)],
    }.get(kind)
    if kind == "curved":
        # the circle through both corners and the lowest place of the middle, by the chord of a
        # circle cut at right angles: (across / 2)^2 = by (2 R - by)
        radius = ((across / 2) ** 2 / by + by) / 2
        for place in below:
            r.same("a place of the curve, off its centre",
                   math.dist(place, (middle, hangs - radius)), radius)  # fmt: skip
            r.least("how far a place of the curve hangs", place[1], hangs - by)
        r.least("the places of the curve", len(below), 9)
        for side in (left, right):
            near = [y for x, y in cut if abs(x - side) <= r.near]
            r.same("where the curve begins", max(near, default=0.0), hangs - by)
        r.same("how far the curve hangs", max(y for _, y in below), hangs)
        r.says("edge_radius", radius)
        return
    wanted = [place for place in wanted or [] if place[1] > r.near]
    r.same(f"the corners of a {kind} edge", len(below), len(wanted))
    for place, other in zip(below, sorted(wanted), strict=False):
        r.same(f"a corner of a {kind} edge, from its place", math.dist(place, other), 0.0)


@measures("bag_lid")
def bag_lid(r: Reading) -> None:
    """A strip that is glued inside the back, crosses the bag and drops over the front."""
    if not r.counted(0, 2):
        return
    lap, across, drop = widths(r.y, r.height)
    for what, found in (("lap", lap), ("D", across), ("drop", drop), ("W", r.width)):
        r.same(what, found, r[what])
    r.least("the drop", drop, 0.0)
    free_edge(r, 0.0, r.width, r.y[1], r.height)


@measures("pocket_box")
def pocket_box(r: Reading) -> None:
    """A shallow box: base flaps, four walls, two dust flaps and a closure with its tuck."""
    if not r.counted(4, 3):
        return
    r.sizes["D"] = r["d"]
    width, depth = square_tube(r, r["t"])
    base_flap, span, closure, tuck = widths(r.y, r.height)
    wall = span - r["t"]
    r.same("the base flap", base_flap, depth)
    r.same("the height", wall, r["H"])
    r.same("the closure, front to back", closure, depth)
    r.same("the tuck", tuck, r["tuck"])
    r.same("the tab", r.width - r.x[3], r["g"])
    r.least("the height, for the tuck", wall, tuck)
    # on the front's side the cut up the flap stands alone: there is no closure beside it
    tops = [p[1] for p in r.cut_points() if abs(p[0] - r.x[0]) <= r.near]
    dust = max(tops, default=0.0) - r.y[1]
    r.same("the right dust flap", dust, min(closure, width / 2))
    r.holds(volume(prism(rectangle(width, depth), wall)))
    r.stands(width + 2 * r["t"], depth + 2 * r["t"], wall + 2 * r["t"])


@measures("tuck_box")
def tuck_box(r: Reading) -> None:
    """A box closed by a tuck at both ends, or by a tuck above and a glued base below."""
    if not r.counted(4, 3 if r["glued_base"] else 4):
        return
    width, depth = square_tube(r, r["t"])
    *lower, bottom, span, top, upper = widths(r.y, r.height)
    wall = span - r["t"]
    for what, found in (("bottom", bottom), ("top", top)):
        r.same(f"the {what} closure, front to back", found, depth)
    for tuck in (*lower, upper):
        r.same("a tuck", tuck, r["tuck"])
    r.same("the height", wall, r["H"])
    r.same("the tab", r.width - r.x[3], r["g"])
    dust = r.level_folds(r.y[-2], r.x[0], r.x[1])
    r.same("the folds of the right dust flap", len(dust), 1)
    r.least("half the width, for a dust flap", width / 2, r["dust"])
    r.least("closure and tuck, for a dust flap", top + upper, r["dust"])
    # on the front's side the cut up the flap stands alone: there is no closure beside it
    tops = [p[1] for p in r.cut_points() if abs(p[0] - r.x[0]) <= r.near]
    r.same("the right dust flap", max(tops, default=0.0) - r.y[-2], r["dust"])
    r.says("dust_flap_max", min(width / 2, top + upper))
    r.holds(volume(prism(rectangle(width, depth), wall)))
    r.stands(width + 2 * r["t"], depth + 2 * r["t"], wall + 2 * r["t"])


def tray_spans(r: Reading) -> tuple[float, float, float] | None:
    """Stand the four walls of a tray up; returns its spans from fold to fold, and its height."""
    if not r.counted(2, 2):
        return None
    left, along, right = widths(r.x, r.width)
    front, across, back = widths(r.y, r.height)
    for what, wall in (("right", right), ("front", front), ("back", back)):
        r.same(f"the {what} wall beside the left", wall, left)
    return along, across, left


@measures("tray", "drawer")
def tray(r: Reading) -> None:
    """Four walls stand up round a base; inside it is as long and wide as asked."""
    spans = tray_spans(r)
    if not spans:
        return
    t = r["t"]
    inside = (spans[0] - t, spans[1] - t)
    r.same("the inside length", inside[0], r["L"])
    r.same("the inside width", inside[1], r["W"])
    r.same("the wall", spans[2], r["H"])
    r.holds(volume(prism(rectangle(*inside), spans[2])))
    r.stands(spans[0] + t, spans[1] + t, spans[2] + t)


@measures("tray_lid")
def tray_lid(r: Reading) -> None:
    """The lid goes over its tray with the clearance on each of its four sides."""
    spans = tray_spans(r)
    if not spans:
        return
    t = r["t"]
    # a tray of this size folds in the middle of its wall, so outside it is two sheets larger
    for what, span, inside in (("end", spans[0], r["L"]), ("side", spans[1], r["W"])):
        r.same(f"the gap per {what}", ((span - t) - (inside + 2 * t)) / 2, r["c"])
    r.same("the wall", spans[2], r["Hl"])
    r.holds(volume(prism(rectangle(spans[0] - t, spans[1] - t), spans[2])))
    r.stands(spans[0] + t, spans[1] + t, spans[2] + t)


@measures("sleeve")
def sleeve(r: Reading) -> None:
    """The sleeve slides over its drawer with the clearance on each of its four sides."""
    if not r.counted(4, 0):
        return
    t = r["t"]
    corners = walk(widths(r.x, r.width)[:4], math.pi / 2)
    r.same("the tab's seam, along wall 1", corners[4][0], 0.0)
    r.same("the tab's distance from wall 1", corners[4][1], t)
    inside = (corners[1][0] - corners[3][0] - t, corners[2][1] - t)
    # the drawer: walls folded in the middle of the sheet, a bottom sheet but no top sheet
    r.same("the gap at each side", (inside[0] - (r["Wd"] + 2 * t)) / 2, r["c"])
    r.same("the gap above and below", (inside[1] - (r["Hd"] + t / 2)) / 2, r["c"])
    r.same("the length", r.height, r["Ld"] + 2 * t)
    r.same("the tab", r.width - r.x[3], r["g"])
    r.holds(volume(prism(rectangle(*inside), r.height)))
    r.stands(inside[0] + 2 * t, r.height, inside[1] + 2 * t)
    r.says("Sw", inside[0] + t)
    r.says("Sh", inside[1] + t)
