"""What the page of a recipe shows: what it is, its cut list, its rows in words and drawn."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString

from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.made_of import made_of
from catalogue.materials.swatches import swatches_by_name
from catalogue.recipes.drawing import Blanks, draw_blanks
from catalogue.recipes.folded import drawing_key, folded_pieces
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import Colourway, DesignVersion, Piece
from catalogue.recipes.summary import ADVICE, summary_of
from maker.calc.money import to_minor
from maker.calc.refusal import Refusal
from maker.calc.units import format_number
from maker.workshop.models import Workshop


def page_of(
    version: DesignVersion, workshop: Workshop, colourway: Colourway | None = None
) -> dict[str, Any]:
    """Return what a page needs to show a recipe; no query when it was loaded `with_recipe()`."""
    folded = folded_pieces(version, workshop)
    return {
        "summary": summary_of(version, workshop),
        "drawing": _blanks(version, len(folded)),
        "advice": ADVICE,
        "picture": item_picture(item_of(version, colourway=colourway), name="item"),
        "shown_colourway": colourway or next(iter(version.colourways.all()), None),
        "folded": folded,
        "drawing_key": drawing_key(version, workshop) if folded else [],
        "cut_rows": cut_rows(version, workshop),
    }


def _blanks(version: DesignVersion, drawn: int) -> Blanks | None:
    """Draw the pieces beside each other, unless each is drawn by itself."""
    rows: list[Piece] = list(version.pieces.all())
    return draw_blanks(rows) if len(rows) > drawn else None


@dataclass(frozen=True, slots=True)
class CutListRow:
    """One kind of blank of a finished item, in words."""

    name: str
    blank: str
    count: int
    material: str
    swatch: SafeString | str
    weight: str


@dataclass(frozen=True, slots=True)
class CutList:
    """The blanks of one finished item, what they weigh and how far its glue runs."""

    rows: tuple[CutListRow, ...]
    weight: str
    not_weighed: str
    glue_line: str


def cut_rows(version: DesignVersion, workshop: Workshop) -> CutList | None:
    """Return the cut list of one item with the usual choices; None when nothing is cut."""
    try:
        made = made_of(recipe_values(version, workshop))
    except Refusal:
        return None
    if not made.rows:
        return None
    writing = ChangeWords(workshop.unit, workshop.currency, workshop.locale)
    swatches = swatches_by_name((role.material for role in version.roles.all()), workshop)

    def grams(value: Decimal) -> str:
        return f"{format_number(to_minor(value, 1), workshop.locale)} g"

    return CutList(
        rows=tuple(
            CutListRow(
                name=row.piece.name,
                blank=writing.size(row.piece.width_mm, row.piece.height_mm),
                count=row.count,
                material=row.material.name,
                swatch=swatches.get(row.material.name, ""),
                weight="" if row.weight_g is None else grams(row.weight_g),
            )
            for row in made.rows
        ),
        weight=grams(made.weight_g) if made.weight_g else "",
        not_weighed=", ".join(made.not_weighed),
        glue_line=writing.length(made.glue_line_mm) if made.glue_line_mm else "",
    )
