"""Asks about steps whose order looks wrong: dates are laid in the order of the recipe."""

from collections.abc import Sequence

from catalogue.calc.recipes.recipe import Basis, RecipeStep

# what is counted by items that are finished
_AFTER_MAKING = frozenset({Basis.GOOD, Basis.CARTON})
_BEFORE_FINISHING = frozenset({Basis.SHEET, Basis.PASS})
_WAITING = frozenset({Basis.RACK, Basis.NIGHT})


def questions_about_order(steps: Sequence[RecipeStep]) -> tuple[str, ...]:
    """Return a question for each step that stands after what can only follow it.

    Common practice, no source: sheets are cut before anything is put together, and what is checked
    or packed is dry and has its name. At most one question a step, in the order of the recipe.
    """
    asked = []
    for place, step in enumerate(steps):
        before = next((other for other in steps[:place] if _follows(other, step)), None)
        if before is not None:
            asked.append(
                f"“{step.name}” comes after “{before.name}”. Is it done before? Dates follow "
                "the order of the steps."
            )
    return tuple(asked)


def _follows(other: RecipeStep, step: RecipeStep) -> bool:
    """Say whether `other` can only be done once `step` is."""
    if step.basis in _WAITING or step.basis in (Basis.NAME, Basis.MADE):
        return other.basis in _AFTER_MAKING
    if step.basis in _BEFORE_FINISHING:
        return other.basis in (Basis.MADE, Basis.NAME, *_AFTER_MAKING)
    return False
