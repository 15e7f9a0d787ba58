"""Joining what is longer than the sheet: how many strips, where the joins go, what fits at most."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from catalogue.calc.flat_patterns.numbers import root, said
from catalogue.calc.flat_patterns.pattern import ZERO, BadSize, FlatPattern

# forms that are a row of panels and a tab: their body may be joined at any corner fold
TUBES = frozenset(
    {
        "one_piece_bag",
        "pocket_box",
        "tuck_box",
        "gable_box",
        "sleeve",
        "hex_tube",
        "belly_band",
    }
)


@dataclass(frozen=True, slots=True)
class JoinedPart:
    """The blank of one part of a body."""

    width: Fraction
    height: Fraction


@dataclass(frozen=True, slots=True)
class JoinedBody:
    """A body in several parts, each with a tab behind the next, joined at corner folds."""

    parts: tuple[JoinedPart, ...]
    lap: Fraction
    advice: str


def strips_round(perimeter: Fraction, strip: Fraction, lap: Fraction) -> int:
    """Return how many strips close round a perimeter; every join, the last too, eats a lap."""
    return _ceiling(perimeter / _useful(strip, lap))


def strips_along(length: Fraction, strip: Fraction, lap: Fraction) -> int:
    """Return how many strips reach a length with open ends, a handle for one."""
    return max(1, _ceiling((length - lap) / _useful(strip, lap)))


def longest_on_diagonal(side: Fraction, width: Fraction) -> Fraction:
    """Return how long a strip laid corner to corner on a square sheet can be.

    Wasteful, but without a join.
    """
    longest = side * root(Fraction(2)) - width
    if longest <= 0:
        raise BadSize("The strip is wider than the sheet from corner to corner.", where="width")
    return longest


@dataclass(frozen=True, slots=True)
class BagRoom:
    """The largest bag of one piece: W + D and H + D at most."""

    width_and_depth: Fraction
    height_and_depth: Fraction


def largest_one_piece_bag(along: Fraction, across: Fraction, lap: Fraction) -> BagRoom:
    """Return the room for a bag laid with its width along one side of a sheet.

    In two pieces W + D may be twice as much.
    """
    return BagRoom(_useful(along, lap) / 2, across)


def join_advice(pattern: FlatPattern, along: Fraction, across: Fraction) -> str:
    """Return how a thing is made of a sheet too small for its blank; empty where it is not."""
    body = join_body(pattern, along, across)
    words = [body.advice] if body else []
    match pattern.form:
        case "one_piece_bag":
            words.append(_say_room(pattern, along, across))
        case "belly_band" if body is None:
            words.append(_say_band(pattern, along, across))
        case "handle_strip":
            words += _say_handle(pattern, along, across)
    return " ".join(filter(None, words))


def _say_room(pattern: FlatPattern, along: Fraction, across: Fraction) -> str:
    lap, unit = pattern.inputs["g"], pattern.unit
    if max(along, across) <= lap:
        return ""
    room = largest_one_piece_bag(max(along, across), min(along, across), lap)
    return (
        f"In one piece it takes a bag of width and depth {said(room.width_and_depth, unit)} "
        f"together, height and depth {said(room.height_and_depth, unit)} together."
    )


def _say_band(pattern: FlatPattern, along: Fraction, across: Fraction) -> str:
    """Share a band out over plain strips, where a wall of it is longer than the sheet."""
    (piece,) = pattern.pieces
    strip, lap = max(along, across), pattern.inputs["lap"]
    if piece.height > min(along, across) or strip <= lap:
        return ""
    count = strips_round(piece.x_scores[-1], strip, lap)
    return f"Of {count} strips {said(strip, pattern.unit)} long, each lapped onto the next."


def _say_handle(pattern: FlatPattern, along: Fraction, across: Fraction) -> list[str]:
    width, length, lap = (pattern.inputs[name] for name in ("width", "length", "lap"))
    strip = max(along, across)
    if width > min(along, across) or strip <= lap:
        return []
    count = strips_along(length, strip, lap)
    words = [f"Of {count} strips lapped by {said(lap, pattern.unit)} it fits."]
    if along == across and strip < length <= longest_on_diagonal(along, width):
        words.append("In one piece it fits from corner to corner: wasteful, but without a join.")
    return words


def join_body(pattern: FlatPattern, along: Fraction, across: Fraction) -> JoinedBody | None:
    """Return the fewest parts a tube is cut in so that each fits a sheet, upright or turned.

    Every part carries a tab as wide as the pattern's own, so the joins are at corner folds. None
    when the form is not a tube, or a single panel is larger than the sheet.
    """
    if pattern.form not in TUBES:
        return None
    (piece,) = pattern.pieces
    edges = (ZERO, *piece.x_scores)
    panels = [right - left for left, right in pairwise(edges)]
    lap = piece.width - edges[-1]
    found = [
        groups
        for room, other in ((along, across), (across, along))
        if piece.height <= other and (groups := _group(panels, room - lap)) is not None
    ]
    if not found:
        return None
    parts = tuple(
        JoinedPart(sum(panels[start:end], lap), piece.height) for start, end in min(found, key=len)
    )
    unit = pattern.unit
    if len(parts) == 1:
        advice = "One piece fits."
    else:
        widths = ", ".join(said(part.width, unit) for part in parts)
        advice = (
            f"In {len(parts)} parts {widths} wide, {said(piece.height, unit)} high: join them at "
            f"corner folds, each with a tab of {said(lap, unit)}, "
            f"{'levelled at the base score' if piece.y_scores else 'edges level'}."
        )
    return JoinedBody(parts, lap, advice)


def _group(panels: Sequence[Fraction], room: Fraction) -> list[tuple[int, int]] | None:
    """Share panels out in order over the fewest parts, the parts as even as that allows."""
    if max(panels) > room:
        return None
    count = len(_filled(panels, room))
    # the narrowest room that still gives as few parts makes them even: two equal halves of a bag
    sums = sorted(
        {
            sum(panels[start:end], ZERO)
            for start in range(len(panels))
            for end in range(start + 1, len(panels) + 1)
        }
    )
    even = next(
        each for each in sums if each >= max(panels) and len(_filled(panels, each)) == count
    )
    return _filled(panels, even)


def _filled(panels: Sequence[Fraction], room: Fraction) -> list[tuple[int, int]]:
    groups, start, used = [], 0, ZERO
    for at, width in enumerate(panels):
        if used + width > room:
            groups.append((start, at))
            start, used = at, ZERO
        used += width
    return [*groups, (start, len(panels))]


def _useful(strip: Fraction, lap: Fraction) -> Fraction:
    if lap < 0 or strip <= lap:
        raise BadSize("A strip must be longer than its lap.", where="strip")
    return strip - lap


def _ceiling(number: Fraction) -> int:
    return -(-number.numerator // number.denominator)
