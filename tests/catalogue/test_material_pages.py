"""Pages of the materials: quick entry, packs in their own units, bad input, two people at once."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material, Pack
from catalogue.stock.services import count_stock
from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import rows, text_of
from tests.catalogue.receipts import TODAY, make_receipt

NEW = "/w/marlow/materials/new/"
CARD = {"name": "Bramble card", "kind": "sheet", "width_mm": "12", "height_mm": "12"}


def typed(*packs: dict[str, Any], **fields: Any) -> dict[str, Any]:
    return {**CARD, **fields, **rows("packs", packs)}


def test_five_entries_are_enough(client: Client, workshop: Workshop) -> None:
    sent = typed({"quantity": "24", "price": "11.40"})
    response = client.post(NEW, sent, follow=True)
    card = Material.objects.get()
    assert (card.workshop, card.width_mm, card.category) == (workshop, Decimal("304.8"), "paper")
    pack = card.packs.get()
    assert (pack.name, pack.quantity, pack.price) == ("pack of 24 sheets", 24, Decimal("11.4"))
    page = text_of(response)
    assert "nothing bought yet, so the cheapest pack is used" in page
    assert "€0.475" in page


@pytest.mark.parametrize(
    ("kind", "holds", "quantity", "name", "category"),
    [
        ("length", "50 m", "50", "50 m", "fixings"),
        ("length", "25 yd", "22.86", "25 yd", "fixings"),
        ("volume", "250 ml", "250", "250 ml", "glue"),
        ("volume", "0,5 l", "500", "500 ml", "glue"),
        ("mass", "1 kg", "1000", "1000 g", "fixings"),
        ("count", "100", "100", "pack of 100 pieces", "fixings"),
        ("pairs", "200 pairs", "200", "pack of 200 pairs", "fixings"),
        ("sheet", "1", "1", "single sheet", "paper"),
    ],
)
def test_packs_are_typed_in_the_units_they_are_sold_in(
    client: Client, kind: str, holds: str, quantity: str, name: str, category: str
) -> None:
    assert client.post(NEW, typed({"quantity": holds}, kind=kind)).status_code == 302
    pack = Pack.objects.get()
    assert (pack.quantity, pack.name) == (Decimal(quantity), name)
    assert pack.material.category == category
    # what only a sheet has is not kept for anything else
    assert (pack.material.width_mm is None) == (kind != "sheet")


def test_sizes_are_typed_as_she_says_them(client: Client) -> None:
    client.post(NEW, typed(width_mm='8 1/2"', height_mm="297 mm", trim_mm="1/16"))
    card = Material.objects.get()
    assert (card.width_mm, card.height_mm) == (Decimal("215.9"), Decimal(297))
    assert card.trim_mm == Decimal("1.5875")


def test_what_a_reel_loses_is_typed_and_shown_and_kept_for_reels_only(client: Client) -> None:
    reel = typed({"quantity": "25 m"}, kind="length", cut_loss_mm="1/4", reel_end_mm="5 cm")
    client.post(NEW, reel)
    ribbon = Material.objects.get()
    assert (ribbon.cut_loss_mm, ribbon.reel_end_mm) == (Decimal("6.35"), Decimal(50))
    page = text_of(client.get(f"{NEW.removesuffix('new/')}{ribbon.pk}/"))
    assert "<dt>Loss per cut</dt><dd>1/4 in</dd>" in page
    assert "<dt>Unusable reel end</dt><dd>1.9685 in</dd>" in page
    client.post(NEW, typed(name="Card", cut_loss_mm="1/4", reel_end_mm="5 cm"))
    card = Material.objects.get(name="Card")
    assert (card.cut_loss_mm, card.reel_end_mm) == (0, 0)


@pytest.mark.parametrize(
    ("field", "entry", "told"),
    [
        ("name", "", "required"),
        ("name", "x" * 10_000, "120"),
        ("kind", "liquid", "valid choice"),
        ("width_mm", "", "Enter the sheet size"),
        ("width_mm", "-12", "below zero"),
        ("width_mm", "twelve", "a length. Enter one"),
        ("width_mm", "12 parsec", "a length. Enter one"),
        ("width_mm", "500 m", "longer than 100 m"),
        ("width_mm", "0", "above 0"),
        ("cut_loss_mm", "-1", "below zero"),
        ("reel_end_mm", "a bit", "a length. Enter one"),
        ("grammage", "999999", "most is 5000"),
        ("thickness_mm", "0.00001", "finer"),
        ("waste_share", "101", "most is 100"),
        ("waste_share", "-1", "least is 0"),
        ("reorder_level", "20 m", "counted in sheets"),
        ("reorder_level", "-3", "below zero"),
        ("licence_note", "x" * 2001, "2000"),
        ("notes", "nul\x00byte", "Null"),
        ("supplier", "999999", "valid choice"),
        ("category", "nonsense", "valid choice"),
    ],
)
def test_what_cannot_be_meant_is_kept_and_explained(
    client: Client, field: str, entry: str, told: str
) -> None:
    response = client.post(NEW, typed({"quantity": "24"}, **{field: entry}))
    assert response.status_code == 422
    errors = response.context["form"].errors
    assert list(errors) == [field]
    if told != "required":
        assert told.lower() in str(errors[field]).lower()
    assert "There is a problem" in text_of(response)
    if field not in ("kind", "supplier", "category") and "\x00" not in entry:
        assert entry[:40] in text_of(response)
    assert not Material.objects.exists()


@pytest.mark.parametrize(
    ("row", "field", "told"),
    [
        ({"quantity": "", "price": "5"}, "quantity", ""),
        ({"quantity": "0", "price": "5"}, "quantity", "above 0"),
        ({"quantity": "50 m"}, "quantity", "counted in sheets"),
        ({"quantity": "8 fl oz"}, "quantity", "millilitres"),
        ({"quantity": "-24"}, "quantity", "below zero"),
        ({"quantity": "24", "price": "-1"}, "price", "least is 0"),
        ({"quantity": "24", "price": "99999999999"}, "price", ""),
        ({"quantity": "24", "name": "x" * 10_000}, "name", "120"),
        ({"quantity": "24", "supplier": "999999"}, "supplier", "valid choice"),
        ({"quantity": "24", "pk": "999999"}, "__all__", "This pack was removed"),
        ({"quantity": "24", "pk": "9" * 40}, "__all__", "This pack was removed"),
    ],
)
def test_a_bad_pack_is_told_at_its_row_and_nothing_is_saved(
    client: Client, row: dict[str, str], field: str, told: str
) -> None:
    response = client.post(NEW, typed({"quantity": "10"}, row))
    assert response.status_code == 422
    errors = response.context["formset"].forms[1].errors
    assert list(errors) == [field]
    assert told in str(errors[field])
    assert not Material.objects.exists()


def test_a_hundred_thousand_packs_are_refused(client: Client) -> None:
    sent = typed({"quantity": "10"}) | {"packs-TOTAL_FORMS": "100000"}
    response = client.post(NEW, sent)
    assert response.status_code == 422
    assert "No more than 30 rows fit" in text_of(response)


def test_a_form_without_its_rows_is_refused(client: Client) -> None:
    response = client.post(NEW, CARD)
    assert response.status_code == 422
    assert "Part of this page" in text_of(response)
    assert not Material.objects.exists()


def test_a_pack_or_supplier_of_another_workshop_is_no_choice(
    client: Client, workshop: Workshop, other_workshop: Workshop
) -> None:
    theirs = factories.make_material(other_workshop)
    their_pack = factories.make_pack(theirs)
    their_supplier = factories.make_supplier(other_workshop)
    for sent in (
        typed({"quantity": "10", "pk": their_pack.pk}),
        typed({"quantity": "10", "supplier": their_supplier.pk}),
        typed(supplier=their_supplier.pk),
    ):
        assert client.post(NEW, sent).status_code == 422
    assert not Material.objects.of(workshop).exists()
    their_pack.refresh_from_db()
    assert their_pack.quantity == 10


def test_html_in_names_stays_text(client: Client) -> None:
    client.post(NEW, typed({"quantity": "10", "name": "<i>pad</i>"}, name="<b>Card</b>"))
    for address in ("/w/marlow/materials/", f"/w/marlow/materials/{Material.objects.get().pk}/"):
        page = client.get(address).content.decode()
        assert "<b>Card" not in page
        assert "<i>pad" not in page


def test_the_second_of_two_posts_finds_the_name_taken(client: Client) -> None:
    client.post(NEW, typed({"quantity": "10"}))
    response = client.post(NEW, typed({"quantity": "10"}))
    assert response.status_code == 422
    assert "You already have a material “Bramble card”." in text_of(response)
    assert Material.objects.count() == 1


def test_saving_unchanged_changes_nothing(client: Client, workshop: Workshop) -> None:
    ribbon = factories.make_material(
        workshop, name="Ribbon", kind="length", waste_share=Decimal("0.025"), reorder_level=5
    )
    factories.make_pack(ribbon, name="reel", quantity=Decimal("22.86"), price=Decimal("7.5"))
    before = Material.objects.filter(pk=ribbon.pk).values().get(), list(Pack.objects.values())
    address = f"/w/marlow/materials/{ribbon.pk}/edit/"
    page = client.get(address)
    sent = {
        field.html_name: field.value()
        for form in (page.context["form"], *page.context["formset"].forms)
        for field in form
        if field.value() is not None and field.value() is not False
    }
    sent |= {"packs-TOTAL_FORMS": 2, "packs-INITIAL_FORMS": 1}
    response = client.post(address, sent)
    assert response.status_code == 302, response.context["form"].errors
    after = Material.objects.filter(pk=ribbon.pk).values().get(), list(Pack.objects.values())
    assert after == ({**before[0], "edit_number": 1}, before[1])


def test_saving_never_writes_over_what_the_ledger_keeps(
    client: Client, workshop: Workshop, card: Material
) -> None:
    address = f"/w/marlow/materials/{card.pk}/edit/"
    client.get(address)
    make_receipt(workshop, (card, "10", "4.00"))
    client.post(address, typed(name="Renamed", edit_number="0"))
    card.refresh_from_db()
    assert (card.name, card.on_hand, card.average_cost) == ("Renamed", 10, Decimal("0.4"))


def test_packs_are_changed_added_and_removed_in_one_save(
    client: Client, workshop: Workshop, card: Material
) -> None:
    old = card.packs.get()
    bought = factories.make_pack(card, name="pad", quantity=24)
    receipt = make_receipt(workshop, (card, "24", "11.40"))
    receipt.lines.update(pack=bought)
    sent = typed(
        {"pk": old.pk, "quantity": "12", "price": "6", "name": "a dozen"},
        {"pk": bought.pk, "quantity": "24", "name": "pad", "DELETE": "on"},
        {"quantity": "", "price": ""},
        {"quantity": "100", "price": "40"},
        edit_number="0",
    )
    assert client.post(f"/w/marlow/materials/{card.pk}/edit/", sent).status_code == 302
    on_offer = list(card.packs.in_use().in_entry_order().values_list("name", "quantity"))
    assert on_offer == [("a dozen", 12), ("pack of 100 sheets", 100)]
    # a receipt names it, so it is put away and not deleted
    bought.refresh_from_db()
    assert bought.retired_on is not None


def test_a_pack_nobody_bought_is_deleted(client: Client, card: Material) -> None:
    pack = card.packs.get()
    sent = typed({"pk": pack.pk, "quantity": "10", "DELETE": "on"}, edit_number="0")
    client.post(f"/w/marlow/materials/{card.pk}/edit/", sent)
    assert not Pack.objects.exists()


def test_the_second_of_two_people_sees_both_and_loses_nothing(
    client: Client, helper_client: Client, card: Material
) -> None:
    address = f"/w/marlow/materials/{card.pk}/edit/"
    pack = {"pk": card.packs.get().pk, "quantity": "10", "price": "5", "name": "pack of 10"}
    first = typed(pack | {"price": "6"}, waste_share="5", edit_number="0")
    assert helper_client.post(address, first).status_code == 302
    second = typed(pack, {"quantity": "100", "price": "30"}, waste_share="8", edit_number="0")
    response = client.post(address, second)
    assert response.status_code == 422
    told = {row.label: (row.yours, row.theirs) for row in response.context["both"]}
    assert told["Waste"] == ("8", "5")
    assert told["Rows"] == (
        "Pack size 10, Price 5, Pack name pack of 10; Pack size 100, Price 30",
        "Pack size 10, Price 6.00, Pack name pack of 10",
    )
    assert 'value="100"' in text_of(response)
    card.refresh_from_db()
    assert card.waste_share == Decimal("0.05")
    again = second | {"edit_number": response.context["form"]["edit_number"].value()}
    assert client.post(address, again).status_code == 302
    card.refresh_from_db()
    assert (card.waste_share, card.packs.count()) == (Decimal("0.08"), 2)


def test_the_kind_is_fixed_once_it_was_used(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    card.refresh_from_db()
    sent = typed(kind="length", edit_number=card.edit_number)
    response = client.post(f"/w/marlow/materials/{card.pk}/edit/", sent)
    assert response.status_code == 422
    assert "already count it in sheets" in text_of(response)
    card.refresh_from_db()
    assert card.kind == "sheet"


def test_put_away_and_undo(client: Client, card: Material) -> None:
    page = client.post(f"/w/marlow/materials/{card.pk}/put-away/", follow=True)
    undo = f"/w/marlow/materials/{card.pk}/bring-back/"
    assert f'action="{undo}"' in text_of(page)
    assert "no materials" in text_of(page)
    client.post(undo)
    assert "1 material" in text_of(client.get("/w/marlow/materials/"))


def test_an_empty_workshop_is_told_what_to_do_first(client: Client) -> None:
    assert "Start with the card you use most" in text_of(client.get("/w/marlow/materials/"))


@pytest.fixture
def shelf(workshop: Workshop) -> None:
    """Three materials that every column puts in the same order."""
    for number, category in enumerate(["fixings", "glue", "paper"], start=1):
        material = factories.make_material(
            workshop,
            name=f"M{number}",
            category=category,
            supplier=factories.make_supplier(workshop, name=f"S{number}"),
        )
        make_receipt(workshop, (material, str(number), str(number * number)))


@pytest.mark.parametrize(
    "column", ["name", "category", "on_hand", "unit_cost", "stock_value", "supplier"]
)
def test_every_column_sorts_both_ways(client: Client, shelf: None, column: str) -> None:
    found = {}
    for sign in ("", "-"):
        table = client.get(f"/w/marlow/materials/?sort={sign}{column}").context["table"]
        found[sign] = [row.record.name for row in table.paginated_rows]
    assert found == {"": ["M1", "M2", "M3"], "-": ["M3", "M2", "M1"]}


def test_those_never_bought_come_last_by_cost(
    client: Client, workshop: Workshop, shelf: None
) -> None:
    factories.make_material(workshop, name="New")
    for sign in ("", "-"):
        table = client.get(f"/w/marlow/materials/?sort={sign}unit_cost").context["table"]
        assert [row.record.name for row in table.paginated_rows][-1] == "New"


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ("", {"Bramble card", "Twine"}),
        ("search=bram", {"Bramble card"}),
        ("search=knot", {"Twine"}),
        ("category=fixings", {"Twine"}),
        ("kind=sheet", {"Bramble card"}),
        ("state=low", {"Twine"}),
        ("state=away", {"Old card"}),
        ("state=all", {"Bramble card", "Twine", "Old card"}),
        ("search=card&state=all&kind=sheet", {"Bramble card", "Old card"}),
        ("kind=nonsense&category=nonsense&state=nonsense", {"Bramble card", "Twine"}),
        ("search=%00", {"Bramble card", "Twine"}),
    ],
)
def test_the_list_is_narrowed_by_the_address(
    client: Client, workshop: Workshop, card: Material, query: str, names: set[str]
) -> None:
    knot = factories.make_supplier(workshop, name="Knot")
    factories.make_material(
        workshop, name="Twine", kind="length", category="fixings", supplier=knot, reorder_level=5
    )
    factories.make_material(workshop, name="Old card", category="paper", retired_on=TODAY)
    table = client.get(f"/w/marlow/materials/?{query}").context["table"]
    assert {row.record.name for row in table.paginated_rows} == names


def test_the_page_shows_cost_by_every_method_ledger_and_receipts(
    client: Client, workshop: Workshop, card: Material, supplier: Supplier
) -> None:
    make_receipt(workshop, (card, "10", "5.00"), supplier=supplier)
    make_receipt(workshop, (card, "10", "7.00"), supplier=supplier, reference="R-7")
    count_stock(
        material=card, counted=Decimal(18), moved_on=TODAY, today=TODAY, reason="two were torn"
    )
    recipe = factories.make_recipe(workshop, card)
    page = text_of(client.get(f"/w/marlow/materials/{card.pk}/"))
    for words in (
        "Average",
        "€0.60",
        "First in, first out",
        "€0.50",
        "Latest",
        "€0.70",
        "used in your costs",
        "Cost of Bramble card per sheet",
        "two were torn",
        "−2 sheets",
        "Larkspur Paper Mill",
        recipe.design.name,
    ):
        assert words in page


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, card: Material, count_queries: Any
) -> None:
    def queries(address: str) -> int:
        with count_queries() as seen:
            assert client.get(address).status_code == 200
        return len(seen)

    lists, page = "/w/marlow/materials/", f"/w/marlow/materials/{card.pk}/"
    edit = f"{page}edit/"
    for _ in range(2):
        make_receipt(workshop, (card, "10", "5.00"))
    factories.make_recipe(workshop, card)
    few = [queries(address) for address in (lists, page, edit)]
    for number in range(8):
        other = factories.make_material(workshop, supplier=factories.make_supplier(workshop))
        factories.make_pack(other, supplier=other.supplier)
        factories.make_pack(card, supplier=other.supplier)
        make_receipt(workshop, (card, "10", f"{number + 1}.00"), (other, "1", "1.00"))
        factories.make_recipe(workshop, card)
    assert [queries(address) for address in (lists, page, edit)] == few


def test_a_sheet_says_what_it_weighs(client: Client, workshop: Workshop) -> None:
    # area x grammage (ISO 536): 12 x 12 in of 250 g/m2 is 0.3048 m x 0.3048 m x 250 = 23.2 g
    card = factories.make_material(workshop, grammage=Decimal(250))
    assert "per sheet 23.2 g" in text_of(client.get(f"/w/marlow/materials/{card.pk}/"))


def test_a_new_sheet_leads_on_to_a_design_and_a_used_one_to_its_stock(
    client: Client, workshop: Workshop
) -> None:
    response = client.post(NEW, typed({"quantity": "24", "price": "11.40"}), follow=True)
    page = response.content.decode()
    first = re.search(r'<a class="button primary" href="[^"]*">([^<]*)', page)
    assert first is not None
    assert first[1] == "New design"
    assert f"material={Material.objects.get().pk}" in page
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length")
    page = client.get(f"/w/marlow/materials/{ribbon.pk}/").content.decode()
    first = re.search(r'<a class="button primary" href="[^"]*">([^<]*)', page)
    assert first is not None
    assert first[1] == "Adjust stock"
