"""The offcuts and cutting plans of the demo, as they came about: every figure is the services' own.

`test_demo_cutting.py` holds the demo's file to it; when a recipe of the demo changes, it writes it.
"""

import datetime
import uuid
from decimal import Decimal

from catalogue.cutting_plans.asks import DesignAsk, PieceAsk, PlanAsk
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import Keeping, ask_plan, keep_plan_offcuts
from catalogue.cutting_plans.stored import read_groups, read_plans
from catalogue.cutting_plans.usage import left_over
from catalogue.materials.models import Material
from catalogue.offcuts.models import OffcutEntry
from catalogue.offcuts.services import keep_offcuts, reverse_offcut_entry, take_offcuts
from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.workshop.models import Workshop
from tests.pricing.demo_quotes import NEWEST, day

# material, width and height in mm, how many, days before the newest
BOX = [
    ("Kraft card, 12 inch", "304.8", "95", 6, -40),
    ("Kraft card, 12 inch", "150", "120", 4, -33),
    ("Ivory card, A4", "210", "77", 9, -26),
    ("Grey board 1.5 mm, A3", "120", "297", 2, -19),
    ("Midnight card, 12 inch", "100", "304.8", 3, -12),
]
NOON = datetime.time(12, 0, tzinfo=datetime.UTC)


def make_cutting(workshop: Workshop, owner: User) -> None:
    """Fill the box, plan two jobs, and keep what the first leaves over."""
    fill_box(workshop, owner)
    bags = _plan(
        workshop,
        owner,
        name="60 Harbour treat bags",
        ask=PlanAsk(designs=(_design(workshop, "Harbour treat bag", 60),)),
        on=day(-9),
    )
    _keep_the_largest(bags, owner, day(-8))
    tags = Material.objects.with_costs().get(workshop=workshop, name="Kraft card, 12 inch")
    _plan(
        workshop,
        owner,
        name="Fair in December: boxes, favours and spare tags",
        ask=PlanAsk(
            designs=(
                _design(workshop, "Drawer box", 24),
                _design(workshop, "Cake wedge favour", 40),
            ),
            pieces=(PieceAsk("spare tag", tags, Decimal(45), Decimal(75), 80),),
        ),
        on=day(-2),
    )


def fill_box(workshop: Workshop, owner: User) -> None:
    """Add offcuts by hand; some are used, one is thrown away, one entry was a slip."""
    for name, width, height, count, at in BOX:
        material = Material.objects.get(workshop=workshop, name=name)
        entry = keep_offcuts(
            material=material,
            width_mm=Decimal(width),
            height_mm=Decimal(height),
            count=count,
            moved_on=day(at),
            today=NEWEST,
            by=owner,
        )
    used = take_offcuts(
        offcut=entry.offcut,
        count=1,
        kind=OffcutEntry.Kind.USED,
        moved_on=day(-5),
        today=NEWEST,
        by=owner,
        reason="two lids cut wrong",
    )
    reverse_offcut_entry(entry=used, by=owner, reason="it was a different card")
    take_offcuts(
        offcut=entry.offcut,
        count=1,
        kind=OffcutEntry.Kind.THROWN,
        moved_on=day(-5),
        today=NEWEST,
        by=owner,
        reason="bent corner",
    )


def _design(workshop: Workshop, name: str, quantity: int) -> DesignAsk:
    version = (
        DesignVersion.objects.of(workshop).filter(design__name=name).newest_first().with_recipe()[0]
    )
    return DesignAsk(version, quantity)


def _plan(
    workshop: Workshop, owner: User, *, name: str, ask: PlanAsk, on: datetime.date
) -> CuttingPlan:
    plan = ask_plan(
        workshop=workshop, ask=ask, name=name, seconds=30, by=owner, form_key=uuid.uuid4()
    )
    # how long it took here says nothing
    plan.plans = [one | {"seconds": 0.0} for one in plan.plans or []]
    plan.asked_at = plan.finished_at = datetime.datetime.combine(on, NOON)
    plan.save()
    return plan


def _keep_the_largest(plan: CuttingPlan, owner: User, on: datetime.date) -> None:
    groups = read_groups(plan.jobs)
    left = left_over(groups, read_plans(plan.plans, groups))
    largest = [one for one in left if one.shorter_mm >= plan.workshop.offcut_least_mm][:2]
    keep_plan_offcuts(
        plan=plan,
        keep=[
            Keeping(
                Material.objects.get(pk=one.source.material),
                one.width_mm,
                one.height_mm,
                min(one.count, 12),
            )
            for one in largest
        ],
        kept_on=on,
        today=NEWEST,
        by=owner,
    )
