"""Entry of a fair: days, costs that are expenses too, items, float, a day's evening."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.expenses.models import Expense
from pricing.calc.spending.tax_year import TaxYear
from pricing.fairs import bundle_views
from pricing.fairs.models import Fair, FairCost
from pricing.orders.services import accept
from pricing.prices.models import PriceListEntry
from pricing.tax_year.inputs import tills_of
from tests.catalogue.page_forms import forms_of
from tests.factories import make_channel, make_recipe, today
from tests.pricing.fair_rows import make_fair, make_item, make_sale
from tests.pricing.quotes import make_line, make_quote, sent_quote


def rows(prefix, *rows):
    """Rows of a form as a browser sends them."""
    data = {f"{prefix}-TOTAL_FORMS": len(rows), f"{prefix}-INITIAL_FORMS": 0}
    for place, row in enumerate(rows):
        data |= {f"{prefix}-{place}-{name}": value for name, value in row.items()}
    return data


def address(name, fair, *more):
    return reverse(f"pricing:{name}", args=[fair.workshop.slug, fair.pk, *more])


@pytest.fixture
def fair(workshop):
    return make_fair(workshop)


def test_a_fair_is_entered_with_its_days(client, workshop):
    channel = make_channel(workshop)
    data = {"name": "Mill market", "state": "maybe", "channel": channel.pk, "drive_hours": "1:30"}
    two = [
        {"held_on": "2026-12-05", "opens": "10:00", "closes": "16:30"},
        {"held_on": "2026-12-06", "opens": "9.30", "closes": "15:00"},
    ]
    new = reverse("pricing:fair_new", args=[workshop.slug])
    client.post(new, data | rows("days", *two))
    fair = Fair.objects.get()
    assert (fair.drive_hours, fair.orders_share) == (Decimal("1.5"), Decimal("0.5"))
    assert [day.opens for day in fair.days.in_order()] == [datetime.time(10), datetime.time(9, 30)]
    # dates change places; the days stay the same rows
    first, last = fair.days.in_order()
    swapped = [
        {"row": first.pk, "held_on": "2026-12-06", "opens": "10:00", "closes": "16:30"},
        {"row": last.pk, "held_on": "2026-12-05", "opens": "9:30", "closes": "15:00"},
    ]
    edit = address("fair_edit", fair)
    client.post(edit, data | rows("days", *swapped) | {"edit_number": 0})
    assert [day.pk for day in fair.days.in_order()] == [last.pk, first.pk]


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ([("2026-12-05", "10:00", "09:00")], "Enter a time after it opens."),
        ([("2026-12-05", "10:00", "12:00")] * 2, "Two days have the same date."),
        ([("2026-12-05", "ten", "12:00")], "Enter a time, like 9:30."),
    ],
)
def test_days_that_cannot_be_are_refused_and_kept_as_typed(client, workshop, days, said):
    typed = [dict(zip(("held_on", "opens", "closes"), day, strict=True)) for day in days]
    page = client.post(
        reverse("pricing:fair_new", args=[workshop.slug]),
        {"name": "Mill market", "state": "maybe"} | rows("days", *typed),
    )
    assert page.status_code == 422
    assert said in page.content.decode()
    assert "Mill market" in page.content.decode()
    assert not Fair.objects.exists()


def test_a_day_with_sales_stays(client, fair):
    make_sale(fair.days.get(), (make_item(fair, make_recipe(fair.workshop)), 1))
    data = {"name": "Alder", "state": "going", "edit_number": 0}
    page = client.post(address("fair_edit", fair), data | rows("days"))
    assert "has sales, so it stays" in page.content.decode()
    assert fair.days.count() == 1


def test_a_cost_that_was_paid_is_typed_once_and_is_an_expense_too(client, fair):
    data = rows(
        "costs",
        {"kind": "stall", "amount": "130", "paid_on": str(today()), "what": "Table 12"},
        {"kind": "parking", "amount": "6", "day": fair.days.get().pk, "from_till": "on"},
    )
    client.post(address("fair_costs", fair), data | {"edit_number": 0})
    stall, parking = fair.costs.order_by("pk")
    assert (stall.amount, stall.counted) == (None, 130)
    expense = Expense.objects.get()
    assert (expense.cost, expense.category, expense.purpose) == (130, "stall", "fair")
    assert parking.from_till
    # corrected on the expense's side it costs the fair so much; deleted there, nothing
    Expense.objects.update(net=120, cost=120)
    assert FairCost.objects.get(pk=stall.pk).counted == 120
    Expense.objects.update(deleted_at=timezone.now())
    assert FairCost.objects.get(pk=stall.pk).counted == 0


@pytest.mark.parametrize("costs", [0, 2])
def test_costs_are_saved_as_their_page_opens(client, fair, costs):
    for amount in range(costs):
        fair.costs.create(kind="stall", amount=amount + 1)
    page = client.get(address("fair_costs", fair))
    form = next(form for form in forms_of(page) if form.method == "post" and form.entries)
    assert client.post(address("fair_costs", fair), form.sent()).status_code == 302
    assert [cost.amount for cost in fair.costs.order_by("pk")] == [1, 2][:costs]


def test_what_is_paid_from_the_till_says_of_which_day(client, fair):
    data = rows("costs", {"kind": "food", "amount": "4", "from_till": "on"})
    page = client.post(address("fair_costs", fair), data | {"edit_number": 0})
    assert "Choose the day whose till paid it." in page.content.decode()


def test_items_come_from_the_price_list_and_last_time(client, fair, workshop):
    version = make_recipe(workshop)
    price = PriceListEntry.objects.create(
        design=version.design, version=version, channel=fair.channel, price=Decimal("6.5"),
        cost_each=3, floor_each=4, target_each=6, includes_tax=workshop.prices_include_tax,
    )  # fmt: skip
    page = client.get(address("fair_items", fair)).content.decode()
    assert version.design.name in page
    for _ in range(2):  # a second click adds nothing
        client.post(address("fair_items_add", fair), {"price": [price.pk]})
    item = fair.designs.get()
    assert (item.price, item.cost_each) == (Decimal("6.5"), 3)
    typed = {"price": "7", "table_mm": "120", "low": "2", "likely": "4", "high": "9"}
    data = {f"item-{item.pk}-{name}": value for name, value in typed.items()}
    client.post(address("fair_items", fair), data | {"edit_number": 0})
    item.refresh_from_db()
    assert (item.price, item.likely, item.least_for_show) == (7, 4, 0)
    again = client.post(address("fair_again", fair))
    new = Fair.objects.get(last_year=fair)
    assert again.url == address("fair", new)
    assert new.designs.get().table_mm == 120
    assert new.days.get().held_on.weekday() == fair.days.get().held_on.weekday()


def test_prices_are_fixed_while_a_day_is_open(client, fair):
    item = make_item(fair, make_recipe(fair.workshop))
    fair.days.update(opened_at=timezone.now())
    data = {f"item-{item.pk}-price": "9"}
    page = client.post(address("fair_items", fair), data | {"edit_number": 0})
    assert "Prices are fixed while the day is open." in page.content.decode()
    item.refresh_from_db()
    assert item.price == Decimal("6.5")


def test_a_guess_in_the_wrong_order_is_refused(client, fair):
    item = make_item(fair, make_recipe(fair.workshop))
    typed = {"price": "7", "low": "5", "likely": "4", "high": "9"}
    data = {f"item-{item.pk}-{name}": value for name, value in typed.items()}
    page = client.post(address("fair_items", fair), data | {"edit_number": 0})
    assert "in order: low, likely, high" in page.content.decode()


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"likely": "5"}, (2, 5, 10)),
        ({"likely": "5", "low": "4"}, (4, 5, 10)),
        ({"likely": "0"}, (0, 0, 0)),
        ({"likely": "2000"}, (1000, 2000, 2000)),
        ({}, (None, None, None)),
    ],
)
def test_the_likely_number_is_enough_for_a_guess(client, fair, typed, kept):
    item = make_item(fair, make_recipe(fair.workshop))
    data = {f"item-{item.pk}-{name}": value for name, value in {"price": "7", **typed}.items()}
    assert "low is then half" in client.get(address("fair_items", fair)).content.decode()
    client.post(address("fair_items", fair), data | {"edit_number": 0})
    item.refresh_from_db()
    assert item.price == 7
    assert (item.low, item.likely, item.high) == kept


def test_a_guess_without_its_likely_number_is_refused(client, fair):
    item = make_item(fair, make_recipe(fair.workshop))
    data = {f"item-{item.pk}-{name}": value for name, value in {"price": "7", "low": "5"}.items()}
    page = client.post(address("fair_items", fair), data | {"edit_number": 0})
    assert "Enter the likely number too" in page.content.decode()


def test_the_till_is_counted_and_the_day_closed_with_a_way_back(client, fair):
    day = fair.days.get()
    make_sale(day, (make_item(fair, make_recipe(fair.workshop)), 2), received=13)
    coins = rows("coins", {"value": "50", "count": "1"}, {"value": "2", "count": "1"})
    data = coins | {"edit_number": 0, "card_statement": "0", "hour_11": "30", "close": "1"}
    client.post(address("fair_day", fair, day.pk), data)
    day.refresh_from_db()
    assert day.closed_at
    assert day.hours.get().visitors == 30
    page = client.get(address("fair_day", fair, day.pk)).content.decode()
    # a float of 60 and 13 taken: 21 short with 52 counted
    assert "21.00 short" in page
    client.post(address("fair_day_reopen", fair, day.pk))
    day.refresh_from_db()
    assert day.closed_at is None
    assert day.till_difference is None


def test_over_or_short_is_booked_with_its_reason_when_the_day_is_closed(client, fair):
    day = fair.days.get()
    item = make_item(fair, make_recipe(fair.workshop))
    make_sale(day, (item, 2), received=13)
    coins = rows("coins", {"value": "50", "count": "1"}, {"value": "20", "count": "1"})
    typed = coins | {"till_reason": "a note given twice", "card_statement": ""}
    page = address("fair_day", fair, day.pk)
    # while the day is open nothing is booked
    client.post(page, typed | {"edit_number": 0})
    day.refresh_from_db()
    assert day.till_difference is None
    client.post(page, typed | {"edit_number": 1, "close": "1"})
    day.refresh_from_db()
    # a float of 60 and 13 taken: 3 short with 70 counted
    assert (day.till_difference, day.till_reason) == (-3, "a note given twice")
    shown = client.get(page).content.decode()
    assert "3.00 short on" in shown
    assert "This difference is not booked" not in shown
    after = client.get(address("fair", fair)).content.decode()
    assert "a note given twice" in after
    year = TaxYear(day.held_on, day.held_on)
    assert tills_of(fair.workshop, year) == [(day.held_on, fair.name, -3, "a note given twice")]
    # a sale that arrives late is said, and booked when the day is saved
    make_sale(day, (item, 1), received=2)
    assert "This difference is not booked" in client.get(page).content.decode()
    client.post(page, typed | {"edit_number": 2})
    day.refresh_from_db()
    assert day.till_difference == -5
    # a day nobody counted has nothing booked
    client.post(page, rows("coins") | {"edit_number": 3})
    day.refresh_from_db()
    assert day.till_difference is None
    assert tills_of(fair.workshop, year) == []


@pytest.mark.parametrize("way", ["fair_day_reopen", "fair_day_open", "fair_day_open_undo"])
def test_of_a_day_that_is_open_again_nothing_is_booked(client, fair, way):
    day = fair.days.get()
    make_item(fair, make_recipe(fair.workshop))
    coins = rows("coins", {"value": "50", "count": "1"})
    client.post(address("fair_day", fair, day.pk), coins | {"edit_number": 0, "close": "1"})
    day.refresh_from_db()
    assert day.till_difference == -10
    client.post(address(way, fair, day.pk))
    day.refresh_from_db()
    assert (day.closed_at, day.till_difference) == (None, None)


def test_the_same_coin_twice_is_refused(client, fair):
    coins = rows("coins", {"value": "2", "count": "1"}, {"value": "2.00", "count": "3"})
    page = client.post(address("fair_float", fair), coins | {"edit_number": 0})
    assert "Two rows are of the same coin." in page.content.decode()
    assert fair.coins.count() == 3


def test_what_came_home_is_counted(client, fair):
    item = make_item(fair, make_recipe(fair.workshop), planned=20)
    assert 'value="20"' in client.get(address("fair_counts", fair)).content.decode()
    client.post(address("fair_counts", fair), {f"taken_{item.pk}": 18, f"home_{item.pk}": 5})
    item.refresh_from_db()
    assert (item.taken, item.brought_home) == (18, 5)


def test_two_people_at_one_fair(client, fair):
    first = rows("coins", {"value": "1", "count": "4"})
    client.post(address("fair_float", fair), first | {"edit_number": 0})
    second = client.post(address("fair_float", fair), first | {"edit_number": 0})
    assert "Somebody else saved this" in second.content.decode()


@pytest.mark.parametrize("name", ["fair_edit", "fair_costs", "fair_items", "fair_float"])
def test_a_viewer_reads_and_changes_nothing(reader_client, fair, name):
    assert reader_client.get(address("fair", fair)).status_code == 200
    assert reader_client.get(address(name, fair)).status_code == 403


def test_a_new_workshop_is_told_how_to_begin(client, workshop):
    page = client.get(reverse("pricing:fair_list", args=[workshop.slug])).content.decode()
    assert "No fairs yet." in page


def test_the_price_page_says_what_the_stall_adds(client, workshop, fair):
    design = make_recipe(workshop).design
    FairCost.objects.create(fair=fair, amount=Decimal(60))
    old = make_fair(workshop, name="Last year", state=Fair.State.OVER)
    old.days.update(held_on=today() - datetime.timedelta(days=365))
    make_sale(old.days.get(), (make_item(old, make_recipe(workshop)), 30))
    Fair.objects.filter(pk=fair.pk).update(last_year=old)
    price = client.get(reverse("pricing:cost", args=[workshop.slug, design.pk])).content.decode()
    address_of_part = reverse("pricing:design_at_fairs", args=[workshop.slug, design.pk])
    assert f'hx-get="{address_of_part}"' in price
    part = client.get(address_of_part, headers={"HX-Request": "true"}).content.decode()
    assert "Alder green fair" in part
    assert "<html" not in part
    # 60 over the 30 of last time, and over 10
    assert "as last time" in part
    assert "2.00" in part
    assert "6.00" in part
    assert "<html" in client.get(address_of_part).content.decode()


def test_without_a_fair_the_price_page_says_nothing_of_one(client, workshop):
    design = make_recipe(workshop).design
    address_of_part = reverse("pricing:design_at_fairs", args=[workshop.slug, design.pk])
    part = client.get(address_of_part, headers={"HX-Request": "true"})
    assert part.content.decode().strip() == ""


def test_a_bundle_is_never_cheaper_than_its_lowest_price(client, fair):
    bag = make_item(fair, make_recipe(fair.workshop))
    box = make_item(fair, make_recipe(fair.workshop), price=Decimal(9), cost_each=Decimal(4))
    new = address("fair_bundle_new", fair)
    # costs and bags of two: 2 x 3.47 + 4.06 = 11.00 without fees
    typed = {"name": "Three things", f"count_{bag.pk}": 2, f"count_{box.pk}": 1}
    page = client.post(new, typed | {"price": "10.99"})
    assert "below the bundle’s lowest price" in page.content.decode()
    assert "11.00" in page.content.decode()
    assert client.post(new, typed | {"price": "19"}).status_code == 302
    bundle = fair.bundles.get()
    assert {each.item_id: each.count for each in bundle.items.all()} == {bag.pk: 2, box.pk: 1}
    again = client.post(new, typed | {"price": "19"})
    assert "There is already a bundle" in again.content.decode()
    one = client.post(new, {"name": "One", "price": "9", f"count_{bag.pk}": 1})
    assert "at least two items" in one.content.decode()
    change = address("fair_bundle", fair, bundle.pk)
    # 22.00 on the tags, 11.00 the lowest: 11 + 0.8 x 11
    assert "19.80" in client.get(change).content.decode()
    client.post(address("fair_bundle_remove", fair, bundle.pk))
    assert not fair.bundles.exists()


def test_orders_won_count_for_one_fair(client, fair, owner):
    quote = make_quote(fair.workshop)
    make_line(quote, make_recipe(fair.workshop), quantity=20)
    order = accept(quote=sent_quote(quote, owner), who="Ada Fenn", on=today(), today=today())
    page = address("fair_orders", fair)
    assert order.number in client.get(page).content.decode()
    client.post(page, {"orders": [order.pk]})
    assert fair.orders.get().order == order
    other = make_fair(fair.workshop, name="Mill market")
    assert order.number not in client.get(address("fair_orders", other)).content.decode()
    client.post(page, {})
    assert not fair.orders.exists()
    refused = client.post(page, {"orders": ["9999"]})
    assert refused.status_code == 422


def test_an_order_won_long_ago_stays_won(client, fair, owner, monkeypatch):
    quotes = [make_quote(fair.workshop) for _ in range(2)]
    for quote in quotes:
        make_line(quote, make_recipe(fair.workshop), quantity=20)
    old, new = (
        accept(quote=sent_quote(quote, owner), who="Ada Fenn", on=today(), today=today())
        for quote in quotes
    )
    page = address("fair_orders", fair)
    client.post(page, {"orders": [old.pk]})
    monkeypatch.setattr(bundle_views, "MOST_ORDERS", 1)
    assert f'value="{old.pk}"' in client.get(page).content.decode()
    assert client.post(page, {"orders": [old.pk, new.pk]}).status_code == 302
    assert set(fair.orders.values_list("order", flat=True)) == {old.pk, new.pk}


def test_on_the_day_the_table_comes_first_and_is_one_click_away(client, fair):
    def places():
        page = client.get(address("fair", fair)).content.decode()
        parts = ("before", "table", "after")
        return page, sorted(parts, key=lambda name: page.index(f'id="{name}"'))

    day = fair.days.get()
    open_table = reverse("pricing:fair_table", args=[fair.workshop.slug, fair.pk, day.pk])
    page, order = places()
    assert order == ["table", "before", "after"]
    assert open_table not in page
    fair.days.update(opened_at=timezone.now())
    make_sale(day, (make_item(fair, make_recipe(fair.workshop)), 1))
    page, order = places()
    assert order == ["table", "after", "before"]
    assert "So far." in page
    assert "Go again?" not in page
    assert f'href="{open_table}">Open the table' in page
    fair.days.update(closed_at=timezone.now())
    page, order = places()
    assert order == ["after", "table", "before"]
    assert open_table not in page
    assert "Go again?" in page
