"""Words of a recipe: a piece is what is cut, never what is made of them; glue offered."""

import math

import pytest

from catalogue.calc.recipes.changes import ChangeWords, changes_in_words
from catalogue.calc.recipes.recipe import BEAD_ML_PER_M
from catalogue.recipes.models import DesignVersion, Fixing, Step, Wear
from tests.catalogue.page_forms import fields_of
from tests.catalogue.test_recipe_editor import address, document_of, text_of
from tests.catalogue.test_recipe_size import version

__all__ = ["version"]


@pytest.mark.parametrize("choices", [Fixing.Basis, Step.Basis, Wear.Basis, DesignVersion.Learning])
def test_what_is_made_is_not_called_a_piece(choices):
    assert not [label for label in choices.labels if "piece" in label]


@pytest.mark.parametrize("basis", [Step.Basis.MADE, Step.Basis.GOOD])
def test_a_comparison_has_the_words_of_the_editor(version, basis):
    old = document_of(version)
    old["steps"] = [{"name": "fold", "basis": "job", "minutes": "1", "when": {}}]
    new = {**old, "steps": [{**old["steps"][0], "basis": basis.value}]}
    words = changes_in_words(old, new, ChangeWords("mm", "EUR", "en_GB"))
    assert words == [f"fold: per batch → {basis.label}"]


def test_the_bead_offered_is_a_round_line_of_2_mm():
    # pi x r^2 x length in mm3, a thousand of them are a ml
    assert float(BEAD_ML_PER_M) == pytest.approx(math.pi * 1**2 * 1000 / 1000, abs=0.05)


def test_a_glue_line_without_a_rate_is_told_what_a_bead_takes(client, version):
    fields = fields_of(client.get(address(version)))
    answer = client.post(address(version), {**fields, "fixings-0-rate": ""})
    assert answer.status_code == 422
    page = text_of(answer)
    assert (
        "Enter the glue per length: 3.1 ml per metre, or 2.83 ml per yard, if it is 2 mm wide."
        in page
    )
    # and what the browser begins with
    assert 'data-bead="2.83464"' in page
