"""What a screen reader is told of a price and of a recipe: names and roles, in order."""

from playwright.sync_api import Page, expect

from catalogue.recipes.models import DesignVersion
from maker.workshop.models import Workshop
from tests.factories import make_channel, make_recipe

PRICE = """
- main:
  - heading "Wren bag" [level=1]
  - navigation "Pages of Wren bag"
  - textbox "Made at once": "9"
  - combobox "Sales channel (optional)"
  - button "Recalculate"
  - region "Price":
    - heading "Price" [level=2]
    - term: Suggested price
    - definition
    - term: Lowest price
  - heading "Save a price for Fair" [level=2]
  - textbox "Price each"
  - button "Save price"
  - figure "Where the money goes":
    - img /Where the money goes, drawn as a bar/
    - table "Where the money goes":
      - rowgroup:
        - row:
          - columnheader "Part"
          - columnheader "Amount"
          - columnheader "Share"
      - rowgroup:
        - row /Labour/:
          - rowheader "Labour"
  - group:
    - heading "Line by line" [level=2]
"""
RECIPE = """
- main:
  - heading "Recipe version 1" [level=1]
  - group:
    - heading "Pieces" [level=3]
    - group "Pieces":
      - table "Pieces":
        - rowgroup:
          - row:
            - columnheader "Piece"
            - columnheader "Cut from"
            - columnheader "Size"
        - rowgroup:
          - row:
            - rowheader /^1 /
            - cell
  - group:
    - heading "Steps" [level=3]
    - group "Steps":
      - table "Steps"
"""


def test_a_price_is_read_question_answer_reasons(signed_in_page: Page, workshop: Workshop) -> None:
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    make_channel(workshop, name="Web shop", position=2)
    page = signed_in_page
    page.goto(f"/w/marlow/designs/{version.design_id}/cost/?quantity=9")
    name = page.get_by_role("heading", level=1).inner_text()
    main = page.get_by_role("main")
    expect(main).to_match_aria_snapshot(PRICE.replace("Wren bag", name))
    assert no_nameless(page) == []


def test_a_new_price_is_said_and_the_old_figures_are_not_read_again(
    signed_in_page: Page, workshop: Workshop
) -> None:
    version = make_recipe(workshop)
    make_channel(workshop, name="Fair")
    page = signed_in_page
    page.goto(f"/w/marlow/designs/{version.design_id}/cost/?quantity=9")
    status = page.locator("#live-price")
    expect(status).to_have_role("status")
    expect(status).to_be_empty()
    page.get_by_label("Made at once").fill("18")
    expect(status).to_contain_text("each, lowest")
    price = page.locator(".answer-figures dd").first.inner_text()
    expect(status).to_contain_text(price)
    assert page.locator("#answer [aria-live]").count() == 0


def test_a_recipe_is_read_as_named_tables(signed_in_page: Page, workshop: Workshop) -> None:
    version = make_recipe(workshop)
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    page = signed_in_page
    page.goto(f"/w/marlow/designs/{version.design_id}/v/{version.number}/recipe/")
    # its lists are folded; what is folded is read to nobody
    page.locator("main details").evaluate_all("all => all.forEach(one => one.open = true)")
    expect(page.get_by_role("main")).to_match_aria_snapshot(RECIPE)
    assert no_nameless(page) == []


def no_nameless(page: Page) -> list[str]:
    """Return what the tree of the page has no name for, though a person needs one."""
    tree = page.get_by_role("main").aria_snapshot().splitlines()
    needs = (
        "button",
        "link",
        "textbox",
        "combobox",
        "checkbox",
        "slider",
        "table",
        "figure",
        "img",
    )
    bare = [line.strip(" -:") for line in tree]
    return [line for line in bare if line in needs]
