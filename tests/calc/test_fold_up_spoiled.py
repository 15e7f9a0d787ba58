"""The fold-up checks notice every single number that is one per cent off, in every form."""

from dataclasses import replace
from fractions import Fraction

import pytest

from catalogue.calc.flat_patterns import flat_pattern
from catalogue.calc.flat_patterns.pattern import BadSize
from tests.calc.fold_up import faults_of_panels, faults_of_the_form
from tests.calc.fold_up_sizes import SIZES, Dice, some_pattern
from tests.calc.fold_up_spoiled import WRONG, spoiled_measures, spoiled_panels, spoiled_widths

by_form = pytest.mark.parametrize("form", sorted(SIZES))
HANGING = ("bag_lid", "wallet", "flap_extension")
with_edge = pytest.mark.parametrize(
    ("form", "edge"), [(form, edge) for form in HANGING for edge in range(4)]
)
CHOICES = {"edge", "gusset", "glued_base", "reverse", "folded", "strips"}  # no lengths
LIMITS = {("tray_lid", "H"), ("bag_lid", "H")}  # only how deep the lid may be


@by_form
def test_a_wrong_measure_is_noticed(form):
    pattern = some_pattern(form, 0)
    unnoticed = [name for name, worse in spoiled_measures(pattern) if not faults_of_the_form(worse)]
    assert unnoticed == []


@by_form
def test_a_wrong_panel_fold_or_cut_is_noticed(form):
    # a gable roof closes exactly only in a sheet without thickness
    pattern = some_pattern(form, 0, **({"t": Fraction(0)} if form == "gable_box" else {}))
    unnoticed = [name for name, worse in spoiled_panels(pattern) if not is_noticed(worse)]
    assert unnoticed == []


def is_noticed(pattern):
    """Whether panels and folds, or else the scores, are found wrong."""
    return any(True for _ in faults_of_panels(pattern)) or bool(faults_of_the_form(pattern))


@by_form
def test_a_wrong_formula_is_noticed_when_everything_else_follows_it(form):
    pattern = some_pattern(form, 0)
    unnoticed = [
        name
        for name, worse in spoiled_widths(pattern)
        if not [fault for fault in faults_of_the_form(worse) if "said" not in fault]
    ]
    assert unnoticed == []


@by_form
def test_a_size_taken_wrong_is_noticed(form):
    thick = {"t": Fraction(3, 10)} if "t" in some_pattern(form, 0).inputs else {}
    pattern = some_pattern(form, 0, **thick)
    unnoticed = []
    for name, size in pattern.inputs.items():
        if not size or name in CHOICES or (form, name) in LIMITS:
            continue
        try:
            other = some_pattern(form, 0, **thick | {name: size * WRONG})
        except BadSize:  # it was at its upper limit
            other = some_pattern(form, 0, **thick | {name: size / WRONG})
        if not is_noticed(replace(other, inputs=pattern.inputs)):
            unnoticed.append(name)
    assert unnoticed == []


def with_the_edge(form, edge):
    """A pattern of random sizes whose free edge is shaped as far as is usual, in whole tenths."""
    sizes = {name: size for name, size in SIZES[form](Dice(f"{form} 0")).items()
             if name not in ("edge", "shaped")}  # fmt: skip
    return flat_pattern(form, sizes | {"edge": Fraction(edge)})


@with_edge
def test_each_edge_of_what_hangs_free_is_right_and_noticed_when_it_is_not(form, edge):
    pattern = with_the_edge(form, edge)
    assert (list(faults_of_panels(pattern)), faults_of_the_form(pattern)) == ([], [])
    assert (pattern.inputs["shaped"] > 0) is (edge > 0)
    for worse in (spoiled_measures, spoiled_panels):
        unnoticed = [name for name, one in worse(pattern) if not is_noticed(one)]
        assert unnoticed == []
    by = pattern.inputs["shaped"] or Fraction(10)
    for other in range(4):
        said = {"edge": Fraction(other), "shaped": by}
        wrong = replace(pattern, inputs=dict(pattern.inputs) | said)
        assert bool(faults_of_the_form(wrong)) is (other != edge)
    if edge:
        shaped = pattern.inputs["shaped"] * WRONG
        wrong = replace(pattern, inputs=dict(pattern.inputs) | {"shaped": shaped})
        assert faults_of_the_form(wrong)


@pytest.mark.parametrize(
    ("form", "sizes"),
    [
        # in thick card the tab lies one sheet inside; a hem lies back to back with its wall
        ("one_piece_bag", {"t": Fraction(3, 10), "hem": Fraction(15)}),
        ("tuck_box", {"t": Fraction(3, 10)}),
        ("sleeve", {"t": Fraction(3, 10)}),
        ("hex_tube", {"t": Fraction(3, 10)}),
    ],
)
def test_glue_on_the_side_that_is_not_pressed_on_is_noticed(form, sizes):
    pattern = some_pattern(form, 0, **sizes)
    piece = pattern.pieces[0]
    assert not list(faults_of_panels(pattern))
    looked_at = {
        glue.panel: replace(glue, on_back=not glue.on_back)
        for glue in piece.glue_areas
        if glue.panel == "tab" or glue.panel.endswith("hem")
    }
    for panel, turned in looked_at.items():
        glued = tuple(turned if glue.panel == panel else glue for glue in piece.glue_areas)
        worse = replace(pattern, pieces=(replace(piece, glue_areas=glued),))
        assert any("wrong side" in fault for fault in faults_of_panels(worse))
