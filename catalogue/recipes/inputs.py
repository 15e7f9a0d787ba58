"""Turns the rows of a recipe into a document and into the values calculations speak of."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from catalogue.calc.recipes import recipe as values
from catalogue.calc.recipes.areas import format_area
from catalogue.calc.recipes.cautions import cautions_for
from catalogue.calc.recipes.columns import HEAD, ROWS
from catalogue.calc.recipes.glue_rates import rate_per, rate_words
from catalogue.materials.inputs import material_values
from maker.calc.money import with_working_precision
from maker.calc.sums import plain_text
from maker.calc.units import format_length, format_length_in, inch_fraction

if TYPE_CHECKING:
    from catalogue.calc.recipes.document import Document
    from catalogue.materials.models import Material
    from catalogue.recipes.models import Colourway, DesignVersion, RecipeRow
    from maker.workshop.models import Workshop

SQUARE_MM_PER_SQUARE_M = Decimal(1_000_000)
MM_PER_M = Decimal(1000)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        # the order of the alphabet, because a database need not keep another
        return dict(sorted(value.items()))
    return plain_text(value) if isinstance(value, Decimal) else value


def _choice_names(version: "DesignVersion") -> dict[int, tuple[str, str]]:
    """Return (option key, choice key) of each choice, from what is loaded."""
    return {
        choice.pk: (option.key, choice.key)
        for option in version.options.all()
        for choice in option.choices.all()
    }


def recipe_document(version: "DesignVersion") -> "Document":
    """Return the whole recipe as plain JSON; the shape is told in calc.recipes.document.

    Materials are there by name, so that the document means the same in a copy or after an
    export. Lossless: write_recipe of it makes the same recipe. No query when the version was
    loaded `with_recipe()`.
    """
    roles = {role.pk: role.name for role in version.roles.all()}
    choices = {pk: "=".join(keys) for pk, keys in _choice_names(version).items()}
    document: Document = {key: _plain(getattr(version, key)) for key in HEAD}
    document["roles"] = [
        {"name": role.name, "material": role.material.name} for role in version.roles.all()
    ]
    for kind, columns in ROWS.items():
        if kind == "roles":
            continue
        document[kind] = [
            {
                **{key: _plain(getattr(row, key)) for key in columns if key != "role"},
                "role": roles.get(row.role_id),
                "when": _when_document(row, choices),
            }
            for row in getattr(version, kind).all()
        ]
    document["options"] = [
        {
            "key": option.key,
            "name": option.name,
            "choices": [
                {
                    "key": choice.key,
                    "name": choice.name,
                    "is_default": choice.is_default,
                    "caution": choice.caution,
                }
                for choice in option.choices.all()
            ],
        }
        for option in version.options.all()
    ]
    document["colourways"] = [
        {
            "name": colourway.name,
            "materials": {
                roles[one.role_id]: one.material.name for one in colourway.materials.all()
            },
        }
        for colourway in version.colourways.all()
    ]
    return document


def _when_document(row: "RecipeRow", choices: dict[int, str]) -> "Document":
    when = {
        "from_quantity": row.from_quantity,
        "to_quantity": row.to_quantity,
        "only_with": choices.get(row.only_with_id or 0),
        "not_with": choices.get(row.not_with_id or 0),
    }
    return {key: value for key, value in when.items() if value is not None}


def materials_of(versions: Iterable["DesignVersion"]) -> dict[int, "Material"]:
    """Return every material of recipes by key, in whatever colourway.

    No query when the versions were loaded `with_recipe()`.
    """
    rows: list[Any] = []
    for version in versions:
        rows += version.roles.all()
        for way in version.colourways.all():
            rows += way.materials.all()
    return {row.material_id: row.material for row in rows}


@with_working_precision
def piece_values(version: "DesignVersion") -> tuple[values.RecipePiece, ...]:
    """Return the pieces alone, as they lie on the sheet, whatever they are made with.

    No query when roles and pieces were loaded.
    """
    roles = {role.pk: role.name for role in version.roles.all()}
    return tuple(
        _piece(row, {"name": row.name, "role": roles.get(row.role_id), "id": row.pk})
        for row in version.pieces.all()
    )


@with_working_precision
def recipe_values(
    version: "DesignVersion",
    workshop: "Workshop",
    *,
    colourway: "Colourway | None" = None,
) -> values.Recipe:
    """Return the version's recipe for calculation, in a colourway if one is given.

    Blanks of die-cut pieces get their margin, glue lines and spreads become amounts.
    No query when the version was loaded `with_recipe()`.
    """
    roles = {role.pk: role.name for role in version.roles.all()}
    choices = _choice_names(version)
    swapped = {one.role_id: one.material for one in colourway.materials.all()} if colourway else {}
    materials = {
        role.name: material_values(swapped.get(role.pk, role.material), workshop)
        for role in version.roles.all()
    }

    def shared(row: Any) -> dict[str, Any]:
        return {
            "name": row.name,
            "role": roles.get(row.role_id),
            "when": _when(row, choices),
            "id": row.pk,
        }

    return values.Recipe(
        name=version.design.name,
        unit=workshop.unit,
        materials=materials,
        pieces=tuple(_piece(row, shared(row)) for row in version.pieces.all()),
        fixings=tuple(
            _fixing(row, shared(row), materials, workshop.unit) for row in version.fixings.all()
        ),
        wears=tuple(
            values.RecipeWear(
                basis=values.Basis(row.basis), price=row.price, life=row.life, **shared(row)
            )
            for row in version.wears.all()
        ),
        packings=tuple(
            values.RecipePacking(
                kind=row.kind, holds=row.holds, cost_each=row.cost_each, **shared(row)
            )
            for row in version.packings.all()
        ),
        steps=tuple(_step(row, shared(row)) for row in version.steps.all()),
        options=_options(version),
        reject_share=version.reject_share,
        rejects_from=version.rejects_from,
        learning=values.Learning(version.learning),
        learning_rate=version.learning_rate,
        learning_floor=version.learning_floor,
        learning_reference=version.learning_reference,
        learning_made=version.learning_made,
        cautions=(version.design.caution,) if version.design.caution else (),
    )


def item_cautions(
    version: "DesignVersion", choices: Mapping[str, str], quantity: int | None = None
) -> tuple[str, ...]:
    """Return what the person who gets an item is told, each caution once.

    For the choices made; what no choice says is as usual. Standard sentences of the steps are
    among them when `quantity` says which steps hold; then `version` comes from `with_recipe()`,
    else with its design, options and choices.
    """
    options = _options(version)
    known = {option.key: {choice.key for choice in option.choices} for option in options}
    steps: tuple[values.RecipeStep, ...] = ()
    if quantity is not None:
        keys = _choice_names(version)
        steps = tuple(
            _step(row, {"name": row.name, "role": None, "when": _when(row, keys), "id": row.pk})
            for row in version.steps.all()
        )
    recipe = values.Recipe(
        name=version.design.name,
        materials={},
        steps=steps,
        options=options,
        cautions=(version.design.caution,) if version.design.caution else (),
    )
    # a choice the version does not know any more says nothing
    made = {key: choice for key, choice in choices.items() if choice in known.get(key, ())}
    return cautions_for(recipe, quantity or 1, made)


def _options(version: "DesignVersion") -> tuple[values.RecipeOption, ...]:
    return tuple(
        values.RecipeOption(
            key=option.key,
            name=option.name,
            choices=tuple(
                values.Choice(
                    key=choice.key,
                    name=choice.name,
                    is_default=choice.is_default,
                    caution=choice.caution,
                )
                for choice in option.choices.all()
            ),
        )
        for option in version.options.all()
    )


def _when(row: Any, choices: dict[int, tuple[str, str]]) -> values.When:
    return values.When(
        from_quantity=row.from_quantity,
        to_quantity=row.to_quantity,
        only_with=choices.get(row.only_with_id),
        not_with=choices.get(row.not_with_id),
    )


def _piece(row: Any, shared: dict[str, Any]) -> values.RecipePiece:
    is_die_cut = row.shape == "die"
    margin = 2 * row.die_margin_mm if is_die_cut else Decimal(0)
    count = row.count
    more: dict[str, Any] = {}
    if row.shape == "form":
        # only here: many designs have no shape, and the library of shapes takes long to load
        from catalogue.calc.recipes.form_blank import form_blank

        blank = form_blank(row.form, row.form_inputs)
        count *= blank.count
        more = {
            "glue_bead_mm": blank.glue_bead_mm,
            "glue_area_mm2": blank.glue_area_mm2,
            "area_mm2": blank.area_mm2,
        }
    elif is_die_cut:
        more = {"area_mm2": row.width_mm * row.height_mm}
    return values.RecipePiece(
        width_mm=row.width_mm + margin,
        height_mm=row.height_mm + margin,
        count=count,
        layers=row.layers,
        may_turn={"free": True, "fixed": False}.get(row.turning),
        is_die_cut=is_die_cut,
        **more,
        **shared,
    )


def _length(length_mm: Decimal, lengths: str, typed_in: str = "") -> str:
    """Write a length of a sum: as it was typed, else in metres or in inches."""
    if typed_in and (text := format_length_in(length_mm, typed_in)):
        return text
    if lengths == "in":
        # 5 mm is 5 mm in a workshop of inches too, not 0.1969 in
        return format_length(length_mm, "in" if inch_fraction(length_mm)[2] else "mm")
    return f"{plain_text(length_mm / MM_PER_M)} m"


def _fixing(
    row: Any, shared: dict[str, Any], materials: dict[str, values.MaterialValues], lengths: str
) -> values.RecipeFixing:
    amount, how = row.amount, ""
    more: dict[str, Any] = {}
    material = materials[shared["role"]]
    unit = material.unit
    if row.measure == "bead":
        amount = row.amount / MM_PER_M * row.rate
        how = (
            f"{_length(row.amount, lengths, row.typed_in)} of glue line"
            f" × {rate_words(row.rate, row.measure, lengths)} {unit}"
            f" per {rate_per(row.measure, lengths)}"
        )
    elif row.measure == "area":
        amount = row.amount / SQUARE_MM_PER_SQUARE_M * row.rate
        how = (
            f"{format_area(row.amount, lengths)}"
            f" × {rate_words(row.rate, row.measure, lengths)} {unit}"
            f" per {rate_per(row.measure, lengths)}"
        )
    elif row.measure in ("form_bead", "form_area"):
        more = {"measure": values.Measure(row.measure), "rate": row.rate}
    elif row.measure == "cut":
        amount = row.rate * (row.amount + material.cut_loss_mm) / MM_PER_M
        lost = material.cut_loss_mm
        length = _length(row.amount, lengths, row.typed_in)
        if lost:
            length = f"({length} + {_length(lost, lengths)} lost at the cut)"
        how = f"{plain_text(row.rate)} × {length}"
        more = {"cut_mm": row.amount, "cut_count": int(row.rate)}
    return values.RecipeFixing(
        amount=amount,
        basis=values.Basis(row.basis),
        waste_share=row.waste_share,
        how=how,
        typed_in=row.typed_in if row.measure == "amount" else "",
        **more,
        **shared,
    )


def _step(row: Any, shared: dict[str, Any]) -> values.RecipeStep:
    return values.RecipeStep(
        basis=values.Basis(row.basis),
        minutes=row.minutes,
        minutes_low=row.minutes_low,
        minutes_high=row.minutes_high,
        per=row.per,
        times=row.times,
        window_minutes=row.window_minutes,
        learns=row.learns,
        caution=row.get_caution_display() if row.caution else "",
        **shared,
    )
