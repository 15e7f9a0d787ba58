"""An accepted change is undone while nothing rests on it; then a counter-change takes it back."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.making.batches import make_order_batch
from pricing.orders.change_answers import accept_change, offer_change
from pricing.orders.change_undoing import TooLateToUndo, counter_change, undo_accepted
from pricing.orders.changes import (
    ChangeInput,
    restore_change,
    save_change,
    start_change,
    withdraw_change,
)
from pricing.orders.inputs import lines_now
from pricing.orders.invoicing import issue_invoice
from pricing.orders.materials import take_materials
from pricing.orders.models import Order, OrderChange
from pricing.orders.services import DeliveryInput, accept, deliver, save_deliveries
from tests.at_once import at_once
from tests.factories import make_recipe, make_supplier, today
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_order_changes import DAY, again, fresh


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    Order.objects.update(due_on=today() + 20 * DAY)
    (row,), (line,) = order.deliveries.all(), lines_now(order)
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, today() + 20 * DAY, "1 Mill Lane", "", {line.pk: 12}),
            DeliveryInput(None, today() + 20 * DAY, "2 Mill Lane", "", {line.pk: 8}),
        ],
        edit_number=again(order).edit_number,
    )
    return Order.objects.with_people().get(pk=order.pk)


def changed(order, count, **more):
    """An accepted change of the first line to a count."""
    line = lines_now(order)[0]
    change = start_change(order=order)
    save_change(
        change=change,
        typed=ChangeInput(counts={line.pk: count}, **more),
        today=today(),
        edit_number=change.edit_number,
    )
    held = offer_change(change=fresh(change), today=today())
    return accept_change(change=held, who="Ada", how="phone", on=today(), today=today())


def state_of(order):
    """All of an order that a change touches."""
    held = again(order)
    return (
        [(line.pk, line.quantity) for line in lines_now(held)],
        [
            (row.due_on, sorted((each.line_id, each.quantity) for each in row.lines.all()))
            for row in held.deliveries.order_by("position")
        ],
        {need.material_id: need.amount for need in held.needs.all() if need.amount},
        (held.total, held.changes_total, held.changes_minutes, held.due_on, held.state),
    )


def test_an_earlier_change_that_was_opened_again_or_accepted_since_keeps_it(order):
    first = withdraw_change(change=start_change(order=order))
    second = changed(order, 33)
    restore_change(change=fresh(first))
    with pytest.raises(TooLateToUndo, match="Change 1 is still open"):
        undo_accepted(change=fresh(second))
    withdraw_change(change=fresh(first))
    OrderChange.objects.filter(pk=first.pk).update(state="accepted", decided_on=today() + DAY)
    with pytest.raises(TooLateToUndo, match="another change was accepted"):
        undo_accepted(change=fresh(second))


@pytest.mark.parametrize("count", [33, 15])
@pytest.mark.parametrize("later", [0, 30])
def test_undone_the_order_is_as_it_was(order, count, later):
    before = state_of(order)
    change = changed(order, count, due_on=today() + later * DAY if later else None)
    assert state_of(order) != before
    undone = undo_accepted(change=fresh(change))
    assert (undone.state, undone.decided_on, undone.decided_by) == ("offered", None, "")
    assert state_of(order) == before
    # and it can be answered once more
    accept_change(change=fresh(change), who="Ada", how="phone", on=today(), today=today())
    assert sum(line.quantity for line in lines_now(order)) == count


def bought(workshop, material):
    supplier = make_supplier(workshop)
    receipt = workshop.purchases.create(supplier=supplier, bought_on=today(), state="recorded")
    receipt.lines.create(material=material, quantity=1, amount=1)


def something_rests(order, what):
    line = lines_now(order)[0]
    if what == "batch":
        make_order_batch(
            order=order, line=line, quantity=1, made_on=today(), today=today(),
            materials={}, minutes=Decimal(5),
        )  # fmt: skip
    elif what == "stock":
        need = order.needs.first()
        take_materials(
            order=order, amounts={need.material_id: Decimal(1)}, on=today(), today=today(),
            form_key=uuid.uuid4(),
        )  # fmt: skip
    elif what == "bought":
        bought(order.workshop, order.needs.first().material)
    elif what == "delivery":
        deliver(delivery=order.deliveries.get(position=0), on=today(), today=today())
    elif what == "invoice":
        issue_invoice(delivery=order.deliveries.get(position=0), on=today(), today=today())
    elif what == "change":
        changed(order, 40)
    elif what == "draft":
        start_change(order=order)


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("batch", "a batch was made"),
        ("stock", "materials were taken from stock"),
        ("bought", "materials for it were bought"),
        ("delivery", "a delivery has left"),
        ("invoice", "an invoice was issued"),
        ("change", "another change was accepted"),
        ("draft", "is still open"),
    ],
)
def test_what_rests_on_it_keeps_it_and_is_named(order, what, words):
    change = changed(order, 90)
    something_rests(order, what)
    before = state_of(order)
    with pytest.raises(TooLateToUndo, match=words):
        undo_accepted(change=fresh(change))
    assert state_of(order) == before


@pytest.mark.parametrize("count", [33, 15])
def test_a_counter_change_takes_it_back(order, count):
    total = again(order).total
    change = changed(order, count)
    draft = counter_change(change=fresh(change), today=today())
    with pytest.raises(TooLateToUndo, match="still open"):
        counter_change(change=fresh(change), today=today())
    held = offer_change(change=fresh(draft), today=today())
    assert held.total_change == -change.total_change
    accept_change(change=held, who="Ada", how="phone", on=today(), today=today())
    assert sum(line.quantity for line in lines_now(order)) == 20
    assert again(order).total == total


def test_a_change_that_is_not_accepted_has_no_answer_to_undo(order):
    change = start_change(order=order)
    for call in (undo_accepted, lambda change: counter_change(change=change, today=today())):
        with pytest.raises(TooLateToUndo):
            call(change=fresh(change))


@pytest.mark.django_db(transaction=True)
def test_two_people_undoing_at_once_undo_once(order):
    before = state_of(order)
    change = changed(order, 33)
    answers = at_once(
        lambda: undo_accepted(change=fresh(change)), lambda: undo_accepted(change=fresh(change))
    )
    assert sum(isinstance(each, TooLateToUndo) for each in answers) == 1
    assert state_of(order) == before


def test_undo_and_counter_change_on_the_page(client, reader_client, order):
    change = changed(order, 33)
    keys = [order.workshop.slug, order.pk, change.pk]
    page = reverse("pricing:order_change", args=keys)
    text = client.get(page).content.decode()
    assert "Undo acceptance" in text
    assert "Undo acceptance" not in reader_client.get(page).content.decode()
    undo = reverse("pricing:order_change_undo", args=keys)
    assert reader_client.post(undo).status_code == 403
    assert "waiting for an answer again" in client.post(undo, follow=True).content.decode()
    accept_change(change=fresh(change), who="Ada", how="phone", on=today(), today=today())
    something_rests(order, "delivery")
    text = client.post(undo, follow=True).content.decode()
    assert "a delivery has left since" in text
    text = client.post(
        reverse("pricing:order_change_counter", args=keys), follow=True
    ).content.decode()
    assert "Change 2 undoes change 1" in text
    assert OrderChange.objects.get(number=2).note == "Undoes change 1."
