"""The printed template measured as a ruler would: bars, blanks, and tiles that join."""

from fractions import Fraction
from io import BytesIO

import pdfplumber
import pikepdf
import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.tiles import PAPERS_MM
from catalogue.shapes.printing import (
    MOST_PAGES,
    TooManyPages,
    UnknownPaper,
    template_pages,
    template_pdf,
)
from tests.catalogue.patterns import sample_pattern

# PDF's unit is 1/72 in (ISO 32000-1, 8.3.2.3)
POINTS_PER_MM = 72 / 25.4
# 1/100 mm is far below what a printer holds; the issue of every template is 1/10 mm
NEAR_MM = 0.1


def template(name, paper="A4", unit="mm", **sizes):
    return template_pdf(sample_pattern(name, unit, **sizes), title=FORMS[name].title, paper=paper)


def measured(pdf):
    """Each page's size, words and strokes in millimetres."""
    with pdfplumber.open(BytesIO(pdf)) as opened:
        for page in opened.pages:
            strokes = [
                {
                    "points": [(x / POINTS_PER_MM, y / POINTS_PER_MM) for x, y in one["pts"]],
                    "thick": one["linewidth"] / POINTS_PER_MM,
                    "is_dashed": bool(one.get("dash") and one["dash"][0]),
                }
                for one in (*page.lines, *page.curves, *page.rects)
                if one["stroking_color"] is not None and one["stroke"]
            ]
            yield (
                page.width / POINTS_PER_MM,
                page.height / POINTS_PER_MM,
                page.extract_text(),
                strokes,
            )


def spans(strokes):
    for one in strokes:
        xs, ys = [x for x, _ in one["points"]], [y for _, y in one["points"]]
        yield max(xs) - min(xs), max(ys) - min(ys), one


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
@pytest.mark.parametrize(("name", "unit"), [("two_piece_bag", "in"), ("pillow_box", "mm")])
def test_every_page_has_bars_of_100_mm_and_4_in_and_says_to_measure_them(name, unit, paper):
    pages = list(measured(template(name, paper, unit)))
    assert len(pages) > 2
    for number, (width, height, text, strokes) in enumerate(pages, 1):
        assert sorted((width, height)) == pytest.approx(sorted(PAPERS_MM[paper]), abs=NEAR_MM)
        level = [wide for wide, high, _ in spans(strokes) if high < NEAR_MM]
        assert any(abs(wide - 100) <= NEAR_MM for wide in level), number
        assert any(abs(wide - 101.6) <= NEAR_MM for wide in level), number
        # pdfplumber sees no space in letters so small
        bare = "".join(text.split())
        assert "100mm" in bare
        assert "4in" in bare
        assert "Measure this after printing" in text
        assert f"Page {number} of {len(pages)}" in text


@pytest.mark.parametrize(
    ("name", "unit", "width_mm", "height_mm"),
    [
        # GEOMETRY.md 3.2: 10 x 6 in, check value of common practice, no source
        ("pocket_box", "in", 254.0, 152.4),
        # GEOMETRY.md 4.2 and 4.4, folded and measured by an independent program
        ("tuck_box", "mm", 202.0, 184.0),
        ("tray", "mm", 170.0, 140.0),
    ],
)
def test_the_outer_cut_line_is_as_large_as_the_blank(name, unit, width_mm, height_mm):
    sizes = {"dust": 28} if name == "tuck_box" else {}
    pages = list(measured(template(name, "A4", unit, **sizes)))
    drawn = [
        (wide, high)
        for _, _, _, strokes in pages[1:2]
        for wide, high, one in spans(strokes)
        if one["thick"] > 0.28
    ]
    widest = max(wide for wide, _ in drawn)
    highest = max(high for _, high in drawn)
    assert widest == pytest.approx(width_mm, abs=NEAR_MM)
    assert highest == pytest.approx(height_mm, abs=NEAR_MM)


def crosses(strokes):
    """Where a level and an upright stroke of 6 mm cross."""
    level = [one["points"] for wide, high, one in spans(strokes) if abs(wide - 6) < 0.05 > high]
    upright = [one["points"] for wide, high, one in spans(strokes) if abs(high - 6) < 0.05 > wide]
    middles = [((a[0][0] + a[-1][0]) / 2, a[0][1]) for a in level]
    ends = [(a[0][0], (a[0][1] + a[-1][1]) / 2) for a in upright]
    return [
        here for here in middles if any(abs(here[0] - x) + abs(here[1] - y) < 0.05 for x, y in ends)
    ]


def corner_of_blank(strokes):
    """The upper left corner of the blank on this page, drawn as a rectangle of hairlines."""
    (hairline,) = [
        one for wide, high, one in spans(strokes) if abs(one["thick"] - 0.12) < 0.005 and wide > 50
    ]
    return min(x for x, _ in hairline["points"]), min(y for _, y in hairline["points"])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_tiles_join_cross_on_cross(paper):
    pages = list(measured(template("two_piece_bag", paper, "in")))
    tiles = [page for page in pages if "tile A" in page[2] or "tile B" in page[2]]
    assert len(tiles) == 4
    on_blank = []
    for _, _, _, strokes in tiles:
        x, y = corner_of_blank(strokes)
        marks = [(cx - x, cy - y) for cx, cy in crosses(strokes)]
        assert len(marks) == 4
        on_blank += marks
    # each cross is on exactly the two tiles that it joins
    for x, y in on_blank:
        twins = [(u, v) for u, v in on_blank if abs(u - x) < NEAR_MM and abs(v - y) < NEAR_MM]
        assert len(twins) == 2
    text = "\n".join(page[2] for page in pages)
    assert "Joins A2, B1" in text
    assert "2 rows of 2" in text


def test_what_fits_a_page_has_no_tiles():
    pages = list(measured(template("tray")))
    assert "Page 2 of" in pages[1][2]
    assert not any(crosses(strokes) for *_, strokes in pages)
    assert not any("tile" in text.lower() for _, _, text, _ in pages)


def test_the_second_part_tells_scores_cuts_steps_and_cautions():
    text = "\n".join(page[2] for page in measured(template("two_piece_bag", "A3", "in")))
    for part in (
        "bag half, cut 2: 12 × 12 in", "304.8 × 304.8 mm", "Scores, from the left edge",
        "1 7 1/2 190.5 mountain right side up", "2 11 1/2 292.1 mountain right side up",
        "Scores, from the bottom edge", "1 4 101.6 mountain", "Cuts, after scoring",
        "Slit at x 7 1/2, from the bottom edge up to 4.", "Depth D 4 in (101.6 mm)",
        "Assembly", "cut away from the hand",
    ):  # fmt: skip
        assert part in text, part


@pytest.mark.parametrize("name", ["gable_box", "tag", "cone"])
def test_it_is_tagged_titled_and_its_fonts_are_embedded(name):
    pdf = template(name)
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert opened.Root.MarkInfo.Marked
        assert str(opened.Root.Lang) == "en-GB"
        assert b"pdfuaid:part" in opened.Root.Metadata.read_bytes()
        assert str(opened.docinfo.Title) == FORMS[name].title
        assert "/CreationDate" not in opened.docinfo
        entries = [
            entry
            for entry in opened.objects
            if isinstance(entry, pikepdf.Dictionary) and "/S" in entry and "/P" in entry
        ]
        kinds = [str(entry.S) for entry in entries]
        assert kinds.count("/H1") == 1
        assert {"/H2", "/Figure", "/Table", "/TH", "/L", "/LI"} <= set(kinds)
        figures = [entry for entry in entries if entry.S == "/Figure"]
        assert all(str(figure.Alt).strip() for figure in figures)
        assert any("at true size" in str(figure.Alt) for figure in figures)
        fonts = [font for page in opened.pages for font in page.Resources.Font.values()]
        assert fonts
        for font in fonts:
            for descendant in font.get("/DescendantFonts", [font]):
                descriptor = descendant.FontDescriptor
                assert any(key in descriptor for key in ("/FontFile2", "/FontFile3"))


def test_what_no_paper_can_hold_is_refused():
    pattern = sample_pattern("two_piece_bag", W=1800, D=900, H=2000)
    assert template_pages(pattern, "A4") == 0
    with pytest.raises(TooManyPages, match=f"maximum {MOST_PAGES}") as refused:
        template_pdf(pattern, title="Large", paper="A4")
    assert refused.value.where == "paper"
    with pytest.raises(UnknownPaper):
        template_pdf(sample_pattern("tag"), title="Tag", paper="A9")


def test_a_title_cannot_break_out_of_the_page_head():
    title = '"; } body { display: none } \\ <b>&amp; \n x'
    pdf = template_pdf(sample_pattern("tag"), title=title)
    text = "\n".join(page[2] for page in measured(pdf))
    assert "Assembly" in text
    assert "<b>" in text


def test_pages_are_told_as_they_will_be_printed():
    for name in ("two_piece_bag", "tray", "pillow_box"):
        pattern = sample_pattern(name)
        tiles = sum(
            "at true size" in alt for alt in _alts(template_pdf(pattern, title="x", paper="A4"))
        )
        assert template_pages(pattern, "A4") == tiles


def _alts(pdf):
    with pikepdf.open(BytesIO(pdf)) as opened:
        return [
            str(entry.Alt)
            for entry in opened.objects
            if isinstance(entry, pikepdf.Dictionary) and entry.get("/S") == "/Figure"
        ]


def test_the_sample_sizes_measure_what_they_say():
    """The bags of the tests above are those of GEOMETRY.md 3.1 and 3.2, in inches."""
    assert sample_pattern("two_piece_bag", "in").pieces[0].width == Fraction(12)
    assert sample_pattern("pocket_box", "in").pieces[0].width == Fraction(10)
