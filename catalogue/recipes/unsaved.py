"""A version as it would be if it said another document: for prices and pictures while she types.

Nothing is stored, so nothing here may be saved: the rows have keys of their own.
"""

import copy
from collections.abc import Sequence
from itertools import count
from typing import Any

from django.db.models import Model

from catalogue.calc.recipes.columns import HEAD
from catalogue.calc.recipes.document import Document
from catalogue.recipes.models import (
    Colourway,
    ColourwayMaterial,
    DesignVersion,
    Option,
    OptionChoice,
    Role,
)
from catalogue.recipes.writing import ROW_MODELS, materials_by_name, row_values, stored


def version_saying(version: DesignVersion, read: Document) -> DesignVersion:
    """Return a copy of the version with the rows of a document that `read_document` returned.

    As if it came from `with_recipe()`: one query for its materials and those that hold what they
    cost, none afterwards. Errors: WrongRecipe for materials the workshop lacks.
    """
    materials = materials_by_name(version.design.workshop, read, with_costs=True)
    made = copy.copy(version)
    # a copy shares these two with the version it was made of
    made._state = copy.copy(version._state)
    made._prefetched_objects_cache = {}  # type: ignore[attr-defined] # Django's own name for it
    for key in HEAD:
        setattr(made, key, stored(DesignVersion, key, read[key]))
    keys = count(1)
    roles = {
        row["name"]: Role(
            pk=next(keys), version=made, name=row["name"], material=materials[row["material"]]
        )
        for row in read["roles"]
    }
    _load(made, "roles", list(roles.values()))
    choices = _load_options(made, read, keys)
    ways = []
    for row in read["colourways"]:
        way = Colourway(pk=next(keys), version=made, name=row["name"])
        swaps = [
            ColourwayMaterial(
                pk=next(keys), colourway=way, role=roles[role], material=materials[name]
            )
            for role, name in row["materials"].items()
        ]
        _load(way, "materials", swaps)
        ways.append(way)
    _load(made, "colourways", ways)
    for kind, model in ROW_MODELS.items():
        rows = [
            model(pk=next(keys), version=made, **row_values(kind, row, roles, choices))
            for row in read[kind]
        ]
        _load(made, kind, rows)
    return made


def _load_options(made: DesignVersion, read: Document, keys: Any) -> dict[str, OptionChoice]:
    found: dict[str, OptionChoice] = {}
    options = []
    for row in read["options"]:
        option = Option(pk=next(keys), version=made, key=row["key"], name=row["name"])
        answers = [
            OptionChoice(pk=next(keys), option=option, **answer) for answer in row["choices"]
        ]
        _load(option, "choices", answers)
        options.append(option)
        found |= {f"{row['key']}={answer.key}": answer for answer in answers}
    _load(made, "options", options)
    return found


def _load(owner: Model, name: str, rows: Sequence[Any]) -> None:
    """Let a related manager find rows that are not in the database, as a prefetch does."""
    queryset = getattr(owner, name).none()
    queryset._result_cache = list(rows)
    queryset._prefetch_done = True
    cache = getattr(owner, "_prefetched_objects_cache", {})
    owner._prefetched_objects_cache = {**cache, name: queryset}  # type: ignore[attr-defined]
