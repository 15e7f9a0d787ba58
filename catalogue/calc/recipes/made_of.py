"""What one finished item is cut from: its cut list, what the card weighs, how far its glue runs."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.recipes.parts_list import choices_for, material_in
from catalogue.calc.recipes.recipe import MaterialValues, Recipe, RecipePiece

ZERO = Decimal(0)
SQUARE_MM_PER_SQUARE_M = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class CutRow:
    """One kind of blank of a finished item. `weight_g` is of all of them, None if not known."""

    piece: RecipePiece
    material: MaterialValues
    count: int
    weight_g: Decimal | None


@dataclass(frozen=True, slots=True)
class MadeOf:
    """The card of one finished item. Fixings and glue weigh too, and are not counted."""

    rows: tuple[CutRow, ...]

    @property
    def weight_g(self) -> Decimal:
        """What the card weighs whose grammage is known."""
        return sum((row.weight_g for row in self.rows if row.weight_g is not None), ZERO)

    @property
    def not_weighed(self) -> tuple[str, ...]:
        """Materials whose grammage nobody has said."""
        names = (row.material.name for row in self.rows if row.weight_g is None)
        return tuple(dict.fromkeys(names))

    @property
    def glue_line_mm(self) -> Decimal:
        """One line of glue over every glued place of the folded pieces."""
        return sum((row.piece.count * row.piece.glue_bead_mm for row in self.rows), ZERO)


def made_of(recipe: Recipe, choices: Mapping[str, str] | None = None, quantity: int = 1) -> MadeOf:
    """Return what one item is cut from, with the usual choices unless others are given.

    Card weighs its area times its grammage; what is cut out of a blank is gone, a die leaves the
    size of the die. Errors: those of parts_for.
    """
    answers = choices_for(recipe, choices or {})
    rows = []
    for piece in recipe.pieces:
        if not piece.when.holds(quantity, answers):
            continue
        material = material_in(recipe, piece.role, piece.name)
        count = piece.count * piece.layers
        area = piece.width_mm * piece.height_mm if piece.area_mm2 is None else piece.area_mm2
        weight = None
        if material.grammage is not None:
            weight = area * count * material.grammage / SQUARE_MM_PER_SQUARE_M
        rows.append(CutRow(piece, material, count, weight))
    return MadeOf(tuple(rows))
