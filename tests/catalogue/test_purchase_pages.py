"""Pages of the receipts: entry by name of pack, drafts, double posts, bad input, taken back."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import rows, text_of
from tests.catalogue.receipts import TODAY, make_draft, make_receipt

NEW = "/w/marlow/receipts/new/"
LINE = {"what": "Bramble card · pack of 10", "bought": "2", "amount": "9.80"}


def typed(where: Supplier | None, *lines: dict[str, Any], **fields: Any) -> dict[str, Any]:
    head: dict[str, Any] = {"bought_on": "2026-03-31", "then": "record"}
    if where:
        head["supplier"] = where.pk
    return {**head, **fields, **rows("lines", lines)}


def test_a_receipt_goes_into_stock_with_its_costs(
    client: Client, card: Material, supplier: Supplier
) -> None:
    sent = typed(supplier, LINE | {"lot": "B7"}, postage="2,20", reference="R-1")
    response = client.post(NEW, sent, follow=True)
    purchase = Purchase.objects.get()
    assert purchase.state == "recorded"
    assert purchase.recorded_by is not None
    line = purchase.lines.get()
    assert (line.packs_bought, line.quantity, line.lot) == (2, 20, "B7")
    card.refresh_from_db()
    assert (card.on_hand, card.average_cost) == (20, Decimal("0.6"))
    page = text_of(response)
    for words in ("Larkspur Paper Mill", "2 × pack of 10, lot B7", "20 sheets", "€0.6000 / sheet"):
        assert words in page
    # with a way back
    assert f'action="/w/marlow/receipts/{purchase.pk}/take-back/"' in page


def test_a_draft_is_saved_at_any_time_and_recorded_later(
    client: Client, card: Material, supplier: Supplier
) -> None:
    client.post(NEW, typed(supplier, then="keep"))
    draft = Purchase.objects.get()
    assert (draft.state, draft.lines.count()) == ("draft", 0)
    assert "This receipt is empty" in text_of(client.get(f"/w/marlow/receipts/{draft.pk}/"))
    address = f"/w/marlow/receipts/{draft.pk}/"
    assert client.post(f"{address}edit/", typed(supplier, LINE, then="keep", edit_number="0"))
    assert not StockEntry.objects.exists()
    client.post(f"{address}record/")
    draft.refresh_from_db()
    assert draft.state == "recorded"


@pytest.mark.parametrize(
    ("what", "bought", "packs", "quantity"),
    [
        ("Bramble card · pack of 10", "1/2", "0.5", "5"),
        ("bramble CARD  ·  pack of 10", "2", "2", "20"),
        ("Bramble card · pack of 10", "25 sheets", "2.5", "25"),
        ("Bramble card · by the sheet", "7", "1", "7"),
        ("Bramble card", "2", "2", "20"),
        ("bramble card", "25 sheets", "2.5", "25"),
        ("Glue", "250 ml", "1", "250"),
        ("Glue", "0.25 l", "1", "250"),
    ],
)
def test_what_was_bought_is_said_by_pack_or_by_amount(
    client: Client,
    workshop: Workshop,
    card: Material,
    supplier: Supplier,
    what: str,
    bought: str,
    packs: str,
    quantity: str,
) -> None:
    factories.make_material(workshop, name="Glue", kind="volume")
    client.post(NEW, typed(supplier, {"what": what, "bought": bought, "amount": "3"}))
    line = Purchase.objects.get().lines.get()
    assert (line.packs_bought, line.quantity) == (Decimal(packs), Decimal(quantity))


def test_a_part_of_a_pack_is_shown_as_it_was_typed(
    client: Client, workshop: Workshop, supplier: Supplier
) -> None:
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length")
    factories.make_pack(ribbon, name="reel of 25 m", quantity=Decimal(25))
    lines = [
        {"what": "Ribbon", "bought": bought, "amount": "3", "lot": f"L{number}"}
        for number, bought in enumerate(("12 m", "37,5 m", "2"))
    ]
    page = text_of(client.post(NEW, typed(supplier, *lines, then="keep"), follow=True))
    row = Purchase.objects.get()
    assert [line.packs_bought for line in row.lines.order_by("position")] == [
        Decimal("0.48"), Decimal("1.5"), 2,
    ]  # fmt: skip
    for words in ("12 m", "37.5 m", "50 m", "2 × reel of 25 m, lot L2"):
        assert words in page
    assert page.count("×") == 1
    # and so it is changed again, exactly
    place = f"/w/marlow/receipts/{row.pk}/edit/"
    fields = fields_of(client.get(place))
    assert [fields[f"lines-{number}-bought"] for number in range(3)] == ["12 m", "37.5 m", "2"]
    client.post(place, fields | {"then": "keep"})
    assert [line.quantity for line in row.lines.order_by("position")] == [
        12, Decimal("37.5"), 50,
    ]  # fmt: skip


def test_with_several_packs_a_name_alone_needs_a_unit(
    client: Client, card: Material, supplier: Supplier
) -> None:
    factories.make_pack(card, name="pad of 24", quantity=Decimal(24))
    line = {"what": "Bramble card", "bought": "2", "amount": "3"}
    page = text_of(client.post(NEW, typed(supplier, line)))
    assert "Which pack? Choose one: Bramble card · pack of 10" in page
    client.post(NEW, typed(supplier, line | {"bought": "2 sheets"}))
    bought = Purchase.objects.get().lines.get()
    assert (bought.pack, bought.quantity) == (None, 2)


def test_a_new_supplier_is_made_on_the_way(
    client: Client, card: Material, workshop: Workshop
) -> None:
    client.post(NEW, typed(None, LINE, new_supplier="Knot & Thread"))
    again = typed(None, LINE, new_supplier="knot & thread", another="on")
    client.post(NEW, again)
    assert [supplier.name for supplier in Supplier.objects.of(workshop)] == ["Knot & Thread"]
    assert Purchase.objects.recorded().count() == 2


def test_the_first_supplier_is_typed_where_later_ones_are_chosen(
    client: Client, card: Material, workshop: Workshop
) -> None:
    page = client.get(NEW)
    assert 'name="supplier"' not in page.content.decode()
    assert page.context["form"].fields["new_supplier"].label == "Supplier"
    assert "Enter the supplier’s name." in text_of(client.post(NEW, typed(None, LINE)))
    client.post(NEW, typed(None, LINE, new_supplier="Knot & Thread"))
    assert Supplier.objects.of(workshop).get().name == "Knot & Thread"
    assert 'name="supplier"' in client.get(NEW).content.decode()


@pytest.mark.parametrize(
    ("field", "entry", "told"),
    [
        ("supplier", "", "enter a new one"),
        ("supplier", "999999", "valid choice"),
        ("new_supplier", "Knot", "not both"),
        ("bought_on", "", "Enter the date"),
        ("bought_on", "31.02.2026", "a date. Enter one like"),
        ("bought_on", "3/4/2026", "a date. Enter one like"),
        ("bought_on", "yesterday", "a date. Enter one like"),
        ("bought_on", "2126-03-31", "in the future"),
        ("bought_on", "0206-03-31", "very long ago"),
        ("postage", "-1", "least is 0"),
        ("postage", "1.234", "finer than 2 decimals"),
        ("postage", "99999999", "most is 1000000"),
        ("discount", "9.81", "larger than the goods"),
        ("tax", "1,5.50", "an amount of money. Enter one"),
        ("reference", "x" * 10_000, "80"),
        ("notes", "x" * 4001, "4000"),
        ("notes", "nul\x00byte", "Null"),
    ],
)
def test_what_cannot_be_meant_is_kept_and_explained(
    client: Client, card: Material, supplier: Supplier, field: str, entry: str, told: str
) -> None:
    response = client.post(NEW, typed(supplier, LINE, **{field: entry}))
    assert response.status_code == 422
    errors = response.context["form"].errors
    assert list(errors) == [field]
    assert told.lower() in str(errors[field]).lower()
    page = text_of(response)
    assert 'value="Bramble card · pack of 10"' in page
    assert "There is a problem" in page
    assert not Purchase.objects.exists()
    assert not StockEntry.objects.exists()


@pytest.mark.parametrize(
    ("row", "field", "told"),
    [
        ({"what": ""}, "what", "Enter what you bought"),
        ({"what": "Unicorn"}, "what", "one of your materials"),
        ({"what": "bramble"}, "what", "Is it “Bramble card · pack of 10”?"),
        ({"what": "Bramble card", "bought": "10"}, "bought", "10 packs or 10 sheets?"),
        ({"what": "x" * 10_000}, "what", "400"),
        ({"what": "<script>"}, "what", "one of your materials"),
        ({"bought": ""}, "bought", "Enter how many"),
        ({"bought": "0"}, "bought", "above 0"),
        ({"bought": "-2"}, "bought", "below zero"),
        ({"bought": "2 m"}, "bought", "counted in sheets"),
        ({"bought": "999999999"}, "bought", "That looks too large"),
        ({"bought": "two"}, "bought", "an amount. Enter one"),
        ({"amount": ""}, "amount", "0 if it was free"),
        ({"amount": "-9"}, "amount", "open their receipt"),
        ({"amount": "9.805"}, "amount", "finer than 2 decimals"),
        ({"amount": "1e3"}, "amount", "a number we can read"),
        ({"lot": "x" * 61}, "lot", "60"),
    ],
)
def test_a_bad_line_is_told_at_its_row_and_nothing_is_saved(
    client: Client,
    card: Material,
    supplier: Supplier,
    row: dict[str, str],
    field: str,
    told: str,
) -> None:
    response = client.post(NEW, typed(supplier, LINE, {}, LINE | row))
    assert response.status_code == 422
    forms = response.context["formset"].forms
    assert [list(form.errors) for form in forms] == [[], [], [field]]
    assert told in str(forms[2].errors[field].as_text())
    assert "<script>" not in response.content.decode().split("<main")[1]
    assert not Purchase.objects.exists()


@pytest.mark.parametrize(
    ("line", "is_open"),
    [
        (LINE, False),
        (LINE | {"damaged_kept": "1"}, True),
        (LINE | {"damaged_credited": "20"}, True),
        (LINE | {"damaged_credited": "many"}, True),
        ({**LINE, "what": "Van", "bought": "", "expense": "travel", "damaged_kept": "1"}, True),
    ],
)
def test_damage_is_folded_away_until_there_is_some(
    client: Client, card: Material, supplier: Supplier, line: dict[str, str], is_open: bool
) -> None:
    assert '<details class="opens-rare">' in client.get(NEW).content.decode()
    # refused for its total, so shown again
    page = client.post(NEW, typed(supplier, line, total="1")).content.decode()
    assert ('<details class="opens-rare" open>' in page) == is_open
    assert ('<details class="opens-rare">' in page) != is_open
    # two headings, and two cells in the line and in the empty one to add
    assert len(re.findall(r'class="(?:[^"]* )?rare"', page)) == 2 + 2 * 2


def test_empty_rows_in_the_middle_are_left_out(
    client: Client, card: Material, supplier: Supplier
) -> None:
    empty = {"what": "", "bought": "", "amount": "", "lot": ""}
    gone = LINE | {"amount": "wrong", "DELETE": "on"}
    client.post(NEW, typed(supplier, LINE, empty, gone, LINE))
    lines = Purchase.objects.get().lines.order_by("position")
    assert [line.position for line in lines] == [0, 1]


def test_a_hundred_thousand_lines_are_refused(
    client: Client, card: Material, supplier: Supplier
) -> None:
    response = client.post(NEW, typed(supplier, LINE) | {"lines-TOTAL_FORMS": "100000"})
    assert response.status_code == 422
    assert "No more than 100 rows fit" in text_of(response)
    assert not Purchase.objects.exists()


def test_nothing_of_another_workshop_can_be_bought(
    client: Client, card: Material, supplier: Supplier, other_workshop: Workshop
) -> None:
    theirs = factories.make_material(other_workshop, name="Secret card")
    their_supplier = factories.make_supplier(other_workshop)
    receipt = make_receipt(other_workshop, (theirs, "1", "1.00"))
    for sent in (
        typed(supplier, LINE | {"what": "Secret card"}),
        typed(their_supplier, LINE),
    ):
        assert client.post(NEW, sent).status_code == 422
    assert client.get(f"{NEW}?copy={receipt.pk}").status_code == 404
    assert "Secret card" not in text_of(client.get(f"{NEW}?supplier={their_supplier.pk}"))


def test_a_refused_record_saves_nothing_and_a_new_supplier_neither(
    client: Client, card: Material
) -> None:
    response = client.post(NEW, typed(None, new_supplier="Knot"))
    assert response.status_code == 422
    assert "This receipt is empty" in text_of(response)
    assert not Purchase.objects.exists()
    assert not Supplier.objects.exists()


def test_a_double_click_and_the_back_button_record_once(
    client: Client, card: Material, supplier: Supplier
) -> None:
    page = client.get(NEW)
    key = page.context["form"]["form_key"].value()
    sent = typed(supplier, LINE, form_key=key)
    first = client.post(NEW, sent)
    second = client.post(NEW, sent)
    assert first["Location"] == second["Location"]
    assert "already saved" in text_of(client.get(second["Location"]))
    # back to the page of the draft, and once more
    purchase = Purchase.objects.get()
    response = client.post(f"/w/marlow/receipts/{purchase.pk}/record/", follow=True)
    assert "already in stock" in text_of(response)
    edited = client.post(f"/w/marlow/receipts/{purchase.pk}/edit/", typed(supplier, LINE))
    assert edited.status_code == 302
    card.refresh_from_db()
    assert (card.on_hand, StockEntry.objects.count()) == (20, 1)


@pytest.mark.parametrize("key", ["", "not a key", "6f9619ff-8b86-4d01-b42d-00cf4fc964ff"])
def test_a_form_without_a_key_of_ours_still_saves(
    client: Client, card: Material, supplier: Supplier, key: str
) -> None:
    response = client.post(NEW, typed(supplier, LINE, form_key=key))
    assert response.status_code == (422 if key == "not a key" else 302)


def test_the_second_of_two_people_sees_both_and_loses_nothing(
    client: Client,
    helper_client: Client,
    workshop: Workshop,
    card: Material,
    supplier: Supplier,
) -> None:
    draft = make_draft(workshop, (card, "20", "9.80"), supplier=supplier)
    address = f"/w/marlow/receipts/{draft.pk}/edit/"
    line = {"what": "Bramble card · by the sheet", "bought": "20", "amount": "9.80"}
    head = {"then": "keep", "edit_number": "0", "bought_on": "2026-01-03"}
    helper_client.post(address, typed(supplier, line | {"amount": "8.80"}, **head))
    mine = typed(supplier, line, LINE, reference="R-9", **head)
    response = client.post(address, mine)
    assert response.status_code == 422
    told = {row.label: (row.yours, row.theirs) for row in response.context["both"]}
    assert told == {
        "Receipt no.": ("R-9", "empty"),
        "Rows": (
            "Item Bramble card · by the sheet, How many 20, Paid 9.80; "
            "Item Bramble card · pack of 10, How many 2, Paid 9.80",
            "Item Bramble card · by the sheet, How many 20 sheets, Paid 8.80",
        ),
    }
    assert 'value="R-9"' in text_of(response)
    assert draft.lines.get().amount == Decimal("8.8")
    again = mine | {"edit_number": response.context["form"]["edit_number"].value()}
    assert client.post(address, again).status_code == 302
    draft.refresh_from_db()
    assert (draft.reference, draft.lines.count()) == ("R-9", 2)


def test_taking_back_keeps_the_receipt_readable_and_offers_it_again(
    client: Client, workshop: Workshop, card: Material
) -> None:
    receipt = make_receipt(workshop, (card, "20", "98.00"), reference="R-1")
    address = f"/w/marlow/receipts/{receipt.pk}/"
    page = text_of(client.post(f"{address}take-back/", follow=True))
    for words in ("Undone", "€98.00", "Copy to a new receipt", "It no longer counts"):
        assert words in page
    card.refresh_from_db()
    assert (card.on_hand, card.average_cost) == (0, None)
    copy = client.get(f"{NEW}?copy={receipt.pk}")
    assert 'value="Bramble card · by the sheet"' in text_of(copy)
    assert copy.context["form"]["reference"].value() == "R-1"
    again = text_of(client.post(f"{address}take-back/", follow=True))
    assert "in stock, so it can" in again


def test_the_same_is_bought_again_on_another_date(
    client: Client, workshop: Workshop, card: Material
) -> None:
    receipt = make_receipt(workshop, (card, "20", "98.00"), reference="R-1")
    page = client.get(f"/w/marlow/receipts/{receipt.pk}/")
    assert "Buy the same again" in text_of(page)
    copy = client.get(f"{NEW}?copy={receipt.pk}")
    assert 'value="Bramble card · by the sheet"' in text_of(copy)
    assert copy.context["form"]["reference"].value() == ""
    assert copy.context["form"]["bought_on"].value() == timezone.localdate()


def test_taking_back_what_was_used_warns(
    client: Client, workshop: Workshop, card: Material
) -> None:
    receipt = make_receipt(workshop, (card, "20", "9.80"))
    client.post(
        f"/w/marlow/materials/{card.pk}/stock/",
        {"kind": "used", "amount": "5", "moved_on": "2026-02-01"},
    )
    page = text_of(client.post(f"/w/marlow/receipts/{receipt.pk}/take-back/", follow=True))
    assert "Stock of Bramble card is now negative" in page


def test_a_draft_is_thrown_away_with_undo(
    client: Client, workshop: Workshop, card: Material
) -> None:
    draft = make_draft(workshop, (card, "20", "9.80"))
    address = f"/w/marlow/receipts/{draft.pk}/"
    page = text_of(client.post(f"{address}throw-away/", follow=True))
    assert f'action="{address}bring-back/"' in page
    assert "no receipts" in page
    assert "deleted" in text_of(client.get(address))
    client.post(f"{address}bring-back/")
    draft.refresh_from_db()
    assert (draft.state, draft.lines.count()) == ("draft", 1)


def test_a_material_put_away_since_stays_in_its_draft_and_is_refused(
    client: Client, workshop: Workshop, card: Material
) -> None:
    draft = make_draft(workshop, (card, "20", "9.80"))
    Material.objects.filter(pk=card.pk).update(retired_on=TODAY)
    address = f"/w/marlow/receipts/{draft.pk}/"
    assert "Bramble card" in text_of(client.get(f"{address}edit/"))
    assert "is archived" in text_of(client.post(f"{address}record/", follow=True))
    assert "Bramble card" not in text_of(client.get(NEW))


def test_two_packs_of_one_name_are_told_apart(
    client: Client, card: Material, supplier: Supplier
) -> None:
    factories.make_pack(card, quantity=Decimal(100))
    sent = typed(supplier, LINE | {"what": "Bramble card · pack of 10 (2)", "bought": "1"})
    client.post(NEW, sent)
    assert Purchase.objects.get().lines.get().quantity == 100


def test_a_currency_without_cents_takes_none(
    client: Client, workshop: Workshop, card: Material, supplier: Supplier
) -> None:
    workshop.currency = "JPY"
    workshop.save()
    assert client.post(NEW, typed(supplier, LINE)).status_code == 422
    assert client.post(NEW, typed(supplier, LINE | {"amount": "980"})).status_code == 302


def test_the_form_starts_today(client: Client) -> None:
    page = client.get(NEW)
    assert page.context["form"]["bought_on"].value() == timezone.localdate()


def test_a_line_of_an_unknown_material_leads_to_adding_it_without_losing_the_receipt(
    client: Client, card: Material, supplier: Supplier
) -> None:
    sent = typed(supplier, LINE, {"what": "Cotton & hemp cord", "bought": "25 m", "amount": "4,20"})
    page = client.post(NEW, sent)
    assert page.status_code == 422
    link = (
        "/w/marlow/materials/new/?name=Cotton+%26+hemp+cord"
        "&kind=length&pack=25+m&price=4%2C20&from=receipt"
    )
    assert f'href="{link}" target="_blank"' in text_of(page)
    # what is known already is asked for no more
    entry = text_of(client.get(link))
    for field in (
        'name="name" value="Cotton & hemp cord"',
        '<option value="length" selected>',
        'name="packs-0-quantity" value="25 m"',
        'name="packs-0-price" value="4,20"',
    ):
        assert field in entry, field
    pack = rows("packs", [{"quantity": "25 m", "price": "4,20"}])
    added = client.post(link, {"name": "Cotton & hemp cord", "kind": "length", **pack}, follow=True)
    assert "Go back to your receipt’s tab." in text_of(added)
    # and the receipt as it was typed goes in
    client.post(NEW, sent)
    assert Purchase.objects.get().lines.count() == 2


def test_only_what_a_unit_was_said_of_goes_over_to_the_new_material(
    client: Client, card: Material, supplier: Supplier
) -> None:
    page = client.post(NEW, typed(supplier, {"what": "Foam", "bought": "2", "amount": "5"}))
    assert 'href="/w/marlow/materials/new/?name=Foam&from=receipt"' in text_of(page)
    # a hand-made address brings nothing in
    entry = client.get("/w/marlow/materials/new/?kind=nonsense&pack=%22%3E%3Cb%3E&name=x")
    assert entry.status_code == 200
    assert "<b>" not in entry.content.decode()


def test_a_material_s_page_leads_to_a_receipt_of_it(client: Client, card: Material) -> None:
    page = text_of(client.get(f"/w/marlow/materials/{card.pk}/"))
    link = f"{NEW}?material={card.pk}"
    assert f'href="{link}"' in page
    assert 'name="lines-0-what" value="Bramble card · pack of 10"' in text_of(client.get(link))
    for nothing in ("999999", "x", "1" * 40):
        assert client.get(f"{NEW}?material={nothing}").status_code == 200


def test_a_receipt_leads_to_the_next_and_speaks_of_postage_only_where_there_is_some(
    client: Client, card: Material, supplier: Supplier
) -> None:
    plain = text_of(client.post(NEW, typed(supplier, LINE), follow=True))
    assert f'href="{NEW}">Enter next receipt' in plain
    assert "split by line value" not in plain
    sent = typed(supplier, LINE, postage="2,20", reference="R-2")
    assert "Postage split by line value" in text_of(client.post(NEW, sent, follow=True))
    sent = typed(supplier, LINE, discount="1", reference="R-3")
    assert "Discount split by line value" in text_of(client.post(NEW, sent, follow=True))
    sent = typed(supplier, LINE, postage="3", discount="1", reference="R-4")
    assert "Postage and discount split" in text_of(client.post(NEW, sent, follow=True))
