"""Starts, copies, puts away and brings back designs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import transaction

from catalogue.calc.recipes.recipe import BEAD_ML_PER_M
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import copy_recipe
from catalogue.recipes.writing import write_recipe
from maker.calc.refusal import Refusal
from maker.calc.sums import plain_text
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from maker.workshop.services import claim_name

LONGEST_NAME = 120


class NothingToCopy(Refusal):
    """A design without a version has no recipe."""


@dataclass(frozen=True, slots=True)
class FirstPiece:
    """A piece of a design that is started: a rectangle so many times, or a shape of the library.

    Of a shape width and height follow from its sizes; `blanks_each` of them make one.
    """

    name: str
    width_mm: Decimal
    height_mm: Decimal
    count: int = 1
    form: str = ""
    form_inputs: Mapping[str, str] = field(default_factory=dict)
    blanks_each: int = 1

    @property
    def blanks(self) -> int:
        """How many blanks one item takes."""
        return self.count * self.blanks_each


@dataclass(frozen=True, slots=True)
class FirstRecipe:
    """What a design can be started from: its pieces of one material, and how long one takes."""

    material: Material
    pieces: tuple[FirstPiece, ...]
    minutes_each: Decimal
    minutes_set_up: Decimal = Decimal(0)
    glue: Material | None = None


def _claim_name(design: Design) -> None:
    words = f"You already have a design called “{design.name}”. Choose another name."
    claim_name(design, words)


@transaction.atomic
def save_design(*, design: Design, edit_number: int | None) -> Design:
    """Store a design's changed details. Errors: NameTaken, ChangedMeanwhile."""
    _claim_name(design)
    take_turn(design, edit_number)
    design.save()
    return design


@transaction.atomic
def start_design(*, workshop: Workshop, name: str, first: FirstRecipe) -> DesignVersion:
    """New design with the shortest recipe that has a price: what is cut and its minutes.

    Errors: NameTaken; WrongRecipe.
    """
    design = Design(workshop=workshop, name=name)
    _claim_name(design)
    design.save()
    version = DesignVersion.objects.create(design=design, number=1)
    steps = [{"name": "make one", "basis": "made", "minutes": plain_text(first.minutes_each)}]
    if first.minutes_set_up:
        set_up = plain_text(first.minutes_set_up)
        steps.insert(0, {"name": "set up", "basis": "job", "minutes": set_up})
    roles = [{"name": "body", "material": first.material.name}]
    fixings: list[dict[str, Any]] = []
    if first.glue:
        roles.append({"name": "glue", "material": first.glue.name})
        fixings.append(
            {
                "name": "glue lines",
                "role": "glue",
                "measure": "form_bead",
                "amount": "1",
                "rate": plain_text(BEAD_ML_PER_M),
            }
        )
    write_recipe(
        version,
        {
            "roles": roles,
            "pieces": [_first_row(piece) for piece in first.pieces],
            "fixings": fixings,
            "steps": steps,
        },
    )
    return version


def _first_row(piece: FirstPiece) -> dict[str, Any]:
    folded: dict[str, Any] = {}
    if piece.form:
        inputs = dict(piece.form_inputs)
        folded = {"shape": "form", "form": piece.form, "form_inputs": inputs}
    return {
        "name": piece.name,
        "role": "body",
        "width_mm": plain_text(piece.width_mm),
        "height_mm": plain_text(piece.height_mm),
        "count": piece.count,
        **folded,
    }


def _free_name(workshop: Workshop, name: str) -> str:
    """Return `name (copy)`, or `name (copy 2)` and so on, whichever is free."""
    start = name[: LONGEST_NAME - 12]
    same = Design.objects.of(workshop).filter(name__istartswith=start)
    taken = {name.casefold() for name in same.values_list("name", flat=True)}
    number = 1
    while True:
        free = f"{start} (copy)" if number == 1 else f"{start} (copy {number})"
        if free.casefold() not in taken:
            return free
        number += 1


@transaction.atomic
def copy_design(*, design: Design) -> Design:
    """Make a new design from the newest recipe of another, under a name that is free.

    Errors: NothingToCopy; NameTaken when somebody takes the name meanwhile.
    """
    newest = design.versions.newest_first().first()
    if newest is None:
        raise NothingToCopy("This design has no recipe yet, so there is nothing to copy.")
    made = Design(
        workshop=design.workshop,
        name=_free_name(design.workshop, design.name),
        description=design.description,
        care_line=design.care_line,
        caution=design.caution,
    )
    _claim_name(made)
    made.save()
    version = DesignVersion.objects.create(
        design=made, number=1, finished_size=newest.finished_size
    )
    copy_recipe(version=newest, to=version)
    return made
