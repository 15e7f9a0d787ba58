"""How many more can be made from the sheets a quantity takes anyway."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from catalogue.calc.recipes.parts_list import LARGEST_QUANTITY, PartsList, parts_for
from catalogue.calc.recipes.recipe import Recipe
from catalogue.calc.sheets.use import PlanSheets, SheetUse, sheets_for
from maker.calc.money import with_working_precision

ZERO = Decimal(0)


@with_working_precision
def most_from_same_sheets(
    recipe: Recipe,
    quantity: int,
    uses: Iterable[SheetUse],
    plan_sheets: PlanSheets,
    *,
    choices: Mapping[str, str] | Iterable[tuple[str, str]] = (),
    names: int | None = None,
) -> int:
    """Return the largest quantity found that takes no sheet more of any material.

    `uses` are the sheets of `quantity`. Searched by halving, so a larger one could be missed where
    the sheets do not grow evenly; what is returned has a plan. The quantity itself when nothing is
    cut or nothing more fits.
    """
    allowed = {use.material.identity: use.plan.plan.sheet_count for use in uses}
    if not allowed:
        return quantity

    def parts_of(many: int) -> PartsList:
        return parts_for(recipe, many, choices, names)

    def may_fit(many: int) -> bool:
        """Say whether the pieces' area alone leaves a chance; asks for no plan."""
        left = {key: Decimal(count) for key, count in allowed.items()}
        for cut in parts_of(many).cuts:
            material = cut.material
            area = cut.piece.width_mm * cut.piece.height_mm * cut.count
            sheet = material.width_mm * material.height_mm
            left[material.identity] = left.get(material.identity, ZERO) - area / sheet
        return all(rest >= 0 for rest in left.values())

    def fits(many: int) -> bool:
        if not may_fit(many):
            return False
        planned = sheets_for(
            parts_of(many), gap_mm=recipe.gap_mm, plan_sheets=plan_sheets, unit=recipe.unit
        )
        return all(
            use.plan.plan.sheet_count <= allowed.get(use.material.identity, 0) for use in planned
        )

    low, step = quantity, 1
    while low + step <= LARGEST_QUANTITY and may_fit(low + step):
        step *= 2
    high = min(low + step, LARGEST_QUANTITY + 1)
    while high - low > 1:
        middle = (low + high) // 2
        if fits(middle):
            low = middle
        else:
            high = middle
    return low
