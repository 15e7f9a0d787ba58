"""Saves a recipe whole: with undo, for two people, and never over what was promised."""

from typing import Any

from django.db import transaction
from django.db.models import ProtectedError
from django.utils import timezone

from catalogue.calc.recipes.changes import ChangeWords, changes_in_words
from catalogue.calc.recipes.document import Document, read_document
from catalogue.materials.models import Material
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion, RecipeChange
from catalogue.recipes.writing import write_read_recipe, write_recipe
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop


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


def writing_of(workshop: Workshop) -> ChangeWords:
    """Say how the workshop writes lengths, amounts and money (one query)."""
    by_length = Material.objects.of(workshop).filter(kind=Material.Kind.LENGTH)
    return ChangeWords(
        unit=workshop.unit,
        currency=workshop.currency,
        locale=workshop.locale,
        by_length=frozenset(by_length.values_list("name", flat=True)),
    )


def _locked(version: DesignVersion) -> DesignVersion:
    """Read the version again, so that two saves of it come one after the other."""
    return DesignVersion.objects.select_for_update(no_key=True).get(pk=version.pk)


def _loaded(version: DesignVersion) -> DesignVersion:
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


@transaction.atomic
def save_recipe(
    *,
    version: DesignVersion,
    document: Any,
    edit_number: int,
    by: User | None,
    is_read: bool = False,
) -> DesignVersion:
    """Save a whole recipe that was opened at `edit_number`, and keep the one before for undo.

    `is_read`: the document is what `read_document` returned, and is not read again.
    Errors: VersionFrozen; RecipeChanged when somebody saved since, with what they changed;
    NothingChanged; WrongRecipe with the path of every mistake.
    """
    locked = _locked(version)
    refuse_frozen(locked)
    loaded = _loaded(version)
    before = recipe_document(loaded)
    read = document if is_read else read_document(document, loaded.design.workshop.unit)
    if read == before:
        raise NothingChanged("Nothing was changed.")
    if edit_number != locked.edit_number:
        raise _changed_since(loaded, before, edit_number)
    try:
        write_read_recipe(loaded, read)
    except ProtectedError as protected:
        raise VersionFrozen(
            "A price was set for something you removed. Create a new version and change that."
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
            f"A price or quote uses version {version.number}, so it is locked. "
            "Create a new version and change that one."
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
        raise NothingToUndo("This wasn't the last save, so it can't be undone on its own.")
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
    made = DesignVersion.objects.create(
        design=version.design, number=number, places=_locked(version).places
    )
    write_recipe(made, {**document, "name": name})
    return made


@transaction.atomic
def save_as_new_version(
    *, version: DesignVersion, document: Any, by: User | None, is_read: bool = False
) -> DesignVersion:
    """Save a recipe typed for a version that was frozen meanwhile in the next number.

    Errors: those of save_recipe; then no version is made.
    """
    made = new_version(version=version)
    unnamed = {**document, "name": ""}
    return save_recipe(version=made, document=unnamed, edit_number=0, by=by, is_read=is_read)


@transaction.atomic
def copy_recipe(*, version: DesignVersion, to: DesignVersion) -> None:
    """Write a version's recipe into another design's version of the same workshop."""
    loaded = _loaded(version)
    to.places = loaded.places
    to.save(update_fields=["places"])
    write_recipe(to, {**recipe_document(loaded), "name": ""})


def freeze_version(version: DesignVersion) -> None:
    """Keep the version as it is from now on; call it in the transaction of what is promised.

    Errors: RecipeMovedOn when somebody saved the recipe since `version` was read, because the
    promise would rest on figures of another recipe.
    """
    locked = _locked(version)
    if locked.edit_number != version.edit_number:
        raise RecipeMovedOn(
            "Somebody changed the recipe meanwhile. Check the new cost, then set your price."
        )
    version.frozen_at = locked.frozen_at or timezone.now()
    version.save(update_fields=["frozen_at"])
