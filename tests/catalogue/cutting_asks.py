"""What the tests of cutting plans ask for: quick jobs, long ones, and forms as a browser sends."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import pytest

from catalogue.calc.cutting import watch
from catalogue.cutting_plans.asks import DesignAsk, PieceAsk, PlanAsk, SheetSupply
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import ask_plan
from catalogue.materials.models import Material
from catalogue.offcuts.services import keep_offcuts
from catalogue.recipes.models import DesignVersion
from catalogue.stock.services import put_on_shelf
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import rows
from tests.work import WorkClock

D = Decimal
TODAY = datetime.date(2026, 3, 31)


def loaded(version: DesignVersion) -> DesignVersion:
    """The version with its recipe."""
    return DesignVersion.objects.with_recipe().get(pk=version.pk)


def piece(material: Material, name: str = "panel", **fields: Any) -> PieceAsk:
    """Nine panels of 4 x 4 in, unless told otherwise."""
    return PieceAsk(
        **{
            "name": name,
            "material": material,
            "width_mm": D("101.6"),
            "height_mm": D("101.6"),
            "count": 9,
            **fields,
        }
    )


def shelve(material: Material, amount: int, cost: str = "5") -> None:
    """Put sheets on the shelf."""
    put_on_shelf(
        material=material,
        amount=D(amount),
        cost=D(cost),
        moved_on=TODAY,
        today=TODAY,
    )
    material.refresh_from_db()


def keep(material: Material, width: str, height: str, count: int) -> None:
    """Add offcuts."""
    keep_offcuts(
        material=material,
        width_mm=D(width),
        height_mm=D(height),
        count=count,
        moved_on=TODAY,
        today=TODAY,
    )


def make_plan(
    workshop: Workshop,
    *pieces: PieceAsk,
    designs: Sequence[DesignAsk] = (),
    supplies: Mapping[int, SheetSupply] | None = None,
    seconds: int = 10,
    name: str = "a plan",
    **fields: Any,
) -> CuttingPlan:
    """Ask for a plan as the page does."""
    return ask_plan(
        workshop=workshop,
        ask=PlanAsk(designs=tuple(designs), pieces=pieces, supplies=supplies or {}, **fields),
        name=name,
        seconds=seconds,
        by=None,
        form_key=uuid.uuid4(),
    )


# odd sizes on three kinds of sheet: no minute proves the cheapest plan (measured)
LONG_SIZES = [
    (47, 83), (61, 29), (97, 41), (53, 71), (89, 37), (103, 59), (67, 43), (31, 113),
    (79, 23), (101, 73), (83, 47), (59, 61), (109, 33), (37, 91), (71, 53), (43, 67),
    (107, 27), (49, 95), (87, 57), (63, 77), (39, 105), (93, 45), (55, 85), (75, 35),
    (99, 65), (41, 81), (69, 51), (85, 31), (57, 103), (33, 69), (91, 63), (77, 49),
]  # fmt: skip


def long_pieces(material: Material) -> tuple[PieceAsk, ...]:
    """Many kinds of odd sizes: planning takes as long as it may."""
    return tuple(
        piece(
            material,
            name=f"piece {at}",
            width_mm=D(width),
            height_mm=D(height),
            count=7 + at % 5,
        )
        for at, (width, height) in enumerate(LONG_SIZES)
    )


def hasten(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let what stands for a second hold less work: each step of a long plan is a dear one."""
    monkeypatch.setattr(watch, "usual_clock", WorkClock(steps_a_second=64))


def make_long_plan(workshop: Workshop, card: Material, **fields: Any) -> CuttingPlan:
    """Ask for a plan that takes as long as it may: two more kinds of sheet would do."""
    sizes = (("A4", "210", "297", "6.20"), ("A3", "420", "297", "13.40"))
    for name, width, height, price in sizes:
        if not Material.objects.of(workshop).filter(name=name).exists():
            made = factories.make_material(
                workshop, name=name, width_mm=D(width), height_mm=D(height)
            )
            factories.make_pack(made, quantity=D(20), price=D(price))
    others = Material.objects.of(workshop).filter(name__in=["A4", "A3"]).with_costs()
    supplies = {card.pk: SheetSupply(also=tuple(others.by_name()), use_offcuts=False)}
    return make_plan(workshop, *long_pieces(card), supplies=supplies, **fields)


def form_of(
    *designs: tuple[Any, int], pieces: Sequence[Mapping[str, Any]] = (), **fields: Any
) -> dict[str, Any]:
    """What the browser sends from the page of a new plan."""
    return {
        "form_key": str(uuid.uuid4()),
        "rounds": "3",
        "seconds": "10",
        "with_spares": "on",
        "gap": "",
        "name": "",
        "step": "plan",
        **rows("designs", [{"design": design.pk, "quantity": many} for design, many in designs]),
        **rows("pieces", pieces),
        **fields,
    }
