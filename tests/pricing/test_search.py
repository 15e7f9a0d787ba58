"""One search over designs, materials, customers, quotes, orders, receipts and suppliers."""

import pytest
from django.urls import reverse

from catalogue.expenses.models import Expense
from catalogue.purchases.models import Purchase
from pricing.enquiries.models import Enquiry
from pricing.orders.services import accept
from pricing.search.finding import KINDS, MOST, find
from tests import factories
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote


@pytest.fixture
def everything(workshop, owner):
    """A row of each kind with the word in it."""
    supplier = factories.make_supplier(workshop, name="Larkspur paper")
    factories.make_material(workshop, name="Larkspur card")
    factories.make_design(workshop, name="Larkspur bag", retired_on=factories.today())
    Purchase.objects.create(workshop=workshop, supplier=supplier, bought_on=factories.today())
    Expense.objects.create(
        workshop=workshop, paid_on=factories.today(), what="Larkspur stand", net=1, cost=1
    )
    customer = make_customer(workshop, name="Larkspur school")
    Enquiry.objects.create(customer=customer, title="Prize bags")
    made = make_quote(workshop, customer=customer, title="Prize bags")
    make_line(made, factories.make_recipe(workshop), 3)
    return accept(
        quote=sent_quote(made, owner), who="A", on=factories.today(), today=factories.today()
    )


def test_the_word_is_found_in_each_kind(workshop, everything):
    found = find(workshop, "  larkSPUR ")
    assert [kind.label for kind in found] == [kind.label for kind in KINDS]
    assert all(len(kind.rows) == 1 and not kind.more for kind in found)
    assert find(workshop, everything.number)[0].label == "Orders"


def test_nothing_is_found_for_nothing_or_elsewhere(other_workshop, workshop, everything):
    assert find(workshop, "   ") == []
    assert find(workshop, "no such word") == []
    assert find(other_workshop, "larkspur") == []


def test_of_many_some_are_shown_and_the_rest_is_a_link_away(workshop):
    for number in range(MOST + 1):
        factories.make_material(workshop, name=f"Fern card {number:02}")
    (materials,) = find(workshop, "fern")
    assert len(materials.rows) == MOST
    assert materials.more == reverse("catalogue:material_list", args=[workshop.slug])


@pytest.mark.parametrize("text", ["larkspur", "", "%", "_", "'; --", "\x00", "<b>", "x" * 5000])
def test_the_page_bears_every_text(client, workshop, everything, text):
    answer = client.get(reverse("pricing:search", args=[workshop.slug]), {"q": text})
    assert answer.status_code == 200
    assert "<b>" not in answer.content.decode().partition("<main")[2]


def test_the_page_links_to_what_was_found(client, workshop, everything):
    page = client.get(reverse("pricing:search", args=[workshop.slug]), {"q": "larkspur"})
    text = page.content.decode()
    assert reverse("pricing:order", args=[workshop.slug, everything.pk]) in text
    assert "archived" in text


def test_more_rows_ask_no_more_questions(client, workshop, everything, count_queries):
    address = reverse("pricing:search", args=[workshop.slug])
    client.get(address, {"q": "larkspur"})
    with count_queries() as few:
        client.get(address, {"q": "larkspur"})
    for number in range(5):
        factories.make_material(workshop, name=f"Larkspur {number}")
        make_quote(workshop, title=f"Larkspur {number}")
    with count_queries() as many:
        client.get(address, {"q": "larkspur"})
    assert len(many) == len(few)
