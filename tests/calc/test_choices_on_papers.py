"""What is left out of a customer's paper because it says that there is nothing."""

import pytest

from pricing.calc.papers.choices import tells_something


@pytest.mark.parametrize(
    "choice",
    [
        "Name on the tag: no name",
        "Window: None",
        "Insert: no",
        "Handle: No handle",
        "Colour: no name",
        "Lid: ",
    ],
)
def test_a_choice_of_nothing_is_not_printed(choice):
    assert not tells_something(choice)


@pytest.mark.parametrize(
    "choice",
    ["Trim: ribbon only", "Closure: lift-off lid", "Paper: Norse kraft", "Note: nonesuch"],
)
def test_any_other_choice_is(choice):
    assert tells_something(choice)
