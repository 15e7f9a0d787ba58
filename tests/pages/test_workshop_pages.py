"""The pages of the workshop itself in a browser: settings, people, account, the first page."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from catalogue.purchases.models import Purchase
from maker.accounts.models import Membership, User
from maker.workshop.models import OverheadItem, Workshop
from tests import factories
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)

PAGES = [
    "/w/marlow/",
    "/w/marlow/settings/",
    "/w/marlow/settings/counting/",
    "/w/marlow/settings/hour/",
    "/w/marlow/settings/tax/",
    "/w/marlow/settings/dates/",
    "/w/marlow/settings/quotes/",
    "/w/marlow/people/",
    "/w/marlow/settings/file/",
    "/w/marlow/settings/delete/",
    "/account/",
    "/account/delete/",
    "/workshops/?all",
    "/workshops/new/",
    "/workshops/import/",
    "/backups/",
    "/backups/move/",
    "/new/",
    "/w/marlow/no-such-page/",
]


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_every_page_is_usable_by_everyone(
    signed_in_page: Page, size: dict[str, int], reader: User, settings: Any, tmp_path: Path
) -> None:
    settings.DATA_DIR = tmp_path
    User.objects.update(looks_after_installation=True)
    page = signed_in_page
    page.set_viewport_size(size)
    for address in PAGES:
        page.goto(address)
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert_accessible(page)
        assert_easy_to_hit(page)
        assert_no_sideways_scroll(page)


def test_long_names_do_not_push_a_phone_sideways(signed_in_page: Page, workshop: Workshop) -> None:
    workshop.name = "Unbreakable" * 10
    workshop.save()
    person = factories.make_member(workshop, "helper", "a" * 60 + "@" + "b" * 60 + ".test")
    person.name = "Longname" * 14
    person.save()
    for address in ("/w/marlow/", "/w/marlow/people/", "/workshops/?all"):
        signed_in_page.goto(address)
        assert_no_sideways_scroll(signed_in_page)


def test_overhead_is_entered_in_rows_and_the_hour_answers(signed_in_page: Page) -> None:
    page = signed_in_page
    page.goto("/w/marlow/settings/hour/")
    rows = page.locator("[data-rows-body] [data-row]")
    for number, (name, amount) in enumerate([("Rent", "65"), ("Power", "18,50")]):
        rows.nth(number).get_by_label("Cost").fill(name)
        rows.nth(number).get_by_label("Amount").fill(amount)
    page.get_by_role("button", name="Add a cost").click()
    rows.nth(2).get_by_label("Cost").fill("Insurance")
    rows.nth(2).get_by_label("Amount").fill("138")
    rows.nth(2).get_by_label("Paid").select_option("per year")
    page.get_by_label("yearly overhead ÷ yearly hands-on hours").check()
    page.get_by_label("Hands-on hours per year").fill("600")
    page.get_by_role("button", name="Save settings", exact=True).click()
    # by hand: (65 + 18.50) x 12 + 138 = 1140; 1140 / 600 = 1.90; 15 + 1.90 = 16.90
    figures = page.locator(".figures")
    expect(figures).to_contain_text("€16.90")
    expect(figures).to_contain_text("€1,140.00 of overhead per year ÷ 600 hands-on hours per year")
    assert OverheadItem.objects.count() == 3


def test_what_was_typed_is_kept_and_explained(signed_in_page: Page) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto("/w/marlow/settings/hour/")
    page.get_by_label("Hands-on hours per year").fill("lots")
    page.locator("[data-row]").first.get_by_label("Amount").fill("12")
    page.get_by_role("button", name="Save settings", exact=True).click()
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("a time. Enter one")
    expect(summary).to_contain_text("Row 1")
    expect(page.get_by_label("Hands-on hours per year")).to_have_value("lots")
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    summary.get_by_role("link", name="Hands-on hours per year").click()
    expect(page.get_by_label("Hands-on hours per year")).to_be_focused()


def test_the_second_of_two_people_sees_both_values(
    signed_in_page: Page, workshop: Workshop
) -> None:
    page = signed_in_page
    page.goto("/w/marlow/settings/tax/")
    page.get_by_label("Rate").fill("19")
    Workshop.objects.filter(pk=workshop.pk).update(tax_rate="0.21", edit_number=1)
    page.get_by_role("button", name="Save settings", exact=True).click()
    expect(page.get_by_role("heading", name="Your entries and what is stored")).to_be_visible()
    expect(page.get_by_role("row", name="Rate 19 21")).to_be_visible()
    assert_accessible(page)
    page.get_by_role("button", name="Save settings", exact=True).click()
    expect(page.get_by_text("Saved.", exact=True)).to_be_visible()
    expect(page.get_by_label("Rate")).to_have_value("19")


def test_a_person_is_invited_and_comes_in_by_the_link(
    signed_in_page: Page, workshop: Workshop
) -> None:
    page = signed_in_page
    page.goto("/w/marlow/people/")
    page.get_by_label("Email").fill("nell@example.test")
    page.get_by_role("radio", name="Viewer").check()
    page.get_by_role("button", name="Add to the workshop").click()
    link = page.get_by_role("textbox", name="Link").input_value()
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    page.get_by_role("button", name="Sign out").click()
    page.goto(link)
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    page.get_by_label("Your name").fill("Nell")
    page.get_by_label("Choose a password").fill("thread needle 77")
    page.get_by_label("Confirm password").fill("thread needle 77")
    page.get_by_role("button", name="Save and continue").click()
    expect(page).to_have_url("/w/marlow/")
    assert Membership.objects.get(user__name="Nell").role == "reader"
    page.goto(link)
    expect(page.get_by_role("heading", level=1)).to_have_text("This link has expired")
    assert_accessible(page)


def test_a_removed_person_is_brought_back_by_one_button(signed_in_page: Page, reader: User) -> None:
    page = signed_in_page
    page.goto("/w/marlow/people/")
    page.get_by_role("button", name="Remove reader@example.test").click()
    expect(page.get_by_text("no longer belongs to the workshop")).to_be_visible()
    assert not Membership.objects.filter(user=reader).exists()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("is back.")).to_be_visible()
    assert Membership.objects.get(user=reader).role == "reader"


def test_it_all_works_without_javascript(
    new_context: object, base_url: str, owner: User, workshop: Workshop
) -> None:
    context = new_context(base_url=base_url, java_script_enabled=False)  # type: ignore[operator] # a fixture that makes one
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Email").fill("owner@example.test")
    page.get_by_label("Password").fill("paper-and-twine")
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.goto("/w/marlow/settings/hour/")
    page.locator("[data-row]").first.get_by_label("Cost").fill("Rent")
    page.locator("[data-row]").first.get_by_label("Amount").fill("65")
    page.get_by_role("button", name="Save settings", exact=True).click()
    expect(page.get_by_text("Saved.", exact=True)).to_be_visible()
    assert OverheadItem.objects.get().name == "Rent"


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_the_first_page_of_a_busy_workshop(
    signed_in_page: Page, workshop: Workshop, size: dict[str, int]
) -> None:
    for name in ("Fern favour bag", "Letterbox gift tag"):
        factories.make_design(workshop, name=name)
    factories.make_material(workshop, name="Moss card", reorder_level=24, on_hand=3)
    Purchase.objects.create(
        workshop=workshop,
        supplier=factories.make_supplier(workshop, name="Hollin Card Merchants"),
        bought_on=factories.today(),
    )
    signed_in_page.set_viewport_size(size)
    signed_in_page.goto("/w/marlow/")
    for heading in ("To do now", "Newest designs"):
        expect(signed_in_page.get_by_role("heading", name=heading)).to_be_visible()
    for thing in ("Finish receipt", "See what to buy"):
        expect(signed_in_page.get_by_role("link", name=thing)).to_be_visible()
    assert_accessible(signed_in_page)
    assert_easy_to_hit(signed_in_page)
    assert_no_sideways_scroll(signed_in_page)
