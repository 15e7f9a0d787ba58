"""A workshop's currency stays once it has any amount in it: amounts are not converted."""

import datetime
import uuid
from decimal import Decimal

import pytest

from catalogue.expenses.services import ExpenseInput, add_expense
from maker.workshop.models import Workshop
from maker.workshop.services import CurrencyInUse, save_settings
from pricing.calc.finished_stock.worth import Worth
from pricing.enquiries.models import Enquiry
from pricing.fairs.models import Fair, FairCoin, FairCost
from pricing.finished_stock.services import enter_opening, item_for
from pricing.quotes.models import Quote
from pricing.spending.models import Budget
from tests.factories import make_design, make_material, make_supplier, make_version, today
from tests.pricing.quotes import make_customer, make_line, make_quote

D = Decimal


def an_expense(workshop):
    add_expense(
        workshop=workshop, today=today(), by=None, form_key=uuid.uuid4(),
        expense=ExpenseInput(paid_on=today(), what="Rent", net=D(50), category="rent"),
    )  # fmt: skip


def a_version(workshop):
    return make_version(make_design(workshop))


def a_price_on_a_quote(workshop):
    make_line(make_quote(workshop), a_version(workshop), price_asked=D(5))


def a_delivery_on_a_quote(workshop):
    Quote.objects.filter(pk=make_quote(workshop).pk).update(delivery=D(5))


def a_discount_on_a_quote(workshop):
    make_quote(workshop).extras.create(kind="discount", reason="friend", amount=D(5))


def a_budget_in_an_enquiry(workshop):
    Enquiry.objects.create(customer=make_customer(workshop), budget_each=D(5), asked_on=today())


def a_fair(workshop, **fields):
    return Fair.objects.create(workshop=workshop, name="Alder green", **fields)


def an_item_at_a_fair(workshop):
    a_fair(workshop).designs.create(version=a_version(workshop), price=D(5))


def a_cost_of_a_fair(workshop):
    FairCost.objects.create(fair=a_fair(workshop), kind="stall", amount=D(60))


def a_float_of_a_fair(workshop):
    FairCoin.objects.create(fair=a_fair(workshop), value=D(2), count=10)


def a_drive_to_a_fair(workshop):
    a_fair(workshop, rate_per_distance=D("0.4"))


def a_statement_of_a_fair(workshop):
    hours = {"opens": datetime.time(10), "closes": datetime.time(17)}
    a_fair(workshop).days.create(held_on=today(), card_statement=D(80), **hours)


def a_finished_item(workshop):
    item = item_for(a_version(workshop))
    enter_opening(item=item, quantity=1, on=today(), today=today(), worth=Worth(D(1), D(0), D(0)))


def a_monthly_budget(workshop):
    Budget.objects.create(workshop=workshop, category="paper", starts_on=today(), amount=D(50))


def postage_of_a_supplier(workshop):
    make_supplier(workshop, carriage=D("4.5"))


def a_material_that_fetches_something(workshop):
    material = make_material(workshop)
    material.fetches_each = D("0.4")
    material.save()


AMOUNTS = (
    *(an_expense, a_price_on_a_quote, a_delivery_on_a_quote, a_discount_on_a_quote),
    *(a_budget_in_an_enquiry, an_item_at_a_fair, a_cost_of_a_fair, a_float_of_a_fair),
    *(a_drive_to_a_fair, a_statement_of_a_fair, a_finished_item, a_monthly_budget),
    *(postage_of_a_supplier, a_material_that_fetches_something),
)


def to_yen(workshop):
    workshop.currency = "JPY"
    save_settings(workshop=workshop, fields=["currency"], edit_number=workshop.edit_number)


@pytest.mark.parametrize("enter", AMOUNTS, ids=lambda enter: enter.__name__)
def test_it_stays_with_an_amount(workshop, enter):
    enter(workshop)
    with pytest.raises(CurrencyInUse, match="The currency stays EUR"):
        to_yen(workshop)
    assert Workshop.objects.get(pk=workshop.pk).currency == "EUR"


def test_it_may_change_while_nothing_has_an_amount(workshop):
    make_supplier(workshop)
    make_quote(workshop)
    make_material(workshop)
    a_fair(workshop)
    to_yen(workshop)
    assert Workshop.objects.get(pk=workshop.pk).currency == "JPY"
