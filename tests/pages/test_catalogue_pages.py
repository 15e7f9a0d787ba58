"""Suppliers, materials, stock and receipts in a browser: usable by everyone, quick with scripts."""

import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Dialog, Page, expect

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.stock.services import move_stock, reverse_entry
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.receipts import make_draft, make_receipt
from tests.pages.looks import (
    LAPTOP,
    PHONE,
    assert_accessible,
    assert_easy_to_hit,
    assert_no_sideways_scroll,
)
from tests.receipt_papers import photo

LONG = "Unbreakable" * 10


@pytest.fixture
def card(workshop: Workshop) -> Material:
    """A card in packs of 10 for 5.00, bought twice and moved."""
    supplier = factories.make_supplier(
        workshop, name=LONG, website=f"https://{LONG.lower()[:60]}.example", notes=LONG
    )
    material = factories.make_material(
        workshop, name=LONG, supplier=supplier, reorder_level=100, safety_note="Mind the edges."
    )
    factories.make_pack(material, supplier=supplier)
    factories.make_pack(material, name=LONG, quantity=Decimal(24), price=Decimal("11.40"))
    day = datetime.date(2026, 1, 3)
    for amount in ("5.00", "6.00"):
        make_receipt(
            workshop, (material, "10", amount), supplier=supplier, bought_on=day, tax=Decimal(1)
        )
        day += datetime.timedelta(days=30)
    for reason in ("torn", "the second one too"):
        entry = move_stock(
            material=material,
            kind="scrap",
            amount=Decimal(1),
            moved_on=day,
            today=day,
            reason=reason,
        )
    reverse_entry(entry=entry)
    make_draft(workshop, (material, "10", "5.00"), supplier=supplier, reference=LONG[:80])
    return material


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_every_page_is_usable_by_everyone(
    signed_in_page: Page, card: Material, size: dict[str, int]
) -> None:
    page = signed_in_page
    page.set_viewport_size(size)
    bought = Purchase.objects.recorded().first()
    draft = Purchase.objects.drafts().get()
    assert bought is not None
    for address in (
        "suppliers/",
        "suppliers/new/",
        f"suppliers/{card.supplier_id}/",
        f"suppliers/{card.supplier_id}/edit/",
        "materials/",
        "materials/?search=nothing+of+this+name",
        "materials/new/",
        f"materials/{card.pk}/",
        f"materials/{card.pk}/edit/",
        f"materials/{card.pk}/stock/",
        "receipts/",
        "receipts/new/",
        f"receipts/{bought.pk}/",
        f"receipts/{draft.pk}/",
        f"receipts/{draft.pk}/edit/",
    ):
        page.goto(f"/w/marlow/{address}")
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert_accessible(page)
        assert_easy_to_hit(page)
        assert_no_sideways_scroll(page)


def test_empty_pages_and_errors_are_usable_by_everyone(
    signed_in_page: Page, workshop: Workshop
) -> None:
    page = signed_in_page
    for name in ("suppliers", "materials", "receipts"):
        page.goto(f"/w/marlow/{name}/")
        assert_accessible(page)
    page.goto("/w/marlow/materials/new/")
    page.get_by_label("Pack size", exact=True).fill("8 fl oz")
    page.get_by_role("button", name="Save material").click()
    expect(page.get_by_role("alert")).to_contain_text("Row 1, Pack size: A fluid ounce differs")
    expect(page.get_by_label("Pack size", exact=True).first).to_have_value("8 fl oz")
    assert_accessible(page)


def test_only_fields_of_the_kind_are_shown(signed_in_page: Page, workshop: Workshop) -> None:
    page = signed_in_page
    page.goto("/w/marlow/materials/new/")
    expect(page.get_by_label("Width", exact=True)).to_be_visible()
    page.get_by_label("Unit").select_option("length")
    expect(page.get_by_label("Width", exact=True)).to_be_hidden()
    page.get_by_label("Name", exact=True).fill("Natural twine")
    page.get_by_label("Pack size", exact=True).fill("25 yd")
    page.get_by_label("Price", exact=True).fill("3.95")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Natural twine")
    expect(page.get_by_role("cell", name="25 yd", exact=True).last).to_be_visible()


def test_a_receipt_fills_in_the_price_of_a_pack_and_adds_up(
    signed_in_page: Page, card: Material
) -> None:
    page = signed_in_page
    page.goto("/w/marlow/receipts/new/")
    page.get_by_text("New supplier", exact=True).first.click()
    page.get_by_label("new supplier").fill("Knot & Thread")
    page.get_by_label("Item", exact=True).first.fill(f"{LONG} · pack of 10")
    page.get_by_label("How many", exact=True).first.fill("3")
    paid = page.get_by_label("Paid", exact=True).first
    expect(paid).to_have_value("15.00")
    page.get_by_label("Postage").fill("2,50")
    expect(page.get_by_text("Total 17.50 EUR")).to_be_visible()
    # what she typed herself is left alone
    paid.fill("14")
    page.get_by_label("How many", exact=True).first.fill("4")
    expect(paid).to_have_value("14")
    page.get_by_role("button", name="Add a line").click()
    expect(page.get_by_label("Item", exact=True)).to_have_count(3)
    page.get_by_role("button", name="Add to stock").click()
    expect(page.get_by_text("Added to stock. Costs are up to date.")).to_be_visible()
    stored = Purchase.objects.get(supplier__name="Knot & Thread")
    assert (stored.lines.get().quantity, stored.postage) == (40, Decimal("2.5"))
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.get_by_role("link", name="Copy to a new receipt")).to_be_visible()


def test_everything_works_without_scripts(new_context, base_url, owner, workshop) -> None:
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    context = new_context(java_script_enabled=False, base_url=base_url)
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": base_url}])
    page = context.new_page()
    page.goto("/w/marlow/materials/new/")
    page.get_by_label("Name", exact=True).fill("Clear glue")
    page.get_by_label("Unit").select_option("volume")
    page.get_by_label("Pack size", exact=True).fill("250 ml")
    page.get_by_label("Price", exact=True).fill("5.50")
    page.get_by_role("button", name="Save material").click()
    page.goto("/w/marlow/receipts/new/")
    page.get_by_label("Supplier", exact=True).fill("Knot")
    page.get_by_label("Date", exact=True).fill(timezone.localdate().isoformat())
    page.get_by_label("Item", exact=True).first.fill("clear glue · 250 ml")
    page.get_by_label("How many", exact=True).first.fill("2")
    page.get_by_label("Paid", exact=True).first.fill("10.00")
    page.get_by_role("button", name="Add to stock").click()
    expect(page.get_by_text("Added to stock. Costs are up to date.")).to_be_visible()
    assert Material.objects.get().average_cost == Decimal("0.02")


def test_labels_of_a_row_stand_at_one_height_and_so_do_its_fields(
    signed_in_page: Page, workshop: Workshop
) -> None:
    page = signed_in_page
    page.goto("/w/marlow/receipts/new/")
    tops = """selector => [...document.querySelectorAll('.field-grid')].map(grid =>
      [...grid.querySelectorAll(`:scope > .field:has(> label) > ${selector}`)]
        .filter(one => one.checkVisibility())
        .map(one => Math.round(one.getBoundingClientRect().top)))"""
    row = "[...document.querySelectorAll('.field-grid')].map(grid =>"
    row += " getComputedStyle(grid).gridTemplateColumns.split(' ').length)"
    columns = page.evaluate(row)
    assert max(columns) > 1
    hints = page.evaluate(tops, ".hint")
    assert any(hints), "no hint makes a difference"
    for selector in ("label", ":is(input, select, textarea, .with-unit)"):
        for found, count in zip(page.evaluate(tops, selector), columns, strict=True):
            rows = [found[at : at + count] for at in range(0, len(found), count)]
            assert [one for one in rows if len(set(one)) > 1] == [], selector


@pytest.mark.parametrize("place", ["receipts", "expenses"])
def test_leaving_asks_first_also_after_a_photo_was_added(
    signed_in_page: Page, workshop: Workshop, settings: Any, tmp_path: Path, place: str
) -> None:
    files = settings.STORAGES["files"]
    options = {**files["OPTIONS"], "location": str(tmp_path)}
    settings.STORAGES = {**settings.STORAGES, "files": {**files, "OPTIONS": options}}
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    signed_in_page.on("dialog", answer)
    signed_in_page.goto(f"/w/marlow/{place}/new/")
    signed_in_page.get_by_label("Receipt no.").fill("A-17")
    signed_in_page.locator("#id_papers").set_input_files(
        {"name": "till.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    expect(signed_in_page.get_by_alt_text("till.jpg")).to_be_visible()
    assert asked == []
    expect(signed_in_page.get_by_label("Receipt no.")).to_have_value("A-17")
    # a browser asks only who has touched the page
    signed_in_page.get_by_label("Receipt no.").click()
    signed_in_page.goto("/w/marlow/")
    assert asked == ["beforeunload"]
