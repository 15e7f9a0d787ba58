"""Lists sort in a stable order, page within limits and shrug at odd addresses."""

from decimal import Decimal
from typing import Any

import django_tables2 as tables
import pytest
from django.test import RequestFactory

from catalogue.materials.models import Material
from maker.web.lists import MOST_PER_PAGE, ListTable, count_text, show_list
from maker.workshop.models import Workshop
from tests import factories


class Shelf(ListTable):
    name = tables.Column()
    category = tables.Column()
    grammage = tables.Column()
    note = tables.Column(empty_values=(), orderable=False)

    class Meta:
        fields = ("name", "category", "grammage", "note")


@pytest.fixture
def seven(workshop: Workshop) -> None:
    for number in range(7):
        # all in one category and named backwards, so that only the key can break the tie
        factories.make_material(workshop, name=f"Card {9 - number}")


def page(workshop: Workshop, query: str, per_page: int = 3) -> Any:
    request = RequestFactory().get(f"/?{query}")
    table = Shelf(Material.objects.of(workshop), workshop=workshop)
    return show_list(request, table, per_page=per_page)


def names(table: Any) -> list[str]:
    return [row.record.name for row in table.paginated_rows]


def test_pages_of_equal_rows_never_overlap(workshop: Workshop, seven: None) -> None:
    seen = [
        name
        for number in (1, 2, 3)
        for name in names(page(workshop, f"sort=category&page={number}"))
    ]
    assert sorted(seen) == [f"Card {number}" for number in range(3, 10)]
    keys = [Material.objects.get(name=name).pk for name in seen]
    assert keys == sorted(keys)


def test_the_last_first_keeps_the_later_of_a_tie_first(workshop: Workshop, seven: None) -> None:
    keys = [row.record.pk for row in page(workshop, "sort=-category", 10).paginated_rows]
    assert keys == sorted(keys, reverse=True)


def test_a_column_sorts_both_ways(workshop: Workshop, seven: None) -> None:
    up, down = names(page(workshop, "sort=name", 10)), names(page(workshop, "sort=-name", 10))
    assert up == sorted(up)
    assert down == up[::-1]


def test_capitals_make_no_difference_to_the_order(workshop: Workshop) -> None:
    for name in ("twine", "Card", "brads", "Ribbon"):
        factories.make_material(workshop, name=name)
    ordered = ["brads", "Card", "Ribbon", "twine"]
    assert names(page(workshop, "sort=name", 10)) == ordered
    assert names(page(workshop, "sort=-name", 10)) == ordered[::-1]
    assert [row.name for row in Material.objects.of(workshop).by_name()] == ordered


def test_what_is_not_known_comes_last_both_ways(workshop: Workshop) -> None:
    for name, grammage in (("a", None), ("b", 300), ("c", 90)):
        factories.make_material(workshop, name=name, grammage=grammage)
    assert names(page(workshop, "sort=grammage", 10)) == ["c", "b", "a"]
    assert names(page(workshop, "sort=-grammage", 10)) == ["b", "c", "a"]


@pytest.mark.parametrize(
    "query",
    [
        "sort=note",
        "sort=--name",
        "sort=nothing",
        "sort=workshop__memberships__user__password",
        "sort=",
        "sort=name,note,name",
        "page=0",
        "page=-1",
        "page=one",
        "page=²",
        f"page={'9' * 5000}",
        "per_page=0",
        "per_page=-5",
        "page=1%00",
    ],
)
def test_an_odd_address_shows_the_first_page(workshop: Workshop, seven: None, query: str) -> None:
    assert len(names(page(workshop, query))) in (1, 3)


def test_a_page_after_the_last_is_the_last(workshop: Workshop, seven: None) -> None:
    table = page(workshop, "page=99")
    assert (table.page.number, len(names(table))) == (3, 1)


def test_no_address_can_ask_for_everything_at_once(workshop: Workshop, seven: None) -> None:
    assert page(workshop, "per_page=100000").paginator.per_page == MOST_PER_PAGE


def test_rows_are_fetched_by_page(workshop: Workshop, seven: None, count_queries: Any) -> None:
    with count_queries() as queries:
        assert len(names(page(workshop, "page=2"))) == 3
    assert [("COUNT" in query["sql"], "LIMIT 3" in query["sql"]) for query in queries] == [
        (True, False),
        (False, True),
    ]


def test_money_and_amounts_are_written_as_the_workshop_does(workshop: Workshop) -> None:
    workshop.locale = "de_DE"
    table = Shelf(Material.objects.none(), workshop=workshop)
    assert "1.234,50" in table.money(Decimal("1234.5"))
    assert table.amount(Decimal("2.5"), "m") == "2,5 m"


@pytest.mark.parametrize(
    ("count", "text"), [(0, "no receipts"), (1, "1 receipt"), (37, "37 receipts")]
)
def test_the_count_is_said_in_words(count: int, text: str) -> None:
    assert count_text(count, "receipt") == text
