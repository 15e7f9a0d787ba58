"""The page that prints price tags: what it asks, refuses and remembers; sheets of her own."""

import uuid
from decimal import Decimal
from io import BytesIO

import pdfplumber
import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion
from maker.kept import Kept
from maker.slow_work import doing
from maker.slow_work.models import Work
from pricing.calc.papers.tag_layouts import TagLayout
from pricing.channels.models import Channel
from pricing.price_tags import inputs
from pricing.price_tags.inputs import pictures_of, tag_items
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.prices.models import PriceListEntry
from tests.factories import make_channel, make_design, make_material, make_recipe, today
from tests.slow_work import do_what_waits


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


def test_the_page_puts_the_item_on_table_cards(client, workshop, priced):
    row = {"tags-0-design": priced.design.name, "tags-0-count": "2"}
    kept = tag_items(priced.design.workshop, priced.channel)
    assert "<svg" in pictures_of(kept.items)[priced.design.name]
    with_picture = post(client, workshop, layout="card", sheet="", **row).content
    without = post(client, workshop, layout="card", sheet="", qr="code", **row).content
    assert colours_in(with_picture) > colours_in(without)


def colours_in(pdf):
    """Return how many colours areas have on the last page; codes and outlines are ink alone."""
    with pdfplumber.open(BytesIO(pdf)) as opened:
        page = opened.pages[-1]
        return len({str(each["non_stroking_color"]) for each in page.rects + page.curves})


@pytest.mark.parametrize(("locale", "width"), [("en_GB", 595), ("en_US", 612)])
@pytest.mark.parametrize("layout", TagLayout)
def test_the_page_prints_a_layout_on_the_paper_of_the_country(
    client, workshop, priced, locale, width, layout
):
    workshop.locale = locale
    workshop.save()
    row = {"tags-0-design": priced.design.name, "tags-0-count": "2"}
    response = post(client, workshop, layout=layout.value, sheet="", **row)
    assert response["Content-Type"] == "application/pdf"
    with pdfplumber.open(BytesIO(response.content)) as opened:
        assert round(opened.pages[0].width) == width


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
        ({"tags-0-design": "", "tags-0-count": "3"}, "Choose the design"),
        ({"tags-0-count": "-2"}, "The least is 0"),
        ({"tags-0-count": "1e9"}, "a number we can read"),
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


def test_a_price_is_read_as_the_workshop_writes_numbers(client, workshop, priced):
    """1.234 is a thousand and more where a comma is the decimal mark."""
    workshop.locale = "de_DE"
    workshop.save()
    row = {"tags-0-design": priced.design.name, "tags-0-count": "1", "tags-0-price": "1.234"}
    with pdfplumber.open(BytesIO(post(client, workshop, **row).content)) as opened:
        assert "1.234,00" in opened.pages[0].extract_text()


def test_a_price_finer_than_the_currency_is_refused(client, workshop, priced):
    row = {"tags-0-design": priced.design.name, "tags-0-count": "1", "tags-0-price": "3.333"}
    page = post(client, workshop, **row)
    assert page.status_code == 422
    assert "no coin that small" in page.content.decode()


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
    usual, *names = [name for _, name in form.fields["sheet"].choices]
    assert usual == "Usual for the layout"
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


def test_what_is_wrong_in_a_row_is_said_once(client, workshop, priced):
    row = {"tags-0-design": "A bag never made", "tags-0-count": "2"}
    page = post(client, workshop, **row).content.decode()
    summary = page.partition('class="error-summary"')[2].partition("</div>")[0]
    assert summary.count("Row 1, Design") == 1


TAG_CHANGES = {
    "price": lambda entry: PriceListEntry.objects.update(price=Decimal(14)),
    "quantity": lambda entry: PriceListEntry.objects.update(bought_at_once=6),
    "replaced": lambda entry: PriceListEntry.objects.update(replaced_at=timezone.now()),
    "name": lambda entry: Design.objects.update(name="Fern bag"),
    "code": lambda entry: Design.objects.update(code="FB1"),
    "archived": lambda entry: Design.objects.update(retired_on=today()),
    "one more": lambda entry: make_design(entry.design.workshop, name="Lantern"),
    "what buyers take": lambda entry: Channel.objects.update(bought_at_once=24),
}


@pytest.mark.parametrize("change", TAG_CHANGES)
def test_what_tags_are_for_is_kept_until_it_changes(workshop, priced, change, monkeypatch):
    DesignVersion.objects.update(recipe_stamp=uuid.uuid4())

    def rows():
        items = tag_items(workshop, Channel.objects.get(pk=priced.channel_id))
        return items, [
            (one.name, one.design.code, one.entry and (one.entry.price, one.entry.bought_at_once))
            for one in items.items
        ]

    first, before = rows()
    assert rows()[0] is first
    TAG_CHANGES[change](priced)
    then, after = rows()
    assert then is not first
    assert (after != before) is (change != "what buyers take")
    monkeypatch.setattr(inputs, "_ITEMS", Kept(0))
    assert rows()[1] == after


def test_of_many_prices_one_page_is_in_the_rows_and_each_has_its_name(client, workshop):
    channel, card = make_channel(workshop, name="Fair"), make_material(workshop)
    for number in range(30):
        version = make_recipe(workshop, card)
        Design.objects.filter(pk=version.design_id).update(name=f"Bag {number:02}")
        PriceListEntry.objects.create(
            design=version.design,
            version=version,
            channel=channel,
            price=9,
            cost_each=5,
            floor_each=6,
            target_each=12,
        )
    page = client.get(reverse("pricing:tag_sheet", args=[workshop.slug])).content.decode()
    assert [f'name="tags-{row}-design" value="Bag {row:02}"' in page for row in range(26)] == (
        [True] * 25 + [False]
    )
    assert all(f'<option value="Bag {number:02}">' in page for number in range(30))
    answer = post(client, workshop, **{"tags-0-design": "Bag 29", "tags-0-count": "2"})
    assert answer["Content-Type"] == "application/pdf"
