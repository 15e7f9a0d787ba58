"""Steps that stand after what can only follow them are asked about."""

import json
from pathlib import Path

import pytest

from catalogue.calc.recipes.recipe import Basis, RecipeStep
from catalogue.calc.recipes.step_order import questions_about_order

CUT, FOLD, CHECK = (
    RecipeStep("cut", Basis.SHEET),
    RecipeStep("fold", Basis.MADE),
    RecipeStep("check", Basis.GOOD),
)
PRESS, NIGHT = RecipeStep("press the base", Basis.RACK), RecipeStep("dry", Basis.NIGHT)
LETTER, PACK, SETUP = (
    RecipeStep("letter", Basis.NAME),
    RecipeStep("pack", Basis.CARTON),
    RecipeStep("set up", Basis.JOB),
)


@pytest.mark.parametrize(
    ("steps", "asked"),
    [
        ((), []),
        ((SETUP, CUT, FOLD, PRESS, LETTER, CHECK, PACK), []),
        ((SETUP, CUT, FOLD, NIGHT, FOLD, CHECK, PACK, SETUP), []),
        ((CUT, FOLD, CHECK, PRESS, PACK), ["press the base"]),
        ((CUT, FOLD, NIGHT, CHECK, PACK, SETUP, LETTER), ["letter"]),
        ((FOLD, CUT, CHECK), ["cut"]),
        ((CHECK, FOLD, CUT), ["fold", "cut"]),
    ],
)
def test_what_is_asked(steps, asked):
    found = questions_about_order(steps)
    assert [question.split("”")[0].strip("“") for question in found] == asked


def test_the_demo_stands_in_the_order_it_is_done():
    seen = 0
    for path in sorted((Path(__file__).parents[2] / "fixtures" / "demo").glob("designs_*.json")):
        for design in json.loads(path.read_text(encoding="utf-8"))["designs"]:
            for version in design["versions"]:
                steps = [
                    RecipeStep(row["name"], Basis(row.get("basis", "made")))
                    for row in version["recipe"]["steps"]
                ]
                assert not questions_about_order(steps), design["name"]
                seen += 1
    assert seen > 10
