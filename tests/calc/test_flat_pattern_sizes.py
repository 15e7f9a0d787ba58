"""Sizes in inches and in millimetres, on a ruler, at their limits, and sizes that are none."""

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.calc.flat_patterns.pattern import BadSize, UnknownForm
from tests.calc.flat_pattern_sizes import IRRATIONAL, foldable, inputs_of

MM = Fraction(127, 5)


@settings(max_examples=100, deadline=None)
@given(foldable())
@example(("diagonal_envelope", {"w": Fraction(3, 4), "h": Fraction(3, 4)}))
def test_inch_and_mm_give_the_same_blank(case):
    form, sizes = case
    inches = flat_pattern(form, sizes, unit="in")
    asked = {each.name: each for each in FORMS[form].inputs}
    plain = {
        name: value * (1 if not asked[name].is_length else MM)
        for name, value in inches.inputs.items()
    }
    metric = flat_pattern(form, plain, unit="mm")
    for one, other in zip(inches.pieces, metric.pieces, strict=True):
        for mine, yours in (
            ((one.width, one.height), (other.width, other.height)),
            (one.x_scores, other.x_scores),
            (one.y_scores, other.y_scores),
            ((one.glue_bead,), (other.glue_bead,)),
        ):
            assert [float(n * MM) for n in mine] == pytest.approx(
                [float(n) for n in yours], abs=1e-9
            )
        assert [h.angle_deg for h in one.hinges] == pytest.approx(
            [h.angle_deg for h in other.hinges]
        )
    if inches.volume is not None:
        assert float(inches.volume * MM**3) == pytest.approx(float(metric.volume), rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(foldable(tuple(form for form in FORMS if form not in IRRATIONAL)))
def test_rational_forms_are_exact(case):
    form, sizes = case
    (piece,) = flat_pattern(form, sizes, unit="in").pieces
    # sizes are 128ths, defaults fiftieths, halved in a sleeve and shared over up to four strips
    for length in (piece.width, piece.height, *piece.x_scores, *piece.y_scores):
        assert isinstance(length, Fraction)
        assert (length * 1024 * 25 * 9).denominator == 1


def test_thirds_stay_thirds():
    (piece,) = flat_pattern(
        "hex_tube", {"a": Fraction(121, 3), "H": Fraction(100)}, unit="mm"
    ).pieces
    assert piece.x_scores[-1] == 242


@pytest.mark.parametrize("step", [Fraction(1, 2), Fraction(1), Fraction(3, 10)])
def test_a_ruler_rounds_widths_and_then_adds_up(step):
    # six walls of 40.333 mm: rounded by position they come out unequal, by width they do not
    sizes = {"a": Fraction("40.333"), "H": Fraction("110.1")}
    (piece,) = flat_pattern("hex_tube", sizes, ruler=step).pieces
    widths = {after - before for before, after in pairwise((0, *piece.x_scores))}
    assert len(widths) == 1
    assert next(iter(widths)) % step == 0


def test_a_ruler_says_by_how_much_a_size_moved():
    pattern = flat_pattern(
        "hex_tube", {"a": Fraction("40.333"), "H": Fraction(110)}, ruler=Fraction(1, 2)
    )
    assert pattern.pieces[0].x_scores[0] == Fraction("40.5")
    assert "On the ruler 40.333 mm becomes 40.5 mm (+0.167 mm)." in pattern.checks


@settings(max_examples=100, deadline=None)
@given(foldable(("two_piece_bag", "one_piece_bag", "tuck_box", "tray", "sleeve", "belly_band")))
def test_paired_edges_stay_equal_on_a_ruler(case):
    form, sizes = case
    step = Fraction(1, 16)
    (piece,) = flat_pattern(form, sizes, unit="in", ruler=step).pieces
    assert all(at % step == 0 for at in (*piece.x_scores, *piece.y_scores))
    assert piece.width % step == 0
    widths = [after - before for before, after in pairwise((0, *piece.x_scores, piece.width))]
    if form == "tray":
        assert widths[0] == widths[2]
    elif form != "two_piece_bag":
        assert widths[0] == widths[2]
        # twins differ by the sheet at most, which rounds to one step
        assert abs(widths[1] - widths[3]) <= step + sizes.get("t", 0)


@pytest.mark.parametrize(
    ("form", "sizes", "where", "nearest"),
    [
        # by hand from the limits of each form
        ("two_piece_bag", {"W": 100, "D": 101, "H": 50}, "D", 100),
        ("one_piece_bag", {"W": 100, "D": 120, "H": 50}, "D", 100),
        ("two_piece_bag", {"W": 100, "D": 80, "H": 50, "B": 30}, "B", 40),
        ("two_piece_bag", {"W": 100, "D": 80, "H": 50, "B": 90}, "B", 80),
        ("two_piece_bag", {"W": 100, "D": 80, "H": 50, "g": 150}, "g", 100),
        ("bag_lid", {"W": 100, "D": 50, "drop": 130, "H": 120}, "drop", 120),
        ("tuck_box", {"W": 60, "D": 35, "H": 90, "dust": 31}, "dust", 30),
        ("tuck_box", {"W": 200, "D": 35, "H": 90, "tuck": 12, "dust": 60}, "dust", 47),
        ("tuck_box", {"W": 60, "D": 70, "H": 90, "glued_base": 1}, "D", 60),
        ("pocket_box", {"W": 60, "d": 50, "H": 90, "dust": 31}, "dust", 30),
        ("pocket_box", {"W": 60, "d": 70, "H": 90}, "d", 60),
        ("wallet", {"w": 92, "h": 60, "flap": 60}, "flap", "59.5"),
        ("gable_box", {"W": 50, "D": 60, "H": 70, "G": 20}, "D", 50),
        ("gable_box", {"W": 60, "D": 40, "H": 70, "G": 21, "t": 2}, "t", 1),
        ("cup_base", {"r1": 28, "r2": 40, "h": 80}, "r2", 28),
        ("tray_lid", {"L": 100, "W": 70, "Hl": 40, "H": 35}, "Hl", 35),
        ("pillow_box", {"chord": 80, "T": 90, "L": 200}, "T", 80),
        ("pillow_box", {"chord": 80, "T": 40, "L": 30}, "L", "40.5"),
        ("diagonal_envelope", {"w": 90, "h": 120}, "w", 120),
        ("frustum", {"r1": 40, "r2": 40, "h": 80}, "r2", "39.2"),
        ("hex_tray", {"a": 40, "H": 20, "g": 11}, "g", 10),
        ("tag", {"w": 30, "h": 60, "hole": 20}, "hole", 12),
        ("tray", {"L": 100, "W": 50, "H": 20, "t": 6}, "t", 5),
        ("tray", {"L": 0, "W": 50, "H": 20}, "L", "0.5"),
        ("tray", {"L": -3, "W": 50, "H": 20}, "L", "0.5"),
        ("tray", {"L": "0.01", "W": 50, "H": 20}, "L", "0.5"),
        ("tray", {"L": 10**9, "W": 50, "H": 20}, "L", 5000),
        ("tray", {"L": 100, "W": 50, "H": 20, "t": -1}, "t", 0),
    ],
)
def test_a_size_outside_its_limits_is_refused_with_the_nearest_that_works(
    form, sizes, where, nearest
):
    sizes = {name: Fraction(size) for name, size in sizes.items()}
    with pytest.raises(BadSize) as refused:
        flat_pattern(form, sizes)
    assert refused.value.where == where
    assert refused.value.nearest == Fraction(nearest)
    assert "Nearest that works" in refused.value.message
    flat_pattern(form, {**sizes, where: refused.value.nearest})


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_whatever_is_typed_is_folded_or_refused_with_a_size_that_works(data):
    form = FORMS[data.draw(st.sampled_from(sorted(FORMS)))]
    numbers = st.fractions(min_value=-10, max_value=7000, max_denominator=64)
    sizes = {
        each.name: data.draw(numbers)
        for each in form.inputs
        if not each.is_optional or data.draw(st.booleans())
    }
    refusal = refusal_of(form.name, sizes)
    if refusal is not None:
        assert refusal.where in {each.name for each in form.inputs}
        if refusal.nearest is not None:
            assert refusal_of(form.name, {**sizes, refusal.where: refusal.nearest}) is None


def refusal_of(form, sizes):
    try:
        flat_pattern(form, sizes)
    except BadSize as refusal:
        return refusal
    return None


@pytest.mark.parametrize(
    ("sizes", "where"),
    [
        ({}, "L"),
        ({"L": Fraction(100), "W": Fraction(50)}, "H"),
        ({"L": Fraction(1), "W": Fraction(1), "H": Fraction(1), "q": Fraction(1)}, "q"),
        ({"L": 1.5, "W": Fraction(50), "H": Fraction(20)}, "L"),
        ({"L": Decimal(100), "W": Fraction(50), "H": Fraction(20)}, "L"),
        ({"L": True, "W": Fraction(50), "H": Fraction(20)}, "L"),
        ({"L": "100", "W": Fraction(50), "H": Fraction(20)}, "L"),
        ({"L": Fraction(10**80 + 1, 10**79), "W": Fraction(50), "H": Fraction(20)}, "L"),
    ],
)
def test_what_is_no_size_is_refused(sizes, where):
    with pytest.raises(BadSize) as refused:
        flat_pattern("tray", sizes)
    assert refused.value.where == where


def test_a_wrong_form_unit_or_ruler_is_refused():
    sizes, _ = inputs_of("tray")
    with pytest.raises(UnknownForm):
        flat_pattern("crate", sizes)
    with pytest.raises(BadSize, match="unit"):
        flat_pattern("tray", sizes, unit="cm")
    for step in (Fraction(0), Fraction(-1), Fraction(26)):
        with pytest.raises(BadSize) as refused:
            flat_pattern("tray", sizes, ruler=step)
        assert refused.value.where == "ruler"
    with pytest.raises(BadSize) as refused:
        flat_pattern("hex_tray", {"a": Fraction(5), "H": Fraction(4)}, ruler=Fraction(20))
    assert refused.value.where == "ruler"
