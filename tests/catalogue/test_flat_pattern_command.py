"""The command that unfolds a form as JSON, and what it says to sizes it cannot use."""

import io
import json
from decimal import Decimal
from fractions import Fraction

import defusedxml.ElementTree as ET
import pytest
from django.core.management import call_command

from catalogue.calc.flat_patterns import FORMS
from tests.calc.flat_pattern_sizes import VECTORS


def run(*arguments):
    out = io.StringIO()
    code = 0
    try:
        call_command("flat_pattern", *arguments, stdout=out)
    except SystemExit as stop:
        code = stop.code
    return code, json.loads(out.getvalue())


def test_the_big_bag_is_unfolded():
    code, found = run("two_piece_bag", "W=7.5", "D=4", "H=8", "g=0.5", "--unit", "in")
    assert code == 0
    assert (found["form"], found["unit"], found["volume"]) == ("two_piece_bag", "in", "240")
    (piece,) = found["pieces"]
    assert piece["count"] == 2
    assert piece["blank"] == ["12", "12"]
    assert piece["x_scores"] == ["7.5", "11.5"]
    assert piece["y_scores"] == ["4"]
    assert piece["flap"] == "4"
    assert {"name": "slit", "points": [["7.5", "0"], ["7.5", "4"]]} in piece["cuts"]
    assert "Side flaps overlap by 1/2 in in the middle." in found["checks"]


@pytest.mark.parametrize("name", VECTORS)
def test_every_worked_form_is_printed_under_its_names(name):
    worked = VECTORS[name]
    sizes = [f"{key}={_typed(value)}" for key, value in worked["inputs"].items()]
    code, found = run(name, *sizes, "--unit", worked["unit"])
    assert code == 0
    assert (found["form"], found["unit"]) == (name, worked["unit"])
    assert sum(piece["count"] for piece in found["pieces"]) == worked.get("pieces", 1)
    (piece,) = found["pieces"]
    # the lid and the drawer are trays too, and may be asked for as such
    plain, same = run(worked.get("form", name), *sizes, "--unit", worked["unit"])
    assert plain == 0
    assert same["pieces"][0]["cuts"] == piece["cuts"]
    for key in worked.keys() - {"unit", "inputs", "form", "pieces"}:
        printed = found["volume"] if key == "volume" else piece[key]
        # the volume of the pouch follows from a height given to six decimals
        assert _flat(printed) == pytest.approx(_flat(worked[key]), rel=1e-8, abs=1e-6), key
    assert all(isinstance(value, str) for value in found["inputs"].values())


def _typed(value):
    return str(Decimal(value.numerator) / Decimal(value.denominator))


def _flat(value):
    if isinstance(value, str | Fraction):
        return [float(value)]
    return [number for each in value for number in _flat(each)]


@pytest.mark.parametrize(
    ("typed", "width"),
    [
        (["W=7 1/2"], "7.5"),
        (["W=7", "1/2"], "7.5"),
        (["W=7-1/2"], "7.5"),
        (["W=3/4", "D=1/2"], "0.75"),
        (["W=190.5 mm"], "7.5"),
        (['W=7½"'], "7.5"),
        (["W=19.05 cm"], "7.5"),
        (["W=19.05", "cm"], "7.5"),
    ],
)
def test_sizes_are_read_as_they_are_said(typed, width):
    # a later word goes on with the size before it, so no quotes are needed
    given = typed if any(word.startswith("D=") for word in typed) else [*typed, "D=1"]
    code, found = run("two_piece_bag", *given, "H=8", "--unit", "in")
    assert code == 0
    assert found["inputs"]["W"] == width


def test_widths_are_rounded_to_the_ruler():
    _, found = run("hex_tube", "a=40.333", "H=110", "--ruler", "0.5")
    assert found["pieces"][0]["x_scores"] == ["40.5", "81", "121.5", "162", "202.5", "243"]
    assert "On the ruler 40.333 mm becomes 40.5 mm (+0.167 mm)." in found["checks"]


def test_the_pattern_is_drawn(tmp_path):
    path = tmp_path / "bag.svg"
    code, _ = run("two_piece_bag", "W=7.5", "D=4", "H=8", "--unit", "in", "--svg", str(path))
    assert code == 0
    assert ET.parse(path).getroot().tag == "{http://www.w3.org/2000/svg}svg"


@pytest.mark.parametrize("target", ["nowhere/bag.svg", "bad\0name.svg"])
def test_a_drawing_that_cannot_be_written_is_refused(tmp_path, target):
    code, found = run("tag", "w=40", "h=70", "--svg", str(tmp_path / target))
    assert code == 1
    assert found["error"]["where"] == "svg"


def test_the_list_has_every_form_with_sizes_limits_and_defaults():
    code, found = run("--list")
    assert code == 0
    forms = {form["name"]: form for form in found["forms"]}
    assert forms.keys() == FORMS.keys()
    bag = {each["name"]: each for each in forms["two_piece_bag"]["inputs"]}
    assert bag["W"]["required"]
    assert bag["g"]["default"] == {"mm": "12", "in": "0.5"}
    assert "no more than the width W" in bag["D"]["limit"]
    assert bag["B"]["default_note"]
    assert run("tray", "--list")[1]["forms"] == [forms["tray"]]


@pytest.mark.parametrize(
    ("arguments", "where"),
    [
        ((), "form"),
        (("crate", "W=1"), "form"),
        (("tray", "L=100", "W=50"), "H"),
        (("tray", "L=100", "W=50", "H=20", "Q=1"), "Q"),
        (("tray", "L=-100", "W=50", "H=20"), "L"),
        (("tray", "L=0", "W=50", "H=20"), "L"),
        (("tray", "L=abc", "W=50", "H=20"), "L"),
        (("tray", "L=", "W=50", "H=20"), "L"),
        (("tray", "L=1/0", "W=50", "H=20"), "L"),
        (("tray", "L=nan", "W=50", "H=20"), "L"),
        (("tray", "L=inf", "W=50", "H=20"), "L"),
        (("tray", "L=1e5", "W=50", "H=20"), "L"),
        (("tray", "L=" + "9" * 5000, "W=50", "H=20"), "L"),
        (("tray", "L=999999999999", "W=50", "H=20"), "L"),
        (("tray", "L=100", "L=90", "W=50", "H=20"), "L"),
        (("tray", "100", "50", "20"), "100"),
        (("tray", "=100", "L=1"), ""),
        (("tray", "L=100", "W=50", "H=20", "--unit", "cubit"), "unit"),
        (("tray", "L=100", "W=50", "H=20", "--ruler", "0"), "ruler"),
        (("tray", "L=100", "W=50", "H=20", "--ruler", "x"), "ruler"),
        (("two_piece_bag", "W=7", "D=8", "H=8", "--unit", "in"), "D"),
        (("tray", "L=\udcff", "W=50", "H=20"), "sizes"),
    ],
)
def test_what_cannot_be_used_is_refused_as_json(arguments, where):
    code, found = run(*arguments)
    assert code == 1
    assert found.keys() == {"error"}
    assert found["error"]["where"] == where
    assert found["error"]["message"]


def test_a_refusal_names_the_nearest_size_that_works():
    _, found = run("two_piece_bag", "W=7", "D=8", "H=8", "--unit", "in")
    assert found["error"]["message"].endswith("Nearest that works: 7 in.")


def test_sizes_may_stand_between_the_options():
    _, plain = run("tray", "L=4", "W=3", "H=1", "--unit", "in")
    assert run("tray", "L=4", "--unit", "in", "W=3", "H=1") == (0, plain)
    assert run("--unit", "in", "tray", "L=4", "W=3", "H=1") == (0, plain)


@pytest.mark.parametrize("words", [("tray", "--colour", "red"), ("tray", "L=1", "--unit")])
def test_words_that_are_no_arguments_are_refused_as_json_too(capsys, words):
    with pytest.raises(SystemExit) as stop:
        call_command("flat_pattern", *words)
    assert stop.value.code == 1
    assert json.loads(capsys.readouterr().out)["error"]["where"] == "command"
