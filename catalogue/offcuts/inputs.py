"""Which pieces of her designs an offcut would do for."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import models

from catalogue.offcuts.models import Offcut
from catalogue.recipes.inputs import piece_values
from catalogue.recipes.models import Colourway, DesignVersion, Piece, Role
from maker.workshop.models import Workshop


@dataclass(frozen=True, slots=True)
class Fit:
    """A piece that can be cut from an offcut: of which design, as what, how many from one."""

    design_id: int
    design: str
    piece: str
    times: int


def fits_of(offcuts: Iterable[Offcut], workshop: Workshop) -> dict[int, list[Fit]]:
    """Return for each offcut the pieces that fit it, of designs in use as they are made now.

    The number of queries does not grow with the offcuts or the designs. A piece fits as it lies,
    or turned where it may be; how many is by rows and columns, which a plan may beat.
    """
    by_material: dict[int, list[Offcut]] = {}
    for offcut in offcuts:
        by_material.setdefault(offcut.material_id, []).append(offcut)
    found: dict[int, list[Fit]] = {
        offcut.pk: [] for those in by_material.values() for offcut in those
    }
    if not by_material:
        return found
    for version in _versions(workshop, list(by_material)):
        pieces = piece_values(version)
        usual = {role.pk: role for role in version.roles.all()}
        seen: set[tuple[int, str]] = set()
        for colourway in (None, *version.colourways.all()):
            swapped = {row.role_id: row for row in colourway.materials.all()} if colourway else {}
            cut_from = {
                role.name: swapped.get(key, role).material_id for key, role in usual.items()
            }
            for piece in pieces:
                those = by_material.get(cut_from.get(piece.role, 0), [])
                for offcut in those:
                    may_turn = piece.may_turn
                    if may_turn is None:
                        may_turn = not offcut.material.is_directional
                    times = times_in(offcut, piece.width_mm, piece.height_mm, may_turn=may_turn)
                    if times and (offcut.pk, piece.name) not in seen:
                        seen.add((offcut.pk, piece.name))
                        fit = Fit(version.design_id, version.design.name, piece.name, times)
                        found[offcut.pk].append(fit)
    return found


def times_in(offcut: Offcut, width_mm: object, height_mm: object, *, may_turn: bool) -> int:
    """Return how many pieces of a size one offcut gives in rows and columns."""

    def rows(width: object, height: object) -> int:
        return int(offcut.width_mm // width) * int(offcut.height_mm // height)  # type: ignore[operator]  # lengths

    straight = rows(width_mm, height_mm)
    return max(straight, rows(height_mm, width_mm)) if may_turn else straight


def _versions(workshop: Workshop, materials: list[int]) -> models.QuerySet[DesignVersion]:
    """Return the newest version of each design in use that takes one of the materials."""
    newest = (
        DesignVersion.objects.filter(design=models.OuterRef("design")).newest_first().values("pk")
    )
    takes = models.Q(roles__material__in=materials) | models.Q(
        colourways__materials__material__in=materials
    )
    keys = (
        DesignVersion.objects.of(workshop)
        .filter(takes, design__retired_on__isnull=True)
        .annotate(newest=models.Subquery(newest[:1]))
        .filter(pk=models.F("newest"))
        .values("pk")
    )
    # not the whole recipe: nothing is costed here
    rows = (
        DesignVersion.objects.filter(pk__in=keys)
        .select_related("design")
        .prefetch_related(
            models.Prefetch("roles", Role.objects.order_by("position", "pk")),
            models.Prefetch("pieces", Piece.objects.order_by("position", "pk")),
            models.Prefetch("colourways", Colourway.objects.order_by("position", "pk")),
            "colourways__materials",
        )
    )
    return rows.order_by("design__name", "pk")
