"""Somebody who has never seen it gets from an empty workshop to a price in three minutes."""

from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from maker.workshop.models import Workshop
from tests import factories
from tests.pages.looks import LAPTOP, PHONE

# Time allowed: three minutes. A practised reader takes about 2 s to find and read a field or a
# button, and types about 2 letters a second with one hand (common practice, no source; slow ones).
SECONDS = 180
SECONDS_A_LOOK = 4
LETTERS_A_SECOND = 2


class Hands:
    """Types and clicks as a person does, and counts both."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.fields = self.letters = self.clicks = 0

    def type(self, label: str, text: str) -> None:
        self.page.get_by_label(label, exact=True).fill(text)
        self.fields += 1
        self.letters += len(text)

    def press(self, role: str, name: str) -> None:
        self.page.get_by_role(role, name=name, exact=True).first.click()
        self.clicks += 1

    @property
    def seconds(self) -> float:
        return (self.fields + self.clicks) * SECONDS_A_LOOK + self.letters / LETTERS_A_SECOND


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_from_an_empty_workshop_to_a_price(signed_in_page, workshop, size):
    page, hands = signed_in_page, Hands(signed_in_page)
    page.set_viewport_size(size)
    page.goto(f"/w/{workshop.slug}/")
    hands.press("link", "Add a material")
    hands.type("Name", "Spotted card")
    hands.type("Width", "12")
    hands.type("Height", "12")
    hands.type("Pack size", "24")
    hands.type("Price", "11.40")
    hands.press("button", "Save material")
    hands.press("link", "New design")
    hands.type("Name", "Gift bag")
    hands.type("Cut width", "8 1/2")
    hands.type("Cut height", "5 1/2")
    hands.type("Time to make one", "9")
    hands.press("button", "See what it costs")
    # a dozen, two to a sheet: 6 sheets of 0.475 + 12 x 9 min at (15.00 + 4.20) / 60 = 37.41;
    # 3.1175 each; 30 % margin asks for 4.4536, up to the next 0.05
    expect(page.locator(".answer-figures").get_by_text("€4.50").first).to_be_visible()
    assert Material.objects.get().name == "Spotted card"
    assert Design.objects.get().name == "Gift bag"
    assert hands.fields == 9
    assert hands.seconds < SECONDS, f"{hands.seconds} s for {hands.fields} fields"


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_from_the_first_price_to_a_tag_and_a_board_in_six_clicks(signed_in_page, workshop, size):
    version = factories.make_recipe(workshop)
    factories.make_channel(workshop, name="Fair")
    page, hands = signed_in_page, Hands(signed_in_page)
    page.set_viewport_size(size)
    page.goto(f"/w/{workshop.slug}/designs/{version.design_id}/cost/?quantity=12")
    hands.press("button", "Save price")
    hands.press("link", "Print tags")
    with page.context.expect_page() as tags:
        hands.press("button", "Create PDF")
    tags.value.close()
    page.locator("summary", has_text="Prices").first.click()
    hands.clicks += 1
    hands.press("link", "Price list")
    with page.expect_response(lambda answer: "board.pdf" in answer.url) as board:
        hands.press("button", "Print price board")
    assert board.value.status == 200
    assert board.value.headers["content-type"] == "application/pdf"
    assert hands.clicks <= 6


def test_a_shape_brings_both_halves_of_a_bag_to_its_first_price(signed_in_page, workshop, axe):
    factories.make_pack(factories.make_material(workshop, name="Spotted card"))
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(f"/w/{workshop.slug}/designs/new/")
    page.get_by_label("Name").fill("Gift bag")
    page.get_by_label("Shape").select_option("two_piece_bag")
    for side, length in (("Width W", "7 1/2"), ("Depth D", "4"), ("Height H", "8")):
        page.get_by_label(side).fill(length)
    page.get_by_label("Lid", exact=True).check()
    blanks = page.locator("#shape-blank")
    expect(blanks.get_by_text("2 of 12 × 12 in (body)")).to_be_visible()
    expect(blanks.get_by_text("1 of 7 1/2 × 8 1/2 in (lid)")).to_be_visible()
    # what was typed before the shape was chosen is still there
    expect(page.get_by_label("Name")).to_have_value("Gift bag")
    axe(page)
    page.get_by_label("Time to make one").fill("9")
    page.get_by_role("button", name="See what it costs").click()
    said = "To cut for one item: 2 of 12 × 12 in (body), 1 of 7 1/2 × 8 1/2 in (lid)."
    expect(page.get_by_text(said)).to_be_visible()


def test_what_saves_a_sheet_comes_below_the_price(signed_in_page, workshop, axe):
    version = factories.make_recipe(workshop)
    piece = version.pieces.get()
    piece.width_mm = Decimal("158.75")  # 6 1/4 in: two of them do not lie side by side
    piece.height_mm = Decimal("152.4")
    piece.save()
    page = signed_in_page
    page.goto(f"/w/{workshop.slug}/designs/{version.design_id}/cost/?quantity=12")
    saving = page.locator("#size-savings")
    expect(saving.get_by_text("3 instead of 6").first).to_be_visible()
    saving.locator("summary").click()
    axe(page)
    saving.get_by_role("link", name="6 in", exact=True).click()
    expect(page.get_by_role("heading", name="Recipe")).to_be_visible()


def test_the_price_answers_while_she_types(signed_in_page, workshop, axe):
    from tests.factories import make_channel, make_recipe

    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    page = signed_in_page
    page.goto(f"/w/{workshop.slug}/designs/{version.design_id}/cost/?quantity=9")
    ask = page.locator(".figures .main dd").first
    expect(ask).to_have_text("€4.70")
    axe(page)
    quantity = page.get_by_label("Made at once", exact=True)
    quantity.fill("10")
    # the tenth needs a second sheet: (2 x 0.50 + 100 x 0.32) / 10 / 0.7 = 4.714 -> 4.75
    expect(ask).to_have_text("€4.75")
    assert "quantity=10" in page.url
    expect(quantity).to_be_focused()
    # a wrong entry is explained and the last good answer stays
    quantity.fill("ten")
    expect(page.get_by_text("a number. Enter one").first).to_be_visible()
    expect(ask).to_have_text("€4.75")
    expect(quantity).to_have_value("ten")
    quantity.fill("9")
    expect(ask).to_have_text("€4.70")
    expect(page.get_by_text("a number. Enter one")).to_have_count(0)


def test_a_price_is_kept_and_its_tags_printed_from_there(signed_in_page, workshop):
    from pricing.prices.models import PriceListEntry
    from tests.factories import make_channel, make_recipe

    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    page = signed_in_page
    page.goto(f"/w/{workshop.slug}/designs/{version.design_id}/cost/?quantity=9")
    page.get_by_label("Price each").fill("5,50")
    page.get_by_role("button", name="Save price").click()
    expect(page.get_by_text("Saved: €5.50 each for Fair, 9 or more.")).to_be_visible()
    assert PriceListEntry.objects.get().price == Decimal("5.5")
    page.get_by_role("link", name="Print tags").click()
    expect(page.get_by_label("Design").first).to_have_value(version.design.name)
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Create PDF").click()
    opened.value.close()


def test_the_back_button_after_keeping_a_price_does_not_keep_it_twice(signed_in_page, workshop):
    from pricing.prices.models import PriceListEntry
    from tests.factories import make_channel, make_recipe

    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    page = signed_in_page
    page.goto(f"/w/{workshop.slug}/designs/{version.design_id}/cost/?quantity=9")
    page.get_by_role("button", name="Save price").click()
    expect(page.get_by_text("€4.70 each for Fair, 9 or more.")).to_be_visible()
    page.go_back()
    page.get_by_role("button", name="Save price").click()
    expect(page.get_by_text("€4.70 each for Fair, 9 or more.")).to_be_visible()
    assert PriceListEntry.objects.count() == 1


def test_a_slip_while_typing_is_told_beside_the_entry_and_moves_nothing(
    signed_in_page: Page, workshop: Workshop
) -> None:
    page = signed_in_page
    version = factories.make_recipe(workshop)
    page.goto(f"/w/marlow/designs/{version.design_id}/cost/")
    entry = page.get_by_label("Made at once")
    before = entry.bounding_box()
    entry.fill("-3")
    told = page.locator("#live-quantity").get_by_text("The least is 1.")
    expect(told).to_be_visible()
    assert entry.bounding_box() == before
    expect(page.get_by_text("The figures haven't changed yet.")).to_be_visible()
    entry.fill("24")
    expect(told).not_to_be_attached()
