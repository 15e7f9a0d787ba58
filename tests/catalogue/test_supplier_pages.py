"""Pages of the suppliers: entry, bad input, two people at once, put away and back."""

from typing import Any

import pytest
from django.test import Client

from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import text_of

NEW = "/w/marlow/suppliers/new/"


def test_a_name_is_enough(client: Client, workshop: Workshop) -> None:
    response = client.post(NEW, {"name": "Larkspur Paper Mill"}, follow=True)
    assert response.status_code == 200
    stored = Supplier.objects.get()
    assert (stored.workshop, stored.name) == (workshop, "Larkspur Paper Mill")
    assert (stored.lead_days, stored.carriage) == (workshop.purchase_lead_days, 0)
    assert "Saved “Larkspur Paper Mill”." in text_of(response)


def test_everything_typed_is_kept(client: Client) -> None:
    typed = {
        "name": "Knot & Thread",
        "website": "knot.example",
        "email": "hello@knot.example",
        "phone": "01632 960001",
        "lead_days": "7",
        "carriage": "4,90",
        "carriage_free_from": "60",
        "notes": "Closed in August.",
    }
    page = text_of(client.post(NEW, typed, follow=True))
    stored = Supplier.objects.get()
    assert stored.website == "https://knot.example"
    assert f"{stored.carriage:.2f}" == "4.90"
    for words in (
        "Knot & Thread",
        "7 days",
        "€4.90, free postage from €60.00",
        "Closed in August.",
    ):
        assert words in page


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("name", "", "name"),
        ("name", "x" * 10_000, "120"),
        ("website", "javascript:alert(1)", "URL"),
        ("email", "not an address", "email"),
        ("lead_days", "-1", "least is 0"),
        ("lead_days", "a week", "a number. Enter one"),
        ("lead_days", "99999999", "most is 365"),
        ("carriage", "1.5,00.50", "an amount of money. Enter one"),
        ("carriage", "1e5", "a number we can read"),
        ("notes", "x" * 5000, "4000"),
        ("notes", "nul\x00byte", "Null"),
    ],
)
def test_what_cannot_be_meant_is_kept_and_explained(
    client: Client, field: str, typed: str, told: str
) -> None:
    response = client.post(NEW, {"name": "Knot", field: typed})
    assert response.status_code == 422
    errors = response.context["form"].errors
    assert list(errors) == [field]
    page = text_of(response)
    assert "There is a problem" in page
    assert told.lower() in str(errors[field]).lower()
    if "\x00" not in typed:
        assert typed[:50] in page
    assert not Supplier.objects.exists()


def test_html_in_a_name_stays_text(client: Client) -> None:
    client.post(NEW, {"name": "<script>alert(1)</script>"})
    supplier = Supplier.objects.get()
    for address in ("/w/marlow/suppliers/", f"/w/marlow/suppliers/{supplier.pk}/"):
        page = client.get(address).content.decode()
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_the_second_of_two_posts_finds_the_name_taken(client: Client) -> None:
    client.post(NEW, {"name": "Knot"})
    response = client.post(NEW, {"name": "KNOT"})
    assert response.status_code == 422
    assert "You already have a supplier “KNOT”." in text_of(response)
    assert Supplier.objects.count() == 1


def test_another_workshop_may_use_the_same_name(client: Client, other_workshop: Workshop) -> None:
    factories.make_supplier(other_workshop, name="Knot")
    assert client.post(NEW, {"name": "Knot"}).status_code == 302


def test_the_second_of_two_people_is_told_and_loses_nothing(
    client: Client, helper_client: Client, workshop: Workshop
) -> None:
    supplier = factories.make_supplier(workshop, name="Knot", phone="1")
    address = f"/w/marlow/suppliers/{supplier.pk}/edit/"
    opened = {
        "name": "Knot",
        "phone": "1",
        "lead_days": "4",
        "lead_spread_days": "0",
        "carriage": "0",
    }
    opened["edit_number"] = "0"
    assert helper_client.post(address, opened | {"phone": "22"}).status_code == 302

    response = client.post(address, opened | {"phone": "333", "notes": "Ask for Ada."})
    page = text_of(response)
    assert response.status_code == 422
    assert "Somebody else saved this while you had it open" in page
    told = {row.label: (row.yours, row.theirs) for row in response.context["both"]}
    assert told == {"Phone": ("333", "22"), "Notes": ("Ask for Ada.", "empty")}
    assert 'value="333"' in page
    supplier.refresh_from_db()
    assert supplier.phone == "22"

    # the page carries the current number, so that saving again is a choice
    again = response.context["form"]["edit_number"].value()
    sent = opened | {"phone": "333", "notes": "Ask for Ada.", "edit_number": again}
    assert client.post(address, sent).status_code == 302
    supplier.refresh_from_db()
    assert (supplier.phone, supplier.notes) == ("333", "Ask for Ada.")


@pytest.mark.parametrize("number", ["", "7", "-1", "many"])
def test_a_form_without_its_edit_number_does_not_overwrite(
    client: Client, workshop: Workshop, number: str
) -> None:
    supplier = factories.make_supplier(workshop, name="Knot")
    address = f"/w/marlow/suppliers/{supplier.pk}/edit/"
    response = client.post(address, {"name": "Other", "edit_number": number})
    assert response.status_code == 422
    supplier.refresh_from_db()
    assert supplier.name == "Knot"


def test_put_away_and_undo(client: Client, workshop: Workshop) -> None:
    supplier = factories.make_supplier(workshop, name="Knot")
    page = client.post(f"/w/marlow/suppliers/{supplier.pk}/put-away/", follow=True)
    undo = f"/w/marlow/suppliers/{supplier.pk}/bring-back/"
    assert f'action="{undo}"' in text_of(page)
    assert "no suppliers" in text_of(page)
    assert "Knot, archived" in text_of(client.get("/w/marlow/suppliers/?state=away"))
    client.post(undo)
    assert "Knot" in text_of(client.get("/w/marlow/suppliers/"))


def test_an_empty_workshop_is_told_what_to_do_first(client: Client, reader_client: Client) -> None:
    assert "Add the shop where you buy your card" in text_of(client.get("/w/marlow/suppliers/"))
    # who may not write gets no button
    assert "/suppliers/new/" not in text_of(reader_client.get("/w/marlow/suppliers/"))


@pytest.mark.parametrize(
    "column", ["name", "material_count", "lead_days", "carriage", "carriage_free_from"]
)
def test_every_column_sorts_both_ways(client: Client, workshop: Workshop, column: str) -> None:
    for number in range(3):
        factories.make_supplier(
            workshop,
            name=f"S{number}",
            lead_days=number,
            carriage=number,
            carriage_free_from=number,
        )
    up = client.get(f"/w/marlow/suppliers/?sort={column}").context["table"]
    down = client.get(f"/w/marlow/suppliers/?sort=-{column}").context["table"]
    names_up = [row.record.name for row in up.paginated_rows]
    assert names_up == ["S0", "S1", "S2"]
    assert [row.record.name for row in down.paginated_rows] == names_up[::-1]


def test_searching_narrows_and_says_how_many(client: Client, workshop: Workshop) -> None:
    factories.make_supplier(workshop, name="Knot & Thread")
    factories.make_supplier(workshop, name="Larkspur", notes="also thread")
    factories.make_supplier(workshop, name="Mill")
    response = client.get("/w/marlow/suppliers/?search=THREAD")
    assert "2 suppliers" in text_of(response)
    for odd in ("%00", "x" * 500, "%ff%fe", "'; drop table--"):
        assert client.get(f"/w/marlow/suppliers/?search={odd}&state=nonsense").status_code == 200


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    def queries() -> int:
        with count_queries() as seen:
            client.get("/w/marlow/suppliers/")
        return len(seen)

    factories.make_supplier(workshop)
    few = queries()
    for _ in range(20):
        supplier = factories.make_supplier(workshop)
        factories.make_material(workshop, supplier=supplier)
    assert queries() == few
