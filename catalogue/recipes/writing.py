"""Makes the rows of a version say what a document says; refuses what cannot be meant."""

from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.db import models, transaction

from catalogue.calc.recipes.columns import HEAD, ROWS
from catalogue.calc.recipes.document import Document, DocumentProblem, WrongRecipe, read_document
from catalogue.materials.models import Material
from catalogue.recipes.models import (
    Colourway,
    ColourwayMaterial,
    DesignVersion,
    Fixing,
    Option,
    OptionChoice,
    Packing,
    Piece,
    Role,
    Step,
    Wear,
)
from maker.workshop.models import Workshop

_GLUE_LINE = ("volume", "A glue line is counted in ml, and “{}” is not sold by volume.")
# the kind of material a way of measuring asks for, and why
_KIND_MEASURED = {
    "bead": _GLUE_LINE,
    "form_bead": _GLUE_LINE,
    "cut": ("length", "Lengths are cut from a reel, and “{}” is not sold by length."),
}
ROW_MODELS: dict[str, Any] = {
    "pieces": Piece,
    "fixings": Fixing,
    "steps": Step,
    "wears": Wear,
    "packings": Packing,
}


def materials_by_name(
    workshop: Workshop, document: Document, *, with_costs: bool = False
) -> dict[str, Material]:
    """Find the materials a document names. Errors: WrongRecipe for those the workshop lacks."""
    rows = Material.objects.of(workshop)
    named = {row["material"] for row in document["roles"]}
    for colourway in document["colourways"]:
        named |= set(colourway["materials"].values())
    rows = (rows.with_costs() if with_costs else rows).filter(name__in=named)
    found = {material.name: material for material in rows}
    problems = [
        DocumentProblem(f"roles[{at}].material", _no_material(row["material"]))
        for at, row in enumerate(document["roles"])
        if row["material"] not in found
    ] + [
        DocumentProblem(f"colourways[{at}].materials.{role}"[:200], _no_material(name))
        for at, row in enumerate(document["colourways"])
        for role, name in row["materials"].items()
        if name not in found
    ]
    problems += _wrong_kinds(document, found)
    if problems:
        raise WrongRecipe(problems)
    return found


def _no_material(name: str) -> str:
    return f"No material of this workshop is called “{name}”. Add it to Materials first."


def _wrong_kinds(document: Document, found: dict[str, Material]) -> list[DocumentProblem]:
    """Say which rows ask of a material what its kind cannot give."""
    problems = []
    kinds: dict[str, set[str]] = {}
    for row in document["roles"]:
        if row["material"] in found:
            kinds.setdefault(row["name"], set()).add(found[row["material"]].kind)
    for at, row in enumerate(document["colourways"]):
        for role, name in row["materials"].items():
            if name not in found or role not in kinds:
                continue
            usual = next(iter(kinds[role]))
            if found[name].kind != usual:
                problems.append(
                    DocumentProblem(
                        f"colourways[{at}].materials.{role}"[:200],
                        f"“{name}” isn't a {usual} material, and “{role}” needs one.",
                    )
                )
    for at, row in enumerate(document["pieces"]):
        if kinds.get(row["role"], {"sheet"}) != {"sheet"}:
            problems.append(
                DocumentProblem(
                    f"pieces[{at}].role", f"“{row['role']}” is not a sheet to cut from."
                )
            )
    for at, row in enumerate(document["fixings"]):
        wanted, why = _KIND_MEASURED.get(row["measure"], ("", ""))
        if wanted and kinds.get(row["role"], {wanted}) != {wanted}:
            problems.append(DocumentProblem(f"fixings[{at}].role", why.format(row["role"])))
    for kind in ("steps", "wears"):
        for at, row in enumerate(document[kind]):
            if row["role"] and kinds.get(row["role"], {"sheet"}) != {"sheet"}:
                problems.append(
                    DocumentProblem(
                        f"{kind}[{at}].role", f"“{row['role']}” is not a sheet to cut from."
                    )
                )
    return problems


def write_recipe(version: DesignVersion, document: Any) -> None:
    """Read a document and make the version's rows say it: a new version, a copy, an import.

    Errors: WrongRecipe with the path of every mistake.
    """
    write_read_recipe(version, read_document(document, version.design.workshop.unit))


@transaction.atomic
def write_read_recipe(version: DesignVersion, read: Document) -> None:
    """Make the version's rows say what a document says that `read_document` returned.

    Roles, options, choices and colourways keep their ids when their name or key stays; other
    rows are made anew. Errors: WrongRecipe for materials the workshop lacks.
    """
    materials = materials_by_name(version.design.workshop, read)
    for key in HEAD:
        setattr(version, key, stored(DesignVersion, key, read[key]))
    version.recipe_stamp = uuid4()
    version.save(update_fields=[*HEAD, "recipe_stamp"])
    for model in ROW_MODELS.values():
        model.objects.filter(version=version).delete()
    roles = _write_roles(version, read["roles"], materials)
    choices = _write_options(version, read["options"])
    _write_colourways(version, read["colourways"], roles, materials)
    for kind, model in ROW_MODELS.items():
        model.objects.bulk_create(
            [
                model(
                    version=version,
                    position=position,
                    **row_values(kind, row, roles, choices),
                )
                for position, row in enumerate(read[kind])
            ]
        )


def stored(model: Any, key: str, value: Any) -> Any:
    """Turn a document's value into the one its column keeps."""
    if isinstance(value, str) and isinstance(model._meta.get_field(key), models.DecimalField):
        return Decimal(value)
    return value


def row_values(
    kind: str, row: Document, roles: dict[str, Role], choices: dict[str, OptionChoice]
) -> dict[str, Any]:
    model = ROW_MODELS[kind]
    values = {key: stored(model, key, row[key]) for key in ROWS[kind] if key != "role"}
    values["role"] = roles[row["role"]] if row["role"] else None
    when = row["when"]
    values |= {key: when.get(key) for key in ("from_quantity", "to_quantity")}
    for key in ("only_with", "not_with"):
        values[key] = choices[when[key]] if key in when else None
    return values


def _write_roles(
    version: DesignVersion, rows: list[Document], materials: dict[str, Material]
) -> dict[str, Role]:
    kept = {role.name: role for role in Role.objects.filter(version=version)}
    names = {row["name"] for row in rows}
    Role.objects.filter(
        pk__in=[role.pk for name, role in kept.items() if name not in names]
    ).delete()
    roles = {}
    for position, row in enumerate(rows):
        role = kept.get(row["name"]) or Role(version=version, name=row["name"])
        role.position, role.material = position, materials[row["material"]]
        roles[role.name] = role
    _store(Role, list(roles.values()), ["position", "material"])
    return roles


def _write_options(version: DesignVersion, rows: list[Document]) -> dict[str, OptionChoice]:
    kept = {
        option.key: option
        for option in Option.objects.filter(version=version).prefetch_related("choices")
    }
    answers = {
        (option.key, choice.key): choice
        for option in kept.values()
        for choice in option.choices.all()
    }
    keys = {row["key"] for row in rows}
    Option.objects.filter(version=version).exclude(key__in=keys).delete()
    options = {}
    for position, row in enumerate(rows):
        option = kept.get(row["key"]) or Option(version=version, key=row["key"])
        option.position, option.name = position, row["name"]
        options[option.key] = option
    _store(Option, list(options.values()), ["position", "name"])
    wanted = {}
    for row in rows:
        for position, answer in enumerate(row["choices"]):
            choice = answers.get((row["key"], answer["key"])) or OptionChoice(key=answer["key"])
            choice.option = options[row["key"]]
            choice.position = position
            for key in ("name", "is_default", "caution"):
                setattr(choice, key, answer[key])
            wanted[f"{row['key']}={answer['key']}"] = choice
    gone = {choice.pk for choice in answers.values()} - {choice.pk for choice in wanted.values()}
    OptionChoice.objects.filter(pk__in=gone).delete()
    _store(OptionChoice, list(wanted.values()), ["position", "name", "is_default", "caution"])
    return wanted


def _write_colourways(
    version: DesignVersion,
    rows: list[Document],
    roles: dict[str, Role],
    materials: dict[str, Material],
) -> None:
    kept = {one.name: one for one in Colourway.objects.filter(version=version)}
    ColourwayMaterial.objects.filter(colourway__version=version).delete()
    names = {row["name"] for row in rows}
    Colourway.objects.filter(version=version).exclude(name__in=names).delete()
    colourways = []
    for position, row in enumerate(rows):
        colourway = kept.get(row["name"]) or Colourway(version=version, name=row["name"])
        colourway.position = position
        colourways.append(colourway)
    _store(Colourway, colourways, ["position"])
    ColourwayMaterial.objects.bulk_create(
        [
            ColourwayMaterial(colourway=colourway, role=roles[role], material=materials[name])
            for colourway, row in zip(colourways, rows, strict=True)
            for role, name in row["materials"].items()
        ]
    )


def _store(model: Any, rows: list[Any], fields: list[str]) -> None:
    """Add the new ones and update the others, in two statements."""
    old = [row for row in rows if row.pk is not None]
    model.objects.bulk_create([row for row in rows if row.pk is None])
    model.objects.bulk_update(old, fields)
