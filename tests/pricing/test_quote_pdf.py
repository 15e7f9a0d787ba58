"""A quote as PDF: whole, tagged, calm over many pages, and silent about what she earns."""

from decimal import Decimal
from io import BytesIO

import pdfplumber
import pikepdf
import pypdfium2
import pytest

from maker.calc.money import format_money
from pricing.quotes.printing import customer_pdf, own_pdf
from tests.pricing.quote_documents import DRAWING, OWN, OWN_LINE, quote_document, quote_line


def pages_of(pdf):
    with pdfplumber.open(BytesIO(pdf)) as opened:
        return [page.extract_text() for page in opened.pages]


def text_of(pdf):
    return "\n".join(pages_of(pdf))


def text_by_pdfium(pdf):
    """The text as another reader finds it, what lies outside the page included."""
    opened = pypdfium2.PdfDocument(pdf)
    return "\n".join(page.get_textpage().get_text_range() for page in opened)


def joined(text):
    """Text without white space: where a line breaks says nothing."""
    return "".join(text.split())


def everything_in(pdf):
    """All words a PDF holds: what is drawn, strings of every object, metadata, attachments.

    What draws is left out, as letters are numbers of shapes there and coordinates look like money.
    """
    found = [text_of(pdf), text_by_pdfium(pdf)]
    with pikepdf.open(BytesIO(pdf)) as opened:
        for entry in opened.objects:
            found += _strings(entry, 0)
            if isinstance(entry, pikepdf.Stream) and entry.get("/Type") in (
                "/Metadata", "/EmbeddedFile",
            ):  # fmt: skip
                found.append(entry.read_bytes().decode())
    return "\n".join(found)


def _strings(entry, depth):
    if depth > 12:
        return []
    if isinstance(entry, pikepdf.String):
        return [str(entry)]
    if isinstance(entry, pikepdf.Array):
        parts = list(entry)
    elif isinstance(entry, (pikepdf.Dictionary, pikepdf.Stream)):
        parts = [entry[key] for key in entry.keys() if key not in ("/Parent", "/P", "/Pg")]  # noqa: SIM118 - iterating gives no keys
    else:
        return []
    return [text for part in parts for text in _strings(part, depth + 1)]


def own_writings():
    """Each figure of hers as it would stand in a file: bare, as money, as percentage."""
    numbers = [*OWN.values(), *OWN_LINE.values()]
    figures = [figure for figure in numbers if isinstance(figure, str)]
    writings = {str(figure) for figure in figures} | {OWN["dates"]["why"]}
    for figure in figures:
        number = Decimal(str(figure))
        writings |= {f"{number:,}", format_money(number, "EUR", "en_GB")}
        if number < 1:
            writings |= {f"{number * 100:f}".rstrip("0").rstrip(".") + " %"}
    return sorted(writings)


def test_it_says_who_what_how_much_and_until_when():
    text = text_of(customer_pdf(quote_document(lines=[quote_line(drawing=DRAWING)])))
    for part in (
        "Marlow Paperworks", "Penny Farrow", "The Old Dairy", "penny@example.test",
        "01632 960 001", "marlow.example", "Orla Bray", "Orla and Tam", "3 Mill Lane",
        "Quote Q-2026-0012", "Christening in May", "20 November 2026",
        "Thank you for asking.", "Bag 1 FB-1", "A fold-over top and a ribbon",
        "90 × 60 × 140 mm · Colour: Dusk · Closure: dot", "60", "€9.55", "€573.00",
        "Delivery €6.50", "Net €1,725.50", "VAT 20% on €1,725.50 €345.10",
        "Total €2,070.60", "Prices of lines are before VAT.",
        "Deposit of 30%, when you accept, by 11 December 2026 €621.18",
        "Balance, before delivery, by 20 January 2027 €1,449.42",
        "Ready for 20 January 2027 if accepted by 11 December 2026 and the deposit is paid.",
        "sizes may vary by up to 3 mm", "A change after the cards are cut costs what was cut.",
        "Page 1 of ",
    ):  # fmt: skip
        assert part in text, part
    assert "Rush" not in text
    rush = text_of(customer_pdf(quote_document(public={"rush": True, "delivery": None})))
    assert "Prices include the rush surcharge." in rush
    assert "Delivery €" not in rush
    assert "revision 2" not in text


def test_the_customers_file_holds_nothing_of_her_own_figures():
    pdf = customer_pdf(quote_document(lines=3))
    held = everything_in(pdf)
    assert "Q-2026-0012" in held
    for writing in own_writings():
        assert writing not in held, writing
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert not opened.attachments
        assert "/OCProperties" not in opened.Root
        assert "/AF" not in opened.Root
    words = held.lower()
    for word in ("margin", "wage", "profit", "floor", "internal", "private"):
        assert word not in words, word


def test_the_search_finds_them_in_her_own_file():
    held = everything_in(own_pdf(quote_document(lines=3)))
    for writing in ("€7,771.31", "€8,882.42", "33.77%", "€29.73", "€5.91", "35.19%"):
        assert writing in held, writing


def test_her_own_file_says_on_each_page_that_it_is_internal():
    pages = pages_of(own_pdf(quote_document(lines=30)))
    assert len(pages) > 2
    for page in pages:
        assert "Internal copy – do not send" in page
    text = "\n".join(pages)
    for part in (
        "Private: Quote Q-2026-0012", "Cost with your wage and overhead €7,771.31",
        "Lowest price below this you work for less than your wage €8,882.42",
        "Margin of the price before tax 33.77%",
        "You earn per hour wage and profit €29.73", "Time 19319 min",
        "Lowest price each €5.91", "Suggested price each €8.83", "Total €2,070.60",
    ):  # fmt: skip
        assert part in text or joined(part) in joined(text), part


@pytest.mark.parametrize("make", [customer_pdf, own_pdf])
def test_it_is_tagged_titled_and_its_fonts_are_embedded(make):
    pdf = make(quote_document(lines=[quote_line(design="Łódź ½ ⅛ שלום 🎁", drawing=DRAWING)]))
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert opened.Root.MarkInfo.Marked
        assert "/StructTreeRoot" in opened.Root
        assert str(opened.Root.Lang) == "en-GB"
        assert b"pdfuaid:part" in opened.Root.Metadata.read_bytes()
        assert "Quote Q-2026-0012 · Marlow Paperworks" in str(opened.docinfo.Title)
        assert opened.Root.ViewerPreferences.DisplayDocTitle
        kinds = [
            str(entry.S)
            for entry in opened.objects
            if isinstance(entry, pikepdf.Dictionary) and "/S" in entry and "/P" in entry
        ]
        headings = [kind for kind in kinds if kind in ("/H1", "/H2", "/H3")]
        assert headings[0] == "/H1"
        assert headings.count("/H1") == 1
        assert {"/Table", "/TR", "/TH", "/TD", "/Figure"} <= set(kinds)
        figures = [
            entry for entry in opened.objects
            if isinstance(entry, pikepdf.Dictionary) and entry.get("/S") == "/Figure"
        ]  # fmt: skip
        assert all("Drawing of" in str(figure.Alt) for figure in figures)
        fonts = [font for page in opened.pages for font in page.Resources.Font.values()]
        assert fonts
        for font in fonts:
            for descendant in font.get("/DescendantFonts", [font]):
                if descendant.get("/Subtype") == "/Type3":
                    continue  # its shapes are in the file itself
                descriptor = descendant.FontDescriptor
                assert any(key in descriptor for key in ("/FontFile2", "/FontFile3"))


@pytest.mark.parametrize("lines", [1, 200])
def test_every_page_has_its_number_and_every_page_of_lines_the_header(lines):
    pages = pages_of(customer_pdf(quote_document(lines=lines)))
    assert len(pages) == 1 if lines == 1 else len(pages) > 10
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert "Quote Q-2026-0012" in page
        if "€573.00" in page:
            assert page.count("Quantity Each Amount") == 1
    text = "\n".join(pages)
    assert [f"Bag {n} FB-{n}" in text for n in range(1, lines + 1)] == [True] * lines
    assert text.count("€573.00") == lines
    assert text.count("Total €2,070.60") == 1


@pytest.mark.parametrize("lines", range(4, 16))
def test_totals_stay_with_the_last_line(lines):
    """Wherever the page ends, the page of the total holds the last line as well."""
    pages = pages_of(customer_pdf(quote_document(lines=lines)))
    (closing,) = (page for page in pages if "Total €" in page)
    assert f"Bag {lines} FB-{lines}" in closing
    assert "Delivery €6.50" in closing
    assert "VAT 20%" in closing


@pytest.mark.parametrize("locale", ["en_GB", "en_US"])
def test_two_lines_with_pictures_cautions_and_terms_are_one_page(locale):
    lines = [
        quote_line(1, drawing=DRAWING, caution="Not for eating."),
        quote_line(2, drawing=DRAWING, caution="Small part: not for children under three."),
    ]
    pdf = customer_pdf(quote_document(lines=lines, locale=locale))
    (page,) = pages_of(pdf)
    assert "Total" in page
    assert "Not for eating." in page
    assert "A change after the cards are cut costs what was cut." in page
    with pdfplumber.open(BytesIO(pdf)) as opened:
        assert max(word["bottom"] for word in opened.pages[0].extract_words()) <= (
            opened.pages[0].height
        )


@pytest.mark.parametrize("lines", range(1, 12))
def test_no_page_ends_a_quote_with_a_line_or_two(lines):
    """Wherever the page ends, terms stand with the conditions, the deposit with the sum."""
    pages = pages_of(customer_pdf(quote_document(lines=lines)))
    assert "Conditions" in pages[-1]
    assert "Terms" in pages[-1]
    (closing,) = (page for page in pages if "Total €" in page)
    assert "Deposit of 30%" in closing
    assert "Prices of lines are before VAT." in closing


def test_a_mark_is_said_once_on_a_page():
    (page,) = pages_of(customer_pdf(quote_document(state="declined")))
    assert page.count("Declined") == 1


def test_tax_is_said_by_rate():
    rates = [
        {"rate": "0.2", "base": "1000.00", "tax": "200.00"},
        {"rate": "0.055", "base": "100.00", "tax": "5.50"},
    ]
    text = text_of(customer_pdf(quote_document(public={"rates": rates}, tax_per_line=True)))
    assert "VAT 20% on €1,000.00 €200.00" in text
    assert "VAT 5.5% on €100.00 €5.50" in text
    assert "rounded line by line" in text
    included = text_of(customer_pdf(quote_document(prices_include_tax=True)))
    assert "Included: VAT 20% on €1,725.50 €345.10" in included
    assert "Prices include VAT." in included
    assert "Net" not in included


@pytest.mark.parametrize(("tax_name", "words"), [("VAT", "VAT"), ("", "tax")])
def test_without_registration_it_says_so_and_shows_no_tax(tax_name, words):
    text = text_of(
        customer_pdf(
            quote_document(
                tax_registered=False, tax_name=tax_name, public={"tax": "0", "rates": []}
            )
        )
    )
    assert f"No {words} is charged: not registered for {words}." in text
    assert "20%" not in text
    assert "Net" not in text


def test_nothing_is_said_of_a_deposit_that_is_not_asked():
    document = quote_document(public={"deposit": "0", "balance": "2070.60"}, valid_until=None)
    text = text_of(customer_pdf(document))
    assert "Deposit" not in text
    assert "deposit" not in text
    assert "None" not in text


def test_a_deposit_taken_up_to_a_step_says_so():
    document = quote_document(public={"deposit": "630.00", "balance": "1440.60"})
    assert "Deposit of 30%, rounded up, when you accept" in text_of(customer_pdf(document))


@pytest.mark.parametrize(
    ("fields", "mark"),
    [
        ({"state": "draft", "number": ""}, "DRAFT: not sent, not binding"),
        ({"state": "discarded", "number": ""}, "DRAFT: deleted"),
        ({"state": "replaced", "revision": 2}, "No longer valid: replaced by revision 3"),
        ({"state": "expired"}, "Expired: was valid until 11 December 2026"),
        ({"state": "declined"}, "Declined"),
        ({"state": "accepted"}, "Accepted"),
    ],
)
def test_what_is_not_the_current_quote_says_so_on_each_page(fields, mark):
    pages = pages_of(customer_pdf(quote_document(lines=12, **fields)))
    assert len(pages) > 1
    for page in pages:
        assert mark in page
    assert mark not in text_of(customer_pdf(quote_document(lines=12)))


@pytest.mark.parametrize(
    ("currency", "locale", "amount", "written"),
    [
        ("JPY", "en_GB", "123456", "JP¥123,456"),
        ("KWD", "en_GB", "1234.567", "KWD 1,234.567"),
        ("EUR", "de_DE", "1234.50", "1.234,50 €"),
        ("USD", "en_US", "1234.50", "$1,234.50"),
        ("EUR", "en_GB", "9550000000.00", "€9,550,000,000.00"),
    ],
)
def test_money_is_written_as_the_locale_does(currency, locale, amount, written):
    line = quote_line(quantity=1_000_000, price_each=amount, amount=amount)
    public = {
        "net": amount, "tax": "0", "rates": [], "total": amount, "deposit": "0",
        "delivery": "0", "balance": amount,
    }  # fmt: skip
    document = quote_document(
        lines=[line], public=public, currency=currency, locale=locale, tax_registered=False
    )
    pdf = customer_pdf(document)
    text = text_of(pdf).replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert text.count(written) == 3, text
    with pdfplumber.open(BytesIO(pdf)) as opened:
        page = opened.pages[0]
        size = (612, 792) if locale == "en_US" else (595, 842)
        assert (round(page.width), round(page.height)) == size
        assert max(word["x1"] for word in page.extract_words()) <= page.width - 50


def test_names_that_fit_below_the_quote_follow_it():
    names = [f"Guest {n}" for n in range(1, 16)]
    (page,) = pages_of(customer_pdf(quote_document(lines=[quote_line(names=names)])))
    assert "15 names, listed at the end" in page
    assert "15 Guest 15" in page


def test_few_names_stand_in_the_line_and_many_on_a_page_of_their_own():
    few = pages_of(customer_pdf(quote_document(lines=[quote_line(names=["Ida", "Bo"])])))
    assert "2 names: Ida, Bo" in few[0]
    names = [f"Guest number {n}" for n in range(1, 251)]
    pages = pages_of(customer_pdf(quote_document(lines=[quote_line(names=names)])))
    assert "250 names, listed at the end" in pages[0]
    assert "Guest" not in pages[0]
    assert pages[1].splitlines()[1] == "Names"
    listed = joined("".join(pages))
    assert all(joined(f"{n} {name}") in listed for n, name in enumerate(names, 1))


def test_fifty_pages_of_terms_come_out_whole():
    terms = "\n".join(f"Clause {n}. " + "What we agree on is told here. " * 30 for n in range(400))
    pages = pages_of(customer_pdf(quote_document(terms=terms)))
    assert len(pages) >= 50
    text = "\n".join(pages)
    assert all(f"Clause {n}." in text for n in range(400))
    assert f"Page {len(pages)} of {len(pages)}" in pages[-1]


@pytest.mark.parametrize(
    "name",
    ["שלום עולם", "مرحبا بالعالم", "🎁 gift 🎀", "<b>&amp;{{ x }}", "x" * 500,
     "a\x00b\x07\x0c\ud83d", "“Paper” & \\ Söhne", '"; content: "x'],
)  # fmt: skip
def test_odd_names_print(name):
    document = quote_document(
        lines=[quote_line(design=name, names=[name], description=name)],
        title=name,
        number=f"Q{name[:20]}",
    )
    document["customer"]["name"] = document["maker"]["name"] = name
    for make in (customer_pdf, own_pdf):
        pdf = make(document)
        with pikepdf.open(BytesIO(pdf)) as opened:
            assert 1 <= len(opened.pages) <= 6
        # without a font for emoji on the machine pdfminer reads nothing from such a page
        text = text_by_pdfium(pdf)
        assert "€573.00" in text
        assert "Page 1 of" in text


def test_right_to_left_letters_are_in_the_file():
    pdf = customer_pdf(quote_document(lines=[quote_line(design="שלום")]))
    text = text_of(pdf)
    assert set("שלום") <= set(text)


def test_a_drawing_cannot_open_files_of_the_machine(tmp_path):
    secret = tmp_path / "secret.svg"
    secret.write_text('<svg xmlns="http://www.w3.org/2000/svg"><text y="20">KEEPOUT</text></svg>')
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 90">'
        f'<image href="{secret.as_uri()}" width="80" height="80"/></svg>'
    )
    pdf = customer_pdf(quote_document(lines=[quote_line(drawing=drawing)]))
    assert "KEEPOUT" not in everything_in(pdf)


@pytest.mark.parametrize("drawing", ["not a drawing", "<svg", "<svg/>", "שלום"])
def test_a_broken_drawing_leaves_the_rest_whole(drawing):
    pdf = customer_pdf(quote_document(lines=[quote_line(drawing=drawing)]))
    assert "Total €2,070.60" in text_of(pdf)


def test_a_quote_of_nothing_is_still_a_page():
    empty = {
        "net": "0", "tax": "0", "rates": [], "total": "0", "deposit": "0",
        "balance": "0", "delivery": "0",
    }  # fmt: skip
    for make in (customer_pdf, own_pdf):
        text = text_of(make(quote_document(lines=0, public=empty, state="draft", number="")))
        assert "This quote is empty." in text


def test_a_line_longer_than_a_page_goes_on_on_the_next():
    line = quote_line(description="\n".join(f"Detail {n} of the bag" for n in range(90)))
    text = text_of(customer_pdf(quote_document(lines=[line])))
    assert all(f"Detail {n} of" in text for n in range(90))
    assert "Total €2,070.60" in text


def test_a_caution_is_printed_once_with_the_designs_it_is_about():
    lines = [
        quote_line(design="Bag", caution="Small parts: not for children.\nCord loop."),
        quote_line(design="Tag", caution="Cord loop."),
        quote_line(design="Bag", caution="Small parts: not for children."),
    ]
    text = text_of(customer_pdf(quote_document(lines=lines, unit="in")))
    assert "Bag: Small parts: not for children." in text
    assert "Bag, Tag: Cord loop." in text
    assert (text.count("Small parts"), text.count("Cord loop.")) == (1, 1)
    assert "Cautions" not in text_of(customer_pdf(quote_document(lines=[quote_line()])))
