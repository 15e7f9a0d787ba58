"""The page on which an order is made: cut as one, bought for, how far stock goes."""

import datetime
import math
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.sheet_plans.services import sheet_planner
from catalogue.stock.services import put_on_shelf
from pricing.making.batches import left_by_line, make_order_batch, progress_of
from pricing.making.inputs import made_together, to_make
from pricing.orders.models import Order, OrderNeed
from pricing.orders.services import accept
from pricing.quotes.models import Quote
from tests.factories import add_fixing, make_material, make_pack, make_recipe, make_supplier, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


def needed(quote):
    Quote.objects.filter(pk=quote.pk).update(needed_on=today() + 60 * DAY)
    return quote


def an_order(workshop, owner, version, quantity=20, **more):
    quote = needed(make_quote(workshop))
    make_line(quote, version, quantity, **more)
    sent = sent_quote(quote, owner)
    return accept(quote=sent, who="Ada Fenn", on=today(), today=today())


@pytest.fixture
def card(workshop):
    supplier = make_supplier(workshop, name="Paper mill", carriage=Decimal(6),
                             carriage_free_from=Decimal(100))  # fmt: skip
    material = make_material(workshop, name="Sage card", supplier=supplier)
    make_pack(material)
    return material


@pytest.fixture
def version(workshop, card):
    return make_recipe(workshop, card)


@pytest.fixture
def order(workshop, owner, version):
    return an_order(workshop, owner, version)


def again(order):
    return Order.objects.with_people().get(pk=order.pk)


def making(order):
    row = again(order)
    alone = made_together([row], sheet_planner())
    return alone, to_make(row, alone, today(), left_by_line(progress_of(row), alone.lines))


def at(name, order, *keys):
    return reverse(f"pricing:{name}", args=[order.workshop.slug, order.pk, *keys])


def test_what_to_buy_is_what_stock_lacks_in_whole_packs(order, card):
    (need,) = order.needs.all()
    _, made = making(order)
    (buy,) = made.suppliers
    pack = card.packs.get()
    (row,) = buy.packs
    assert row[2] == math.ceil(need.amount / pack.quantity)
    assert buy.postage == 6
    assert buy.to_free == 100 - buy.goods
    assert made.cash == buy.total
    assert buy.order_by < made.start_on < today() + 60 * DAY


def test_what_other_orders_reserved_is_not_there(workshop, owner, order, version, card):
    (need,) = order.needs.all()
    put_on_shelf(material=card, amount=need.amount, cost=Decimal(5), moved_on=today(),
                 today=today())  # fmt: skip
    _, made = making(order)
    assert made.suppliers == ()
    an_order(workshop, owner, version)
    _, made = making(order)
    (buy,) = made.suppliers
    assert buy.packs[0][2] >= 1


def test_the_line_that_runs_out_first_comes_first(workshop, owner, card):
    ribbon = make_material(workshop, name="Ribbon", kind="length", width_mm=None, height_mm=None)
    make_pack(ribbon)
    plain, tied = make_recipe(workshop, card), make_recipe(workshop, card)
    add_fixing(tied, ribbon)
    quote = needed(make_quote(workshop))
    make_line(quote, plain, 10)
    make_line(quote, tied, 12)
    order = accept(quote=sent_quote(quote, owner), who="A", on=today(), today=today())
    for material, amount in ((card, 100), (ribbon, 5)):
        put_on_shelf(material=material, amount=Decimal(amount), cost=Decimal(5),
                     moved_on=today(), today=today())  # fmt: skip
    _, made = making(order)
    first, last = made.covered
    # 12 with 1 m each (and spares) against 5 m
    assert (first.of, first.first) == (12, "Ribbon")
    assert first.count in (4, 5)
    assert (last.of, last.count, last.first) == (10, 10, "")


def test_what_is_made_needs_no_stock_any_more(order, card):
    put_on_shelf(material=card, amount=Decimal(2), cost=Decimal(5), moved_on=today(),
                 today=today())  # fmt: skip
    (line,) = order.quote.lines.kept()
    make_order_batch(
        order=order, line=line, quantity=12, made_on=today(), today=today(),
        materials={card.pk: Decimal(2)}, minutes=Decimal(10),
    )  # fmt: skip
    (row,) = making(order)[1].covered
    assert (row.of, row.count, row.first) == (8, 0, "Sage card")


def test_orders_cut_together_take_no_more_sheets(workshop, owner, version, order):
    other = an_order(workshop, owner, version, quantity=7)
    planner = sheet_planner()
    apart = [made_together([again(each)], planner) for each in (order, other)]
    both = made_together([again(order), again(other)], planner)
    assert both.cost.sheets <= sum(each.cost.sheets for each in apart)
    assert both.cost.quantity == 27


def test_one_cutting_plan_over_orders(client, workshop, owner, version, order):
    other = an_order(workshop, owner, version, quantity=7)
    page = client.get(at("order_making", order) + f"?also={other.pk}").content.decode()
    assert "Create cutting plan for 2 orders" in page
    key = str(uuid.uuid4())
    for _ in range(2):
        answer = client.post(at("order_plan_new", order), {"form_key": key, "also": [other.pk]})
    plan = CuttingPlan.objects.get()
    assert answer.url.endswith(f"/{plan.pk}/")
    assert plan.name == f"Orders {order.number}, {other.number}"
    # equal items are cut as one
    assert [each["quantity"] for each in plan.asked["designs"]] == [27]
    assert plan.name in client.get(at("order_making", other)).content.decode()


def test_a_made_up_order_is_left_out(client, order):
    answer = client.get(at("order_making", order) + "?also=999999&also=x")
    assert answer.status_code == 200


def test_the_page_shows_an_order_whose_needs_are_not_known(client, order):
    OrderNeed.objects.all().delete()
    assert client.get(at("order_making", order)).status_code == 200


def test_the_page_takes_as_many_queries_for_many_lines(
    client, workshop, owner, card, count_queries
):
    def opened(lines):
        quote = needed(make_quote(workshop))
        for _ in range(lines):
            make_line(quote, make_recipe(workshop, card), 5)
        row = accept(quote=sent_quote(quote, owner), who="A", on=today(), today=today())
        with count_queries() as seen:
            client.get(at("order_making", row))
        row.delete()
        return len(seen)

    assert opened(4) <= opened(2) + 1
