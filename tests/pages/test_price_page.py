"""The price page in a browser: button in sight, focus kept after saving, tabs everywhere."""

import pytest
from playwright.sync_api import Page, expect

from catalogue.recipes.models import Option, OptionChoice
from maker.workshop.models import Workshop
from tests.factories import make_channel, make_recipe
from tests.pages.looks import LAPTOP, PHONE


@pytest.fixture
def address(workshop: Workshop) -> str:
    """The price page of a design with more options than fit below each other."""
    version = make_recipe(workshop)
    for number in range(8):
        option = Option.objects.create(version=version, key=f"o{number}", name=f"Option {number}")
        OptionChoice.objects.create(option=option, key="no", name="None", is_default=True)
    make_channel(workshop, name="Fair")
    make_channel(workshop, name="Shop")
    return f"/w/marlow/designs/{version.design_id}/"


def test_the_button_of_the_question_is_in_sight(signed_in_page: Page, address: str) -> None:
    page = signed_in_page
    page.set_viewport_size(LAPTOP)
    for place, button in (
        (f"{address}cost/?quantity=9", "Recalculate"),
        ("/w/marlow/shapes/two_piece_bag/", "Update drawing"),
    ):
        page.goto(place)
        found = page.get_by_role("button", name=button)
        expect(found).to_be_in_viewport(ratio=1)
        page.mouse.wheel(0, 900)
        expect(found).to_be_in_viewport(ratio=1)


def test_a_price_is_saved_without_scrolling(signed_in_page: Page, address: str) -> None:
    page = signed_in_page
    page.set_viewport_size(LAPTOP)
    page.goto(f"{address}cost/?quantity=9")
    expect(page.get_by_role("button", name="Save price")).to_be_in_viewport(ratio=1)


def test_on_a_phone_the_price_is_in_sight_while_the_question_changes(
    signed_in_page: Page, address: str
) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(f"{address}cost/?quantity=9")
    line = page.locator("#answer-line")
    figure = page.locator(".answer-figures dd").first
    expect(line).to_be_in_viewport(ratio=1)
    before = figure.inner_text()
    expect(line).to_contain_text(before)
    page.get_by_label("Option 5").focus()
    expect(line).to_be_in_viewport(ratio=1)
    page.get_by_label("Made at once").fill("1")
    expect(figure).not_to_have_text(before)
    expect(line).to_contain_text(figure.inner_text())
    page.set_viewport_size(LAPTOP)
    expect(line).to_be_hidden()


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_the_focus_stays_where_a_price_was_saved(
    signed_in_page: Page, address: str, size: dict[str, int]
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)
    page.goto(f"{address}cost/?quantity=9")
    page.get_by_label("Price each").fill("5.20")
    page.get_by_role("button", name="Save price").click()
    expect(page.get_by_role("button", name="Save price")).to_be_focused()
    expect(page.get_by_text("€5.20 each since")).to_be_in_viewport()


def test_the_pages_of_a_design_have_the_same_tabs(signed_in_page: Page, address: str) -> None:
    page = signed_in_page
    for place, here in (
        (f"{address}cost/", "Price"),
        (address, "Versions"),
        (f"{address}v/1/recipe/", "Recipe"),
    ):
        page.goto(place)
        tabs = page.get_by_role("navigation", name="Pages of")
        expect(tabs.locator("[aria-current]")).to_have_text(here)
        assert [text.strip() for text in tabs.locator("> ul > li > a").all_inner_texts()] == [
            "Price",
            "Quantities",
            "Recipe",
            "Versions",
        ]
