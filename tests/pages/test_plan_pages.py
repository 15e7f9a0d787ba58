"""Cutting plans and offcuts in a browser: usable by everyone, told while they are worked out."""

import datetime
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.materials.models import Material
from catalogue.offcuts.services import keep_offcuts
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.cutting_asks import hasten, make_long_plan, make_plan, piece
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)
from tests.slow_work import do_what_waits

LONG = "Unbreakable" * 10
DAY = datetime.date(2026, 3, 31)


@pytest.fixture
def card(workshop: Workshop, monkeypatch: pytest.MonkeyPatch) -> Material:
    """A directional card with a long name, an offcut of it, and a design made from it."""
    hasten(monkeypatch)
    material = factories.make_material(workshop, name=LONG, is_directional=True)
    factories.make_pack(material)
    factories.make_recipe(workshop, material)
    keep_offcuts(
        material=material,
        width_mm=Decimal("101.6"),
        height_mm=Decimal(120),
        count=2,
        moved_on=DAY,
        today=DAY,
    )
    return Material.objects.with_costs().get(pk=material.pk)


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_every_page_is_usable_by_everyone(
    signed_in_page: Page, workshop: Workshop, card: Material, size: dict[str, int]
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)
    ready = make_plan(workshop, piece(card, name=LONG[:80], count=30), name=LONG)
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length")
    factories.make_pack(ribbon, quantity=Decimal(5))
    ribbon = Material.objects.with_costs().get(pk=ribbon.pk)
    bows = make_plan(workshop, piece(ribbon, width_mm=Decimal(400), height_mm=None, count=30))
    waiting = make_long_plan(workshop, card)
    design = workshop.designs.get()
    offcut = card.offcuts.get()
    for address in (
        "cutting/",
        "cutting/?search=nothing+of+this+name",
        f"cutting/new/?design={design.pk}&quantity=60",
        f"cutting/new/?plan={waiting.pk}",
        f"cutting/{ready.pk}/",
        f"cutting/{ready.pk}/offcuts/",
        f"cutting/{bows.pk}/",
        f"cutting/{waiting.pk}/",
        "offcuts/",
        "offcuts/new/",
        f"offcuts/{offcut.pk}/",
    ):
        page.goto(f"/w/marlow/{address}")
        assert_accessible(page)
        assert_easy_to_hit(page)
        assert_no_sideways_scroll(page)


def test_what_there_is_to_choose_appears_while_she_chooses(
    signed_in_page: Page, card: Material, workshop: Workshop
) -> None:
    page = signed_in_page
    page.goto("/w/marlow/cutting-plans/new/")
    expect(page.locator("#plan-more")).to_be_empty()
    page.get_by_label("Design").first.select_option(index=1)
    page.get_by_label("How many").first.fill("60")
    page.get_by_label("How many").first.blur()
    expect(page.locator("#plan-more")).to_contain_text("60 pieces of 1 kind")
    page.get_by_label("use only what I have").check()
    page.get_by_label("buy as many as needed").check()
    page.get_by_role("button", name="Plan the cutting").click()
    expect(page.locator("main")).to_contain_text("the cheapest possible")
    assert CuttingPlan.objects.count() == 1


def test_the_page_follows_the_work_and_shows_the_plan(
    signed_in_page: Page, workshop: Workshop, card: Material
) -> None:
    page = signed_in_page
    plan = make_long_plan(workshop, card, seconds=2)
    page.goto(f"/w/marlow/cutting-plans/{plan.pk}/")
    expect(page.locator("#plan-progress")).to_contain_text("Waiting for its turn")
    do_what_waits()
    expect(page.get_by_role("link", name="PDF for the bench")).to_be_visible()
    expect(page.locator("#plan-progress")).to_have_count(0)


def test_a_plan_is_stopped_and_gone_on_with(
    signed_in_page: Page, workshop: Workshop, card: Material
) -> None:
    page = signed_in_page
    plan = make_long_plan(workshop, card)
    page.goto(f"/w/marlow/cutting-plans/{plan.pk}/")
    page.get_by_role("button", name="Stop and keep the best so far").click()
    expect(page.locator("main")).to_contain_text("best found so far")
    page.get_by_role("button", name="Continue").click()
    expect(page.locator("#plan-progress")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_a_layout_is_enlarged_so_that_its_sizes_are_read(
    signed_in_page: Page, workshop: Workshop, card: Material, size: dict[str, int]
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)
    plan = make_plan(workshop, piece(card, name="square", count=20))
    page.goto(f"/w/marlow/cutting-plans/{plan.pk}/")
    layout = page.locator(".layout").first
    drawing = layout.get_by_role("img").first
    expect(drawing).not_to_be_visible()
    layout.locator("summary").click()
    expect(drawing).to_be_visible()
    # letters as large as the small print of the page, at least
    sizes = drawing.evaluate(
        """svg => [...svg.querySelectorAll("text")].map(
            one => parseFloat(one.getAttribute("font-size"))
              * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width)"""
    )
    assert min(sizes) >= 10
    assert_accessible(page)
    # a link to a layout opens it
    page.goto(f"/w/marlow/cutting-plans/{plan.pk}/offcuts/")
    link = page.locator(".keep-layouts a").first
    number = link.inner_text().split()[-1]
    link.click()
    expect(page.locator(f"#layout-{number}")).to_be_visible()
