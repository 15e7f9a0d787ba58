"""The library of forms: its pages, what is typed there, its files."""

import re
from decimal import Decimal
from html import unescape
from io import BytesIO
from xml.etree import ElementTree

import pikepdf
import pytest

from catalogue.calc.flat_patterns import FORMS
from catalogue.shapes.groups import grouped
from tests.factories import make_material

FORMS_PAGE = "/w/marlow/shapes/"
BAG = f"{FORMS_PAGE}two_piece_bag/"


def body_of(response):
    return " ".join(unescape(response.content.decode()).split())


def words_of(response):
    return " ".join(re.sub(r"<[^>]+>", " ", body_of(response)).split())


def test_the_library_shows_every_form_folded(client):
    response = client.get(FORMS_PAGE)
    body = body_of(response)
    assert response.status_code == 200
    for form in FORMS.values():
        assert f'href="{FORMS_PAGE}{form.name}/"' in body
        assert f"<title>{form.title}, folded</title>" in body
    assert sum(len(group.forms) for group in grouped(FORMS)) == len(FORMS)


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_every_form_opens_with_a_size_that_works(client, workshop, name, unit):
    workshop.unit = unit
    workshop.save()
    make_material(workshop)
    response = client.get(f"{FORMS_PAGE}{name}/")
    body = body_of(response)
    assert response.status_code == 200
    assert "There is a problem" not in body
    assert "No drawing yet" not in body
    assert 'id="piece1-title"' in body
    assert " style=" not in body


def test_the_bag_of_the_check_values(client, workshop):
    """GEOMETRY.md 3.1: W 7.5, D 4, H 8, g 0.5 is 12 x 12 in, scores 7.5 and 11.5, base 4."""
    make_material(workshop, name="Plain card", grammage=Decimal(220))
    response = client.get(BAG, {"W": "7 1/2", "D": "4", "H": "8", "g": "1/2"})
    words = words_of(response)
    assert "bag half, cut 2: 12 × 12 in" in words
    assert "7 1/2 190.5 mountain: right side up" in words
    assert "11 1/2 292.1" in words
    assert "240 in³ 3933 ml" in words
    assert "Plain card 12 × 12 in 1 per sheet 0 in across, 0 in up" in words
    assert "Exact fit: measure your sheet first." in words
    # the drawing has a description
    assert "Scores from the left edge at 7 1/2 and 11 1/2 in." in words
    # cautions are said
    assert "cut away from the hand" in words


def test_a_bare_number_is_in_her_unit_and_a_unit_may_be_typed(client, workshop):
    inches = words_of(client.get(BAG, {"W": "7.5", "D": "4", "H": "8"}))
    typed = words_of(client.get(BAG, {"W": "190.5 mm", "D": '4"', "H": "203,2mm"}))
    assert "12 × 12 in" in inches
    assert "12 × 12 in" in typed
    workshop.unit = "mm"
    workshop.save()
    assert "Width (W) 190 mm" in words_of(client.get(BAG, {"W": "190", "D": "100", "H": "200"}))


def test_a_size_that_cannot_be_folded_is_kept_and_explained_with_one_that_can(client):
    response = client.get(BAG, {"W": "4", "D": "5 1/4", "H": "8"})
    body = body_of(response)
    assert response.status_code == 200
    assert 'value="5 1/4"' in body
    assert "There is a problem" in body
    assert "the side flaps will meet the wall" in body
    assert "No drawing yet" in body
    (href,) = re.findall(r'class="button" href="([^"]+)">Use 4 in<', body)
    assert "D=4&" in href
    mended = client.get(BAG + href)
    assert "There is a problem" not in body_of(mended)


def test_what_is_no_length_is_kept_and_explained(client):
    body = body_of(client.get(BAG, {"W": "wide", "D": "", "H": "8"}))
    assert 'value="wide"' in body
    assert "a length. Enter one" in body
    assert "Depth: Fill this in." in body


@pytest.mark.parametrize(
    ("typed", "tap"),
    [
        # what was meant is one tap away: without its sign, or the longest there is (5 m)
        ({"W": "-7"}, "Use 7 in"),
        ({"W": "\u22127 1/2"}, "Use 7 1/2 in"),
        ({"H": "1000000000"}, "Use 196.85 in"),
        ({"H": "300"}, "Use 196.85 in"),
        ({"H": "wide"}, None),
        ({"H": ""}, None),
        # nothing is offered that does not work with the others: deeper than it is wide
        ({"D": "-9"}, None),
    ],
)
def test_a_length_that_is_none_is_kept_with_what_may_have_been_meant(client, typed, tap):
    body = body_of(client.get(BAG, {"W": "7", "D": "4", "H": "8", **typed}))
    (text,) = typed.values()
    assert f'value="{text}"' in body or not text
    assert "There is a problem" in body
    taps = re.findall(r'class="mend"><a class="button" href="([^"]+)">([^<]+)<', body)
    assert [words for _, words in taps] == ([tap] if tap else [])
    if tap:
        assert "There is a problem" not in body_of(client.get(BAG + unescape(taps[0][0])))


@pytest.mark.parametrize("name", ["W", "D", "g", "ruler", "sheet", "grammage", "t"])
@pytest.mark.parametrize(
    "value",
    ["-1", "0", "1e9", "9" * 400, "١٢", "<script>alert(1)</script>", "\x00", "1/0", "NaN",
     "'; drop table", "\u202e7", "7 1/2 1/2", "99999"],
)  # fmt: skip
def test_hostile_values_are_only_ever_text(client, name, value):
    for part in ("", "sheets/", "pattern.svg", "template.pdf"):
        response = client.get(BAG + part, {"W": "7", "D": "4", "H": "8", name: value})
        assert response.status_code in (200, 302)
        if response.get("Content-Type", "").startswith("text/html"):
            assert b"<script>alert" not in response.content
            assert b"Traceback" not in response.content


def test_an_unknown_form_is_not_there(client):
    for part in ("", "sheets/", "pattern.svg", "template.pdf"):
        assert client.get(f"{FORMS_PAGE}crash_lock/{part}").status_code == 404


def test_it_answers_in_part_while_she_types(client):
    response = client.get(BAG, {"W": "7", "D": "4", "H": "8"}, headers={"HX-Request": "true"})
    body = body_of(response)
    assert body.startswith('<div id="answer">')
    assert "<html" not in body
    assert "HX-Request" in response["Vary"]
    # empty again, so that an earlier complaint goes away
    assert '<div id="live-W" class="error" role="alert" hx-swap-oob="true"></div>' in body


def test_while_she_types_a_wrong_size_leaves_the_drawing_and_is_explained(client):
    response = client.get(BAG, {"W": "4", "D": "5", "H": "8"}, headers={"HX-Request": "true"})
    body = body_of(response)
    assert response["HX-Retarget"] == "#live-problems"
    assert 'id="answer"' not in body
    assert "the side flaps will meet the wall" in body
    assert ">Use 4 in<" in body
    assert "The drawing updates when this is corrected." in body


def test_sizes_are_rounded_to_her_ruler(client):
    plain = words_of(client.get(BAG, {"W": "7.3", "D": "4", "H": "8"}))
    rounded = words_of(client.get(BAG, {"W": "7.3", "D": "4", "H": "8", "ruler": "1/16"}))
    # 7.3 in lies between 7 4/16 and 7 5/16, nearer the latter (7.3125)
    assert "7 5/16 185.74 mountain" in rounded
    assert "7 5/16 185.74" not in plain


def test_the_sheet_chosen_gives_the_weight_and_is_the_only_one_looked_at(client, workshop):
    card = make_material(workshop, name="Thick card", grammage=Decimal(300))
    make_material(workshop, name="Another")
    make_material(workshop, name="Old", retired_on="2026-01-01")
    every = words_of(client.get(BAG))
    assert "Another 12 × 12 in" in every
    assert "Old 12 × 12 in" not in every
    assert "Weight each" not in every
    words = words_of(client.get(BAG, {"W": "7.5", "D": "4", "H": "8", "sheet": card.pk}))
    assert "Thick card 12 × 12 in" in words
    assert "Another 12 × 12 in" not in words
    # two blanks of 304.8 mm square at 300 g/m2 are 55.7 g; corner and wedges come off
    weight = float(re.search(r"Weight each ([\d.]+) g", words)[1])
    assert 2 * 0.3048**2 * 300 * 0.97 < weight < 2 * 0.3048**2 * 300
    typed = words_of(
        client.get(BAG, {"W": "7.5", "D": "4", "H": "8", "sheet": card.pk, "grammage": "150"})
    )
    assert float(re.search(r"Weight each ([\d.]+) g", typed)[1]) == pytest.approx(
        weight / 2, abs=0.1
    )


def test_the_thickness_of_the_sheet_chosen_is_offered_where_it_counts(client, workshop):
    board = make_material(workshop, name="Grey board", thickness_mm=Decimal("1.5"))
    card = make_material(workshop, name="Card 300", thickness_mm=Decimal("0.36"))
    paper = make_material(workshop, name="Paper", thickness_mm=Decimal("0.2"))
    tray = {"L": "4", "W": "3", "H": "1"}
    body = body_of(client.get(f"{FORMS_PAGE}tray/", {**tray, "sheet": board.pk}))
    assert "Grey board is 1.5 mm thick; these sizes count 0 in." in body
    (href,) = re.findall(r'class="button" href="([^"]+)">Count it<', body)
    counted = client.get(f"{FORMS_PAGE}tray/{unescape(href)}")
    assert "Thickness of the sheet (t) ≈ 1/16 in (1.5 mm)" in words_of(counted)
    assert "Count it" not in body_of(counted)
    # common practice, no source: card counts for lids and sleeves, not for bags; paper for neither
    assert "Count it" in body_of(client.get(f"{FORMS_PAGE}tray/", {**tray, "sheet": card.pk}))
    bag = {"W": "7", "D": "4", "H": "8"}
    assert "Count it" not in body_of(client.get(BAG, {**bag, "sheet": card.pk}))
    assert "Count it" in body_of(client.get(BAG, {**bag, "sheet": board.pk}))
    assert "Count it" not in body_of(client.get(f"{FORMS_PAGE}tray/", {**tray, "sheet": paper.pk}))


def test_a_sheet_too_small_for_the_tab_still_gets_an_answer(client, workshop):
    scrap = make_material(workshop, width_mm=Decimal(20), height_mm=Decimal(20))
    asked = {"W": "7 1/2", "D": "4", "H": "8", "sheet": scrap.pk, "advice": "yes"}
    response = client.get(BAG, asked)
    assert response.status_code == 200
    assert "No size changes would save a sheet" in words_of(response)


def test_a_sheet_of_another_workshop_is_no_choice(client, other_workshop):
    theirs = make_material(other_workshop, name="Secret card")
    body = body_of(client.get(BAG, {"W": "7.5", "D": "4", "H": "8", "sheet": theirs.pk}))
    assert "Secret card" not in body
    assert "There is a problem" in body


def test_what_may_grow_for_nothing_is_a_link_that_does_it(client, workshop):
    make_material(workshop)
    response = client.get(
        f"{FORMS_PAGE}tag/sheets/", {"w": "2", "h": "3 1/2"}, headers={"HX-Request": "true"}
    )
    words = words_of(response)
    # 6 x 3 on a 12 in sheet: a side of 3 1/2 may be 4
    assert "Can grow without using more sheets:" in words
    assert "Height 4 in: 1/2 in larger" in words
    (href,) = re.findall(r'href="([^"]+)">Height 4 in', body_of(response))
    assert href.startswith(f"{FORMS_PAGE}tag/?")
    assert "18 per sheet" in words_of(client.get(href))
    # the same without JavaScript, on the page itself
    plain = client.get(f"{FORMS_PAGE}tag/sheets/", {"w": "2", "h": "3 1/2"}, follow=True)
    assert "Height 4 in: 1/2 in larger" in words_of(plain)
    assert "<html" in body_of(plain)


def test_what_fits_no_sheet_says_how_to_join_it_and_how_large_it_may_be(client, workshop):
    make_material(workshop)
    asked = {"W": "7 1/2", "D": "4", "H": "8", "advice": "yes"}
    words = words_of(client.get(f"{FORMS_PAGE}one_piece_bag/", asked))
    assert "short by 11 1/2 in across" in words
    # 23 / 11.5 = 2 exactly, the two-piece body
    assert "In 2 parts 12 in, 12 in wide, 12 in high: join them at corner folds" in words
    assert "Largest of this shape that fits:" in words


def test_the_template_comes_as_pdf_on_the_paper_asked_for(client):
    response = client.get(f"{FORMS_PAGE}tray/template.pdf", {"paper": "Letter"})
    assert response["Content-Type"] == "application/pdf"
    assert response["Content-Disposition"] == 'inline; filename="tray.pdf"'
    with pikepdf.open(BytesIO(response.content)) as opened:
        # 8 1/2 x 11 in
        assert [round(float(side)) for side in opened.pages[0].mediabox[2:]] == [612, 792]
    wrong = client.get(f"{FORMS_PAGE}tray/template.pdf", {"paper": "A0"})
    assert wrong.content.startswith(b"%PDF")


def test_a_pattern_too_large_for_templates_says_so(client):
    large = {"W": "70", "D": "60", "H": "80"}
    words = words_of(client.get(BAG, large))
    assert "Too large for templates" in words
    response = client.get(f"{BAG}template.pdf", large, follow=True)
    assert "(maximum" in words_of(response)
    assert 'value="70"' in body_of(response)


def test_the_drawing_comes_as_svg_with_and_without_words(client):
    for query, has_words in (({}, True), ({"lines": "only"}, False)):
        response = client.get(f"{BAG}pattern.svg", {"W": "7.5", "D": "4", "H": "8", **query})
        assert response["Content-Type"] == "image/svg+xml"
        assert response["Content-Disposition"].startswith("attachment")
        root = ElementTree.fromstring(response.content)  # noqa: S314  # drawn by us
        assert bool(list(root.iter("{http://www.w3.org/2000/svg}text"))) == has_words
    back = client.get(f"{BAG}pattern.svg", {"W": "wide"})
    assert back.status_code == 302
    assert "W=wide" in back["Location"]


def test_a_reader_sees_it_all_and_others_nothing(reader_client, stranger_client, anonymous_client):
    for part in ("", "two_piece_bag/", "two_piece_bag/pattern.svg", "two_piece_bag/template.pdf"):
        assert reader_client.get(FORMS_PAGE + part).status_code == 200
        assert stranger_client.get(FORMS_PAGE + part).status_code == 404
        assert "/sign-in/" in anonymous_client.get(FORMS_PAGE + part)["Location"]
        assert reader_client.post(FORMS_PAGE + part).status_code in (403, 405)


def test_more_sheets_cost_no_more_queries(client, workshop, count_queries):
    make_material(workshop)
    client.get(BAG)
    with count_queries() as few:
        client.get(BAG, {"advice": "yes"})
    for number in range(40):
        make_material(workshop, width_mm=Decimal(200 + number))
    with count_queries() as many:
        response = client.get(BAG, {"advice": "yes"})
    assert len(many) == len(few)
    assert "more sheets" in words_of(response)


def test_the_list_of_designs_leads_there(client):
    assert f'href="{FORMS_PAGE}"' in body_of(client.get("/w/marlow/designs/"))
