"""Price tags: the PDF is true to the millimetre and says what it should."""

from dataclasses import replace
from io import BytesIO

import pdfplumber
import pikepdf
import pypdfium2
import pytest

from pricing.calc.papers.labels import COMMON_SHEETS, places
from pricing.calc.papers.tag_layouts import USUAL_SHEETS, LabelTooSmall, TagLayout
from pricing.price_tags.services import (
    MOST_TAGS,
    CautionDoesNotFit,
    NoTags,
    Tag,
    TooManyTags,
    print_tags,
)

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


LAYOUTS = [(layout, paper) for layout in TagLayout for paper in ("A4", "letter")]


@pytest.mark.parametrize(("layout", "paper"), LAYOUTS)
def test_each_layout_says_its_price_large_inside_its_label(layout, paper):
    geometry = COMMON_SHEETS[USUAL_SHEETS[layout, paper]][1]
    tag = Tag("Wren box", "£1,207.50", 2, "WB-7", "Keep dry", "Marlow", "Not for eating.", "WB-7")
    pdf = print_tags(tags=[tag], geometry=geometry, with_test_page=False, layout=layout)
    (text,) = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]
    # a table card is read from both sides
    assert text.count("£1,207.50") == (4 if layout is TagLayout.CARD else 2)
    for part in ("Wren box", "WB-7", "Keep dry", "Marlow", "Not for eating."):
        assert part in text, part
    with pdfplumber.open(BytesIO(pdf)) as opened:
        page = opened.pages[0]
        left = float(geometry.x(0)) / MM_PER_POINT
        right = float(geometry.x(0) + geometry.label_width) / MM_PER_POINT
        priced = [each for each in page.chars if each["text"] == "£" and each["x0"] < right]
        assert priced
        assert all(each["x0"] >= left for each in priced)
        assert priced[0]["size"] == max(each["size"] for each in page.chars)
        assert priced[0]["size"] >= 4 / MM_PER_POINT
        ends = [each["x1"] for each in page.chars if each["x0"] < right and each["x0"] >= left]
        assert max(ends) <= right
        size = (float(geometry.label_width), float(geometry.label_height))
        # an outline has an outer and an inner edge, a tenth of a millimetre apart
        outlined = boxes_mm(page, *size)
        assert len(outlined) == (4 if layout.is_cut else 0)


SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="20" height="20" viewBox="0 0 20 20">'
    '<rect width="20" height="20" fill="#00ff00"/></svg>'
)


@pytest.mark.parametrize(("code", "sides"), [("", 2), ("WB-7", 0)])
def test_a_table_card_shows_the_item_where_no_code_takes_its_room(code, sides):
    """On both sides, left of the words: 36% of 90 mm, which is less than the side is high."""
    geometry = COMMON_SHEETS["a4-table"][1]
    tag = Tag("Wren box", "£7.50", 1, qr=code, picture=SQUARE)
    pdf = print_tags(tags=[tag], geometry=geometry, with_test_page=False, layout=TagLayout.CARD)
    with pdfplumber.open(BytesIO(pdf)) as opened:
        page = opened.pages[0]
        drawn = [each for each in page.rects if each["non_stroking_color"] == (0, 1, 0)]
        assert len(drawn) == sides
        for each in drawn:
            assert each["width"] * MM_PER_POINT == pytest.approx(32.4, abs=0.2)
        if drawn:
            words = [each["x0"] for each in page.chars if each["text"] == "W" and each["upright"]]
            assert min(words) > min(each["x1"] for each in drawn)


def test_a_hanging_tag_has_its_hole_and_what_folds_its_line():
    def page_of(layout):
        geometry = COMMON_SHEETS[USUAL_SHEETS[layout, "A4"]][1]
        pdf = print_tags(
            tags=[Tag("Bag", "€3.00", 1)], geometry=geometry, with_test_page=False, layout=layout
        )
        with pdfplumber.open(BytesIO(pdf)) as opened:
            page = opened.pages[0]
            return boxes_mm(page, 4, 4), [each["matrix"][0] for each in page.chars]

    assert page_of(TagLayout.HANGING)[0]
    assert not page_of(TagLayout.STICKER)[0]
    for layout in (TagLayout.STICKER, TagLayout.HANGING):
        assert all(across > 0 for across in page_of(layout)[1])
    # the other side of a table card stands on its head until it is folded
    assert {across > 0 for across in page_of(TagLayout.CARD)[1]} == {True, False}


def test_a_layout_that_does_not_fit_its_labels_is_refused():
    small = COMMON_SHEETS["a4-65"][1]
    for layout in (TagLayout.HANGING, TagLayout.FOLDED, TagLayout.CARD):
        with pytest.raises(LabelTooSmall, match="needs labels of at least"):
            print_tags(tags=[Tag("Bag", "€3.00", 1)], geometry=small, layout=layout)


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


def _marked(page):
    """Return the tag and the number of each piece of marked content of a page, in order."""
    return [
        (str(words[0]), int(words[1].MCID))
        for words, operator in pikepdf.parse_content_stream(page)
        if str(operator) == "BDC"
    ]


def test_a_tag_is_drawn_once_and_every_one_on_the_sheets_stands_in_the_structure():
    tags = [
        Tag(name="Wren box", price="€7", count=30, qr="https://marlow.example/wren"),
        Tag(name="Robin box", price="€8", count=10),
    ]
    pdf = print_tags(tags=tags, geometry=COMMON_SHEETS["a4-24"][1])
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert opened.check_pdf_syntax() == []
        assert len(opened.pages) == 3
        forms = [
            one
            for one in opened.pages[1].Resources.XObject.values()
            if one.Subtype == "/Form" and b"BDC" not in one.read_bytes()
        ]
        assert len(forms) == 3
        root = opened.Root.StructTreeRoot
        numbers = list(root.ParentTree.Nums)
        by_page = dict(zip(map(int, numbers[::2]), numbers[1::2], strict=True))
        assert sorted(by_page) == [0, 1, 2]
        stamped = []
        for page in list(opened.pages)[1:]:
            elements = by_page[int(page.obj.StructParents)]
            marked = _marked(page)
            assert [number for _, number in marked] == list(range(len(elements)))
            for (kind, number), element in zip(marked, elements, strict=True):
                assert (str(element.S), int(element.K)) == (kind, number)
                assert element.Pg.objgen == page.obj.objgen
                stamped.append((kind, str(element.get("/Alt", ""))))
        assert stamped.count(("/P", "")) == 40
        assert stamped.count(("/Figure", "Code for Wren box")) == 30
        in_tree = {element.objgen for element in root.K[0].K}
        assert {element.objgen for page in (1, 2) for element in by_page[page]} <= in_tree


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
    with pytest.raises(TooManyTags, match="in batches"):
        print_tags(tags=[Tag(name="a", price="1", count=MOST_TAGS + 1)], geometry=geometry)


def test_a_text_cannot_pull_a_file_into_the_pdf():
    geometry = replace(COMMON_SHEETS["a4-card"][1])
    name = '<link rel=attachment href="file:///etc/hostname"><img src="file:///etc/hostname">'
    pdf = print_tags(tags=[Tag(name=name, price="1", count=1)], geometry=geometry)
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert "/EmbeddedFiles" not in opened.Root.get("/Names", {})
