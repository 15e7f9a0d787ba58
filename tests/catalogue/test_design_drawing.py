"""The drawing of a design's pieces is true to proportion, inside its frame, without overlaps."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from catalogue.recipes.drawing import MOST_PIECES, draw_blanks
from catalogue.recipes.models import Piece

lengths = st.decimals(min_value=Decimal("0.5"), max_value=2000, places=1)
pieces = st.builds(
    Piece,
    width_mm=lengths,
    height_mm=lengths,
    shape=st.sampled_from(["rectangle", "die"]),
    die_margin_mm=st.sampled_from([Decimal(0), Decimal(3)]),
)


def _boxes(drawing):
    return [
        tuple(float(value) for value in (one.x, one.y, one.width, one.height))
        for one in drawing.blanks
    ]


@given(st.lists(pieces, min_size=1, max_size=12))
def test_pieces_lie_inside_the_frame_and_beside_each_other(rows):
    drawing = draw_blanks(rows)
    boxes = _boxes(drawing)
    assert len(boxes) == len(rows)
    for x, y, width, height in boxes:
        assert x >= 0
        assert y >= 0
        assert x + width <= float(drawing.width) + 0.2
        assert y + height <= float(drawing.height) + 0.6
    for number, (x, y, width, height) in enumerate(boxes):
        for left, top, wide, high in boxes[:number]:
            apart = left + wide <= x or x + width <= left or top + high <= y or y + height <= top
            assert apart


def test_one_scale_holds_for_all_and_a_dies_margin_is_drawn():
    rows = [
        Piece(width_mm=Decimal(200), height_mm=Decimal(100), shape="rectangle"),
        Piece(width_mm=Decimal(44), height_mm=Decimal(44), shape="die", die_margin_mm=Decimal(3)),
    ]
    drawing = draw_blanks(rows)
    (_, _, width, height), (_, _, blank, _) = _boxes(drawing)
    assert abs(width / height - 2) < 0.01
    # the blank is 44 + 2 x 3 = 50 mm, a quarter of 200 mm
    assert abs(blank / width - 0.25) < 0.001
    assert drawing.blanks[1].die is not None
    assert abs(float(drawing.blanks[1].die[2]) / blank - 0.88) < 0.01
    assert "inner one is the die" in drawing.caption


def test_no_pieces_is_no_drawing_and_very_many_are_cut_short():
    assert draw_blanks([]).blanks == ()
    rows = [Piece(width_mm=Decimal(10), height_mm=Decimal(10))] * (MOST_PIECES + 5)
    assert len(draw_blanks(rows).blanks) == MOST_PIECES
