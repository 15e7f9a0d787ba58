"""What shops sold is in the accountant's pack: each settlement, and among the sales of the year."""

import datetime
import uuid
from decimal import Decimal

import pytest

from pricing.calc.finished_stock.worth import NOTHING
from pricing.consignment.models import Shop
from pricing.consignment.services import move_items, save_shop, settle_shop, undo_settlement
from pricing.finished_stock.services import enter_opening, item_for
from pricing.tax_year.inputs import year_of
from pricing.tax_year.pack import read_me
from pricing.tax_year.tables import year_tables
from tests.factories import make_recipe

D = Decimal
FIRST = datetime.date(2025, 4, 6)
LAST = datetime.date(2026, 4, 5)
TODAY = datetime.date(2026, 5, 1)
DAY = datetime.timedelta(days=1)


def on(item, shop, date, count, price, note=""):
    return settle_shop(
        shop=shop, sold={item: (count, D(price))}, on=date, today=TODAY, note=note, by=None,
        form_key=uuid.uuid4(),
    )  # fmt: skip


@pytest.fixture
def year(workshop):
    """A year from 6 April with settlements on both sides of each border, and one undone."""
    workshop.tax_year_month, workshop.tax_year_day = 4, 6
    workshop.save()
    item = item_for(make_recipe(workshop))
    before = FIRST - 9 * DAY
    enter_opening(item=item, quantity=90, on=before, today=TODAY, worth=NOTHING)
    shop = save_shop(workshop=workshop, shop=Shop(kept_share=D("0.35")), name="Reed & Rush")
    move_items(
        shop=shop, counts={item: 90}, to_shop=True, on=before, today=TODAY, by=None,
        form_key=uuid.uuid4(),
    )  # fmt: skip
    on(item, shop, FIRST - DAY, 1, "100")
    # 3 x 3.33 is 9.99, of which 35 % is 3.4965
    on(item, shop, FIRST, 3, "3.33", note="April")
    undo_settlement(settlement=on(item, shop, FIRST + DAY, 2, "50"), by=None)
    # the share of the day stays with what was settled by it
    shop.kept_share = D("0.4")
    save_shop(workshop=workshop, shop=shop, name="Reed & Rush", edit_number=shop.edit_number)
    on(item, shop, LAST, 2, "5.00")
    on(item, shop, LAST + DAY, 1, "200")
    return year_of(workshop, 2025)


def rows_of(workshop, year, name):
    (table,) = (each for each in year_tables(workshop, year) if each.name == name)
    return [tuple(row) for row in table.rows()]


def test_each_settlement_is_listed_with_what_the_shop_keeps(workshop, year):
    assert rows_of(workshop, year, "shops") == [
        (FIRST, "Reed & Rush", 3, D("9.99"), D("35.00"), D("3.50"), D("6.49"), "April"),
        (LAST, "Reed & Rush", 2, D("10.00"), D("40.00"), D("4.00"), D("6.00"), ""),
    ]


def test_what_shops_took_is_among_the_sales_without_a_rate(workshop, year):
    assert rows_of(workshop, year, "sales") == [
        (FIRST, "Reed & Rush", "sold by a shop", None, D("9.99"), D(0)),
        (LAST, "Reed & Rush", "sold by a shop", None, D("10.00"), D(0)),
    ]
    by_rate = rows_of(workshop, year, "sales-by-rate")
    assert by_rate[-1] == (FIRST, LAST, None, D("19.99"), D(0))


def test_the_read_me_leaves_the_tax_in_it_to_an_adviser(workshop, year):
    said = read_me(workshop, year, year_tables(workshop, year))
    assert "tax is in takings at fairs and of shops" in said
