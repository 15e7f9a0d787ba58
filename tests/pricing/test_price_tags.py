"""Price tags: the PDF is true to the millimetre and says what it should; the page is safe."""

from dataclasses import replace
from decimal import Decimal
from io import BytesIO

import pdfplumber
import pikepdf
import pytest
from django.urls import reverse

from maker.slow_work import doing
from maker.slow_work.models import Work
from pricing.calc.papers.labels import COMMON_SHEETS, places
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.price_tags.services import (
    MOST_TAGS,
    CautionDoesNotFit,
    NoTags,
    Tag,
    TooManyTags,
    print_tags,
)
from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_design, make_recipe
from tests.slow_work import do_what_waits

MM_PER_POINT = 25.4 / 72


def boxes_mm(pdf_page, width, height):
    """Return left and top in mm of the outlines that have about this size."""
    found = []
    for shape in pdf_page.rects + pdf_page.curves:
        size = (
            (shape["x1"] - shape["x0"]) * MM_PER_POINT,
            (shape["bottom"] - shape["top"]) * MM_PER_POINT,
        )
        if abs(size[0] - width) < 0.3 and abs(size[1] - height) < 0.3:
            found.append((shape["x0"] * MM_PER_POINT, shape["top"] * MM_PER_POINT))
    return sorted(set(found), key=lambda place: (round(place[1]), place[0]))


@pytest.mark.parametrize("key", COMMON_SHEETS)
def test_labels_and_measuring_bars_are_where_they_should_be_to_0_2_mm(key):
    geometry = COMMON_SHEETS[key][1]
    pdf = print_tags(tags=[Tag(name="Bag", price="€1", count=3)], geometry=geometry)
    with pdfplumber.open(BytesIO(pdf)) as opened:
        test_page = opened.pages[0]
        assert float(test_page.width) * MM_PER_POINT == pytest.approx(
            float(geometry.page_width), abs=0.05
        )
        edges = {
            (round(left * MM_PER_POINT, 2), round(top * MM_PER_POINT, 2))
            for line in test_page.rects + test_page.lines + test_page.curves
            for left, top in [(line["x0"], line["top"])]
        }
        for column in range(geometry.columns):
            for row in range(geometry.rows):
                x, y = float(geometry.x(column)), float(geometry.y(row))
                assert any(abs(x - ex) <= 0.2 and abs(y - ey) <= 0.2 for ex, ey in edges)


def test_the_measuring_bars_are_50_mm():
    geometry = COMMON_SHEETS["a4-24"][1]
    pdf = print_tags(tags=[Tag(name="Bag", price="€1", count=1)], geometry=geometry)
    with pdfplumber.open(BytesIO(pdf)) as opened:
        shapes = opened.pages[0].rects + opened.pages[0].curves + opened.pages[0].lines
        widths = [(s["x1"] - s["x0"]) * MM_PER_POINT for s in shapes]
        heights = [(s["bottom"] - s["top"]) * MM_PER_POINT for s in shapes]
    assert min(abs(width - 50) for width in widths) <= 0.2
    assert min(abs(height - 50) for height in heights) <= 0.2


def test_each_tag_lies_in_its_own_label():
    geometry = COMMON_SHEETS["letter-30"][1]
    tags = [Tag(name=f"Design{n}", price=f"€{n}.00", count=7) for n in range(1, 6)]
    pdf = print_tags(tags=tags, geometry=geometry, start_at=5, with_test_page=False)
    expected = places(geometry, 35, start_at=5)
    names = [tag.name for tag in tags for _ in range(tag.count)]
    with pdfplumber.open(BytesIO(pdf)) as opened:
        assert len(opened.pages) == 2
        for place, name in zip(expected, names, strict=True):
            x, y = float(geometry.x(place.column)), float(geometry.y(place.row))
            box = tuple(
                mm / MM_PER_POINT
                for mm in (x, y, x + float(geometry.label_width), y + float(geometry.label_height))
            )
            text = opened.pages[place.page].crop(box).extract_text()
            assert name in text


def test_a_tag_says_price_code_care_contact_and_caution():
    tag = Tag(
        name="Wren box",
        price="£7.50",
        count=1,
        code="WB-7",
        care="Keep dry",
        contact="Marlow Paperworks",
        caution="Small parts: not for children under 3",
    )
    pdf = print_tags(tags=[tag], geometry=COMMON_SHEETS["a4-card"][1], with_test_page=False)
    with pdfplumber.open(BytesIO(pdf)) as opened:
        text = opened.pages[0].extract_text()
    for part in ("Wren box", "£7.50", "WB-7", "Keep dry", "Marlow Paperworks", "not for children"):
        assert part in text


def test_a_caution_is_never_cut_off():
    tag = Tag(name="Box", price="€1", count=1, caution="Small parts and a cord. " * 6)
    with pytest.raises(CautionDoesNotFit, match="larger label"):
        print_tags(tags=[tag], geometry=COMMON_SHEETS["a4-65"][1])


def test_the_qr_code_can_be_read_back():
    import zxingcpp

    tag = Tag(name="Box", price="€1", count=2, qr="https://marlow.example/box")
    pdf = print_tags(tags=[tag], geometry=COMMON_SHEETS["a4-24"][1], with_test_page=False)
    with pdfplumber.open(BytesIO(pdf)) as opened:
        picture = opened.pages[0].to_image(resolution=300).original
    codes = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    assert [code.text for code in codes] == ["https://marlow.example/box"] * 2


def test_the_pdf_is_tagged_and_its_fonts_embedded():
    pdf = print_tags(
        tags=[Tag(name="Łódź ½ ⅛", price="1,50 zł", count=1)], geometry=COMMON_SHEETS["a4-24"][1]
    )
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert "/StructTreeRoot" in opened.Root
        assert b"pdfuaid:part" in opened.Root.Metadata.read_bytes()
        for page in opened.pages:
            for font in page.Resources.get("/Font", {}).values():
                for descendant in font.get("/DescendantFonts", [font]):
                    descriptor = descendant.FontDescriptor
                    assert any(key in descriptor for key in ("/FontFile2", "/FontFile3"))


@pytest.mark.parametrize("name", ["שלום עולם", "🎁 gift 🎀", "<b>&amp;", "x" * 10_000])
def test_odd_names_print(name):
    pdf = print_tags(
        tags=[Tag(name=name, price="€1", count=1)],
        geometry=COMMON_SHEETS["a4-24"][1],
        with_test_page=False,
    )
    with pdfplumber.open(BytesIO(pdf)) as opened:
        assert len(opened.pages) == 1


def test_nothing_or_too_much_is_refused():
    geometry = COMMON_SHEETS["a4-24"][1]
    with pytest.raises(NoTags):
        print_tags(tags=[Tag(name="a", price="1", count=0)], geometry=geometry)
    with pytest.raises(TooManyTags, match="in parts"):
        print_tags(tags=[Tag(name="a", price="1", count=MOST_TAGS + 1)], geometry=geometry)


def test_a_text_cannot_pull_a_file_into_the_pdf():
    geometry = replace(COMMON_SHEETS["a4-card"][1])
    name = '<link rel=attachment href="file:///etc/hostname"><img src="file:///etc/hostname">'
    pdf = print_tags(tags=[Tag(name=name, price="1", count=1)], geometry=geometry)
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert "/EmbeddedFiles" not in opened.Root.get("/Names", {})


# ---- the page


@pytest.fixture
def priced(workshop):
    channel = make_channel(workshop, name="Fair")
    version = make_recipe(workshop)
    return PriceListEntry.objects.create(
        design=version.design,
        version=version,
        channel=channel,
        price=Decimal("12.50"),
        cost_each=5,
        floor_each=6,
        target_each=12,
    )


def post(client, workshop, **fields):
    data = {
        "sheet": "a4-24",
        "start_at": "1",
        "tags-TOTAL_FORMS": "1",
        "tags-INITIAL_FORMS": "0",
        **fields,
    }
    return client.post(reverse("pricing:tag_sheet", args=[workshop.slug]), data)


def test_the_page_makes_a_pdf_with_the_price_of_the_list(client, workshop, priced):
    response = post(client, workshop, **{"tags-0-design": priced.design.name, "tags-0-count": "24"})
    assert response.status_code == 200
    assert response["Content-Type"] == "application/pdf"
    with pdfplumber.open(BytesIO(response.content)) as opened:
        assert "12.50" in opened.pages[0].extract_text()


def test_a_reader_may_print(reader_client, workshop, priced):
    response = post(
        reader_client, workshop, **{"tags-0-design": priced.design.name, "tags-0-count": "1"}
    )
    assert response["Content-Type"] == "application/pdf"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"tags-0-design": "No such", "tags-0-count": "1"}, "no design"),
        ({"tags-0-design": "", "tags-0-count": "3"}, "which design"),
        ({"tags-0-count": "-2"}, "The least is 0"),
        ({"tags-0-count": "1e9"}, "not a number written out"),
        ({"start_at": "25"}, "labels 1 to 24"),
        ({"sheet": "own-999"}, "Select a valid choice"),
        ({"qr": "website"}, "no website yet"),
        ({}, "how many tags"),
    ],
)
def test_bad_input_is_kept_and_explained(client, workshop, priced, fields, words):
    response = post(client, workshop, **fields)
    assert response.status_code == 422
    page = response.content.decode()
    assert words in page
    assert "There is a problem" in page
    for value in fields.values():
        assert value in page


def test_a_design_without_a_price_asks_for_one(client, workshop, priced):
    make_design(workshop, name="Unpriced")
    row = {"tags-0-design": "unpriced", "tags-0-count": "1"}
    assert "has no price in this channel" in post(client, workshop, **row).content.decode()
    assert post(client, workshop, **row, **{"tags-0-price": "3,50"}).status_code == 200


def test_designs_of_another_workshop_are_no_choice(client, workshop, other_workshop, priced):
    make_design(other_workshop, name="Foreign")
    response = post(client, workshop, **{"tags-0-design": "Foreign", "tags-0-count": "1"})
    assert response.status_code == 422


def test_strangers_and_visitors_are_kept_out(stranger_client, anonymous_client, workshop):
    address = reverse("pricing:tag_sheet", args=[workshop.slug])
    assert stranger_client.get(address).status_code == 404
    assert anonymous_client.get(address).status_code == 302


SHEET = {
    "name": "Kraft 2 x 4",
    "page_width_mm": "210 mm",
    "page_height_mm": "297 mm",
    "columns": "2",
    "rows": "4",
    "label_width_mm": "90 mm",
    "label_height_mm": "60 mm",
    "left_mm": "10 mm",
    "top_mm": "12,5 mm",
    "pitch_x_mm": "95 mm",
    "pitch_y_mm": "65 mm",
}


def test_an_own_sheet_can_be_added_used_and_put_away_with_undo(client, workshop, priced):
    response = client.post(reverse("pricing:tag_label_sheet_new", args=[workshop.slug]), SHEET)
    assert response.status_code == 302
    sheet = LabelSheet.objects.get()
    assert sheet.top_mm == Decimal("12.5")
    row = {"tags-0-design": priced.design.name, "tags-0-count": "1"}
    assert post(client, workshop, sheet=f"own-{sheet.pk}", **row).status_code == 200
    client.post(reverse("pricing:tag_label_sheet_retire", args=[workshop.slug, sheet.pk]))
    assert post(client, workshop, sheet=f"own-{sheet.pk}", **row).status_code == 422
    client.post(reverse("pricing:tag_label_sheet_restore", args=[workshop.slug, sheet.pk]))
    assert post(client, workshop, sheet=f"own-{sheet.pk}", **row).status_code == 200


def test_the_page_of_an_own_sheet_keeps_its_name_while_the_name_is_emptied(client, workshop):
    client.post(reverse("pricing:tag_label_sheet_new", args=[workshop.slug]), SHEET)
    sheet = LabelSheet.objects.get()
    address = reverse("pricing:tag_label_sheet", args=[workshop.slug, sheet.pk])
    page = client.post(address, {**SHEET, "name": ""}).content.decode()
    assert f"<h1>{sheet.name}</h1>" in page


def test_an_own_sheet_that_does_not_fit_says_where(client, workshop):
    response = client.post(
        reverse("pricing:tag_label_sheet_new", args=[workshop.slug]), {**SHEET, "rows": "5"}
    )
    assert response.status_code == 422
    assert (
        "The last row ends at 13.0906 in, the page is 11.6929 in high." in response.content.decode()
    )


def test_an_own_sheet_in_inches_is_shown_back_as_it_was_typed(client, workshop):
    typed = {
        "page_width_mm": "8 1/2", "page_height_mm": "11", "label_width_mm": "2 5/8",
        "label_height_mm": "1", "left_mm": "3/16", "top_mm": "1/2", "pitch_x_mm": "2 3/4",
        "pitch_y_mm": "1",
    }  # fmt: skip
    address = reverse("pricing:tag_label_sheet_new", args=[workshop.slug])
    posted = {**SHEET, **typed, "columns": "3", "rows": "10"}
    assert client.post(address, posted).status_code == 302
    sheet = LabelSheet.objects.get()
    assert sheet.left_mm == Decimal("4.7625")
    address = reverse("pricing:tag_label_sheet", args=[workshop.slug, sheet.pk])
    form = client.get(address).context["form"]
    assert {name: form[name].value() for name in typed} == typed
    # 1/8 in is too low for a label: the limit is told in her unit
    refused = client.post(address, {**posted, "label_height_mm": "1/8"})
    assert "The least is 0.315 in." in refused.content.decode()


@pytest.mark.parametrize(
    ("locale", "unit", "first"),
    [
        ("en_US", "in", "Letter, 30 labels of 2 5/8 x 1 in"),
        ("en_CA", "mm", "Letter, 30 labels of 66.675 x 25.4 mm"),
        ("en_GB", "mm", "A4, 24 labels of 70 x 37 mm"),
        ("de_DE", "mm", "A4, 24 labels of 70 x 37 mm"),
    ],
)
def test_the_sheets_of_her_own_paper_come_first(client, workshop, locale, unit, first):
    workshop.locale, workshop.unit = locale, unit
    workshop.save()
    form = client.get(reverse("pricing:tag_sheet", args=[workshop.slug])).context["form"]
    names = [name for _, name in form.fields["sheet"].choices]
    assert names[0] == first
    paper = first.split(",")[0].split()[0]
    of_paper = [name.startswith(paper) for name in names]
    assert of_paper == sorted(of_paper, reverse=True)


def test_a_reader_may_not_change_sheets(reader_client, workshop):
    address = reverse("pricing:tag_label_sheet_new", args=[workshop.slug])
    assert reader_client.post(address, SHEET).status_code == 403


def test_more_designs_cost_no_more_queries(client, workshop, priced, count_queries):
    address = reverse("pricing:tag_sheet", args=[workshop.slug])
    client.get(address)
    with count_queries() as few:
        client.get(address)
    for _ in range(12):
        make_design(workshop)
    with count_queries() as many:
        client.get(address)
    assert len(many) == len(few)


# ---- many tags: made by a worker


def many(priced, **fields):
    key = fields.pop("form_key", "6f9619ff-8b86-4d01-b42d-00cf4fc964ff")
    row = {"tags-0-design": priced.design.name, "tags-0-count": "300"}
    return {"form_key": key, **row, **fields}


@pytest.mark.django_db(transaction=True)
def test_many_tags_are_made_in_the_background_once_and_remembered(client, workshop, priced):
    first, second = (post(client, workshop, **many(priced)) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert "Price tags: 300 on 13 sheets" in client.get(first["Location"]).content.decode()
    assert not TagPrint.objects.exists()
    do_what_waits()
    work = Work.objects.get()
    assert (work.state, work.done, work.of) == ("done", 13, 13)
    assert TagPrint.objects.get().count == 300
    page = client.get(first["Location"]).content.decode()
    assert "The price tags are ready." in page
    pdf = client.get(f"{first['Location']}file/")
    with pdfplumber.open(BytesIO(pdf.content)) as opened:
        assert len(opened.pages) == 13
        assert opened.pages[1].extract_text().count("12.50") == 24


@pytest.mark.django_db(transaction=True)
def test_a_reader_prints_many_and_nothing_is_remembered(reader_client, workshop, priced):
    answer = post(reader_client, workshop, **many(priced))
    do_what_waits()
    assert reader_client.get(f"{answer['Location']}file/").status_code == 200
    assert not TagPrint.objects.exists()


def test_what_cannot_be_printed_is_said_at_the_form_before_any_work(client, workshop, priced):
    priced.design.caution = "Sharp corners. " * 13
    priced.design.save()
    answer = post(client, workshop, **many(priced, sheet="a4-65"))
    assert answer.status_code == 422
    assert "does not fit on these labels" in answer.content.decode()
    assert not Work.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_making_many_tags_can_be_stopped_between_two_sheets(client, workshop, priced, monkeypatch):
    monkeypatch.setattr(doing, "LOOK_EVERY_S", 0)
    answer = post(client, workshop, **many(priced))
    seen = []

    def look(self, done=0, of=0, stage="", *, now=False):
        seen.append(done)
        if done == 5:
            Work.objects.update(stop_asked=True)
        told(self, done, of, stage, now=now)

    told = doing.Watch.look
    monkeypatch.setattr(doing.Watch, "look", look)
    do_what_waits()
    assert Work.objects.get().state == "stopped"
    assert max(seen) == 5
    assert client.get(f"{answer['Location']}file/").status_code == 404
