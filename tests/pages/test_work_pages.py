"""Slow work in a browser: watched without a touch, left, stopped, and how each end looks."""

import os
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from maker.imports import views
from maker.slow_work.models import Work
from maker.slow_work.services import say_alive
from maker.workshop.models import Workshop
from pricing.quantities import services as quantities
from tests import factories
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)
from tests.slow_work import do_what_waits

LOOKS = os.environ.get("SHOW_PAGES_IN", "")
LONG = "Unbreakable" * 12


def make(workshop: Workshop, title: str, state: str, **fields: object) -> Work:
    """Make a row as it is at some moment."""
    ended = {} if state in ("waiting", "working") else {"finished_at": timezone.now()}
    values = {
        "kind": "import",
        "runs": "x",
        "given": {},
        "came_from": "/w/marlow/materials/import/",
    }
    return Work.objects.create(
        workshop=workshop, title=title, state=state, **{**values, **ended, **fields}
    )


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_every_state_of_work_is_good_to_look_at(
    signed_in_page: Page,
    workshop: Workshop,
    monkeypatch: pytest.MonkeyPatch,
    size: dict[str, int],
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)

    def look(name: str, address: str) -> None:
        page.goto(address)
        assert_accessible(page)
        assert_easy_to_hit(page)
        assert_no_sideways_scroll(page, size["width"])
        if LOOKS:
            page.screenshot(path=Path(LOOKS) / f"{name}-{size['width']}.png", full_page=True)

    look("nothing", "/w/marlow/work/")
    rows = {
        "waiting": make(workshop, "Import 1,200 materials", "waiting"),
        "refused": make(workshop, f"Price tags: {LONG}", "refused", kind="pdf", refusal=LONG),
        "failed": make(workshop, "Import 40 receipts", "failed", refusal="Something went wrong."),
        "stopped": make(workshop, "Import 2,900 materials", "stopped"),
        "done": make(
            workshop,
            "Price tags: 300 on 13 sheets",
            "done",
            kind="pdf",
            says=[["success", "The price tags are ready."]],
            file=b"x",
            file_name="tags.pdf",
            file_bytes=240_000,
        ),
    }
    for name, row in rows.items():
        look(name, f"/w/marlow/work/{row.pk}/")
    say_alive("a worker")
    working = make(
        workshop, "Import 900 materials", "working", done=300, of=900, stage="Checking materials"
    )
    look("working", f"/w/marlow/work/{working.pk}/")
    look("list", "/w/marlow/work/")
    # on the page that asked
    monkeypatch.setattr(quantities, "MOST_SIZE_AT_ONCE", 0)
    version = factories.make_recipe(workshop)
    look("quantities", f"/w/marlow/designs/{version.design_id}/quantities/")
    expect(page.get_by_role("heading", name="prices of 250 quantities")).to_be_visible()
    expect(page.get_by_text("You can leave this page and come back.")).to_be_visible()


def test_a_long_import_is_watched_to_its_end_without_a_touch(
    signed_in_page: Page, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "MOST_ROWS_AT_ONCE", 1)
    page = signed_in_page
    page.goto("/w/marlow/materials/import/")
    file = b"Name,Counted in\nHeron card,pieces\nMoss card,pieces\n"
    page.get_by_label("File").set_input_files(
        {"name": "materials.csv", "mimeType": "text/csv", "buffer": file}
    )
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("heading", name="Check 2 rows of materials")).to_be_visible()
    do_what_waits()
    page.get_by_role("button", name="Import 2 materials").click()
    expect(page.get_by_role("heading", name="Import 2 materials")).to_be_visible()
    # left and come back to
    page.goto("/w/marlow/")
    page.goto("/w/marlow/work/")
    page.get_by_role("link", name="Import 2 materials").click()
    do_what_waits()
    expect(page.get_by_text("Imported 2 materials.")).to_be_visible()
    page.get_by_role("link", name="Open materials").click()
    expect(page.get_by_text("Moss card")).to_be_visible()
