"""Two recipes are compared in the words of a maker, one line for each row that differs."""

import copy
from decimal import Decimal
from typing import Any

import pytest

from catalogue.calc.recipes.changes import ChangeWords, changes_in_words
from catalogue.calc.recipes.document import read_document
from maker.calc.sums import plain_text

BASE = read_document(
    {
        "roles": [{"name": "body", "material": "Fern card"}],
        "options": [
            {"key": "closure", "name": "Closure", "choices": [{"key": "dot", "name": "dot"}]}
        ],
        "colourways": [{"name": "ember", "materials": {"body": "Ember card"}}],
        "pieces": [{"name": "bag", "role": "body", "width_mm": "190.5", "height_mm": "100"}],
        "steps": [
            {"name": "fold and glue", "minutes": "10"},
            {"name": "check", "minutes": "0.5"},
        ],
        "packings": [{"name": "sleeve", "cost_each": "0.06"}],
    }
)


def changed(*path: Any, to: Any) -> list[str]:
    document: Any = copy.deepcopy(BASE)
    place = document
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = to
    return changes_in_words(BASE, document, ChangeWords(unit="in"))


@pytest.mark.parametrize(
    ("path", "to", "words"),
    [
        (("steps", 0, "minutes"), "12", ["fold and glue: 10 → 12 min"]),
        (("steps", 0, "basis"), "batch", ["fold and glue: per item made → per set"]),
        (("steps", 0, "learns"), True, ["fold and glue: faster with practice no → yes"]),
        (("pieces", 0, "width_mm"), "203.2", ["bag: width 7 1/2 in → 8 in"]),
        (("pieces", 0, "when"), {"from_quantity": 12}, ["bag: now from a quantity of 12"]),
        (
            ("pieces", 0, "when"),
            {"only_with": "closure=dot"},
            ["bag: now only with Closure: dot"],
        ),
        (("pieces", 0, "height_mm"), "103", ["bag: height 100 mm → 103 mm"]),
        (("roles", 0, "material"), "Moss card", ["body: Fern card → Moss card"]),
        (("packings", 0, "cost_each"), "0.075", ["sleeve: cost €0.06 → €0.075"]),
        (("reject_share",), "0.04", ["spares 0% → 4%"]),
        (
            ("options", 0, "choices", 0, "caution"),
            "Mind it.",
            ["Closure: dot: caution none → Mind it."],
        ),
        (("colourways", 0, "materials"), {}, ["ember, body: Ember card → as usual"]),
        (("steps",), BASE["steps"][:1], ["step removed: check"]),
        (("steps",), BASE["steps"][::-1], ["step order changed"]),
        (("pieces",), [], ["piece removed: bag"]),
    ],
)
def test_a_difference_is_said_in_words(path, to, words):
    assert changed(*path, to=to) == words


def test_no_difference_is_no_words():
    assert changes_in_words(BASE, copy.deepcopy(BASE), ChangeWords()) == []


def test_a_second_row_of_the_same_name_is_told_apart():
    twice = copy.deepcopy(BASE)
    twice["steps"].append({**BASE["steps"][0], "minutes": "3"})
    assert changes_in_words(BASE, twice, ChangeWords()) == ["step added: fold and glue"]
    slower = copy.deepcopy(twice)
    slower["steps"][2]["minutes"] = "4"
    assert changes_in_words(twice, slower, ChangeWords()) == ["fold and glue: 3 → 4 min"]


def test_a_length_that_is_no_whole_number_is_written_as_where_she_is():
    wider = copy.deepcopy(BASE)
    wider["pieces"][0]["width_mm"] = "190.7"
    words = ChangeWords(unit="in", locale="de_DE")
    assert changes_in_words(BASE, wider, words) == ["bag: width 7 1/2 in → 190,7 mm"]


def test_a_folded_piece_is_said_by_its_form_and_its_blank():
    band = copy.deepcopy(BASE)
    band["pieces"][0] |= {
        "form": "belly_band",
        "form_inputs": {"W": "100"},
        "width_mm": "190.5",
        "height_mm": "100",
    }
    wider = copy.deepcopy(band)
    wider["pieces"][0] |= {"form_inputs": {"W": "120"}, "width_mm": "230.5"}
    wider["pieces"][0]["when"] = {"from_quantity": 12}
    assert changes_in_words(band, wider, ChangeWords()) == [
        "bag: W 100 → 120 mm, blank 190.5 × 100 → 230.5 × 100 mm, now from a quantity of 12"
    ]


@pytest.mark.parametrize(
    ("value", "text"),
    [("100", "100"), ("1E+2", "100"), ("0.50", "0.5"), ("12.000", "12"), ("0", "0")],
)
def test_a_document_has_one_way_to_write_a_number(value, text):
    assert plain_text(Decimal(value)) == text
