"""What the editor holds now as a version, without saving it."""

from typing import Any

from catalogue.calc.recipes.document import WrongRecipe, read_document
from catalogue.recipes.editor import RecipeEditor, materials_of
from catalogue.recipes.following import following_a_save
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.unsaved import version_saying
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop


class NotReadable(Refusal):
    """An entry of the editor cannot be read yet."""


def recipe_as_typed(version: DesignVersion, workshop: Workshop, data: Any) -> DesignVersion:
    """Return the version as a save of what was sent would make it.

    `version` comes from `with_recipe()`. Errors: NotReadable.
    """
    editor = RecipeEditor(workshop=workshop, materials=materials_of(workshop), data=data)
    if not editor.is_valid():
        raise NotReadable("An entry is missing or has to be put right.")
    document, _ = following_a_save(recipe_document(version), editor.document, workshop.unit)
    try:
        return version_saying(version, read_document(document, workshop.unit))
    except WrongRecipe as wrong:  # without the path, which is for files
        raise NotReadable(wrong.problems[0].message) from wrong
