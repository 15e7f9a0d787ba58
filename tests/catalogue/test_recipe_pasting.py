"""Rows pasted into a recipe from a spreadsheet."""

import pytest

from tests.catalogue.page_forms import fields_of
from tests.catalogue.test_recipe_editor import (
    address,
    document_of,
    empty,  # noqa: F401 - fixture
    simple,
    text_of,
)


def test_rows_pasted_from_a_spreadsheet_are_added_for_a_look_and_saved_after(client, empty):  # noqa: F811
    lines = "Piece\tFrom\tWidth\tHeight\tHow many\nlid\tbody\t2 1/2\t3 1/2\t2\nstrip\tbody\t1\t2\n"
    posted = simple(paste_into="pieces", paste_text=lines)
    posted["pieces-TOTAL_FORMS"] = "1"
    answer = client.post(address(empty, "recipe_paste"), posted)
    assert answer.status_code == 200
    assert "2 rows added to Pieces" in text_of(answer)
    assert document_of(empty)["pieces"] == []
    saved = client.post(address(empty), fields_of(answer))
    assert saved.status_code == 302, text_of(saved)[3000:6000]
    pieces = document_of(empty)["pieces"]
    assert [(one["name"], one["width_mm"], one["count"]) for one in pieces] == [
        ("bag", "190.5", 1),
        ("lid", "63.5", 2),
        ("strip", "25.4", 1),
    ]


def test_pasted_words_choose_from_lists_and_unknown_ones_are_told(client, empty):  # noqa: F811
    lines = "cut\t3\tper sheet cut\n\nglue\t4\tby magic\n"
    posted = simple(paste_into="steps", paste_text=lines)
    answer = client.post(address(empty, "recipe_paste"), posted)
    assert "Not in the list: by magic" in text_of(answer)
    assert fields_of(answer)["steps-4-basis"] == "sheet"
    assert fields_of(answer)["steps-5-basis"] == "made"


@pytest.mark.parametrize(("into", "text"), [("pieces", ""), ("nothing", "a\tb"), ("", "")])
def test_pasting_nothing_is_explained(client, empty, into, text):  # noqa: F811
    answer = client.post(address(empty, "recipe_paste"), simple(paste_into=into, paste_text=text))
    assert answer.status_code == 200
    assert "Paste cells from your spreadsheet" in text_of(answer)


def test_pasting_a_thousand_lines_takes_what_fits_and_says_so(client, empty):  # noqa: F811
    posted = simple(paste_into="steps", paste_text="fold\t1\n" * 1000)
    answer = client.post(address(empty, "recipe_paste"), posted)
    assert "904 more did not fit" in text_of(answer)
