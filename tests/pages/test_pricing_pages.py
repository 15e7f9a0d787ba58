"""Cost, channels, prices and tags are open to everyone and fit any width."""

from collections.abc import Callable

from playwright.sync_api import Page, expect

from maker.workshop.models import Workshop
from tests.factories import make_channel, make_recipe
from tests.pages.looks import PHONE, assert_easy_to_hit, assert_no_sideways_scroll


def test_pages_are_open_to_everyone_on_any_width(
    signed_in_page: Page, workshop: Workshop, axe: Callable[[Page], None]
) -> None:
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    page = signed_in_page
    cost = f"/w/marlow/designs/{version.design_id}/cost/?quantity=9"
    page.goto(cost)
    page.get_by_role("button", name="Save price").click()
    expect(page.get_by_text("each for Fair")).to_be_visible()
    for place in (cost, "/w/marlow/channels/", "/w/marlow/prices/", "/w/marlow/tags/"):
        page.goto(place)
        axe(page)
        assert_no_sideways_scroll(page)
        page.set_viewport_size(PHONE)
        assert_easy_to_hit(page)
        axe(page)
        page.set_viewport_size({"width": 1280, "height": 800})
