"""The parts of a cost bar fill it from end to end, in their proportion."""

from decimal import Decimal
from itertools import pairwise

import pytest

from maker.web.cost_bar import BarPart, cost_bar


def bar_of(*amounts: str) -> list[tuple[str, str]]:
    parts = [BarPart(f"part {n}", Decimal(amount), amount) for n, amount in enumerate(amounts)]
    return [(part.x, part.width) for part in cost_bar(parts, total_text="").segments]


def test_parts_stand_side_by_side_in_proportion() -> None:
    assert bar_of("1", "2", "1") == [("0.00", "25.00"), ("25.00", "50.00"), ("75.00", "25.00")]


@pytest.mark.parametrize("amounts", [("1", "1", "1"), ("0.01", "0.01", "99.98"), ("7",) * 11])
def test_parts_fill_the_bar_to_its_end(amounts: tuple[str, ...]) -> None:
    segments = bar_of(*amounts)
    ends = [Decimal(x) + Decimal(width) for x, width in segments]
    assert [Decimal(x) for x, _ in segments] == [Decimal(0), *ends[:-1]]
    assert ends[-1] == 100


def test_parts_of_nothing_are_left_out_and_nothing_at_all_is_an_empty_bar() -> None:
    assert bar_of("0", "5") == [("0.00", "100.00")]
    assert bar_of("0", "0") == []


def test_a_negative_part_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        bar_of("5", "-1")


def test_neighbours_never_share_a_pattern() -> None:
    parts = [BarPart("part", Decimal(1), "1")] * 20
    patterns = [part.pattern for part in cost_bar(parts, total_text="").segments]
    assert all(left != right for left, right in pairwise(patterns))
    assert set(patterns) == {1, 2, 3, 4, 5, 6, 7, 8}
