"""The swatch of a material before its name, in every list: `{{ row.material|swatch:workshop }}`."""

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe

from catalogue.materials.looks import swatch_of
from maker.workshop.models import Workshop

register = template.Library()


@register.filter
def swatch(material: Any, workshop: Workshop) -> SafeString:
    """Return a small square of a material's look; nothing where there is none to see.

    Its photo is seen where the rows were loaded with it, so that no list asks once a row.
    """
    if not material:
        return mark_safe("")
    return swatch_of(material, workshop.slug if "picture" in material._state.fields_cache else "")


def swatches_by_name(materials: Iterable[Any], workshop: Workshop) -> dict[str, SafeString]:
    """Return the swatches of materials by their names, for rows that know no more of them."""
    return {material.name: swatch(material, workshop) for material in materials}
