"""Measures the forms that do not end in right angles: roofs, points, hexagons and bent card."""

import math
from collections.abc import Sequence

from tests.calc.fold_up_forms import (
    Reading,
    measures,
    prism,
    rectangle,
    slanting,
    square_tube,
    walk,
    widths,
)
from tests.calc.folding import Flat, Vector, along, bare, from_line, volume


@measures("tent_box")
def tent_box(r: Reading) -> None:
    """Two slopes lean together over the base; a triangle at each end stands up between them."""
    if not r.counted(3, 2):
        return
    left, base, right, tab = widths(r.x, r.width)
    front, length, back = widths(r.y, r.height)
    # the ridge lies where the two slopes reach each other
    along = (left**2 - right**2 + base**2) / (2 * base)
    ridge = math.sqrt(left**2 - along**2)
    r.same("the base", base, r["B"])
    r.same("the ridge, along the base", along, base / 2)
    r.same("the height of the ridge", ridge, r["Ht"])
    r.same("the front triangle, up to the ridge", front, ridge)
    r.same("the back triangle, up to the ridge", back, ridge)
    r.same("the length", length, r["L"])
    r.same("the tab", tab, r["g"])
    r.holds(volume(prism([(0.0, 0.0), (base, 0.0), (along, ridge)], length)))
    r.stands(base, length, ridge)
    r.says("slope", math.hypot(base / 2, ridge))
    r.says("base_angle", math.degrees(math.atan2(ridge, along)))


@measures("pyramid")
def pyramid(r: Reading) -> None:
    """Four triangles lean together over a square base."""
    if not r.counted(2, 2):
        return
    slants = []
    for scores, end in ((r.x, r.width), (r.y, r.height)):
        before, base, after = widths(scores, end)
        r.same("the base", base, r["a"])
        slants += [before, after]
    tips: list[Vector] = []
    a = r.x[1] - r.x[0]
    for slant, (ox, oy), (ux, uy) in zip(
        slants,
        ((0.0, a / 2), (a, a / 2), (a / 2, 0.0), (a / 2, a)),
        ((1, 0), (-1, 0), (0, 1), (0, -1)),
        strict=True,
    ):
        r.least("a slant height", slant, a / 2)
        rise = math.sqrt(max(slant**2 - (a / 2) ** 2, 0.0))
        tips.append((ox + ux * a / 2, oy + uy * a / 2, rise))
    for tip in tips:
        r.same("the height of a triangle's tip", tip[2], r["Ht"])
    ground = [(0.0, 0.0, 0.0), (a, 0.0, 0.0), (a, a, 0.0), (0.0, a, 0.0)]
    slopes = [[ground[i], ground[(i + 1) % 4], tips[0]] for i in range(4)]
    r.holds(volume([list(reversed(ground)), *slopes]))
    r.stands(a, a, tips[0][2])
    r.says("slant", math.dist(tips[0], (0.0, a / 2, 0.0)))


@measures("gable_box")
def gable_box(r: Reading) -> None:
    """A milk carton: two slopes meet in a ridge, the sides fold inwards under them in a V."""
    if not r.counted(4, 3):
        return
    t = r["t"]
    w, d = square_tube(r, t)
    base, wall, slope, fin = widths(r.y, r.height)
    for what, found, name in (
        ("the height", wall, "H"),
        ("the fin", fin, "fin"),
        ("the tab", r.width - r.x[3], "g"),
        ("the base flap, edge to the far wall", base, "D"),
    ):
        r.same(what, found, r[name])
    # between the middles of front and back, which are a sheet further apart than their insides
    half = (d + t) / 2
    rise = math.sqrt(max(slope**2 - half**2, 0.0))
    r.same("the ridge over the walls", rise, r["G"])
    r.says("slope", math.hypot(half, rise))
    vees = [part for part in r.folds() if slanting(part)]
    tips = {max(part, key=lambda p: p[1]) for part in vees}
    feet = {min(part, key=lambda p: p[1]) for part in vees}
    corners = {(x, r.y[1]) for x in r.x}
    r.same("the feet of the V scores", unlike(feet, corners), 0.0)
    middles = {((r.x[i] + r.x[i + 1]) / 2, r.y[2]) for i in (0, 2)}
    r.same("the tips of the V scores", unlike(tips, middles), 0.0)
    r.same("the legs of the V scores", len(vees), 4)
    # each tip lies as far from its corners in the folded box as on the sheet
    for low, high in ((min(part, key=up), max(part, key=up)) for part in vees):
        inwards = abs(high[0] - low[0])
        folded = (inwards, half, rise)
        r.same("a leg of the V", math.dist(low, high), math.hypot(*folded), r.near + t)
    r.least("the ridge between the tips", w - d, 0.0)
    r.holds(volume(carton(w, d, wall, rise)))
    r.stands(w + 2 * t, d + 2 * t, wall + rise + fin + t)


def up(point: Flat) -> float:
    """How far up the blank a point is."""
    return point[1]


def unlike(found: set[Flat], wanted: set[Flat]) -> float:
    """How far two sets of points are from being one."""
    if not found:
        return math.inf
    return max(
        max(min(math.dist(p, q) for q in wanted) for p in found),
        max(min(math.dist(p, q) for q in found) for p in wanted),
    )


def carton(w: float, d: float, wall: float, rise: float) -> list[list[Vector]]:
    """A box with a hip roof: the ridge ends where the sides are folded in, half the depth."""
    left, right = (d / 2, d / 2, wall + rise), (w - d / 2, d / 2, wall + rise)
    low = [(0.0, 0.0, wall), (w, 0.0, wall), (w, d, wall), (0.0, d, wall)]
    box = prism([(0.0, 0.0), (w, 0.0), (w, d), (0.0, d)], wall)
    roof = [
        [low[0], low[1], right, left],
        [low[1], low[2], right],
        [low[2], low[3], left, right],
        [low[3], low[0], left],
    ]
    return [box[0], *box[2:], *roof]


def hexagon(side: float) -> list[Flat]:
    """The corners of a regular hexagon on its first side."""
    return walk([side] * 6, math.pi / 3)[:6]


@measures("hex_tray", "hex_lid")
def hex_tray(r: Reading) -> None:
    """Six walls round a hexagon that lies with two of its sides level."""
    if not r.counted(0, 2):
        return
    root = math.sqrt(3)
    lower, across, upper = widths(r.y, r.height)
    r.same("the upper wall beside the lower", upper, lower)
    # flat to flat a regular hexagon is sqrt(3) sides high, corner to corner 2 sides wide; the
    # walls of the four slanting sides lean out by the cosine of 30 degrees
    side = across / root
    r.same("corner to corner, walls laid out", r.width, 2 * side + root * lower)
    t = r["t"]
    inside = across - t
    if r.pattern.form == "hex_tray":
        r.same("the side", side, r["a"])
        r.same("the wall", lower, r["H"])
    else:
        # the tray's outside is half a sheet beyond its folds, the lid's inside half a sheet within
        r.same("the gap at each flat", (inside - (r["a"] * root + t)) / 2, r["c"])
        r.same("the wall", lower, r["Hl"])
    r.holds(volume(prism(hexagon(inside / root), lower)))
    r.stands(2 * (across + t) / root, across + t, lower + t)
    r.says("side", side)


@measures("hex_tube")
def hex_tube(r: Reading) -> None:
    """Six walls close to a hexagon that has the side asked inside; a tab behind the first."""
    if not r.counted(6, 1):
        return
    t = r["t"]
    corners = walk(widths(r.x, r.width)[:6], math.pi / 3)
    # the last corner, seen from the first wall: level with its start, one sheet further in
    r.same("the tab's distance from wall 1", corners[6][1], t)
    r.same("the last wall's end, on wall 6", corners[6][0], -t / math.sqrt(3))
    flats = corners[3][1] - corners[0][1]
    r.same("the inside, flat to flat", flats - t, r["a"] * math.sqrt(3))
    for one, other in zip(widths(r.x, r.width)[1:5], widths(r.x, r.width)[:4], strict=True):
        r.same("a wall beside the next", one, other)
    r.same("the tab", r.width - r.x[5], r["g"])
    r.same("the foot flaps", r.y[0], r["foot"])
    r.same("the height", r.height - r.y[0], r["H"])
    inside = (flats - t) / math.sqrt(3)
    r.holds(volume(prism(hexagon(inside), r["H"])))
    r.stands(2 * inside + 4 * t / math.sqrt(3), flats + t, r["H"])


@measures("tetra_pouch")
def tetra_pouch(r: Reading) -> None:
    """A tube pressed flat along its foot one way and along its top the other way."""
    if not r.counted(2, 2):
        return
    front, back, tab = widths(r.x, r.width)
    lower, h, upper = widths(r.y, r.height)
    r.same("front and back", front, back)
    r.same("the width", front, r["w"])
    r.same("the height between the seals", h, r["h"])
    r.same("the tab", tab, r["g"])
    r.same("the lower seal", lower, r["seal"])
    r.same("the upper seal", upper, r["seal"])
    upright = [part for part in r.upright_folds() if abs(part[0][0] - r.x[0]) <= r.near]
    pressed = bare(((r.x[0], r.y[0]), (r.x[0], r.y[1])), upright, r.near)
    r.same("what is not creased of the fold between front and back", pressed, 0.0)
    # edges cannot stretch: the corner-to-corner line of each face is as long as on the sheet
    tall = math.sqrt(h**2 + (front / 2) ** 2)
    rise = math.sqrt(max(tall**2 - 2 * (front / 2) ** 2, 0.0))
    a, b = (-front / 2, 0.0, 0.0), (front / 2, 0.0, 0.0)
    c, d = (0.0, -front / 2, rise), (0.0, front / 2, rise)
    r.holds(volume([[a, b, c], [b, a, d], [c, d, a], [d, c, b]]))
    r.stands(front, front, rise)


@measures("diagonal_envelope")
def diagonal_envelope(r: Reading) -> None:
    """A square's corners folded over a pocket that lies aslant on it; they must cover it."""
    r.same("the square's height", r.height, r.width)
    scores = r.folds()
    if len(scores) != 4:
        r.faults.append(f"{len(scores)} scores, not 4")
        return
    sides = sorted(math.dist(*score) for score in scores)
    for found, wanted in zip(sides, sorted((r["w"], r["w"], r["h"], r["h"])), strict=True):
        r.same("a side of the pocket", found, wanted)
    ends = [end for score in scores for end in score]
    for end in ends:
        r.same("scores that meet in a corner", sum(math.dist(end, p) <= r.near for p in ends), 2)
    middle = (sum(x for x, _ in ends) / 8, sum(y for _, y in ends) / 8)
    r.same("the pocket's middle", math.dist(middle, (r.width / 2, r.height / 2)), 0.0)
    # a mark a from the next one: the notch whose point is the pocket's corner is half as deep
    for x, y in ends:
        r.same("a notch", 2 * min(x, y, r.width - x, r.height - y), r["a"])
    corners = rectangle(r.width, r.height)
    for name, side, score in (
        ("side_flap", r["h"], min(scores, key=legs)),
        ("top_flap", r["w"], max(scores, key=legs)),
    ):
        depth = from_line(nearest(corners, along(score, 0.5)), score)
        r.same(f"the side of the {name}", legs(score), side)
        r.says(name, depth)
    # the last one folded was the top flap; the bottom one is its twin
    r.says("meet_overlap", 2 * depth - r["h"])
    r.says("side", r.width)
    r.same("the part of the pocket left open", open_share(r, scores), 0.0)


def legs(score: Sequence[Flat]) -> float:
    """How long a score is."""
    return math.dist(*score)


def nearest(points: Sequence[Flat], to: Flat) -> Flat:
    """The point closest to a place."""
    return min(points, key=lambda p: math.dist(p, to))


def open_share(r: Reading, scores: Sequence[Sequence[Flat]], steps: int = 24) -> float:
    """The share of places in the pocket that no corner lies over when all four are folded."""
    long = max(scores, key=lambda score: math.dist(*score))
    short = next(
        score
        for score in scores
        if score is not long and min(math.dist(p, long[0]) for p in score) <= r.near
    )
    far = max(short, key=lambda p: math.dist(p, long[0]))
    open_places = 0
    for i in range(steps + 1):
        for j in range(steps + 1):
            place = tuple(
                long[0][k]
                + (long[1][k] - long[0][k]) * i / steps
                + (far[k] - long[0][k]) * j / steps
                for k in (0, 1)
            )
            images = [mirrored(place, score) for score in scores]
            if not any(
                -r.near <= x <= r.width + r.near and -r.near <= y <= r.height + r.near
                for x, y in images
            ):
                open_places += 1
    return open_places / (steps + 1) ** 2


def mirrored(point: Flat, line: Sequence[Flat]) -> Flat:
    """A point folded over a score."""
    (x0, y0), (x1, y1) = line
    length = math.dist(*line)
    nx, ny = -(y1 - y0) / length, (x1 - x0) / length
    off = (point[0] - x0) * nx + (point[1] - y0) * ny
    return (point[0] - 2 * off * nx, point[1] - 2 * off * ny)


@measures("cup_base")
def cup_base(r: Reading) -> None:
    """A disc as wide as the cup one tab above its foot, with tabs that end as wide as the foot."""
    middle = (r.width / 2, r.height / 2)
    sides = r.folds()
    wanted = math.dist(sides[0][0], middle)
    # so far above the foot the cup is as wide as the disc; from there a tab reaches the foot
    above = (wanted - r["r2"]) * r["h"] / (r["r1"] - r["r2"]) if r["r1"] > r["r2"] else r["g"]
    leaning = (wanted - r["r2"]) * math.cos(math.pi / 16)
    r.same("a tab, from the disc to the foot", math.hypot(above, leaning), r["g"])
    r.same("the sides of the disc", len(sides), 16)
    for side in sides:
        r.same("a side of the disc", math.dist(*side), 2 * wanted * math.sin(math.pi / 16))
        for end in side:
            r.same("a corner of the disc, from its middle", math.dist(end, middle), wanted)
    away = wanted * math.cos(math.pi / 16) + r["g"]
    half = r["r2"] * math.sin(math.pi / 16)
    free = {p for p in r.cut_points() if math.dist(p, middle) > wanted + 10 * r.near}
    r.same("the corners of the tabs", len({(round(x, 6), round(y, 6)) for x, y in free}), 32)
    for corner in free:
        r.same("a tab's corner, from the middle", math.dist(corner, middle), math.hypot(away, half))
    r.says("radius", wanted)
