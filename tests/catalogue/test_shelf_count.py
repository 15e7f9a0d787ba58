"""Counting many materials at once: what was counted is entered once, and can be taken back."""

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.stock.ledger import AlreadyEntered, CannotBeTakenBack
from catalogue.stock.models import StockEntry
from catalogue.stock.services import (
    count_shelf,
    reverse_count,
)
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.pages import sent_to_sign_in, text_of
from tests.catalogue.receipts import TODAY, make_receipt

COUNT = "/w/marlow/stock/count/"


@pytest.fixture
def shelf(workshop: Workshop) -> list[Material]:
    """Ten sheets for 5.00, 250 ml for 2.50, 40 brads for 4.00."""
    rows = [
        factories.make_material(workshop, name="Fern card"),
        factories.make_material(workshop, name="Glue", kind="volume", category="glue"),
        factories.make_material(workshop, name="Brads", kind="count", category="fixings"),
    ]
    bought = (("10", "5.00"), ("250", "2.50"), ("40", "4.00"))
    make_receipt(workshop, *((row, *what) for row, what in zip(rows, bought, strict=True)))
    return rows


def sent(shelf: list[Material], *amounts: str, **fields: str) -> dict[str, str]:
    counted = {f"m{row.pk}": amount for row, amount in zip(shelf, amounts, strict=False)}
    return {
        "form_key": str(uuid.uuid4()),
        "counted_on": "2026-02-28",
        "reason": "year end",
        **counted,
        **fields,
    }


def on_hand(shelf: list[Material]) -> list[Decimal]:
    return [Material.objects.get(pk=row.pk).on_hand for row in shelf]


def test_what_was_counted_is_entered_and_listed(client: Client, shelf: list[Material]) -> None:
    answer = client.post(COUNT, sent(shelf, "8", "250 ml", ""))
    assert answer.status_code == 302
    entry, agreed = StockEntry.objects.filter(kind="counted").order_by("pk")
    # one that agrees is a count too: what comes later must not change it
    assert (agreed.material, agreed.change, agreed.counted) == (shelf[1], 0, 250)
    assert (entry.material, entry.change, entry.reason) == (shelf[0], -2, "year end")
    assert entry.made_by is not None
    page = text_of(client.get(answer["Location"]))
    for words in ("Fern card", "10 sheets", "8 sheets", "−2 sheets", "−€1.00", "Year end."):
        assert words in page
    assert "±0 ml" in page
    assert "Brads" not in page
    assert on_hand(shelf) == [8, 250, 40]


def test_nothing_and_more_than_the_ledger_are_counts_too(
    client: Client, shelf: list[Material]
) -> None:
    client.post(COUNT, sent(shelf, "0", "0.3 l", "41"))
    assert on_hand(shelf) == [0, 300, 41]


def test_a_double_click_counts_once(client: Client, shelf: list[Material]) -> None:
    typed = sent(shelf, "8", "200", "39")
    first = client.post(COUNT, typed)
    second = client.post(COUNT, typed)
    assert first["Location"] == second["Location"]
    assert StockEntry.objects.filter(kind="counted").count() == 3
    assert "already saved" in text_of(client.get(second["Location"]))


def test_a_whole_count_is_taken_back_once(client: Client, shelf: list[Material]) -> None:
    where = client.post(COUNT, sent(shelf, "8", "200", "39"))["Location"]
    first = StockEntry.objects.filter(kind="counted").first()
    assert first is not None
    # one of them was taken back by itself before
    client.post(f"/w/marlow/stock/{first.pk}/take-back/")
    page = text_of(client.post(f"{where}take-back/", follow=True))
    assert "Stock count undone" in page
    assert "none of this counts any more" in page
    assert on_hand(shelf) == [10, 250, 40]
    assert StockEntry.objects.filter(kind="reversed").count() == 3
    assert "already undone" in text_of(client.post(f"{where}take-back/", follow=True))
    assert StockEntry.objects.filter(kind="reversed").count() == 3


def test_the_services_refuse_what_was_done_before(
    workshop: Workshop, shelf: list[Material]
) -> None:
    key = uuid.uuid4()
    asked: dict[str, Any] = {
        "workshop": workshop,
        "counted": {shelf[0].pk: Decimal(3)},
        "counted_on": TODAY,
        "today": TODAY,
        "reason": "x",
        "form_key": key,
    }
    assert len(count_shelf(**asked)) == 1
    with pytest.raises(AlreadyEntered):
        count_shelf(**asked)
    reverse_count(workshop=workshop, form_key=key)
    with pytest.raises(CannotBeTakenBack):
        reverse_count(workshop=workshop, form_key=key)


def test_a_count_of_an_earlier_day_stands_against_the_ledger_of_that_day(
    client: Client, shelf: list[Material]
) -> None:
    make_receipt(shelf[0].workshop, (shelf[0], "20", "10.00"), bought_on=TODAY)
    client.post(COUNT, sent(shelf, "9"))
    assert on_hand(shelf)[0] == 29


def test_one_wrong_entry_enters_nothing(client: Client, shelf: list[Material]) -> None:
    answer = client.post(COUNT, sent(shelf, "8", "3 m", "39"))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [f"m{shelf[1].pk}"]
    assert 'value="3 m"' in text_of(answer)
    assert not StockEntry.objects.filter(kind="counted").exists()


def test_a_count_needs_no_words(client: Client, shelf: list[Material]) -> None:
    entries = text_of(client.get(COUNT)).split('name="form_key"')[1]
    # of the reason; of all others the page says once that they may be blank
    assert entries.count("(optional)") == 1
    answer = client.post(COUNT, sent(shelf, "8", reason=" "), follow=True)
    assert "Stock count. What was counted is in stock." in text_of(answer)
    assert StockEntry.objects.get(kind="counted").reason == "stock count"


@pytest.mark.parametrize(
    ("amounts", "fields", "told"),
    [
        ((), {}, "Nothing counted yet"),
        (("8",), {"counted_on": "2126-01-01"}, "in the future"),
        (("8",), {"counted_on": "1066-01-01"}, "very long ago"),
        (("8",), {"counted_on": ""}, "required"),
        (("8",), {"form_key": ""}, "required"),
        (("8",), {"form_key": "again"}, "valid"),
        (("-8",), {}, "below zero"),
        (("1e9",), {}, "a number we can read"),
        (("8" * 300,), {}, "too many digits"),
    ],
)
def test_what_cannot_be_meant_is_explained(
    client: Client,
    shelf: list[Material],
    amounts: tuple[str, ...],
    fields: dict[str, str],
    told: str,
) -> None:
    answer = client.post(COUNT, sent(shelf, *amounts, **fields))
    assert answer.status_code == 422
    assert answer.context["form"].errors
    if told not in ("required", "valid"):
        assert told in text_of(answer)
    assert StockEntry.objects.count() == 3


def test_the_list_can_be_narrowed_and_what_is_not_shown_is_not_counted(
    client: Client, shelf: list[Material]
) -> None:
    page = text_of(client.get(f"{COUNT}?category=glue"))
    assert "Glue" in page
    assert "Expected: 250 ml." in page
    assert "Fern card" not in page
    client.post(f"{COUNT}?category=glue", sent(shelf, "1", "200", "1"))
    assert on_hand(shelf) == [10, 200, 40]
    assert client.get(f"{COUNT}?category=gold&search=%00").status_code == 200


def test_another_workshops_material_is_not_counted(
    client: Client, other_workshop: Workshop, shelf: list[Material]
) -> None:
    theirs = factories.make_material(other_workshop)
    answer = client.post(COUNT, sent([theirs], "5"))
    assert answer.status_code == 422
    workshop = shelf[0].workshop
    count_shelf(
        workshop=workshop,
        counted={theirs.pk: Decimal(5), shelf[0].pk: Decimal(5)},
        counted_on=TODAY,
        today=TODAY,
        reason="x",
        form_key=uuid.uuid4(),
    )
    assert not theirs.stock_entries.exists()


def test_who_gets_in(
    client: Client,
    helper_client: Client,
    reader_client: Client,
    stranger_client: Client,
    anonymous_client: Client,
    shelf: list[Material],
) -> None:
    assert sent_to_sign_in(anonymous_client.get(COUNT))
    statuses = [one.get(COUNT).status_code for one in (helper_client, reader_client)]
    assert statuses == [200, 403]
    assert stranger_client.get(COUNT).status_code == 404
    where = client.post(COUNT, sent(shelf, "8"))["Location"]
    assert reader_client.get(where).status_code == 200
    assert "Undo stock count" not in reader_client.get(where).content.decode()
    assert reader_client.post(f"{where}take-back/").status_code == 403
    assert stranger_client.get(where).status_code == 404
    assert stranger_client.post(f"{where}take-back/").status_code == 404
    assert client.get(f"{COUNT}{uuid.uuid4()}/").status_code == 404
    assert client.post(f"{COUNT}{uuid.uuid4()}/take-back/").status_code == 404


def test_more_materials_cost_no_more_queries(
    client: Client, workshop: Workshop, shelf: list[Material], count_queries: Any
) -> None:
    client.get(COUNT)
    with count_queries() as few:
        client.get(COUNT)
    for _ in range(5):
        factories.make_material(workshop)
    with count_queries() as many:
        client.get(COUNT)
    assert len(few) == len(many)


def test_an_empty_workshop_has_nothing_to_count(client: Client, workshop: Workshop) -> None:
    assert "no materials to count" in client.get(COUNT).content.decode()


def test_a_long_count_is_taken_page_by_page_and_nothing_typed_is_lost(
    client: Client, workshop: Workshop, shelf: list[Material]
) -> None:
    for number in range(60):
        factories.make_material(workshop, name=f"Card {number:02}")
    first, second = (client.get(f"{COUNT}?page={number}") for number in (1, 2))
    shown = [set(page.context["form"].names.values()) for page in (first, second)]
    every = set(Material.objects.of(workshop).values_list("pk", flat=True))
    assert shown[0].isdisjoint(shown[1])
    assert shown[0] | shown[1] == every
    # a page on which nothing was typed is only left
    on = client.post(COUNT, {**sent(shelf, "", "", ""), "reason": "", "page": "2"})
    assert on["Location"] == f"{COUNT}?page=2"
    # what was typed is counted on the way; date and reason go along
    on = client.post(COUNT, {**sent(shelf, "8", "", ""), "page": "2"}, follow=True)
    assert "Counted 1 material." in text_of(on)
    assert on.context["form"]["reason"].value() == "year end"
    assert on.context["page"].number == 2
    assert on_hand(shelf) == [8, 250, 40]
    # what cannot be read stays as typed, on its own page
    wrong = client.post(f"{COUNT}?page=2", {**sent(shelf, "much"), "page": "1"})
    assert wrong.status_code == 422
    assert 'value="much"' in wrong.content.decode()
    assert wrong.context["page"].number == 2


def test_a_material_added_during_a_count_moves_no_entry_to_another(
    client: Client, workshop: Workshop, shelf: list[Material]
) -> None:
    typed = sent(shelf, "8", "200", "39")
    for number in range(60):
        factories.make_material(workshop, name=f"A new card {number:02}")
    assert client.post(COUNT, typed).status_code == 302
    assert on_hand(shelf) == [8, 200, 39]
