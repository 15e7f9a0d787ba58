"""Lower bounds on the sheets or the cost of a cutting problem, with reasons in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from catalogue.calc.cutting.integers import CuttingProblem


@dataclass(frozen=True, slots=True)
class Bound:
    """No plan costs less than `value` (in whole price units, or sheets), because of `reason`."""

    value: int
    reason: str


@dataclass(frozen=True, slots=True)
class _Side:
    """The sheet and its pieces seen in one direction: rows run `along`, and stack `across`."""

    along: int
    across: int
    smallest_along: tuple[int, ...]
    smallest_across: tuple[int, ...]
    words: tuple[str, str]


def best_simple_bound(problem: CuttingProblem) -> Bound:
    """Return the strongest bound that needs no search; of equals, the one easiest to explain."""
    best = Bound(0, "No plan costs less than nothing.")
    for bound in _simple_bounds(problem):
        if bound.value > best.value:
            best = bound
    return best


def worth_bound(
    problem: CuttingProblem, worth: list[int], scarcity: list[int], most: list[int], scale: Fraction
) -> Bound:
    """Return the bound from a worth put on each piece.

    `most` is the exact greatest worth one sheet of each kind can hold; `scarcity` is what the last
    sheet of a limited kind is worth on top of its price (linear programming duality).
    """
    # a free sheet must be worth no more than its scarcity, or the pieces would be worth nothing
    scarcity = [
        max(scarce, held) if sheet.cost == 0 and sheet.available is not None else scarce
        for sheet, scarce, held in zip(problem.sheets, scarcity, most, strict=True)
    ]
    factor: Fraction | None = None
    for sheet, scarce, held in zip(problem.sheets, scarcity, most, strict=True):
        if held > scarce:
            limit = Fraction(sheet.cost) / (held - scarce)
            factor = limit if factor is None else min(factor, limit)
    if factor is None:
        return Bound(0, "")
    total = sum(count * value for count, value in zip(problem.counts, worth, strict=True))
    total -= sum(
        scarce * (sheet.available or 0)
        for sheet, scarce in zip(problem.sheets, scarcity, strict=True)
    )
    least = factor * total
    value = next_reachable_cost(problem, -(-least.numerator // least.denominator))
    return Bound(value, _worth_reason(problem, worth, factor, least))


def tried_reason(problem: CuttingProblem, cost: int) -> str:
    """Say that all ways were tried."""
    least = f"{cost} {_sheets(cost)}" if len(problem.sheets) == 1 else _money(problem, cost)
    rounds = problem.rounds
    return (
        "Every way to share the pieces among sheets was tried, with every layout that can be cut "
        f"in {rounds} {'round' if rounds == 1 else 'rounds'}: none takes less than {least}."
    )


def next_reachable_cost(problem: CuttingProblem, least: int) -> int:
    """Return the smallest sum of sheet prices that is not below `least`."""
    costs = sorted({sheet.cost for sheet in problem.sheets if sheet.cost})
    if least <= 0:
        return 0
    if costs in ([], [1]):
        return least
    top = least + costs[-1]
    if top > 4_000_000:
        return least
    mask = (1 << (top + 1)) - 1
    reachable = 1
    for cost in costs:
        step = cost
        while step <= top:
            reachable |= (reachable << step) & mask
            step *= 2
    above = reachable >> least
    return least + (above & -above).bit_length() - 1


def _simple_bounds(problem: CuttingProblem) -> Iterator[Bound]:
    yield _area_bound(problem)
    if len(problem.sheets) == 1:
        for side in (_side(problem, 0), _side(problem, 1)):
            yield from _row_bounds(problem, side)
        for kind in range(len(problem.counts)):
            yield _grid_bound(problem, kind)


def _area_bound(problem: CuttingProblem) -> Bound:
    total = sum(
        count * next(problem.variants_of(kind)).width * next(problem.variants_of(kind)).height
        for kind, count in enumerate(problem.counts)
    )
    least = _least_for_area(problem, total)
    value = next_reachable_cost(problem, -(-least.numerator // least.denominator))
    if len(problem.sheets) == 1:
        said = (
            f"The pieces together cover {_short(least)} of a sheet, so at least "
            f"{value} {_sheets(value)}."
        )
    else:
        said = (
            "The pieces together cover so much that even the sheets with the cheapest area, "
            f"as many as there are and cut without waste, cost {_money(problem, value)}."
        )
    return Bound(value, said)


def _least_for_area(problem: CuttingProblem, area: int) -> Fraction:
    """Return what so much area costs when sheets can be bought in parts, the cheapest first."""
    sheets = [sheet for sheet in problem.sheets if sheet.variants]
    least = Fraction(0)
    for sheet in sorted(sheets, key=lambda sheet: Fraction(sheet.cost, sheet.width * sheet.height)):
        room = sheet.width * sheet.height
        taken = area if sheet.available is None else min(area, sheet.available * room)
        least += Fraction(sheet.cost * taken, room)
        area -= taken
    return least


def _grid_bound(problem: CuttingProblem, kind: int) -> Bound:
    sheet = problem.sheets[0]
    ways = [problem.variants[i] for i in sheet.variants if problem.variants[i].kind == kind]
    if len(ways) != 1:
        return Bound(0, "")
    across, down = sheet.width // ways[0].width, sheet.height // ways[0].height
    count = problem.counts[kind]
    value = -(-count // (across * down))
    name = problem.names[kind]
    return Bound(
        value,
        f"At most {across} x {down} = {across * down} {name} fit on a sheet: "
        f"{count} / {across * down} = {_short(Fraction(count, across * down))}, "
        f"so at least {value} {_sheets(value)}.",
    )


def _side(problem: CuttingProblem, direction: int) -> _Side:
    sheet = problem.sheets[0]
    widths = [0] * len(problem.counts)
    heights = [0] * len(problem.counts)
    for index in sheet.variants:
        variant = problem.variants[index]
        known = widths[variant.kind] or variant.width, heights[variant.kind] or variant.height
        widths[variant.kind] = min(known[0], variant.width)
        heights[variant.kind] = min(known[1], variant.height)
    if direction == 0:
        return _Side(sheet.width, sheet.height, tuple(widths), tuple(heights), ("wide", "height"))
    return _Side(sheet.height, sheet.width, tuple(heights), tuple(widths), ("high", "width"))


def _row_bounds(problem: CuttingProblem, side: _Side) -> Iterator[Bound]:
    """Pieces over half as wide as the sheet cannot lie side by side, so their heights add up.

    One kind of narrower piece joins the sum, in full rows, when it cannot lie beside any of them:
    equal pieces that do not turn are packed no better than in rows and columns.
    """
    wide = [k for k, size in enumerate(side.smallest_along) if 2 * size > side.along]
    if wide:
        yield _stack_bound(problem, side, wide, None)
    for kind, size in enumerate(side.smallest_along):
        ways = {(v.width, v.height) for v in problem.variants_of(kind)}
        if not size or kind in wide or len(ways) != 1:
            continue
        beside = [k for k in wide if side.smallest_along[k] + size > side.along]
        if beside:
            yield _stack_bound(problem, side, beside, kind)


def _stack_bound(
    problem: CuttingProblem, side: _Side, wide: list[int], narrow: int | None
) -> Bound:
    parts = [(side.smallest_across[kind], problem.counts[kind]) for kind in wide]
    if narrow is not None:
        in_a_row = side.along // side.smallest_along[narrow]
        parts.append((side.smallest_across[narrow], -(-problem.counts[narrow] // in_a_row)))
    total = sum(height * rows for height, rows in parts)
    usable = _fullest(side.across, parts)
    value = -(-total // usable)
    names = [problem.names[kind] for kind in wide]
    direction, measure = side.words
    if len(wide) == 1 and narrow is None:
        most = usable // side.smallest_across[wide[0]]
        share = Fraction(problem.counts[wide[0]], most)
        said = (
            f"Each {names[0]} is more than half as {direction} as the sheet, so at most {most} fit "
            f"on a sheet: {problem.counts[wide[0]]} / {most} = {_short(share)}, "
            f"so at least {value} {_sheets(value)}."
        )
        return Bound(value, said)
    if narrow is not None:
        rows = parts[-1][1]
        names.append(f"{rows} {'row' if rows == 1 else 'rows'} of {problem.names[narrow]}")
    gaps = " with gaps" if problem.gap else ""
    said = (
        f"{_listed(names)} cannot lie side by side, so their rows add up to "
        f"{problem.length(total)} of {measure}{gaps}, and a sheet takes at most "
        f"{problem.length(usable)}: {problem.length(total)} / {problem.length(usable)} = "
        f"{_short(Fraction(total, usable))}, so at least {value} {_sheets(value)}."
    )
    return Bound(value, said)


def _fullest(room: int, parts: list[tuple[int, int]]) -> int:
    """Return the largest sum of row heights that fits into the room."""
    if room > 5_000_000:
        return room
    mask = (1 << (room + 1)) - 1
    bits = 1
    for height, rows in parts:
        left, step = min(rows, room // height), 1
        while left:
            step = min(step, left)
            bits |= (bits << (height * step)) & mask
            left -= step
            step *= 2
    return bits.bit_length() - 1


def _worth_reason(
    problem: CuttingProblem, worth: list[int], factor: Fraction, least: Fraction
) -> str:
    shares = ", ".join(
        f"{name} {_short(factor * value, 4)}"
        for name, value in zip(problem.names[:12], worth, strict=False)
        if value
    )
    if len(problem.names) > 12:
        shares += ", and so on"
    if len(problem.sheets) == 1:
        least_sheets = -(-least.numerator // least.denominator)
        return (
            f"Count each piece as a share of a sheet ({shares}): no sheet that can be cut holds "
            f"more than 1 in all, and the pieces add up to {_short(least, 4)}, so at least "
            f"{least_sheets} {_sheets(least_sheets)}."
        )
    return (
        f"Give each piece a share of the price ({_priced(problem, worth, factor)}): no sheet that "
        f"can be cut holds more than its own price, and the pieces add up to "
        f"{_money(problem, least)}."
    )


def _priced(problem: CuttingProblem, worth: list[int], factor: Fraction) -> str:
    shares = [
        f"{name} {_money(problem, factor * value)}"
        for name, value in zip(problem.names, worth, strict=True)
        if value
    ]
    return ", ".join([*shares[:12], *(["and so on"] if len(shares) > 12 else [])])


def _money(problem: CuttingProblem, value: Fraction | int) -> str:
    return _short(Fraction(value) * problem.price_unit, 4)


def _short(value: Fraction, places: int = 2) -> str:
    """Return the number for reading, cut (not rounded) to a few places."""
    cut = int(value * 10**places)
    whole, rest = divmod(cut, 10**places)
    digits = f"{rest:0{places}d}".rstrip("0")
    return f"{whole}.{digits}" if digits else str(whole)


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _sheets(value: int) -> str:
    return "sheet" if value == 1 else "sheets"
