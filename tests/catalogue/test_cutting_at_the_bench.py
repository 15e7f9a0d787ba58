"""What is done with a plan at the bench: cut from stock once, offcuts kept once, taken back."""

import datetime
import uuid
from typing import Any

import pytest
from django.test import Client

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.services import (
    AlreadyCut,
    AlreadyKept,
    Keeping,
    cut_plan,
    keep_plan_offcuts,
)
from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut
from catalogue.offcuts.services import take_offcuts
from catalogue.sheet_plans.small_drawing import MARK_FILL
from catalogue.stock.models import StockEntry
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from tests import factories
from tests.at_once import at_once
from tests.catalogue.cutting_asks import D, hasten, keep, make_long_plan, make_plan, piece, shelve
from tests.catalogue.pages import text_of

TODAY = datetime.date(2026, 3, 31)


def test_it_is_cut_once_taken_from_stock_and_taken_back(
    client: Client, workshop: Workshop, card: Material
) -> None:
    shelve(card, 5)
    keep(card, "101.6", "101.6", 2)
    row = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(row, count=11))
    page = f"/w/marlow/cutting-plans/{plan.pk}/"
    sent = {"cut_on": "2026-04-01", "form_key": str(uuid.uuid4())}
    assert "Undo" in text_of(client.post(f"{page}cut/", sent, follow=True))
    card.refresh_from_db()
    assert (card.on_hand, Offcut.objects.get().count) == (4, 0)
    entry = StockEntry.objects.get(kind="used")
    assert entry.reason == "cutting plan: a plan"
    assert "already" in text_of(client.post(f"{page}cut/", sent, follow=True))
    assert StockEntry.objects.filter(kind="used").count() == 1
    client.post(f"{page}cut/take-back/")
    card.refresh_from_db()
    assert (card.on_hand, Offcut.objects.get().count) == (5, 2)
    plan.refresh_from_db()
    assert plan.cut_on is None
    assert "Nothing was taken" in text_of(client.post(f"{page}cut/take-back/", follow=True))
    # it may be cut again then
    client.post(f"{page}cut/", sent | {"form_key": str(uuid.uuid4())})
    card.refresh_from_db()
    assert card.on_hand == 4


def test_offcuts_that_are_gone_refuse_the_cut_whole(
    client: Client, workshop: Workshop, card: Material
) -> None:
    shelve(card, 5)
    keep(card, "101.6", "101.6", 2)
    row = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(row, count=11))
    take_offcuts(offcut=Offcut.objects.get(), count=1, kind="thrown", moved_on=TODAY, today=TODAY)
    sent = {"cut_on": "2026-04-01", "form_key": str(uuid.uuid4())}
    page = text_of(client.post(f"/w/marlow/cutting-plans/{plan.pk}/cut/", sent, follow=True))
    assert "only 1 of this size" in page
    card.refresh_from_db()
    assert card.on_hand == 5


def offcut_form(page: Any, **changes: Any) -> dict[str, Any]:
    entry = page.context["entry"]
    sent = {"kept_on": "2026-04-01"}
    for form in [entry.rows.management_form, *entry.rows.forms]:
        for field in form:
            value = field.value()
            if value not in (None, False):
                sent[field.html_name] = "on" if value is True else str(value)
    return sent | changes


def test_what_is_left_over_is_put_into_the_box_once(
    client: Client, workshop: Workshop, card: Material
) -> None:
    row = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(row, count=10))
    address = f"/w/marlow/cutting-plans/{plan.pk}/offcuts/"
    form = client.get(address)
    ticked = [one["keep"].value() for one in form.context["entry"].rows.forms]
    assert ticked
    assert all(ticked)
    sent = offcut_form(form, **{"offcuts-0-width": "3 in"})
    assert "Undo" in text_of(client.post(address, sent, follow=True))
    kept = Offcut.objects.order_by("pk")
    assert kept.count() == len(ticked)
    assert D("76.2") in {one.width_mm for one in kept}
    assert "already in stock" in text_of(client.post(address, sent))
    client.post(f"{address}take-back/")
    assert not Offcut.objects.on_hand().exists()
    too_large = offcut_form(form, **{"offcuts-0-width": "13 in"})
    response = client.post(address, too_large)
    assert response.status_code == 422
    assert "larger than a sheet" in text_of(response)
    strange = offcut_form(form, **{"offcuts-0-material": "999999"})
    assert "not of this plan" in text_of(client.post(address, strange))


@pytest.mark.django_db(transaction=True)
def test_two_people_cut_and_keep_at_the_same_moment(workshop: Workshop) -> None:
    card = factories.make_material(workshop)
    factories.make_pack(card)
    card = Material.objects.with_costs().get(pk=card.pk)
    plan = make_plan(workshop, piece(card, count=10))

    def cut() -> None:
        cut_plan(plan=plan, cut_on=TODAY, today=TODAY, form_key=uuid.uuid4())

    results = at_once(cut, cut)
    assert sorted(type(one) for one in results if isinstance(one, Refusal)) == [AlreadyCut]
    card.refresh_from_db()
    assert card.on_hand == -2
    left = Keeping(card, D(100), D(100), 3)

    def keep_it() -> int:
        return keep_plan_offcuts(plan=plan, keep=[left], kept_on=TODAY, today=TODAY)

    results = at_once(keep_it, keep_it)
    assert sorted(type(one) for one in results if isinstance(one, Refusal)) == [AlreadyKept]
    assert Offcut.objects.get().count == 3


def test_more_time_is_given_until_it_is_cut(
    client: Client, workshop: Workshop, card: Material, monkeypatch: pytest.MonkeyPatch
) -> None:
    hasten(monkeypatch)
    row = Material.objects.with_costs().get(pk=card.pk)
    plan = make_long_plan(workshop, row)
    CuttingPlan.objects.filter(pk=plan.pk).update(state="cancelled")
    address = f"/w/marlow/cutting-plans/{plan.pk}/longer/"
    client.post(address, {"seconds": "120"})
    plan.refresh_from_db()
    assert (plan.state, plan.seconds_allowed) == ("waiting", 120)
    assert "still running" in text_of(client.post(address, {"seconds": "120"}, follow=True))
    CuttingPlan.objects.filter(pk=plan.pk).update(state="cancelled", cut_on=TODAY)
    assert "so it can't be changed" in text_of(client.post(address, {"seconds": "10"}, follow=True))
    assert "Choose how long" in text_of(client.post(address, {"seconds": "1e9"}, follow=True))


def test_an_offcut_is_shown_on_the_layout_that_leaves_it(
    client: Client, workshop: Workshop, card: Material
) -> None:
    # 20 squares of 4 in: two sheets are full, the third has two and leaves the rest
    plan = make_plan(workshop, piece(card, count=20))
    page = client.get(f"/w/marlow/cutting-plans/{plan.pk}/offcuts/")
    rows = page.context["entry"].named_rows()
    assert rows
    for row in rows:
        [(number, small)] = row.layouts
        # the sheet that is not full is cut last
        assert number == 2
        # one offcut stands out from the others
        assert small.count(MARK_FILL) == 1
    assert f"/cutting-plans/{plan.pk}/#layout-2" in page.content.decode()
