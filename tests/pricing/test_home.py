"""The first page of a workshop."""

from decimal import Decimal
from typing import Any

from django.test import Client

from catalogue.purchases.models import Purchase
from maker.workshop.models import Workshop
from tests import factories

HOME = "/w/marlow/"
STEPS = "Three steps to a first price"


def draft(workshop: Workshop, **fields: Any) -> Purchase:
    supplier = factories.make_supplier(workshop, name=f"Supplier {Purchase.objects.count()}")
    return Purchase.objects.create(
        workshop=workshop, supplier=supplier, bought_on=factories.today(), **fields
    )


def test_an_empty_workshop_says_what_to_do_first(client: Client, workshop: Workshop) -> None:
    page = client.get(HOME).content.decode()
    assert STEPS in page
    assert "Done" not in page
    factories.make_material(workshop)
    assert "Done" in client.get(HOME).content.decode()


def test_a_reader_of_an_empty_workshop_is_not_sent_to_write(reader_client: Client) -> None:
    page = reader_client.get(HOME).content.decode()
    assert STEPS not in page
    assert "Nothing has been made here yet" in page


def test_with_a_design_it_shows_what_is_going_on(client: Client, workshop: Workshop) -> None:
    factories.make_design(workshop, name="Fern favour bag")
    factories.make_design(workshop, name="Put away", retired_on=factories.today())
    draft(workshop)
    draft(workshop, state=Purchase.State.RECORDED)
    low = {"reorder_level": Decimal(24), "on_hand": Decimal("3.5")}
    factories.make_material(workshop, name="Moss card", **low)
    factories.make_material(workshop, name="Plenty", reorder_level=Decimal(2), on_hand=Decimal(9))
    page = client.get(HOME).content.decode()
    assert STEPS not in page
    assert "Fern favour bag" in page
    assert "Put away" not in page
    assert "Supplier 0" in page
    assert "Supplier 1" not in page
    assert "Moss card" in page
    assert "3.5 of 24 sheets" in page
    assert "Plenty" not in page


def test_the_newest_designs_come_first(client: Client, workshop: Workshop) -> None:
    for number in range(8):
        factories.make_design(workshop, name=f"Design no {number}")
    designs = client.get(HOME).context["designs"]
    assert [design.name for design in designs] == [f"Design no {n}" for n in (7, 6, 5, 4, 3, 2)]


def test_nothing_of_another_workshop_is_shown(
    client: Client, workshop: Workshop, other_workshop: Workshop
) -> None:
    factories.make_design(workshop)
    factories.make_design(other_workshop, name="Foreign design")
    factories.make_material(
        other_workshop, name="Foreign card", reorder_level=Decimal(5), on_hand=Decimal(0)
    )
    draft(other_workshop)
    page = client.get(HOME).content.decode()
    assert "Foreign" not in page
    assert "Supplier 0" not in page


def test_strangers_and_nobody_stay_outside(
    stranger_client: Client, anonymous_client: Client, workshop: Workshop
) -> None:
    assert stranger_client.get(HOME).status_code == 404
    assert anonymous_client.get(HOME)["Location"] == "/sign-in/?next=/w/marlow/"


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    def add() -> None:
        factories.make_design(workshop)
        factories.make_material(workshop, reorder_level=Decimal(5))
        draft(workshop)

    add()
    with count_queries() as few:
        client.get(HOME)
    for _ in range(5):
        add()
    with count_queries() as many:
        client.get(HOME)
    assert len(many) == len(few)
