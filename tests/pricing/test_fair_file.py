"""Fairs go out and in with the workshop file, whole; what does not agree is refused."""

import datetime
import json
from decimal import Decimal

import pytest

from catalogue.expenses.models import Expense
from maker.calc.strict_json import WrongJson
from pricing.fair_sales.models import TablePrice
from pricing.fairs.models import (
    Fair,
    FairBundle,
    FairBundleItem,
    FairCoin,
    FairCost,
    FairHour,
    FairOrder,
    FairSale,
)
from pricing.fairs.services import save_coins
from pricing.orders.services import accept
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_recipe, today
from tests.pricing.fair_rows import make_fair, make_item, make_sale
from tests.pricing.quotes import make_line, make_quote, sent_quote


@pytest.fixture
def fair(workshop, owner):
    """A fair of two days with a row of every kind."""
    version = make_recipe(workshop)
    quote = make_quote(workshop, title="Favour boxes")
    make_line(quote, version, quantity=20)
    order = accept(quote=sent_quote(quote, owner), who="Ada Fenn", on=today(), today=today())
    before = make_fair(workshop, name="Alder green fair of last year", state=Fair.State.OVER)
    fair = make_fair(workshop, days=2, channel=before.channel, last_year=before)
    first, last = fair.days.in_order()
    last.opens = datetime.time(9, 30)
    last.save()
    item = make_item(fair, version, choices={}, taken=12, brought_home=3)
    bundle = FairBundle.objects.create(fair=fair, name="Two bags", price=Decimal(12))
    FairBundleItem.objects.create(bundle=bundle, item=item, count=2)
    sale = make_sale(first, (item, 2), received=Decimal(12), bundle_off=Decimal(1))
    sale.lines.update(bundle=bundle)
    make_sale(last, kind=FairSale.Kind.ORDER, order=order, received=Decimal(20))
    back = make_sale(first, (item, 1), kind=FairSale.Kind.REFUND, received=Decimal("-6.5"))
    back.lines.update(came_back=True, is_spoiled=True)
    FairHour.objects.create(day=first, hour=10, visitors=40)
    TablePrice.objects.create(day=first, item=item, price=Decimal("6.50"))
    TablePrice.objects.create(day=first, bundle=bundle, price=Decimal(12), lowest=Decimal("7.1"))
    FairCoin.objects.create(fair=fair, day=first, value=Decimal("0.50"), count=17)
    expense = Expense.objects.create(
        workshop=workshop, paid_on=today(), what="Table 12", net=Decimal(130), cost=Decimal(130)
    )
    FairCost.objects.create(fair=fair, expense=expense)
    FairCost.objects.create(fair=fair, day=last, kind="parking", amount=Decimal(6), from_till=True)
    FairOrder.objects.create(fair=fair, order=order)
    return fair


def test_fairs_go_out_and_in_with_the_workshop_file(workshop, fair):
    before = export_workshop(workshop)
    older, newer = before["fairs"]
    assert older["key"] == newer["last_year"]
    assert [len(newer[name]) for name in ("days", "sales", "coins", "costs", "orders")] == [
        2, 3, 4, 2, 1,
    ]  # fmt: skip
    copy = import_workshop(json.loads(json.dumps(before)), name="Second Mill")
    assert export_workshop(copy)["fairs"] == before["fairs"]
    # both have the same sales, and a sale sent again meets its own
    assert FairSale.objects.of(workshop).count() == FairSale.objects.of(copy).count() == 3
    assert FairSale.objects.values("uuid").distinct().count() == 6


def test_coins_counted_again_leave_the_file_as_it_was(workshop, fair):
    before = export_workshop(workshop)["fairs"]
    coins = dict(fair.coins.filter(day__isnull=True).values_list("value", "count"))
    save_coins(fair=fair, coins=coins, edit_number=fair.edit_number)
    after = export_workshop(workshop)["fairs"]
    assert after[1]["coins"] == before[1]["coins"]


def line_of(fair):
    """The first line of the first sale."""
    return fair["sales"][0]["lines"][0]


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda fair: fair["days"][0].update(opens="18:00"), "fairs[1].days[0].closes"),
        (lambda fair: fair["days"][0].update(opens="9 o'clock"), "fairs[1].days[0].opens"),
        (
            lambda fair: fair["days"][0]["prices"][0].update(bundle="Two bags"),
            "fairs[1].days[0].prices[0].item",
        ),
        (lambda fair: fair.update(last_year="fair 9"), "fairs[1].last_year"),
        (lambda fair: fair["sales"][0].update(day=3), "fairs[1].sales[0].day"),
        (lambda fair: line_of(fair).update(item=2), "fairs[1].sales[0].lines[0].item"),
        (lambda fair: line_of(fair).update(bundle="Three"), "fairs[1].sales[0].lines[0].bundle"),
        (lambda fair: fair["designs"][0].update(version=7), "fairs[1].designs[0].version"),
        (lambda fair: fair["orders"][0].update(order=None), "fairs[1].orders[0].order"),
        (lambda fair: fair["costs"][0].update(amount="3"), "fairs[1].costs[0].amount"),
        (lambda fair: fair["costs"][0].update(from_till=True), "fairs[1].costs[0].from_till"),
    ],
)  # fmt: skip
def test_fairs_that_do_not_agree_are_refused_with_their_place(workshop, fair, change, where):
    document = json.loads(json.dumps(export_workshop(workshop)))
    change(document["fairs"][1])
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="Second Mill")
    assert refused.value.where == where


def test_an_example_with_fairs_is_removed_whole(workshop, fair):
    workshop.is_demo = True
    workshop.save()
    remove_workshop(workshop=workshop)
    assert not Fair.objects.exists()
