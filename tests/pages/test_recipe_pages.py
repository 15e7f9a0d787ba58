"""A recipe entered in a browser: by keyboard alone, pasted, reordered, with names that follow."""

import copy
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

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


def open_section(page: Page, key: str) -> Locator:
    """Open a section of the editor, if it is closed."""
    section = page.locator(f"details[data-section='{key}']")
    if section.get_attribute("open") is None:
        section.locator(":scope > summary").click()
    return section


def open_row(page: Page, key: str, at: int = 0) -> Locator:
    """Open a row of a section, if it is closed."""
    row = open_section(page, key).locator("[data-row]").nth(at)
    if row.locator(":scope > details").get_attribute("open") is None:
        row.locator("[data-line]").click()
    return row


def save(page: Page) -> None:
    page.get_by_role("button", name="Save the recipe", exact=True).click()
    expect(page.get_by_text("Recipe saved.")).to_be_visible()


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

    def next_section(key: str) -> None:
        nonlocal pressed
        page.locator(f"details[data-section='{key}'] > summary").focus()
        keys.press("Enter")
        pressed += 1

    page.locator("#id_roles-0-name").focus()
    type_row("body", "Fern card")
    next_row()
    type_row("glue", "Wet glue")
    next_section("pieces")
    type_row("bag", "body", "8 1/2", "5 1/2")
    next_row()
    type_row("lid", "body", "2 1/2", "3 1/2")
    next_row()
    type_row("tag", "body", "40 mm", "1.5")
    next_section("fixings")
    type_row("glue", "1,8 ml")
    next_section("steps")
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
    open_row(page, "roles")
    page.locator("#id_roles-0-name").fill("outside")
    expect(page.locator("#id_pieces-0-role")).to_have_value("outside")
    open_row(page, "choices")
    page.locator("#id_choices-0-name").fill("sticky dot")
    page.locator("#choices").get_by_role("button", name="Add a choice").click()
    page.keyboard.press("Tab")
    page.keyboard.type("ribbon")
    row = open_row(page, "pieces", 1)
    row.locator(".more summary").click()
    row.get_by_label("Only when").select_option("Names: ribbon")
    row.get_by_label("Not when").select_option("")
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
    open_row(page, "pieces")
    page.locator("#id_pieces-0-name").focus()
    page.keyboard.press("Alt+ArrowDown")
    open_row(page, "pieces", 2).get_by_role("button", name="Remove").click()
    page.locator("#pieces").get_by_role("button", name="Undo").click()
    open_row(page, "steps").get_by_role("button", name="Remove").click()
    save(page)
    assert [row["name"] for row in document_of(version)["pieces"]] == [
        "badge",
        "bag",
        "handle",
        "large body",
    ]
    assert document_of(version)["steps"][0]["name"] == "stack for the press"
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("The last save is undone.")).to_be_visible()
    assert document_of(version) == FULL


def test_cells_of_a_spreadsheet_fill_rows_and_add_more(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("body")
    page.locator("#id_roles-0-material").fill("Fern card")
    open_section(page, "pieces")
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
    row = open_row(page, "steps")
    expect(row.get_by_label("Set of")).to_be_hidden()
    row.get_by_label("Per", exact=True).select_option("pass")
    expect(row.get_by_label("Set of")).to_be_visible()
    expect(row.get_by_label("Which material")).to_be_visible()
    row.get_by_label("Per", exact=True).select_option("made")
    expect(row.get_by_label("Which material")).to_be_hidden()


def test_a_form_shows_its_sizes_and_answers_its_blank_while_she_types(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    page.locator("#id_roles-0-name").fill("body")
    page.locator("#id_roles-0-material").fill("Fern card")
    row = open_row(page, "pieces")
    row.get_by_label("Piece", exact=True).fill("bag")
    row.get_by_label("From", exact=True).select_option("body")
    expect(row.get_by_label("Shape", exact=True)).to_be_hidden()
    row.get_by_label("Cut or folded").select_option("form")
    expect(row.get_by_label("Width")).to_be_hidden()
    row.get_by_label("Shape", exact=True).select_option("two_piece_bag")
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
    added.get_by_label("Cut or folded").select_option("form")
    added.get_by_label("Shape", exact=True).select_option("tag")
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
    open_section(page, "pieces")
    page.locator("#id_pieces-0-name").focus()
    page.evaluate(
        """text => {
            const data = new DataTransfer();
            data.setData("text/plain", text);
            const how = {clipboardData: data, bubbles: true, cancelable: true};
            document.activeElement.dispatchEvent(new ClipboardEvent("paste", how));
        }""",
        "tag\tbody\t\t\t2\tfolded from a shape\t\t1" + "\t" * 6 + "Tag",
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
    page.get_by_role("link", name="Change size").click()
    page.get_by_label("Width W").fill("7")
    page.get_by_label("Width W").press("Tab")
    answer = page.locator("#before-after")
    expect(answer.get_by_text("11 1/2 × 12 in, 2 for each")).to_be_visible()
    page.get_by_label("Depth D").fill("9")
    page.get_by_label("Depth D").press("Tab")
    expect(answer.get_by_text("Nearest that works: 7 in.")).to_be_visible()
    page.get_by_label("Depth D").fill("4")
    page.get_by_role("button", name="Save size").click()
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
    for section in ("sizes", "roles", "pieces", "fixings", "steps", "packings", "choices", "swaps"):
        if section != "sizes":
            open_row(page, section)
            axe(page)
        open_section(page, section)
        page.set_viewport_size(PHONE)
        assert_easy_to_hit(page)
        page.set_viewport_size({"width": 1280, "height": 800})
        assert_no_sideways_scroll(page)
    page.locator("#swaps .more summary, #steps .more summary").first.dispatch_event("click")
    axe(page)
    assert_no_sideways_scroll(page)
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    page.goto(address(version))
    axe(page)
    assert_no_sideways_scroll(page)


def test_glue_by_the_line_begins_with_a_bead_and_what_was_typed_stays(signed_in_page, version):
    page = signed_in_page
    page.goto(address(version))
    row = open_row(page, "fixings")
    row.locator(".more summary").click()
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
    open_row(page, "pieces")
    page.locator("#id_pieces-0-name").fill("front and back")
    page.locator("#id_pieces-0-name").press("Enter")
    expect(page.get_by_text("Recipe saved.")).to_be_visible()
    assert document_of(version)["pieces"][0]["name"] == "front and back"
    page.goto(f"/w/marlow/designs/{version.design_id}/versions/1/size/")
    page.get_by_label("Width W").fill("7")
    page.get_by_label("Width W").press("Enter")
    expect(page.get_by_text("11 1/2 × 12 in, 2 for each")).to_be_visible()
    # no letter was set apart, nothing was saved
    expect(page.get_by_role("button", name="together")).to_have_count(0)
    assert document_of(version)["pieces"][3]["form_inputs"]["W"] != "177.8"


def lines(page: Page, key: str) -> list[str]:
    """What the closed rows of a section say."""
    texts = page.locator(f"#{key} [data-line]").all_text_contents()
    return [" ".join(text.split()) for text in texts]


def test_closed_rows_say_what_is_typed_with_and_without_javascript(
    signed_in_page, browser: Browser, base_url: str, version
):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    page.goto(address(version))
    context = browser.new_context(
        base_url=base_url, java_script_enabled=False, storage_state=page.context.storage_state()
    )
    plain = context.new_page()
    plain.goto(address(version))
    for key in ("roles", "pieces", "fixings", "steps", "wears", "packings", "choices", "swaps"):
        told = [line for line in lines(plain, key) if line != "New row"]
        assert told
        assert told == lines(page, key), key
    # sections and rows open without it, and all entries can be reached
    row = open_row(plain, "steps", 1)
    expect(row.get_by_label("Minutes", exact=False).first).to_be_visible()
    expect(row.get_by_label("Place")).to_be_visible()
    expect(plain.locator("#pieces")).to_be_hidden()
    context.close()
    open_row(page, "steps", 0).get_by_label("Step", exact=True).fill("score both")
    row = open_row(page, "steps", 1)
    expect(page.locator("#steps [data-row] > details[open]")).to_have_count(1)
    assert lines(page, "steps")[0].startswith("score both")
    row.get_by_label("Step", exact=True).press("Escape")
    expect(row.locator("[data-line]")).to_be_focused()
    expect(page.locator("#steps [data-row] > details[open]")).to_have_count(0)
    # the section stays open after saving
    save(page)
    expect(page.locator("#steps")).to_be_visible()


def test_a_closed_row_shows_the_material_that_is_chosen(signed_in_page, workshop):
    plum = factories.make_material(workshop, name="Plum card", colour="#7a1f4d")
    version = factories.make_recipe(workshop, plum)
    factories.make_material(workshop, name="Sage card", colour="#8aa08a")
    page = signed_in_page
    page.goto(address(version))
    piece = page.locator(".rows-of-pieces .line-from").first
    expect(piece.locator(".swatch")).to_have_count(1)
    row = open_row(page, "roles")
    row.locator("[name$='-material']").fill("Sage card")
    # it was not on the page when this was opened: rather no look than a wrong one
    expect(row.locator(".line-material")).to_have_text("Sage card")
    expect(page.locator("[data-line] .swatch")).to_have_count(0)
    row.locator("[name$='-material']").fill("Plum card")
    expect(row.locator(".line-material .swatch")).to_have_count(1)
    expect(piece.locator(".swatch")).to_have_count(1)


def test_a_long_recipe_fits_five_screens_of_a_phone(signed_in_page, version):
    document = copy.deepcopy(FULL)
    plain = next(row for row in document["pieces"] if row["shape"] == "rectangle")
    step = document["steps"][0]
    document["pieces"] += [
        {**plain, "name": f"piece {at}"} for at in range(12 - len(document["pieces"]))
    ]
    document["steps"] += [
        {**step, "name": f"step {at}"} for at in range(16 - len(document["steps"]))
    ]
    write_recipe(version, document)
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(address(version))
    for key in ("pieces", "steps"):
        open_row(page, key)
        height = page.evaluate("document.documentElement.scrollHeight")
        assert height <= 5 * PHONE["height"], key


def test_a_size_is_typed_once_and_price_and_picture_answer(signed_in_page, version):
    write_recipe(version, copy.deepcopy(FULL))
    page = signed_in_page
    page.goto(address(version))
    answer = page.locator("#recipe-answer")
    expect(answer.locator("svg")).to_be_visible()
    expect(answer.get_by_text("Lowest price")).to_be_visible()
    before = answer.inner_text()
    sizes = open_section(page, "sizes")
    sizes.get_by_label("Width W").fill("7")
    sizes.get_by_label("Width W").press("Tab")
    folded = page.locator("#pieces [name$='-size-W']").first
    expect(folded).to_have_value("7")
    expect(page.locator("#pieces .blank-line", has_text="11 1/2 × 12 in")).to_have_count(1)
    row = open_row(page, "steps")
    row.get_by_label("Minutes").first.fill("90")
    row.get_by_label("Minutes").first.press("Tab")
    expect(answer.locator("dd").first).not_to_have_text(before.splitlines()[1])
    # nothing is saved by that
    assert document_of(version) == FULL
    row.get_by_label("Minutes").first.fill("many")
    row.get_by_label("Minutes").first.press("Tab")
    expect(answer.get_by_text("No price yet.")).to_be_visible()
    page.get_by_role("button", name="Save the recipe", exact=True).click()
    # what has to be put right is open by itself
    expect(page.locator("#id_steps-0-minutes")).to_be_visible()
    expect(page.locator("details[data-section][open]")).to_have_count(1)
