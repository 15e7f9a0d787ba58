"""A recipe entered in a browser: by keyboard alone, pasted, reordered, with names that follow."""

import copy
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.writing import write_recipe
from tests import factories
from tests.catalogue.recipe_documents import FULL, MATERIALS
from tests.pages.looks import PHONE, assert_easy_to_hit, assert_no_sideways_scroll


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    for name, fields in MATERIALS.items():
        factories.make_pack(factories.make_material(workshop, name=name, **fields))
    return factories.make_version(factories.make_design(workshop, name="Wren bag"))


def address(version: DesignVersion) -> str:
    return f"/w/marlow/designs/{version.design_id}/v/{version.number}/recipe/"


def document_of(version: DesignVersion) -> Any:
    return recipe_document(DesignVersion.objects.with_recipe().get(pk=version.pk))


def save(page: Page) -> None:
    page.get_by_role("button", name="Save the recipe", exact=True).click()
    expect(page.get_by_text("The recipe is saved.")).to_be_visible()


def test_ten_rows_are_entered_with_the_keyboard_alone(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    keys = page.keyboard
    pressed = 0

    def type_row(*entries: str) -> None:
        nonlocal pressed
        for number, entry in enumerate(entries):
            if number:
                keys.press("Tab")
                pressed += 1
            keys.type(entry)
            pressed += len(entry)

    def next_row() -> None:
        nonlocal pressed
        keys.press("Alt+Enter")
        pressed += 1

    page.locator("#id_roles-0-name").focus()
    type_row("body", "Fern card")
    next_row()
    type_row("glue", "Wet glue")
    page.locator("#id_pieces-0-name").focus()
    type_row("bag", "body", "8 1/2", "5 1/2")
    next_row()
    type_row("lid", "body", "2 1/2", "3 1/2")
    next_row()
    type_row("tag", "body", "40 mm", "1.5")
    page.locator("#id_fixings-0-role").focus()
    type_row("glue", "1,8 ml")
    page.locator("#id_steps-0-name").focus()
    for name, minutes in (("cut", "2"), ("score", "1.5"), ("fold", "3"), ("check", "0.5")):
        type_row(name, minutes)
        if name != "check":
            next_row()
    save(page)
    document = document_of(version)
    assert [row["name"] for row in document["pieces"]] == ["bag", "lid", "tag"]
    assert [row["role"] for row in document["pieces"]] == ["body"] * 3
    assert [row["width_mm"] for row in document["pieces"]] == ["215.9", "63.5", "40"]
    assert document["fixings"][0]["amount"] == "1.8"
    assert [row["minutes"] for row in document["steps"]] == ["2", "1.5", "3", "0.5"]
    # ten rows with less than fifteen keys a row, what is typed included
    assert pressed < 150


def test_a_new_name_is_offered_and_followed_everywhere(signed_in_page, version):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("outside")
    expect(page.locator("#id_pieces-0-role")).to_have_value("outside")
    page.locator("#id_choices-0-name").fill("sticky dot")
    page.locator("#choices").get_by_role("button", name="Add a choice").click()
    page.keyboard.press("Tab")
    page.keyboard.type("ribbon")
    row = page.locator("#pieces [data-row]").nth(1)
    row.locator("summary").click()
    row.get_by_label("Only with").select_option("Names: ribbon")
    row.get_by_label("Not with").select_option("")
    save(page)
    document = document_of(version)
    assert document["pieces"][0]["role"] == "outside"
    assert document["fixings"][0]["when"] == {"only_with": "closure=dot"}
    assert document["options"][0]["choices"][0]["name"] == "sticky dot"
    assert document["pieces"][1]["when"]["only_with"] == "names=ribbon"


def test_rows_are_moved_removed_and_brought_back_before_saving(signed_in_page, version):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_pieces-0-name").focus()
    page.keyboard.press("Alt+ArrowDown")
    rows = page.locator("#pieces [data-row]")
    rows.nth(2).get_by_role("button", name="Remove").click()
    page.locator("#pieces").get_by_role("button", name="Undo").click()
    page.locator("#steps [data-row]").nth(0).get_by_role("button", name="Remove").click()
    save(page)
    assert [row["name"] for row in document_of(version)["pieces"]] == [
        "badge",
        "bag",
        "handle",
        "large body",
    ]
    assert document_of(version)["steps"][0]["name"] == "stack for the press"
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("The last save is taken back.")).to_be_visible()
    assert document_of(version) == FULL


def test_cells_of_a_spreadsheet_fill_rows_and_add_more(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("body")
    page.locator("#id_roles-0-material").fill("Fern card")
    page.locator("#id_pieces-0-name").focus()
    page.evaluate(
        """text => {
            const data = new DataTransfer();
            data.setData("text/plain", text);
            const how = {clipboardData: data, bubbles: true, cancelable: true};
            document.activeElement.dispatchEvent(new ClipboardEvent("paste", how));
        }""",
        "\n".join(f"piece {number}\tbody\t{number} 1/2\t2\t3" for number in range(1, 7)),
    )
    save(page)
    pieces = document_of(version)["pieces"]
    assert [row["name"] for row in pieces] == [f"piece {number}" for number in range(1, 7)]
    assert {row["count"] for row in pieces} == {3}
    assert pieces[5]["width_mm"] == "165.1"


def test_entries_that_do_not_apply_are_out_of_the_way(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    row = page.locator("#steps [data-row]").first
    expect(row.get_by_label("Of how many")).to_be_hidden()
    row.get_by_label("For", exact=True).select_option("pass")
    expect(row.get_by_label("Of how many")).to_be_visible()
    expect(row.get_by_label("Of which")).to_be_visible()
    row.get_by_label("For", exact=True).select_option("made")
    expect(row.get_by_label("Of which")).to_be_hidden()


def test_a_form_shows_its_sizes_and_answers_its_blank_while_she_types(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("body")
    page.locator("#id_roles-0-material").fill("Fern card")
    row = page.locator("#pieces [data-row]").first
    row.get_by_label("Piece", exact=True).fill("bag")
    row.get_by_label("From", exact=True).select_option("body")
    expect(row.get_by_label("Form", exact=True)).to_be_hidden()
    row.get_by_label("Shape").select_option("form")
    expect(row.get_by_label("Width")).to_be_hidden()
    row.get_by_label("Form", exact=True).select_option("two_piece_bag")
    row.get_by_label("Width W").fill("7 1/2")
    row.get_by_label("Depth D").fill("8")
    row.get_by_label("Height H").fill("8")
    row.get_by_label("Height H").press("Tab")
    expect(row.get_by_text("Nearest that works: 7 1/2 in.")).to_be_visible()
    row.get_by_label("Depth D").fill("4")
    row.get_by_label("Depth D").press("Tab")
    expect(row.get_by_text("Blank 12 × 12 in, 2 for each")).to_be_visible()
    # what has the focus keeps it while the answer comes
    expect(row.get_by_label("Height H")).to_be_focused()
    # a row that is added asks in the same way
    page.locator("#pieces").get_by_role("button", name="Add a piece").click()
    added = page.locator("#pieces [data-row]").last
    added.get_by_label("Piece", exact=True).fill("tag")
    added.get_by_label("From", exact=True).select_option("body")
    added.get_by_label("Shape").select_option("form")
    added.get_by_label("Form", exact=True).select_option("tag")
    added.get_by_label("Width w").fill("2")
    added.get_by_label("Height h").fill("3")
    added.get_by_label("Height h").press("Tab")
    expect(added.get_by_text("Blank 2 × 3 in.")).to_be_visible()
    save(page)
    pieces = document_of(version)["pieces"]
    assert [(row["form"], row["width_mm"]) for row in pieces] == [
        ("two_piece_bag", "304.8"),
        ("tag", "50.8"),
    ]


def test_cells_with_a_form_ask_for_its_sizes(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("body")
    page.locator("#id_roles-0-material").fill("Fern card")
    page.locator("#id_pieces-0-name").focus()
    page.evaluate(
        """text => {
            const data = new DataTransfer();
            data.setData("text/plain", text);
            const how = {clipboardData: data, bubbles: true, cancelable: true};
            document.activeElement.dispatchEvent(new ClipboardEvent("paste", how));
        }""",
        "tag\tbody\t\t\t2\tfolded from a form\t\t1" + "\t" * 6 + "Tag",
    )
    row = page.locator("#pieces [data-row]").first
    row.get_by_label("Width w").fill("2")
    row.get_by_label("Height h").fill("3")
    save(page)
    (piece,) = document_of(version)["pieces"]
    assert (piece["form"], piece["count"], piece["height_mm"]) == ("tag", 2, "76.2")


def test_a_size_is_changed_with_before_and_after_in_sight(signed_in_page, version):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    page.goto(f"/w/marlow/designs/{version.design_id}/")
    page.get_by_role("link", name="Change the size").click()
    page.get_by_label("Width W").fill("7")
    page.get_by_label("Width W").press("Tab")
    answer = page.locator("#before-after")
    expect(answer.get_by_text("11 1/2 × 12 in, 2 for each")).to_be_visible()
    page.get_by_label("Depth D").fill("9")
    page.get_by_label("Depth D").press("Tab")
    expect(answer.get_by_text("Nearest that works: 7 in.")).to_be_visible()
    page.get_by_label("Depth D").fill("4")
    page.get_by_role("button", name="Save the size").click()
    expect(page.get_by_text("The size of version 1 is changed.")).to_be_visible()
    assert document_of(version)["pieces"][3]["form_inputs"]["W"] == "177.8"


def test_after_a_mistake_the_focus_is_on_what_is_wrong(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("body")
    page.locator("#id_roles-0-material").fill("Furn card")
    page.get_by_role("button", name="Save the recipe", exact=True).click()
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    summary.get_by_role("link").first.click()
    expect(page.locator("#id_roles-0-material")).to_be_focused()
    expect(page.locator("#id_roles-0-material")).to_have_value("Furn card")


def test_pages_are_open_to_everyone_on_any_width(signed_in_page, version, axe):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    design = f"/w/marlow/designs/{version.design_id}/"
    size = f"{design}versions/{version.number}/size/"
    use = "/w/marlow/designs/use-shape/?form=tag&w=2&h=3"
    places = ("/w/marlow/designs/", "/w/marlow/designs/new/", design, size, use, address(version))
    for place in places:
        page.goto(place)
        axe(page)
        assert_no_sideways_scroll(page)
        page.set_viewport_size(PHONE)
        assert_easy_to_hit(page)
        page.set_viewport_size({"width": 1280, "height": 800})
    page.locator("#steps summary").first.click()
    axe(page)
    assert_no_sideways_scroll(page)
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    page.goto(address(version))
    axe(page)
    assert_no_sideways_scroll(page)


def test_glue_by_the_line_begins_with_a_bead_and_what_was_typed_stays(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    row = page.locator(".rows-of-fixings [data-row]").first
    row.locator("summary").click()
    measure, rate = row.locator("[name$='-measure']"), row.locator("[name$='-rate']")
    measure.select_option("form_bead")
    # a workshop of inches: 3.1 ml a metre x 0.9144
    expect(rate).to_have_value("2.83464")
    measure.select_option("amount")
    measure.select_option("cut")
    # how many lengths is no ml on a metre
    expect(rate).to_have_value("")
    rate.fill("0.8")
    measure.select_option("bead")
    expect(rate).to_have_value("0.8")


def test_enter_saves_a_recipe_and_shows_what_a_size_does(signed_in_page, version):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_pieces-0-name").fill("front and back")
    page.locator("#id_pieces-0-name").press("Enter")
    expect(page.get_by_text("The recipe is saved.")).to_be_visible()
    assert document_of(version)["pieces"][0]["name"] == "front and back"
    page.goto(f"/w/marlow/designs/{version.design_id}/versions/1/size/")
    page.get_by_label("Width W").fill("7")
    page.get_by_label("Width W").press("Enter")
    expect(page.get_by_text("11 1/2 × 12 in, 2 for each")).to_be_visible()
    # no letter was set apart, nothing was saved
    expect(page.get_by_role("button", name="together")).to_have_count(0)
    assert document_of(version)["pieces"][3]["form_inputs"]["W"] != "177.8"
