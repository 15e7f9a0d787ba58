"""A caution is said once, and only where the choices made bring it in."""

from dataclasses import replace

import pytest

from catalogue.calc.recipes.cautions import cautions_for
from catalogue.calc.recipes.parts_list import UnknownOption
from catalogue.calc.recipes.recipe import Basis, Choice, RecipeOption, RecipeStep, When
from tests.calc import small_recipe
from tests.calc.small_recipe import D

BEAD = "Small part: not for children under three."
STANDARD = "Contains small parts. Not suitable for children under 3."


def recipe(own="", said=BEAD):
    return replace(
        small_recipe.recipe(
            steps=(
                RecipeStep(
                    "thread the bead",
                    Basis.MADE,
                    D(1),
                    caution="small parts",
                    when=When(only_with=("trim", "bead")),
                ),
                RecipeStep("cut", Basis.MADE, D(1), caution="blade"),
            ),
            options=(
                RecipeOption(
                    "trim",
                    "Trim",
                    (Choice("none", "none", True), Choice("bead", "bead", caution=said)),
                ),
            ),
        ),
        cautions=(own,) if own else (),
    )


def test_nothing_is_said_where_nothing_brings_it_in():
    assert cautions_for(recipe(), 10) == ()


def test_the_makers_own_words_come_in_place_of_the_standard_sentence():
    assert cautions_for(recipe(), 10, {"trim": "bead"}) == (BEAD,)
    assert cautions_for(recipe(said=""), 10, {"trim": "bead"}) == (STANDARD,)


def test_a_sentence_that_says_no_more_than_another_is_left_out():
    longer = "With bead: small part, not for children under three."
    assert cautions_for(recipe(longer), 10, {"trim": "bead"}) == (longer,)
    assert cautions_for(recipe(BEAD.upper()), 10, {"trim": "bead"}) == (BEAD.upper(),)


def test_own_words_on_another_danger_do_not_hide_the_standard_sentence():
    burns = "Paper burns: never with a flame."
    assert cautions_for(recipe(burns, said=""), 10, {"trim": "bead"}) == (burns, STANDARD)


def test_a_step_that_holds_for_other_quantities_brings_nothing_in():
    step = RecipeStep("loop", Basis.MADE, caution="cord or loop", when=When(from_quantity=20))
    looped = small_recipe.recipe(steps=(step,))
    assert cautions_for(looped, 19) == ()
    assert len(cautions_for(looped, 20)) == 1


def test_an_option_that_is_not_there_is_refused():
    with pytest.raises(UnknownOption):
        cautions_for(recipe(), 10, {"size": "large"})
