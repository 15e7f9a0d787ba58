"""Orders polygons in space from the back to the front, cutting those that pass through others."""

from collections.abc import Sequence

from catalogue.calc.folded.space import Facet, Vector, dot, kept_part

# of the largest measure of the thing: nearer than this is on the plane
CLOSE = 2e-4
# facets tried as the next dividing plane
TRIED = 6


def back_to_front(facets: Sequence[Facet], *, eye: Vector, size: float) -> list[Facet]:
    """Return the facets as a painter paints them, seen from far off in direction `eye`.

    The plane of one facet divides the others into those before and those behind it; a facet on
    both sides is cut in two (binary space partition: H. Fuchs, Z. M. Kedem and B. F. Naylor, "On
    Visible Surface Generation by A Priori Tree Structures", Computer Graphics 14 (1980), 124-133).
    """
    found: list[Facet] = []
    # (facets still to be divided) or (facets ready to be painted)
    waiting: list[tuple[list[Facet], bool]] = [(list(facets), False)]
    while waiting:
        group, is_ready = waiting.pop()
        if is_ready or len(group) < 2:
            found.extend(group)
            continue
        plane = min(
            group[:: max(1, len(group) // TRIED)], key=lambda one: _crossed(one, group, size)
        )
        before, on, behind = _divided(plane, group, size)
        if dot(plane.normal, eye) < 0:
            before, behind = behind, before
        # the last one put down is taken up first
        waiting += [(before, False), (on, True), (behind, False)]
    return found


def _heights(plane: Facet, facet: Facet, size: float) -> list[float]:
    base = dot(plane.normal, plane.points[0])
    heights = [dot(plane.normal, point) - base for point in facet.points]
    return [0.0 if abs(height) < CLOSE * size else height for height in heights]


def _crossed(plane: Facet, group: list[Facet], size: float) -> int:
    count = 0
    for facet in group:
        heights = _heights(plane, facet, size)
        count += min(heights) < 0 < max(heights)
    return count


def _divided(
    plane: Facet, group: list[Facet], size: float
) -> tuple[list[Facet], list[Facet], list[Facet]]:
    before: list[Facet] = []
    on: list[Facet] = []
    behind: list[Facet] = []
    for facet in group:
        heights = _heights(plane, facet, size)
        if facet is plane or (min(heights) == 0 == max(heights)):
            on.append(facet)
        elif min(heights) >= 0:
            before.append(facet)
        elif max(heights) <= 0:
            behind.append(facet)
        else:
            before += kept_part(facet, heights, 1)
            behind += kept_part(facet, heights, -1)
    return before, on, behind
