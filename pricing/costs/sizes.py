"""Sizes a little smaller that take fewer sheets for what is priced, with what one then costs."""

from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.recipes.recipe import Recipe
from catalogue.calc.sheets.use import sheets_for
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.saving import Saving, candidates, least_sheets, savings
from catalogue.sheet_plans.services import sheet_planner
from maker.calc.money import with_working_precision
from pricing.calc.costing.cost import cost_of
from pricing.costs.services import Answer

# all plans of one answer together; it is loaded after the page
SECONDS = 2.0
MOST_SHOWN = 5


@dataclass(frozen=True, slots=True)
class SizeSaving:
    """A saving, and the cost of one before and after."""

    saving: Saving
    cost_each_before: Decimal
    cost_each: Decimal


@with_working_precision
def sizes_that_save(answer: Answer, version: DesignVersion) -> list[SizeSaving]:
    """Return what saves sheets of an answer, what saves most first. No query.

    `version` comes from `with_recipe()` and is the one the answer is about.
    """
    ask, unit = answer.ask, answer.recipe.unit
    plan_sheets = sheet_planner(seconds=SECONDS)

    def least_for(recipe: Recipe) -> int:
        return least_sheets(parts_for(recipe, ask.quantity, ask.choices, ask.names))

    def planned_for(recipe: Recipe) -> int:
        parts = parts_for(recipe, ask.quantity, ask.choices, ask.names)
        uses = sheets_for(parts, gap_mm=recipe.gap_mm, plan_sheets=plan_sheets, unit=unit)
        return sum(use.sheets for use in uses)

    found = savings(
        candidates(
            recipe_document(version),
            answer.recipe,
            [piece.pk for piece in version.pieces.all()],
            unit,
        ),
        unit=unit,
        now=answer.cost.sheets,
        least_for=least_for,
        sheets_for=planned_for,
    )
    before = answer.cost.cost_each
    told = [
        SizeSaving(one, before, cost_of(one.recipe, ask, answer.rates, plan_sheets).cost_each)
        for one in found
    ]
    # an offcut that was credited may have been worth more than the sheet
    worth = [one for one in told if one.cost_each < before]
    return sorted(worth, key=lambda one: one.cost_each)[:MOST_SHOWN]
