"""What to mind when it is known who gets an item, what is in it and what that weighs.

By the cautions of the steps that make it, which are those pages show of a recipe. What the law of a
place asks for is for a licensed adviser.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.recipes.recipe import RecipeStep

# Small parts: EN 71-1 speaks of children under 36 months. Cords: common practice, no source.
SMALL_CHILD = 3
# Magnets: toys are for those under 14 (Directive 2009/48/EC). From memory.
CHILD = 14
TEST_LOAD = 3  # times the load: what the caution of a handle asks for (common practice, no source)


@dataclass(frozen=True, slots=True)
class Recipients:
    """Whom it is for and what goes in; None for what was not said."""

    youngest: int | None = None
    is_food: bool = False
    weight_g: Decimal | None = None


def warnings_of(recipients: Recipients, steps: Iterable[RecipeStep]) -> tuple[str, ...]:
    """Return what speaks against an item for these recipients, or must be seen to."""
    cautions = {step.caution for step in steps}
    said = []
    age = recipients.youngest
    if age is not None and age < SMALL_CHILD:
        if "small parts" in cautions:
            said.append(f"Has small parts: not for children under {SMALL_CHILD}.")
        if "cord or loop" in cautions:
            said.append(f"Has a cord or loop: keep it from children under {SMALL_CHILD}.")
    if age is not None and age < CHILD and "magnet" in cautions:
        said.append("Has a magnet: children must not swallow it. Use a dot instead.")
    if recipients.is_food and "food contact" not in cautions:
        said.append("Not made with food in mind: wrapped food only.")
    if recipients.weight_g and "load on a handle" in cautions:
        test = TEST_LOAD * recipients.weight_g
        said.append(f"Its handle has no rating: hang {grams(test)} on it for a day first.")
    return tuple(said)


def general_warnings(recipients: Recipients) -> tuple[str, ...]:
    """Return what holds for whatever is made for them."""
    said = []
    age = recipients.youngest
    if age is not None and age < SMALL_CHILD:
        said.append(f"For children under {SMALL_CHILD}: no small parts, no magnets, no long cords.")
    elif age is not None and age < CHILD:
        said.append("For children: no magnets they could swallow.")
    if recipients.is_food:
        said.append(
            "Craft card, ink and glue aren't declared for food. Wrapped food only, unless you hold "
            "a declaration."
        )
    return tuple(said)


def grams(weight_g: Decimal) -> str:
    """Write a weight: 450 g, 1.5 kg."""
    if weight_g >= 1000:
        return f"{(weight_g / 1000).normalize():f} kg"
    return f"{weight_g.normalize():f} g"
