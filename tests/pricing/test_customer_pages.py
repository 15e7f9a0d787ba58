"""Pages of the customers: kept by two people, put away and back, closed to everybody else."""

import pytest
from django.urls import reverse

from pricing.customers.models import Customer
from tests.factories import make_recipe
from tests.pricing.quotes import make_customer, make_line, make_quote


def address(workshop, name, *args):
    return reverse(f"pricing:{name}", args=[workshop.slug, *args])


def test_a_customer_is_entered_changed_and_listed(client, workshop):
    client.post(
        address(workshop, "customer_new"), {"name": "Ada  Fenn", "email": "ada@example.test"}
    )
    row = Customer.objects.get()
    assert row.name == "Ada Fenn"
    entry = {"name": "Ada Fenn", "contact": "Bo", "address": "Mill 1\nTown", "edit_number": 0}
    client.post(address(workshop, "customer_edit", row.pk), entry)
    row.refresh_from_db()
    assert (row.contact, row.address) == ("Bo", "Mill 1\nTown")
    page = client.get(address(workshop, "customer_list")).content.decode()
    assert "Ada Fenn" in page


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"name": ""}, "Fill this in"),
        ({"name": "x" * 121}, "120"),
        ({"name": "ADA FENN"}, "already have a customer"),
        ({"name": "Bo", "email": "no mail"}, "valid email"),
        ({"name": "Bo", "address": "x" * 501}, "500"),
    ],
)
def test_wrong_entries_are_kept_and_explained(client, workshop, entry, words):
    make_customer(workshop, name="Ada Fenn")
    response = client.post(address(workshop, "customer_new"), entry)
    assert response.status_code == 422
    assert words in response.content.decode()
    assert Customer.objects.count() == 1


def test_the_second_of_two_people_sees_both_entries(client, workshop):
    row = make_customer(workshop, name="Ada Fenn")
    where = address(workshop, "customer_edit", row.pk)
    client.post(where, {"name": "Ada Fenn", "contact": "Mine", "edit_number": 0})
    response = client.post(where, {"name": "Ada Fenn", "contact": "Yours", "edit_number": 0})
    page = response.content.decode()
    assert response.status_code == 422
    assert "Mine" in page
    assert "Yours" in page


def test_a_customer_is_put_away_and_brought_back(client, workshop):
    row = make_customer(workshop)
    response = client.post(address(workshop, "customer_retire", row.pk), follow=True)
    back = address(workshop, "customer_restore", row.pk)
    assert back in response.content.decode()
    assert not Customer.objects.in_use().exists()
    client.post(back)
    assert Customer.objects.in_use().exists()


def test_a_customer_put_away_is_not_chosen_nor_typed_again(client, workshop):
    row = make_customer(workshop, name="Ada Fenn")
    client.post(address(workshop, "customer_retire", row.pk))
    response = client.post(address(workshop, "quote_new"), {"customer": row.pk})
    assert response.status_code == 422
    response = client.post(address(workshop, "quote_new"), {"new_name": "ada fenn"})
    assert response.status_code == 422
    assert "Restore the customer first" in response.content.decode()


def test_a_typed_name_finds_the_customer_there_is(client, workshop):
    row = make_customer(workshop, name="Ada Fenn")
    client.post(address(workshop, "quote_new"), {"new_name": "ada fenn"})
    assert row.quotes.count() == Customer.objects.count() == 1


def test_a_customers_page_shows_the_quotes(client, workshop):
    quote = make_quote(workshop, title="Wedding")
    make_line(quote, make_recipe(workshop), 2)
    page = client.get(address(workshop, "customer", quote.customer_id)).content.decode()
    assert "Wedding" in page
    assert address(workshop, "quote", quote.pk) in page


def test_customers_are_in_order_whatever_their_capitals(workshop):
    for name in ("Zoe", "anna", "Berta"):
        make_customer(workshop, name=name)
    rows = Customer.objects.of(workshop).by_name()
    assert [row.name for row in rows] == ["anna", "Berta", "Zoe"]


@pytest.mark.parametrize("name", ["customer", "customer_edit", "customer_retire"])
def test_strangers_find_nothing_and_readers_only_look(
    stranger_client, reader_client, anonymous_client, workshop, name
):
    where = address(workshop, name, make_customer(workshop).pk)
    ask = "post" if name == "customer_retire" else "get"
    assert getattr(stranger_client, ask)(where).status_code == 404
    assert getattr(anonymous_client, ask)(where).status_code == 302
    wanted = 200 if name == "customer" else 403
    assert getattr(reader_client, ask)(where).status_code == wanted
    assert reader_client.post(address(workshop, "customer_new"), {"name": "x"}).status_code == 403


def test_more_customers_cost_no_more_queries(client, workshop, count_queries):
    def queries():
        with count_queries() as counted:
            client.get(address(workshop, "customer_list"))
        return len(counted)

    make_customer(workshop)
    client.get(address(workshop, "customer_list"))
    few = queries()
    for _ in range(10):
        make_customer(workshop)
    assert queries() == few
