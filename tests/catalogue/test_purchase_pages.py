"""Pages of the receipts: entry by name of pack, drafts, double posts, bad input, taken back."""

import datetime
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
    for words in ("Larkspur Paper Mill", "2 × pack of 10, lot B7", "20 sheets", "€0.60 / sheet"):
        assert words in page
    # with a way back
    assert f'action="/w/marlow/receipts/{purchase.pk}/take-back/"' in page


def test_a_draft_is_saved_at_any_time_and_recorded_later(
    client: Client, card: Material, supplier: Supplier
) -> None:
    client.post(NEW, typed(supplier, then="keep"))
    draft = Purchase.objects.get()
    assert (draft.state, draft.lines.count()) == ("draft", 0)
    assert "Nothing is on this receipt yet" in text_of(
        client.get(f"/w/marlow/receipts/{draft.pk}/")
    )
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


def test_with_several_packs_a_name_alone_needs_a_unit(
    client: Client, card: Material, supplier: Supplier
) -> None:
    factories.make_pack(card, name="pad of 24", quantity=Decimal(24))
    line = {"what": "Bramble card", "bought": "2", "amount": "3"}
    page = text_of(client.post(NEW, typed(supplier, line)))
    assert "Bought how? Choose one: Bramble card · pack of 10" in page
    client.post(NEW, typed(supplier, line | {"bought": "2 sheets"}))
    bought = Purchase.objects.get().lines.get()
    assert (bought.pack, bought.quantity) == (None, 2)


def test_a_new_supplier_is_made_on_the_way(
    client: Client, card: Material, workshop: Workshop
) -> None:
    client.post(NEW, typed(None, LINE, new_supplier="Knot & Thread"))
    client.post(NEW, typed(None, LINE, new_supplier="knot & thread"))
    assert [supplier.name for supplier in Supplier.objects.of(workshop)] == ["Knot & Thread"]
    assert Purchase.objects.recorded().count() == 2


@pytest.mark.parametrize(
    ("field", "entry", "told"),
    [
        ("supplier", "", "type a new supplier"),
        ("supplier", "999999", "valid choice"),
        ("new_supplier", "Knot", "not both"),
        ("bought_on", "", "Type the day"),
        ("bought_on", "31.02.2026", "no day"),
        ("bought_on", "3/4/2026", "no day"),
        ("bought_on", "yesterday", "no day"),
        ("bought_on", "2126-03-31", "still to come"),
        ("bought_on", "0206-03-31", "very long ago"),
        ("postage", "-1", "least is 0"),
        ("postage", "1.234", "finer than 2 decimals"),
        ("postage", "99999999", "most is 1000000"),
        ("discount", "9.81", "larger than the goods"),
        ("tax", "1,5.50", "not an amount of money"),
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
        ({"what": ""}, "what", "Say what was bought"),
        ({"what": "Unicorn"}, "what", "none of your materials"),
        ({"what": "bramble"}, "what", "Is it “Bramble card · pack of 10”?"),
        ({"what": "Bramble card", "bought": "10"}, "bought", "10 packs or 10 sheets?"),
        ({"what": "x" * 10_000}, "what", "400"),
        ({"what": "<script>"}, "what", "none of your materials"),
        ({"bought": ""}, "bought", "Type how many"),
        ({"bought": "0"}, "bought", "above 0"),
        ({"bought": "-2"}, "bought", "below zero"),
        ({"bought": "2 m"}, "bought", "counted in sheets"),
        ({"bought": "999999999"}, "bought", "No shelf holds that much"),
        ({"bought": "two"}, "bought", "not an amount"),
        ({"amount": ""}, "amount", "0 if it was free"),
        ({"amount": "-9"}, "amount", "least is 0"),
        ({"amount": "9.805"}, "amount", "finer than 2 decimals"),
        ({"amount": "1e3"}, "amount", "not a number written out"),
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
    assert "Nothing is on this receipt yet" in text_of(response)
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
    assert "saved already" in text_of(client.get(second["Location"]))
    # back to the page of the draft, and once more
    purchase = Purchase.objects.get()
    response = client.post(f"/w/marlow/receipts/{purchase.pk}/record/", follow=True)
    assert "in stock already" in text_of(response)
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
        "Number on it": ("R-9", "empty"),
        "Rows": (
            "What Bramble card · by the sheet, How many 20, Paid 9.80; "
            "What Bramble card · pack of 10, How many 2, Paid 9.80",
            "What Bramble card · by the sheet, How many 20 sheets, Paid 8.80",
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
    for words in ("Taken back", "€98.00", "Enter it again", "Nothing of it counts any more"):
        assert words in page
    card.refresh_from_db()
    assert (card.on_hand, card.average_cost) == (0, None)
    copy = client.get(f"{NEW}?copy={receipt.pk}")
    assert 'value="Bramble card · by the sheet"' in text_of(copy)
    assert copy.context["form"]["reference"].value() == "R-1"
    again = text_of(client.post(f"{address}take-back/", follow=True))
    assert "not in stock" in again


def test_taking_back_what_was_used_warns(
    client: Client, workshop: Workshop, card: Material
) -> None:
    receipt = make_receipt(workshop, (card, "20", "9.80"))
    client.post(
        f"/w/marlow/materials/{card.pk}/stock/",
        {"kind": "used", "amount": "5", "moved_on": "2026-02-01"},
    )
    page = text_of(client.post(f"/w/marlow/receipts/{receipt.pk}/take-back/", follow=True))
    assert "Less than nothing is left of Bramble card" in page


def test_a_draft_is_thrown_away_with_undo(
    client: Client, workshop: Workshop, card: Material
) -> None:
    draft = make_draft(workshop, (card, "20", "9.80"))
    address = f"/w/marlow/receipts/{draft.pk}/"
    page = text_of(client.post(f"{address}throw-away/", follow=True))
    assert f'action="{address}bring-back/"' in page
    assert "no receipts" in page
    assert "thrown away" in text_of(client.get(address))
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
    assert "is put away" in text_of(client.post(f"{address}record/", follow=True))
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


@pytest.fixture
def three(workshop: Workshop, card: Material) -> None:
    """Three receipts that every column puts in the same order."""
    for number, amount in enumerate(["10", "20", "30"], start=1):
        make_receipt(
            workshop,
            *[(card, "1", amount)] * number,
            supplier=factories.make_supplier(workshop, name=f"S{number}"),
            bought_on=datetime.date(2026, 1, number),
            reference=f"R{number}",
        )


@pytest.mark.parametrize("column", ["bought_on", "supplier", "reference", "line_count", "paid"])
def test_every_column_sorts_both_ways(client: Client, three: None, column: str) -> None:
    found = {}
    for sign in ("", "-"):
        table = client.get(f"/w/marlow/receipts/?sort={sign}{column}").context["table"]
        found[sign] = [row.record.reference for row in table.paginated_rows]
    assert found == {"": ["R1", "R2", "R3"], "-": ["R3", "R2", "R1"]}


def test_the_state_sorts_too(client: Client, three: None) -> None:
    assert client.get("/w/marlow/receipts/?sort=state").status_code == 200


@pytest.mark.parametrize(
    ("query", "references"),
    [
        ("", ["R3", "R2", "R1"]),
        ("search=S2", ["R2"]),
        ("search=r3", ["R3"]),
        ("search=bramble", ["R3", "R2", "R1"]),
        ("first=2026-01-02", ["R3", "R2"]),
        ("first=2026-01-02&last=2026-01-02", ["R2"]),
        ("first=yesterday&last=2026-13-45", ["R3", "R2", "R1"]),
        ("state=draft", []),
        ("state=recorded&search=S1", ["R1"]),
        ("state=nonsense", ["R3", "R2", "R1"]),
    ],
)
def test_the_list_is_narrowed_by_the_address(
    client: Client, three: None, query: str, references: list[str]
) -> None:
    table = client.get(f"/w/marlow/receipts/?{query}").context["table"]
    assert [row.record.reference for row in table.paginated_rows] == references


def test_what_was_paid_is_not_multiplied_by_the_lines(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "1", "10"), (card, "2", "20"), postage=Decimal("1.10"))
    assert "€31.10" in text_of(client.get("/w/marlow/receipts/"))


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, card: Material, supplier: Supplier, count_queries: Any
) -> None:
    def queries(address: str) -> int:
        with count_queries() as seen:
            assert client.get(address).status_code == 200
        return len(seen)

    small = make_receipt(workshop, (card, "1", "1"), supplier=supplier)
    small_draft = make_draft(workshop, (card, "1", "1"), supplier=supplier)
    few = [
        queries("/w/marlow/receipts/"),
        queries(f"/w/marlow/receipts/{small.pk}/"),
        queries(f"/w/marlow/receipts/{small_draft.pk}/edit/"),
    ]
    materials = []
    for _ in range(10):
        material = factories.make_material(workshop, supplier=supplier)
        factories.make_pack(material, supplier=supplier)
        materials.append((material, "1", "1"))
    large = make_receipt(workshop, *materials)
    large_draft = make_draft(workshop, *materials)
    many = [
        queries("/w/marlow/receipts/"),
        queries(f"/w/marlow/receipts/{large.pk}/"),
        queries(f"/w/marlow/receipts/{large_draft.pk}/edit/"),
    ]
    assert many == few
