"""What a new plan begins with: a design a link names, or an older plan to start from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import QueryDict

from catalogue.cutting_plans.entry import First, option_answers
from catalogue.cutting_plans.forms import MOST_QUANTITY, OPTION_PREFIX
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.stored import AskedPlan, read_asked
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from maker.web.lists import whole_number
from maker.workshop.models import Workshop

# rows a new plan has room for
MOST_ITEMS = 60
TURNING = {True: "free", False: "fixed", None: ""}


def first_of(workshop: Workshop, given: QueryDict) -> First:
    """Return what an address asks for: `design` with `quantity` and the rest, or `plan`.

    Several designs are named by `item` each, as `item_words` writes it.
    """
    if items := given.getlist("item"):
        return _items(workshop, items)
    if key := whole_number(given.get("plan"), 0):
        plan = CuttingPlan.objects.of(workshop).filter(pk=key).first()
        return _again(workshop, plan) if plan else First()
    designs = Design.objects.of(workshop).in_use()
    design = designs.filter(pk=whole_number(given.get("design"), 0)).first()
    if design is None:
        return First()
    quantity = min(max(whole_number(given.get("quantity"), 12), 1), MOST_QUANTITY)
    details = {
        "version": given.get("version", ""),
        "colourway": given.get("colourway", ""),
        **option_answers(given),
    }
    return First(
        designs=({"design": design, "quantity": quantity},),
        details=({name: value for name, value in details.items() if value},),
    )


def item_words(
    design: int, quantity: int, version: int, colourway: int | None, choices: Mapping[str, str]
) -> str:
    """Write one design for the address of a new plan: keys, then options with their choices."""
    options = [f"{key}={choice}" for key, choice in choices.items()]
    return ".".join([str(design), str(quantity), str(version), str(colourway or ""), *options])


def _items(workshop: Workshop, items: list[str]) -> First:
    """Return the designs of an address; what cannot be read or is not there is left out."""
    rows = Design.objects.of(workshop).in_use()
    parts = [item.split(".") for item in items[:MOST_ITEMS]]
    known = {row.pk: row for row in rows.filter(pk__in=[whole_number(one[0], 0) for one in parts])}
    designs, details = [], []
    for key, *rest in parts:
        design = known.get(whole_number(key, 0))
        if design is None or len(rest) < 3:
            continue
        quantity, version, colourway, *options = rest
        designs.append(
            {
                "design": design,
                "quantity": min(max(whole_number(quantity, 1), 1), MOST_QUANTITY),
            }
        )
        pairs = (option.partition("=") for option in options)
        found = {"version": version, "colourway": colourway}
        found |= {OPTION_PREFIX + name: choice for name, _, choice in pairs}
        details.append({name: value for name, value in found.items() if value})
    return First(designs=tuple(designs), details=tuple(details))


def _again(workshop: Workshop, plan: CuttingPlan) -> First:
    """Return the rows of an older plan; what is not there any more is left out."""
    asked = read_asked(plan.asked)
    names = [one.design for one in asked.designs]
    designs = {
        design.name: design
        for design in Design.objects.of(workshop)
        .in_use()
        .filter(name__in=names)
        .prefetch_related("versions__colourways")
    }
    materials = {
        material.name: material for material in Material.objects.of(workshop).in_use().with_costs()
    }
    rows, details = [], []
    for one in asked.designs:
        if one.design in designs:
            rows.append({"design": designs[one.design], "quantity": one.quantity})
            details.append(_details(designs[one.design], one))
    return First(
        designs=tuple(rows),
        details=tuple(details),
        pieces=tuple(
            {
                "name": piece.name,
                "material": materials[piece.material],
                "width": piece.width_mm,
                "height": piece.height_mm,
                "count": piece.count,
                "turning": TURNING[piece.may_turn],
            }
            for piece in asked.pieces
            if piece.material in materials
        ),
        supplies=_supplies(asked, materials),
        plan={
            "gap": asked.gap_mm,
            "rounds": "any" if asked.rounds is None else str(asked.rounds),
            "with_spares": asked.with_spares,
            "seconds": str(plan.seconds_allowed),
        },
    )


def _details(design: Design, asked: Any) -> dict[str, str]:
    details = {"version": str(asked.version)}
    for version in design.versions.all():
        for way in version.colourways.all():
            if version.number == asked.version and way.name == asked.colourway:
                details["colourway"] = str(way.pk)
    return {**details, **{OPTION_PREFIX + key: choice for key, choice in asked.choices}}


def _supplies(asked: AskedPlan, materials: Mapping[str, Material]) -> dict[int, dict[str, Any]]:
    found: dict[int, dict[str, Any]] = {}
    for one in asked.supplies:
        if one.material not in materials:
            continue
        also = [str(materials[name].pk) for name in one.also if name in materials]
        found[materials[one.material].pk] = {
            "supply": "shelf" if one.only_shelf else "buy",
            **dict(zip(("also", "also_2"), also, strict=False)),
            **({"use_offcuts": "on"} if one.use_offcuts else {}),
        }
    return found
