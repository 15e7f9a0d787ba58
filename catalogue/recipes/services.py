"""Writes a recipe whole: as a document, with undo, and never over what was promised."""

from decimal import Decimal
from typing import Any

from django.db import models, transaction
from django.db.models import ProtectedError
from django.utils import timezone

from catalogue.calc.recipe_changes import Writing, changes_in_words
from catalogue.calc.recipe_columns import HEAD, ROWS
from catalogue.calc.recipe_document import Document, Problem, WrongRecipe, read_document
from catalogue.materials.models import Material
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import (
    Colourway,
    ColourwayMaterial,
    DesignVersion,
    Fixing,
    Option,
    OptionChoice,
    Packing,
    Piece,
    RecipeChange,
    Role,
    Step,
    Wear,
)
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop

__all__ = ["recipe_document", "save_recipe", "write_recipe"]

_ROW_MODELS: dict[str, Any] = {
    "pieces": Piece,
    "fixings": Fixing,
    "steps": Step,
    "wears": Wear,
    "packings": Packing,
}


class VersionFrozen(Refusal):
    """Something was promised from this version, so it stays as it is."""


class NothingChanged(Refusal):
    """What was sent is what is kept already."""


class RecipeChanged(Refusal):
    """Somebody else saved the recipe since this person opened it; `words` says what."""

    def __init__(self, who: str, words: list[str], edit_number: int) -> None:
        super().__init__(f"{who} saved this recipe while you were typing.")
        self.words = words
        self.edit_number = edit_number


class RecipeMovedOn(Refusal):
    """What something was to be promised from is not what the recipe says now."""


class NothingToUndo(Refusal):
    """There is no save, or no longer the last one, to take back."""


def writing_of(workshop: Workshop) -> Writing:
    """Say how the workshop writes lengths and money."""
    return Writing(unit=workshop.unit, currency=workshop.currency, locale=workshop.locale)


def _materials_by_name(workshop: Workshop, document: Document) -> dict[str, Material]:
    """Find the materials a document names. Errors: WrongRecipe for those the workshop lacks."""
    named = {row["material"] for row in document["roles"]}
    for colourway in document["colourways"]:
        named |= set(colourway["materials"].values())
    found = {
        material.name: material for material in Material.objects.of(workshop).filter(name__in=named)
    }
    problems = [
        Problem(f"roles[{at}].material", _no_material(row["material"]))
        for at, row in enumerate(document["roles"])
        if row["material"] not in found
    ] + [
        Problem(f"colourways[{at}].materials.{role}"[:200], _no_material(name))
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


def _wrong_kinds(document: Document, found: dict[str, Material]) -> list[Problem]:
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
                    Problem(
                        f"colourways[{at}].materials.{role}"[:200],
                        f"“{name}” is no {usual} material, and “{role}” is used as one.",
                    )
                )
    for at, row in enumerate(document["pieces"]):
        if kinds.get(row["role"], {"sheet"}) != {"sheet"}:
            problems.append(
                Problem(f"pieces[{at}].role", f"“{row['role']}” is not a sheet to cut from.")
            )
    for at, row in enumerate(document["fixings"]):
        if row["measure"] == "bead" and kinds.get(row["role"], {"volume"}) != {"volume"}:
            problems.append(
                Problem(
                    f"fixings[{at}].role",
                    f"A glue line is counted in ml, and “{row['role']}” is not sold by volume.",
                )
            )
    for kind in ("steps", "wears"):
        for at, row in enumerate(document[kind]):
            if row["role"] and kinds.get(row["role"], {"sheet"}) != {"sheet"}:
                problems.append(
                    Problem(f"{kind}[{at}].role", f"“{row['role']}” is not a sheet to cut from.")
                )
    return problems


@transaction.atomic
def write_recipe(version: DesignVersion, document: Any) -> Document:
    """Make the version's rows say what the document says, and return it as it is kept.

    For a new version, a copy, an import or a save that was checked for others' changes.
    Roles, options, choices and colourways keep their ids when their name or key stays; other
    rows are made anew. Errors: WrongRecipe with the path of every mistake.
    """
    read = read_document(document)
    workshop = version.design.workshop
    materials = _materials_by_name(workshop, read)
    for key in HEAD:
        setattr(version, key, _stored(DesignVersion, key, read[key]))
    version.save(update_fields=[*HEAD])
    for model in _ROW_MODELS.values():
        model.objects.filter(version=version).delete()
    roles = _write_roles(version, read["roles"], materials)
    choices = _write_options(version, read["options"])
    _write_colourways(version, read["colourways"], roles, materials)
    for kind, model in _ROW_MODELS.items():
        model.objects.bulk_create(
            [
                model(
                    version=version,
                    position=position,
                    **_row_values(kind, row, roles, choices),
                )
                for position, row in enumerate(read[kind])
            ]
        )
    return read


def _stored(model: Any, key: str, value: Any) -> Any:
    """Turn a document's value into the one its column keeps."""
    if isinstance(value, str) and isinstance(model._meta.get_field(key), models.DecimalField):
        return Decimal(value)
    return value


def _row_values(
    kind: str, row: Document, roles: dict[str, Role], choices: dict[str, OptionChoice]
) -> dict[str, Any]:
    model = _ROW_MODELS[kind]
    values = {key: _stored(model, key, row[key]) for key in ROWS[kind] if key != "role"}
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


def _locked(version: DesignVersion) -> DesignVersion:
    """Read the version again, so that two saves of it come one after the other."""
    return DesignVersion.objects.select_for_update(no_key=True).get(pk=version.pk)


def _loaded(version: DesignVersion) -> DesignVersion:
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


@transaction.atomic
def save_recipe(
    *, version: DesignVersion, document: Any, edit_number: int, by: User | None
) -> DesignVersion:
    """Save a whole recipe that was opened at `edit_number`, and keep the one before for undo.

    Errors: VersionFrozen; RecipeChanged when somebody saved since, with what they changed;
    NothingChanged; WrongRecipe with the path of every mistake.
    """
    locked = _locked(version)
    refuse_frozen(locked)
    loaded = _loaded(version)
    before = recipe_document(loaded)
    read = read_document(document)
    if read == before:
        raise NothingChanged("Nothing was changed, so there was nothing to save.")
    if edit_number != locked.edit_number:
        raise _changed_since(loaded, before, edit_number)
    try:
        write_recipe(loaded, read)
    except ProtectedError as protected:
        raise VersionFrozen(
            "A price was set for something you removed. Make a new version and change that."
        ) from protected
    RecipeChange.objects.create(
        version=version,
        edit_number=locked.edit_number,
        before={"recipe": before, "materials": _material_ids(loaded)},
        made_by=by,
    )
    loaded.edit_number = locked.edit_number + 1
    loaded.save(update_fields=["edit_number"])
    return loaded


def refuse_frozen(version: DesignVersion) -> None:
    """Raise VersionFrozen, with the remedy, if something was promised from the version."""
    if version.frozen_at:
        raise VersionFrozen(
            f"A price or quote rests on version {version.number}, so it stays as it is. "
            "Make a new version and change that one."
        )


def _changed_since(loaded: DesignVersion, now: Document, edit_number: int) -> RecipeChanged:
    changes = RecipeChange.objects.filter(version=loaded, edit_number__gte=edit_number)
    first = changes.order_by("edit_number").first()
    last = changes.order_by("-edit_number").select_related("made_by").first()
    words = (
        changes_in_words(first.before["recipe"], now, writing_of(loaded.design.workshop))
        if first
        else []
    )
    who = str(last.made_by) if last and last.made_by else "Somebody"
    return RecipeChanged(who, words, loaded.edit_number)


def _material_ids(loaded: DesignVersion) -> dict[str, int]:
    """Remember which material each name meant, so that undo outlives a new name."""
    rows: list[Any] = [
        *loaded.roles.all(),
        *(one for colourway in loaded.colourways.all() for one in colourway.materials.all()),
    ]
    return {row.material.name: row.material_id for row in rows}


@transaction.atomic
def undo_recipe(*, version: DesignVersion, edit_number: int, by: User | None) -> DesignVersion:
    """Take back the save that was made at `edit_number`; undoing again brings it back.

    Errors: NothingToUndo when that save is not the last one; VersionFrozen.
    """
    change = RecipeChange.objects.filter(version=version).order_by("-edit_number").first()
    if change is None or change.edit_number != edit_number:
        raise NothingToUndo("This was not the last save, so it cannot be taken back by itself.")
    before = change.before["recipe"]
    names = dict(
        Material.objects.of(version.design.workshop)
        .filter(pk__in=change.before["materials"].values())
        .values_list("pk", "name")
    )
    called = {old: names[pk] for old, pk in change.before["materials"].items() if pk in names}
    for row in before["roles"]:
        row["material"] = called.get(row["material"], row["material"])
    for row in before["colourways"]:
        row["materials"] = {role: called.get(name, name) for role, name in row["materials"].items()}
    return save_recipe(version=version, document=before, edit_number=edit_number + 1, by=by)


@transaction.atomic
def new_version(*, version: DesignVersion, name: str = "") -> DesignVersion:
    """Copy a version's recipe whole into the design's next number, ready to be changed."""
    # One after the other, so that two people do not make the same number. The design is locked, not
    # its newest version: PostgreSQL would hand the second one the row that was newest before.
    DesignVersion.objects.select_related("design").select_for_update(
        of=("design",), no_key=True
    ).get(pk=version.pk)
    newest = DesignVersion.objects.filter(design_id=version.design_id).newest_first().first()
    document = recipe_document(_loaded(version))
    number = (newest.number if newest else 0) + 1
    made = DesignVersion.objects.create(design=version.design, number=number)
    write_recipe(made, {**document, "name": name})
    return made


@transaction.atomic
def save_as_new_version(*, version: DesignVersion, document: Any, by: User | None) -> DesignVersion:
    """Save a recipe typed for a version that was frozen meanwhile in the next number.

    Errors: those of save_recipe; then no version is made.
    """
    made = new_version(version=version)
    return save_recipe(version=made, document={**document, "name": ""}, edit_number=0, by=by)


@transaction.atomic
def copy_recipe(*, version: DesignVersion, to: DesignVersion) -> None:
    """Write a version's recipe into another design's version of the same workshop."""
    write_recipe(to, {**recipe_document(_loaded(version)), "name": ""})


def freeze_version(version: DesignVersion) -> None:
    """Keep the version as it is from now on; call it in the transaction of what is promised.

    Errors: RecipeMovedOn when somebody saved the recipe since `version` was read, because the
    promise would rest on figures of another recipe.
    """
    locked = _locked(version)
    if locked.edit_number != version.edit_number:
        raise RecipeMovedOn(
            "Somebody changed the recipe meanwhile. Look at the new cost, then ask your price."
        )
    version.frozen_at = locked.frozen_at or timezone.now()
    version.save(update_fields=["frozen_at"])
