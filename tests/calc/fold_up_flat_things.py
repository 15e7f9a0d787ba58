"""Measures what lies flat or goes round something: bands, wallets, covers, tags, cards, strips."""

import math
from itertools import pairwise

from catalogue.calc.flat_patterns.pattern import StrokeKind
from tests.calc.fold_up_forms import Reading, free_edge, measures, slanting, walk, widths
from tests.calc.folding import flat, from_line


@measures("belly_band")
def belly_band(r: Reading) -> None:
    """A band that touches the outside of what it goes round, and laps."""
    if not r.counted(4, 0):
        return
    t = r["t"]
    corners = walk(widths(r.x, r.width)[:4], math.pi / 2)
    r.same("the width it goes round", corners[1][0] - corners[3][0] - t, r["W"])
    r.same("the depth it goes round", corners[2][1] - corners[0][1] - t, r["D"])
    r.same("its end, along", corners[4][0], 0.0)
    r.same("its end, across", corners[4][1], 0.0)
    r.same("the lap", r.width - r.x[3], r["lap"])
    r.same("the band's width", r.height, r["height"])
    r.stands(r["W"] + 2 * t, r["D"] + 2 * t, r.height)
    r.says("perimeter", sum(math.dist(p, q) for p, q in pairwise(corners)))


@measures("wallet")
def wallet(r: Reading) -> None:
    """A pocket of two equal faces, closed at the sides by tabs, and a flap over it."""
    if not r.counted(2, 2):
        return
    left, face, right = widths(r.x, r.width)
    front, back, flap = widths(r.y, r.height)
    r.same("the width", face, r["w"])
    r.same("the left tab", left, r["g"])
    r.same("the right tab", right, r["g"])
    r.same("the front, up to the back's upper fold", front, back)
    r.same("the height", back, r["h"])
    r.same("the flap", flap, r["flap"])
    free_edge(r, r.x[0], r.x[1], r.y[1], r.height)
    r.least("the front, for the flap", front, flap)
    r.least("half the face, for a tab", face / 2, left)


@measures("board_wrap")
def board_wrap(r: Reading) -> None:
    """Paper round a board: up the edge and turned in."""
    if not r.counted(2, 2):
        return
    for scores, end, board in ((r.x, r.width, "w"), (r.y, r.height, "h")):
        before, face, after = widths(scores, end)
        r.same(f"the board, {board}", face, r[board])
        r.same("what is turned in before", before - r["T"], r["turn"])
        r.same("what is turned in after", after - r["T"], r["turn"])
    r.stands(r.x[1] - r.x[0], r.y[1] - r.y[0], r["T"])
    # the cut across each corner stays one and a half boards off the board's own corner
    cuts = [flat(s.points) for s in r.piece.strokes if s.kind is StrokeKind.CUT]
    slants = [part for points in cuts for part in pairwise(points) if slanting(part)]
    gaps = [min(from_line((x, y), cut) for cut in slants) for x in r.x for y in r.y]
    for gap in gaps:
        r.same("the mitre, off the board's corner", gap, 1.5 * r["T"])
    r.says("mitre_gap", gaps[0])


@measures("tag")
def tag(r: Reading) -> None:
    """A card, folded double or not, with its hole clear of the edge."""
    folds = 1 if r["folded"] else 0
    if not r.counted(0, folds):
        return
    r.same("the width", r.width, r["w"])
    r.same("the height", r.height, r["h"] * (1 + folds))
    for part in widths(r.y, r.height):
        r.same("a leaf", part, r["h"])
    holes = [flat(stroke.points)[:-1] for stroke in r.piece.strokes if stroke.name == "hole"]
    r.same("the holes", len(holes), (1 + folds) if r["hole"] else 0)
    for points in holes:
        middle = tuple(sum(p[axis] for p in points) / len(points) for axis in (0, 1))
        for point in points:
            r.same("the hole's radius", math.dist(point, middle), r["hole"] / 2)
        r.same("the hole, across", middle[0], r.width / 2)
        # both leaves are holed where they lie on each other, clear of the fold
        off = abs(middle[1] - r.y[0]) if folds else r.height - middle[1]
        r.same("the hole's middle, from the top", off, r["hole"] + 3)


@measures("decorative_panel")
def decorative_panel(r: Reading) -> None:
    """A panel that leaves its border of the face on every side."""
    r.same("the border beside it", (r["w"] - r.width) / 2, r["border"])
    r.same("the border above it", (r["h"] - r.height) / 2, r["border"])


@measures("base_card")
def base_card(r: Reading) -> None:
    """A card that goes into the bag with clearance at every wall."""
    r.same("the gap at the side walls", (r["W"] - r.width) / 2, r["c"])
    r.same("the gap at front and back", (r["D"] - r.height) / 2, r["c"])


@measures("hex_base")
def hex_base(r: Reading) -> None:
    """A hexagon whose sides keep clear of those of the tube: flat to flat, less two gaps."""
    tube = math.sqrt(3) * r["a"]
    r.same("the gap at the walls", (tube - r.height) / 2, r["c"])
    corners = [p for p in r.cut_points() if abs(p[1] - r.height / 2) <= r.near]
    r.same("corner to corner", r.width, r.height * 2 / math.sqrt(3))
    r.same("the corners at both ends", len(set(corners)), 2)
    r.says("side", r.width / 2)


@measures("flap_extension")
def flap_extension(r: Reading) -> None:
    """A strip that covers a tuck and reaches past it."""
    r.same("the width", r.width, r["W"])
    r.same("what reaches past the tuck", r.height - r["tuck"], r["reach"])
    free_edge(r, 0.0, r.width, r.height - r["tuck"], 0.0)


@measures("handle_strip")
def handle_strip(r: Reading) -> None:
    """Strips lapped end to end are as long as the handle."""
    strips = r["strips"]
    r.same("the strips", float(r.piece.count), strips)
    r.same("the handle", strips * r.width - (strips - 1) * r["lap"], r["length"])
    r.same("the width", r.height, r["width"])
