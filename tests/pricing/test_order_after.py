"""Estimate against actual: the parts add up, the hour is told, the recipe learns from it."""

import datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import DesignVersion, Step
from catalogue.sheet_plans.services import sheet_planner
from catalogue.stock.services import put_on_shelf
from pricing.making.after import (
    NothingToCompare,
    afterwards,
    expenses_of,
    next_time,
    use_actual_minutes,
)
from pricing.making.batches import make_order_batch
from pricing.making.inputs import made_together
from pricing.orders.change_answers import accept_change, offer_change
from pricing.orders.changes import ChangeInput, save_change, start_change
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderChange
from pricing.orders.services import accept
from pricing.quotes.models import Quote
from tests.factories import make_material, make_pack, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
CENT = Decimal("0.000001")


@pytest.fixture
def card(workshop):
    material = make_material(workshop, name="Sage card")
    make_pack(material)
    put_on_shelf(
        material=material, amount=Decimal(100), cost=Decimal(50), moved_on=today() - DAY,
        today=today(),
    )  # fmt: skip
    material.refresh_from_db()
    return material


@pytest.fixture
def order(workshop, owner, card):
    version = make_recipe(workshop, card)
    quote = make_quote(workshop)
    make_line(quote, version, 20)
    return accept(quote=sent_quote(quote, owner), who="Ada Fenn", on=today(), today=today())


def again(order):
    return Order.objects.with_people().get(pk=order.pk)


def made(order, card, quantity, sheets, minutes, **more):
    (line,) = order.quote.lines.kept()
    return make_order_batch(
        order=order, line=line, quantity=quantity, made_on=today(), today=today(),
        materials={card.pk: Decimal(sheets)}, minutes=Decimal(minutes), **more,
    )  # fmt: skip


def compared(order):
    row = again(order)
    return afterwards(row, made_together([row], sheet_planner()), expenses_of(row))


def at(name, order, *keys):
    return reverse(f"pricing:{name}", args=[order.workshop.slug, order.pk, *keys])


def test_the_parts_add_up_to_what_it_really_cost(workshop, order, card):
    """By hand: 20 planned at 10 min and 3 sheets of 0.50; 22 made with 4 sheets in 4 hours."""
    (need,) = order.needs.all()
    assert need.amount == 3
    made(order, card, 12, 3, 140)
    made(order, card, 9, 1, 100, spoiled={"glue": 1})
    found = compared(order)
    assert (found.planned, found.made) == (20, 22)
    (variance,) = found.actuals.materials
    # 22 x 3/20 = 3.3 sheets for what was made; 0.7 more at 0.50
    assert abs(variance.by_amount - Decimal("0.35")) < CENT
    assert abs(variance.by_price) < CENT
    # 22 x 10 min = 3.6667 h; 4 h worked
    wage = workshop.wage_per_hour
    assert abs(found.actuals.work.by_amount - wage / 3) < CENT
    assert found.actuals.work.by_price == 0
    # two more than planned: 0.3 sheets and 20 minutes
    assert abs(found.actuals.volume - (Decimal("0.15") + wage / 3)) < CENT
    assert abs(found.actuals.actual_cost - (2 + 4 * wage)) < CENT
    assert abs(found.actuals.unexplained) < CENT


def changed_to(order, count):
    """The order with an accepted change of its only line."""
    (line,) = lines_now(order)
    change = start_change(order=order)
    typed = ChangeInput(counts={line.pk: count})
    save_change(change=change, typed=typed, today=today(), edit_number=change.edit_number)
    rows = OrderChange.objects.select_related("order__quote__customer__workshop")
    held = offer_change(change=rows.get(pk=change.pk), today=today())
    accept_change(change=held, who="Ada Fenn", how="phone", on=today(), today=today())


@pytest.mark.parametrize(("count", "sheets"), [(30, 4), (12, 2)])
def test_a_changed_quantity_is_planned_as_it_was_agreed(order, card, count, sheets):
    """8 of a sheet, 10 min each, as the quote: made like that, nothing is off."""
    quoted = again(order).total
    changed_to(order, count)
    for line in lines_now(again(order)):
        make_order_batch(
            order=order, line=line, quantity=line.quantity, made_on=today(), today=today(),
            materials={card.pk: Decimal(sheets) * line.quantity / count},
            minutes=Decimal(10) * line.quantity,
        )  # fmt: skip
    found = compared(order)
    assert (found.planned, found.made, found.is_whole) == (count, count, True)
    assert abs(found.actuals.volume) < CENT
    (variance,) = found.actuals.materials
    assert abs(variance.by_amount) < CENT
    assert abs(found.actuals.work.by_amount) < CENT
    (pace,) = found.paces
    assert abs(pace.factor - 1) < CENT
    # the price agreed is what the hour earns from
    assert abs(found.net - quoted * count / 20) < Decimal("0.01")


def test_a_price_paid_and_a_wage_of_today_are_told_apart(workshop, order, card):
    put_on_shelf(
        material=card, amount=Decimal(100), cost=Decimal(70), moved_on=today(), today=today()
    )
    workshop.wage_per_hour += 1
    workshop.save()
    made(order, card, 20, 3, 200)
    found = compared(order)
    (variance,) = found.actuals.materials
    # the average is 0.60 now, 0.10 more for each of three
    assert abs(variance.by_price - Decimal("0.30")) < CENT
    assert abs(found.actuals.work.by_price - Decimal(200) / 60) < CENT
    assert abs(found.actuals.unexplained) < CENT


def test_the_hour_earned_what_is_left_after_everything_but_the_wage(order, card):
    made(order, card, 20, 3, 200)
    found = compared(order)
    # as planned, so the planned figure
    assert abs(found.earned_per_hour - found.planned_per_hour) < Decimal("0.01")
    assert found.is_whole
    made(order, card, 1, 0, 200)
    assert compared(order).earned_per_hour < found.earned_per_hour


def test_a_part_of_the_order_says_nothing_of_the_hour_yet(client, order, card):
    made(order, card, 12, 2, 120)
    assert compared(order).earned_per_hour is None
    assert "known when all is made" in client.get(at("order_after", order)).content.decode()


def test_nothing_made_is_said(client, order):
    with pytest.raises(NothingToCompare):
        compared(order)
    page = client.get(at("order_after", order)).content.decode()
    assert "Record what you made first." in page


def test_the_page_changes_the_recipe_in_one_click(client, workshop, order, card):
    made(order, card, 20, 3, 300)
    design = order.quote.lines.get().design
    page = client.get(at("order_after", order)).content.decode()
    assert "Earned per hour" in page
    assert 'name="factor" value="1.500"' in page
    address = at("order_after_use", order, design.pk)
    answer = client.post(address, {"factor": "1.500", "version": "1"}, follow=True)
    # the version was promised from, so a next one has the minutes
    assert "They are in version 2" in answer.content.decode()
    assert Step.objects.get(version__number=2).minutes == 15
    client.post(address, {"factor": "1.500", "version": "1"})
    assert DesignVersion.objects.count() == 2


def test_minutes_go_into_the_recipe_once_and_again_when_that_was_undone(client, order, card):
    made(order, card, 20, 3, 300)
    design = order.quote.lines.get().design
    address = at("order_after_use", order, design.pk)
    client.post(address, {"factor": "1.500", "version": "1"})
    page = client.get(at("order_after", order)).content.decode()
    assert "Update minutes in the recipe" not in page
    assert "Its recipe has other minutes now." in page
    client.post(address, {"factor": "1.500", "version": "2"})
    assert Step.objects.get(version__number=2).minutes == 15
    undone = {"workshop": order.workshop.slug, "design": design.pk, "number": 2, "edit_number": 0}
    client.post(reverse("catalogue:recipe_undo", kwargs=undone))
    assert Step.objects.get(version__number=2).minutes == 10
    page = client.get(at("order_after", order)).content.decode()
    assert "Update minutes in the recipe" in page
    client.post(address, {"factor": "1.500", "version": "2"})
    assert Step.objects.get(version__number=2).minutes == 15


@pytest.mark.parametrize("factor", ["", "0", "-1", "nan", "1e99", "x"])
def test_a_factor_that_is_none_changes_nothing(client, order, card, factor):
    made(order, card, 20, 3, 300)
    design = order.quote.lines.get().design
    client.post(at("order_after_use", order, design.pk), {"factor": factor, "version": "1"})
    assert DesignVersion.objects.count() == 1


def test_a_newer_recipe_is_not_scaled_again(order, card, owner):
    design = order.quote.lines.get().design
    options = {"order": order, "design": design, "factor": Decimal("1.2"), "by": owner}
    use_actual_minutes(number=1, **options)
    with pytest.raises(NothingToCompare):
        use_actual_minutes(number=1, **options)


def test_the_customer_hears_why_it_is_more_now(client, workshop, order):
    workshop.wage_per_hour += 5
    workshop.save()
    (row,) = next_time(again(order), {})
    assert row.history.new > row.history.old
    page = client.get(at("order_after", order)).content.decode()
    assert "For the customer next time" in page
    assert "The price each went from" in page


def test_a_quote_that_kept_nothing_is_said(order, card):
    made(order, card, 20, 3, 200)
    Quote.objects.filter(pk=order.quote_id).update(frozen={**order.quote.frozen, "basis": {}})
    with pytest.raises(NothingToCompare):
        compared(order)
