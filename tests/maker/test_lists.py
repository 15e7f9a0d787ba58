"""Lists sort in a stable order, page within limits and shrug at odd addresses."""

import datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
import pytest
from django.template import Context, Template
from django.test import RequestFactory

from catalogue.materials.models import Material
from maker.web.lists import MOST_PER_PAGE, NUMBER, DayColumn, ListTable, count_text, show_list
from maker.workshop.models import Workshop
from tests import factories


class Shelf(ListTable):
    name = tables.Column()
    category = tables.Column()
    grammage = tables.Column()
    note = tables.Column(empty_values=(), orderable=False)

    class Meta:
        fields = ("name", "category", "grammage", "note")


class Labelled(ListTable):
    name = tables.Column(linkify=lambda record, table: f"/{table.workshop.slug}/{record.pk}/?a&b")
    category = tables.Column()
    supplier = tables.Column(accessor="supplier__name", default="nobody")
    on_hand = tables.Column(attrs=NUMBER)
    counted = tables.Column(accessor="reorder_typed_in", empty_values=())
    day = DayColumn(accessor="retired_on", default="never")

    class Meta:
        model = Material
        fields = ("name", "category", "supplier", "on_hand", "counted", "day")

    def render_counted(self, value: str, record: Material, table: Any) -> str:
        return f"<{value}{record.name[:1]}{table.workshop.slug}>"


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
        "sort=name.pk",
        "sort=a@b.test",
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
@pytest.mark.filterwarnings("error")
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


def test_the_plural_of_a_word_in_y_is_no_slip() -> None:
    assert count_text(2, "enquiry") == "2 enquiries"
    assert count_text(2, "day") == "2 days"


def labelled(rows: Any, workshop: Workshop) -> Any:
    return show_list(RequestFactory().get("/"), Labelled(rows, workshop=workshop))


def test_cells_are_written_as_the_library_writes_them(workshop: Workshop, seven: None) -> None:
    """The library's own way to a cell, which asks everything anew, is the reference."""
    Material.objects.filter(name="Card 3").update(name="Card & <b>three</b>", on_hand="1234.5")
    supplier = factories.make_supplier(workshop, name="Mill & Sons")
    Material.objects.filter(name="Card 4").update(supplier=supplier)
    rows = Material.objects.of(workshop).select_related("supplier")
    written = list(labelled(rows, workshop).written_rows())
    source = """{% for column, cell in row.items %}<td role="cell" data-label="{{ column.header }}"
{% if cell == "–" %} data-blank{% endif %}
 {{ column.attrs.td.as_html }}>{{ cell }}</td>{% if not forloop.last %}|{% endif %}{% endfor %}"""
    template = Template(source.replace("\n", ""))
    expected = [
        template.render(Context({"row": row})) for row in labelled(rows, workshop).paginated_rows
    ]
    assert [row.replace("\n", "|") for row in written] == expected
    page = "".join(written)
    for part in ("Card &amp; &lt;b&gt;three&lt;/b&gt;</a>", "Mill &amp; Sons", "nobody"):
        assert part in page


def test_a_list_says_a_choice_in_words_and_a_day_as_people_do(workshop: Workshop) -> None:
    factories.make_material(
        workshop, category=Material.Category.FIXINGS, retired_on=datetime.date(2026, 3, 1)
    )
    (written,) = labelled(Material.objects.of(workshop), workshop).written_rows()
    assert ">Fixings and trims</td>" in written
    assert ">1 Mar 2026</td>" in written


def test_writing_a_list_asks_the_database_once(
    workshop: Workshop, seven: None, django_assert_num_queries: Any
) -> None:
    table = labelled(Material.objects.of(workshop).select_related("supplier"), workshop)
    with django_assert_num_queries(1):
        list(table.written_rows())
