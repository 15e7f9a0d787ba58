"""The flat drawing: true to size, told apart by line, and the same in words."""

import re
from fractions import Fraction
from xml.etree import ElementTree

import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import StrokeKind
from catalogue.shapes.drawing import pattern_svg, piece_for_page
from catalogue.shapes.words import (
    cut_list,
    inch_text,
    piece_description,
    removed_parts,
    score_tables,
    size_rows,
    slanted_folds,
)
from tests.catalogue.patterns import sample_pattern

SVG = "{http://www.w3.org/2000/svg}"
MM_PER_UNIT = {"mm": 1.0, "in": 25.4}


def read(svg):
    # our own drawing, from no one else
    return ElementTree.fromstring(svg)  # noqa: S314


def points_of(group):
    found = []
    for path in group.iter(SVG + "path"):
        numbers = re.findall(r"-?[\d.]+", path.get("d"))
        found += [(float(x), float(y)) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    return found


def group_of(root, name):
    (group,) = [one for one in root.iter(SVG + "g") if one.get("id") == name]
    return group


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("name", FORMS)
def test_the_file_is_true_to_size_with_cuts_and_folds_in_groups(name, unit):
    pattern = sample_pattern(name, unit)
    root = read(pattern_svg(pattern))
    for side, at in (("width", 2), ("height", 3)):
        drawn = float(root.get("viewBox").split()[at])
        size, sign = re.fullmatch(r"([\d.]+)(mm|in)", root.get(side)).groups()
        assert sign == unit
        # one unit of the drawing is one millimetre of paper
        assert float(size) * MM_PER_UNIT[sign] == pytest.approx(drawn, abs=0.02)
    for number, piece in enumerate(pattern.pieces, 1):
        cuts = points_of(group_of(root, f"piece-{number}-cut"))
        for axis, length in ((0, piece.width), (1, piece.height)):
            extent = max(p[axis] for p in cuts) - min(p[axis] for p in cuts)
            assert extent == pytest.approx(float(length) * MM_PER_UNIT[unit], abs=0.05)
        for kind, group_name in (
            (StrokeKind.MOUNTAIN, "fold-mountain"), (StrokeKind.VALLEY, "fold-valley"),
        ):  # fmt: skip
            strokes = [stroke for stroke in piece.strokes if stroke.kind is kind]
            if strokes:
                group = group_of(root, f"piece-{number}-{group_name}")
                assert len(list(group.iter(SVG + "path"))) == len(strokes)
                assert group.get("stroke-dasharray")
    assert group_of(root, "key") is not None


def test_lines_only_has_no_word_and_no_shade():
    root = read(pattern_svg(sample_pattern("gable_box"), with_notes=False))
    assert not list(root.iter(SVG + "text"))
    assert not list(root.iter(SVG + "rect"))
    assert {one.get("id") for one in root.iter(SVG + "g")} >= {
        "piece-1-cut", "piece-1-fold-mountain", "piece-1-fold-valley",
    }  # fmt: skip


def test_lines_are_told_apart_by_dashes_not_by_colour():
    root = read(pattern_svg(sample_pattern("gable_box")))
    looks = {
        name: group_of(root, f"piece-1-{name}") for name in ("cut", "fold-mountain", "fold-valley")
    }
    assert len({look.get("stroke") for look in looks.values()}) == 1
    dashes = [look.get("stroke-dasharray") for look in looks.values()]
    assert dashes[0] is None
    assert len(set(dashes)) == 3
    # dash and dot against one long dash
    assert len(dashes[1].split()) == 4
    assert len(dashes[2].split()) == 2


@pytest.mark.parametrize("name", FORMS)
def test_every_panel_is_named_on_the_page_or_in_the_key(name):
    for piece in sample_pattern(name).pieces:
        svg, key = piece_for_page(piece, unit="mm", name="one")
        words = [text.text for text in read(svg).iter(SVG + "text")]
        in_key = dict(line.split(": ", 1) for line in key)
        for panel in piece.panels:
            assert panel.name in words or panel.name in in_key.values()
        assert set(in_key) <= set(words)
        assert read(svg).find(SVG + "desc").text == piece_description(piece, "mm")
        for part in (*read(svg).iter(), read(svg)):
            assert part.get("style") is None


def test_sizes_stand_beside_the_blank():
    (piece,) = sample_pattern("pocket_box", "in").pieces
    svg, _ = piece_for_page(piece, unit="in", name="one")
    words = [text.text for text in read(svg).iter(SVG + "text")]
    # GEOMETRY.md 3.2: 4, 3/4, 4, 3/4, 1/2 across, 3/4, 4, 3/4, 1/2 up; 10 x 6
    assert {"4", "3/4", "1/2", "10 in", "6 in"} <= set(words)
    assert words.count("3/4") == 4


def test_scores_are_measured_from_one_edge_on_both_rulers():
    (piece,) = sample_pattern("two_piece_bag", "in").pieces
    left, bottom = score_tables(piece, "in")
    # GEOMETRY.md 3.1: scores 7.5 and 11.5, base score 4, exactly
    assert [(row.inches, row.millimetres) for row in left.rows] == [
        ("7 1/2", "190.5"), ("11 1/2", "292.1"),
    ]  # fmt: skip
    assert [(row.inches, row.millimetres) for row in bottom.rows] == [("4", "101.6")]
    assert {row.fold for row in left.rows} == {"mountain"}
    assert {row.side for row in left.rows} == {"right side up"}
    assert left.rows[0].reach == "y 4 to 12"


def test_what_no_ruler_in_inches_has_is_marked():
    (piece,) = sample_pattern("one_piece_bag", "mm").pieces
    left, _ = score_tables(piece, "mm")
    rows = {row.millimetres: row for row in left.rows}
    # GEOMETRY.md 4.1: x 82, 134, 216, 268, and gusset scores 108, 242
    assert list(rows) == ["82", "108", "134", "216", "242", "268"]
    # 82 / 25.4 = 3.2283 in, between 14/64 and 15/64
    assert rows["82"].inches == "≈ 3 15/64"
    assert rows["108"].fold == "valley"
    # the blank is 280 wide, so from the other side it is 172
    assert rows["108"].side == "back up, 172 mm from the left there"


@pytest.mark.parametrize("name", FORMS)
def test_steps_and_folds_tell_what_to_do_at_the_bench_not_on_the_screen(name):
    pattern = sample_pattern(name)
    folds = [line for piece in pattern.pieces for line in slanted_folds(piece, "mm")]
    assert not [line for line in (*pattern.steps, *folds) if "Update drawing" in line]
    curves = [line for line in folds if " through " in line]
    assert all(line.endswith("Trace it from the printed template.") for line in curves)


@pytest.mark.parametrize("name", FORMS)
def test_no_fold_is_left_out_of_the_words(name):
    for piece in sample_pattern(name).pieces:
        told = sum(len(table.rows) for table in score_tables(piece, "mm"))
        told += len(slanted_folds(piece, "mm"))
        folds = [
            stroke for stroke in piece.strokes
            if stroke.kind in (StrokeKind.VALLEY, StrokeKind.MOUNTAIN)
        ]  # fmt: skip
        assert bool(told) == bool(folds)
        lines = {
            (stroke.kind, stroke.points[0].x) for stroke in folds
            if len({point.x for point in stroke.points}) == 1
        }  # fmt: skip
        upright = [t for t in score_tables(piece, "mm") if t.edge == "from the left edge"]
        assert sum(len(table.rows) for table in upright) == len(lines)


def test_cuts_are_told_slits_first_then_parts_then_holes():
    (piece,) = sample_pattern("two_piece_bag", "in").pieces
    assert cut_list(piece, "in") == [
        "Slit at x 7 1/2, from the bottom edge up to 4.",
        # the corner under the tab and the wedge above it come out as one
        "Part out, from corner to corner: (11 1/2, 0), (12, 0), (12, 4 1/8), (11 1/2, 4).",
        "Wedge off: (12, 11 7/8), (12, 12), (11 1/2, 12).",
    ]
    (tag,) = sample_pattern("tag", "mm", hole=4).pieces
    (hole,) = cut_list(tag, "mm")
    assert hole.startswith("Hole: 4 mm across, centre at (25, ")
    assert not removed_parts(tag, "mm")
    (pillow,) = sample_pattern("pillow_box").pieces
    assert "Curved edge: cut it by the printed template." in cut_list(pillow, "mm")


@pytest.mark.parametrize(
    ("value", "written"),
    [("7.5", "7 1/2"), ("0", "0"), ("0.75", "3/4"), ("3", "3"), ("1.1", "≈ 1 3/32"),
     ("2.999", "≈ 3")],
)  # fmt: skip
def test_inches_are_written_as_on_a_ruler(value, written):
    assert inch_text(Fraction(value), "in") == written


def test_sizes_say_yes_and_counts_without_a_unit():
    pattern = sample_pattern("one_piece_bag", "mm")
    rows = {row.letter: row.text for row in size_rows(FORMS["one_piece_bag"], pattern)}
    assert rows["gusset"] == "yes"
    assert rows["W"] == "82 mm (≈ 3 15/64 in)"
    strips = size_rows(FORMS["handle_strip"], sample_pattern("handle_strip"))
    assert {row.letter: row.text for row in strips}["strips"] == "2"
