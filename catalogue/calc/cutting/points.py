"""The lengths a sheet can be cut at: sums of piece sizes, and fewer that do as well."""

from __future__ import annotations

import bisect
from collections.abc import Sequence

MOST_POINTS = 10_000
MOST_UNITS = 8_000_000


class TooManyPoints(Exception):
    """The sizes have so little in common that exact tables would not fit in time and memory."""


def points_for(
    room: int, kinds: Sequence[int], sizes: Sequence[int], counts: Sequence[int]
) -> list[int]:
    """Return the lengths that tables need: all reachable ones, or fewer that do as well.

    A section may be widened to what its neighbours leave, so only lengths that are the largest
    reachable one beside some reachable length matter ("reduced raster points" of G. Scheithauer
    and J. Terno). That argument needs sums with any number of copies; sums within the counts are a
    valid choice too, and the shorter list is taken.
    """
    within = normal_points(room, kinds, sizes, counts)
    plenty = [room // min(sizes)] * len(counts)
    try:
        free = normal_points(room, kinds, sizes, plenty)
    except TooManyPoints:
        free = None
    if free is not None:
        raster = sorted({free[bisect.bisect_right(free, room - point) - 1] for point in free})
        if len(raster) < len(within):
            within = raster
    if len(within) > MOST_POINTS:
        raise TooManyPoints
    return within


def normal_points(
    room: int, kinds: Sequence[int], sizes: Sequence[int], counts: Sequence[int]
) -> list[int]:
    """Return all lengths up to `room` that the pieces at hand can add up to, 0 included."""
    if room > MOST_UNITS:
        return _few_points(room, kinds, sizes, counts)
    bits = 1
    mask = (1 << (room + 1)) - 1
    for kind, size in set(zip(kinds, sizes, strict=True)):
        left, step = min(counts[kind], room // size), 1
        while left:
            step = min(step, left)
            bits |= (bits << (size * step)) & mask
            left -= step
            step *= 2
    if bits.bit_count() > 4 * MOST_POINTS:
        raise TooManyPoints
    return [at for at, digit in enumerate(bin(bits)[:1:-1]) if digit == "1"]


def _few_points(
    room: int, kinds: Sequence[int], sizes: Sequence[int], counts: Sequence[int]
) -> list[int]:
    """Return the same for a sheet of very many units, where only few sums can be kept."""
    reachable = {0}
    for kind, size in set(zip(kinds, sizes, strict=True)):
        for _ in range(min(counts[kind], room // size)):
            grown = {point + size for point in reachable if point + size <= room}
            if grown <= reachable:
                break
            reachable |= grown
            if len(reachable) > MOST_POINTS:
                raise TooManyPoints
    return sorted(reachable)
