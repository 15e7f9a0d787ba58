"""Cutting plans and offcuts in a workshop file: out and in without loss, nothing wrong comes in."""

import datetime
from decimal import Decimal

import pytest

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import Keeping, cut_plan, keep_plan_offcuts
from catalogue.cutting_plans.stored import read_groups
from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.offcuts.services import keep_offcuts, reverse_offcut_entry, take_offcuts
from maker.calc.strict_json import WrongJson, parse
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests import factories
from tests.catalogue.cutting_asks import hasten, make_long_plan, make_plan, piece

DAY = datetime.date(2026, 3, 31)
D = Decimal
ON = {"moved_on": DAY, "today": DAY}

pytestmark = pytest.mark.django_db


@pytest.fixture
def cut(workshop, monkeypatch):
    """A box with a past, a plan that used it and was kept from, one that waits, one refused."""
    hasten(monkeypatch)
    card = factories.make_material(workshop, name="Bramble card")
    factories.make_pack(card)
    kept = keep_offcuts(material=card, width_mm=D("101.6"), height_mm=D(120), count=3, **ON)
    slip = take_offcuts(offcut=kept.offcut, count=1, kind="thrown", **ON)
    reverse_offcut_entry(entry=slip)
    card = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(card, count=10), name="ten")
    keep_plan_offcuts(plan=plan, keep=[Keeping(card, D(50), D(60), 2)], kept_on=DAY, today=DAY)
    cut_plan(plan=plan, cut_on=DAY, today=DAY, form_key=plan.form_key)
    make_long_plan(workshop, card, name="long")
    CuttingPlan.objects.filter(name="long").update(state="working")
    CuttingPlan.objects.create(
        workshop=workshop, name="none", asked=plan.asked, jobs=plan.jobs, state="refused",
        refusal="It cannot be cut.",
    )  # fmt: skip
    return workshop


def exported(workshop):
    return parse(document_text(export_workshop(workshop)).encode())


def test_out_in_and_out_is_the_same_file(cut):
    first = document_text(export_workshop(cut))
    again = import_workshop(parse(first), name="A copy")
    second = export_workshop(again)
    second["workshop"]["name"] = cut.name
    assert document_text(second) == first
    plan = CuttingPlan.objects.of(again).get(name="ten")
    original = CuttingPlan.objects.of(cut).get(name="ten")
    # the copy's sheets are the copy's own material
    assert (
        read_groups(plan.jobs)[0].sources[0].material == again.materials.get(name="Bramble card").pk
    )
    assert (plan.content_key, plan.plans) == (original.content_key, original.plans)
    assert CuttingPlan.objects.of(again).get(name="long").state == "waiting"
    counts = [row.count for row in Offcut.objects.of(again).order_by("pk")]
    assert counts == [row.count for row in Offcut.objects.of(cut).order_by("pk")]
    used = OffcutEntry.objects.of(again).filter(plan=plan)
    assert {entry.kind for entry in used} == {"kept", "used"}


def test_an_example_with_plans_and_offcuts_is_removed_whole(cut):
    counts = (CuttingPlan.objects.count(), OffcutEntry.objects.count())
    example = import_workshop(exported(cut), is_demo=True)
    remove_workshop(workshop=example)
    assert (CuttingPlan.objects.count(), OffcutEntry.objects.count()) == counts


NOTHING = object()
PLAN, JOB = ("cutting_plans", 0), ("cutting_plans", 0, "jobs", 0)
LAYOUT = (*PLAN, "plans", 0, "layouts", 0)
BOX = ("offcuts", 0)
WRONG = {
    "a plan of no such material": ((*JOB, "sources", 0, "material"), "Silk", ".material"),
    "a plan without its jobs": ((*PLAN, "jobs"), NOTHING, "cutting_plans[0].jobs"),
    "jobs that are none": ((*PLAN, "jobs"), 3, "cutting_plans[0].jobs"),
    "a job with a key too many": ((*JOB, "colour"), "red", "cutting_plans[0].jobs[0].colour"),
    "a job of nothing": ((*JOB, "sheets", "pieces"), [], "cutting_plans[0].jobs[0]"),
    "a size that is a number": (
        (*JOB, "sheets", "pieces", 0, "width"), 4, "jobs[0].sheets.pieces[0].width",
    ),
    "an endless size": (
        (*JOB, "sheets", "pieces", 0, "width"), "Infinity", "jobs[0].sheets.pieces[0].width",
    ),
    "a sheet that is not told": ((*JOB, "sources"), [], "jobs[0].sources"),
    "a piece too few": ((*LAYOUT, "placements", 0), NOTHING, "plans[0]"),
    "a piece beside the sheet": ((*LAYOUT, "placements", 0, "x"), "500", "plans[0]"),
    "a count nobody can write": ((*LAYOUT, "times"), 10**4200, "layouts[0].times"),
    "a piece of another name": ((*LAYOUT, "placements", 0, "piece"), "lid", "plans[0]"),
    "a sheet of another name": ((*LAYOUT, "sheet"), "lid", "plans[0]"),
    "a count made up": ((*PLAN, "plans", 0, "sheet_count"), 1, "plans[0]"),
    "a proof made up": ((*PLAN, "plans", 0, "lower_bound"), "99", "plans[0]"),
    "plans for no jobs": ((*PLAN, "plans"), [], "plans"),
    "ready without a plan": ((*PLAN, "plans"), None, "cutting_plans[0].plans"),
    "refused without a reason": (("cutting_plans", 2, "refusal"), "", "cutting_plans[2].refusal"),
    "a state that is none": ((*PLAN, "state"), "lost", "cutting_plans[0].state"),
    "asked for by nothing": ((*PLAN, "asked"), {}, "cutting_plans[0].asked.designs"),
    "an offcut of no material": ((*BOX, "material"), "Silk", "offcuts[0].material"),
    "an offcut larger than its sheet": ((*BOX, "width_mm"), "400", "offcuts[0].width_mm"),
    "an offcut without a past": ((*BOX, "entries"), [], "offcuts[0].entries"),
    "more taken than put in": ((*BOX, "entries", 0, "change"), 1, "offcuts[0].entries"),
    "an entry of nothing": ((*BOX, "entries", 0, "change"), 0, "offcuts[0].entries[0].change"),
    "an entry of half a piece": (
        (*BOX, "entries", 0, "change"), "0.5", "offcuts[0].entries[0].change",
    ),
    "an entry of no plan": ((*BOX, "entries", 0, "plan"), "plan 9", "offcuts[0].entries[0].plan"),
    "taken back from the future": (
        (*BOX, "entries", 2, "takes_back"), "entry 7", "offcuts[0].entries[2].takes_back",
    ),
    "taken back in part": ((*BOX, "entries", 2, "change"), 2, "offcuts[0].entries[2].takes_back"),
}  # fmt: skip


@pytest.mark.parametrize(("path", "value", "where"), WRONG.values(), ids=WRONG)
def test_a_wrong_file_is_refused_with_the_place(cut, path, value, where):
    document = exported(cut)
    *way, last = path
    place = document
    for step in way:
        place = place[step]
    if value is NOTHING:
        del place[last]
    else:
        place[last] = value
    before = (CuttingPlan.objects.count(), Offcut.objects.count())
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="A copy")
    assert refused.value.where.endswith(where)
    assert (CuttingPlan.objects.count(), Offcut.objects.count()) == before
