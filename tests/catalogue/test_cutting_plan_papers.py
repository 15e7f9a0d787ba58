"""Papers of long cutting plans: drawn by a worker, once for what they show, kept for a while."""

import io

import pdfplumber
import pytest
from django.test import Client

from catalogue.cutting_plans import printing, views
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.materials.models import Material
from maker.slow_work.models import Work
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.cutting_asks import make_plan, piece
from tests.catalogue.pages import text_of
from tests.slow_work import do_what_waits

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def long_plan(workshop: Workshop, monkeypatch: pytest.MonkeyPatch) -> CuttingPlan:
    """A plan with more layouts than a page draws."""
    monkeypatch.setattr(views, "MOST_LAYOUTS_AT_ONCE", 0)
    card = factories.make_material(workshop, name="Bramble card")
    factories.make_pack(card)
    return make_plan(
        workshop,
        piece(Material.objects.with_costs().get(pk=card.pk), count=10),
        name="Ten panels",
    )


def test_the_paper_of_a_long_plan_is_drawn_by_a_worker_and_kept(
    reader_client: Client, long_plan: CuttingPlan
) -> None:
    address = f"/w/marlow/cutting-plans/{long_plan.pk}/pdf/"
    answer = reader_client.get(address)
    assert "Ten panels: 1 layout for the bench" in text_of(reader_client.get(answer["Location"]))
    do_what_waits()
    work = Work.objects.get()
    assert (work.state, work.done, work.of) == ("done", 1, 1)
    pdf = reader_client.get(f"{answer['Location']}file/")
    assert 'filename="cutting-plan-ten-panels.pdf"' in pdf["Content-Disposition"]
    with pdfplumber.open(io.BytesIO(pdf.content)) as file:
        text = " ".join((page.extract_text() or "") for page in file.pages)
    assert "Cutting plan: Ten panels" in text
    # asked again it is there; with another name it is drawn anew
    assert reader_client.get(address)["Location"] == answer["Location"]
    CuttingPlan.objects.update(name="Panels")
    assert reader_client.get(address)["Location"] != answer["Location"]


def test_a_plan_that_went_meanwhile_is_a_refusal(client: Client, long_plan: CuttingPlan) -> None:
    answer = client.get(f"/w/marlow/cutting-plans/{long_plan.pk}/pdf/")
    long_plan.delete()
    do_what_waits()
    assert "This cutting plan isn't there any more." in text_of(client.get(answer["Location"]))


def test_too_long_for_one_file_is_said_at_once(
    client: Client, long_plan: CuttingPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "MOST_LAYOUTS", 0)
    page = client.get(f"/w/marlow/cutting-plans/{long_plan.pk}/pdf/", follow=True)
    assert "a file holds at most 0" in text_of(page)
    assert not Work.objects.exists()
