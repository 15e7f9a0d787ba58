"""What the person who gets an item is told: each danger once, first in the maker's own words.

Common practice, no source; what the law of a place asks for is for a licensed adviser.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from catalogue.calc.recipes.parts_list import choices_for
from catalogue.calc.recipes.recipe import Recipe, RecipeStep


@dataclass(frozen=True, slots=True)
class _Danger:
    """A standard sentence, and words by which a caution of the maker's own speaks of the same."""

    sentence: str
    words: tuple[str, ...]


# by the caution of a step; what only the maker is told (blades, hot glue) is not among them
_DANGERS = {
    "small parts": _Danger(
        "Contains small parts. Not suitable for children under 3.", ("small part",)
    ),
    "magnet": _Danger("Contains a magnet. Dangerous if swallowed.", ("magnet",)),
    "cord or loop": _Danger("Has a cord or loop. Keep away from small children.", ("cord", "loop")),
    "food contact": _Danger("For wrapped food only.", ("food",)),
    "load on a handle": _Danger(
        "The handle is not rated for a load.", ("load", "carry", "carries")
    ),
}


def cautions_for(
    recipe: Recipe, quantity: int, choices: Mapping[str, str] | Iterable[tuple[str, str]] = ()
) -> tuple[str, ...]:
    """Return the cautions of an item: of the design, of the choices made, of the steps they bring.

    Rows are those of `quantity` (of all lines alike). A sentence that says no more than another
    one is left out. Refuses an unknown option (UnknownOption).
    """
    answers = choices_for(recipe, choices)
    steps = [step for step in recipe.steps if step.when.holds(quantity, answers)]
    return told(recipe, answers, steps)


def told(
    recipe: Recipe, answers: Mapping[str, str], steps: Iterable[RecipeStep]
) -> tuple[str, ...]:
    """Return the cautions of answers and steps that are known already."""
    own = [
        *recipe.cautions,
        *(
            choice.caution
            for option in recipe.options
            for choice in option.choices
            if answers.get(option.key) == choice.key and choice.caution
        ),
    ]
    said = _plain(" ".join(own))
    standard = [
        danger.sentence
        for step in steps
        if (danger := _DANGERS.get(step.caution)) and not any(w in said for w in danger.words)
    ]
    return _without_repeats([*own, *standard])


def _plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in text.casefold()).split())


def _without_repeats(texts: list[str]) -> tuple[str, ...]:
    texts = list(dict.fromkeys(text.strip() for text in texts if text.strip()))
    plain = [f" {_plain(text)} " for text in texts]
    return tuple(
        text
        for place, text in enumerate(texts)
        if not any(
            plain[place] in other and (len(other) > len(plain[place]) or at < place)
            for at, other in enumerate(plain)
            if at != place
        )
    )
