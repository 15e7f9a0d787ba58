"""Batches of an order: made in parts, reserved, delivered, timed, undone."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import Step
from catalogue.stock.services import put_on_shelf
from pricing.calc.finished_stock.replay import NotThere
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.models import FinishedBatch, FinishedMove
from pricing.finished_stock.services import home_of, item_for, make_batch, take_out
from pricing.making.batches import (
    make_order_batch,
    progress_of,
    start_order_batch,
    undo_order_batch,
)
from pricing.orders.models import Order
from pricing.orders.services import (
    NotPossibleNow,
    OrderBegun,
    accept,
    cancel_order,
    deliver,
    undo_answer,
    undo_delivery,
)
from pricing.times.models import TimedRun
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_material, make_pack, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)


@pytest.fixture
def card(workshop):
    material = make_material(workshop)
    make_pack(material)
    put_on_shelf(
        material=material, amount=Decimal(100), cost=Decimal(50), moved_on=today() - DAY,
        today=today(),
    )  # fmt: skip
    return material


@pytest.fixture
def version(workshop, card):
    return make_recipe(workshop, card)


def an_order(workshop, owner, version, quantity=20):
    quote = make_quote(workshop)
    make_line(quote, version, quantity)
    return accept(quote=sent_quote(quote, owner), who="Ada Fenn", on=today(), today=today())


@pytest.fixture
def order(workshop, owner, version):
    return an_order(workshop, owner, version)


def line_of(order):
    (line,) = order.quote.lines.kept()
    return line


def make(order, card, quantity=20, sheets=3, **more):
    return make_order_batch(
        order=order, line=line_of(order), quantity=quantity, made_on=today(), today=today(),
        materials={card.pk: Decimal(sheets)}, minutes=Decimal(200), **more,
    )  # fmt: skip


def at(name, order, *keys):
    return reverse(f"pricing:{name}", args=[order.workshop.slug, order.pk, *keys])


def test_a_batch_is_reserved_for_its_order_and_uses_what_was_reserved(workshop, order, card):
    (need,) = order.needs.all()
    make(order, card, quantity=12, sheets=2, spoiled={"glue": 1})
    (row,) = on_hand(workshop)
    assert (row.quantity, row.reserved, row.free) == (12, 12, 0)
    need.refresh_from_db()
    assert need.taken == 2
    order.refresh_from_db()
    assert order.state == Order.State.MAKING
    (progress,) = progress_of(order)
    assert (progress.ordered, progress.made, progress.spoiled, progress.left) == (20, 12, 1, 8)


def test_a_delivery_takes_its_items_out_and_gives_them_back(client, workshop, order, card):
    make(order, card, quantity=21)
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    (row,) = on_hand(workshop)
    # the spare one is free once everything has left
    assert (row.quantity, row.reserved) == (1, 0)
    assert progress_of(order)[0].delivered == 20
    # the ledger alone does not undo it: the order would still say it has left
    moved = FinishedMove.objects.get(kind=FinishedMove.Kind.DELIVERED)
    answer = client.post(
        reverse("pricing:finished_move_undo", args=[workshop.slug, moved.pk]), follow=True
    )
    assert "Undo the delivery on the order." in answer.content.decode()
    assert "Undo delivery" in client.get(at("order", order)).content.decode()
    undo_delivery(delivery=delivery)
    (row,) = on_hand(workshop)
    assert (row.quantity, row.reserved) == (21, 21)
    # and once more: nothing hinders it
    deliver(delivery=delivery, on=today(), today=today())
    assert [each.quantity for each in on_hand(workshop)] == [1]


def test_who_keeps_no_finished_stock_delivers_all_the_same(workshop, order):
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    assert on_hand(workshop) == []


def test_what_another_order_reserved_stays(workshop, owner, version, order, card):
    other = an_order(workshop, owner, version, quantity=5)
    make(other, card, quantity=5, sheets=1)
    make_batch(
        item=item_for(version), quantity=3, made_on=today(), today=today(), minutes=Decimal(10),
        materials={card.pk: Decimal(1)},
    )  # fmt: skip
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    (row,) = on_hand(workshop)
    assert (row.quantity, row.reserved) == (5, 5)


def test_a_batch_is_undone_with_what_it_used(workshop, order, card):
    batch = make(order, card)
    (need,) = order.needs.all()
    assert need.taken == 3
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    with pytest.raises(NotThere):
        undo_order_batch(batch=batch)
    undo_delivery(delivery=delivery)
    undo_order_batch(batch=batch)
    need.refresh_from_db()
    card.refresh_from_db()
    assert (need.taken, card.on_hand, on_hand(workshop)) == (0, 100, [])


def test_an_order_with_a_batch_is_not_unaccepted_and_a_cancelled_one_makes_none(order, card):
    batch = make(order, card)
    Order.objects.filter(pk=order.pk).update(state=Order.State.PLANNED)
    with pytest.raises(OrderBegun):
        undo_answer(quote=order.quote)
    undo_order_batch(batch=batch)
    undo_answer(quote=order.quote)
    assert not Order.objects.exists()
    assert FinishedBatch.objects.get().order is None


def test_items_of_a_cancelled_order_are_free(workshop, order, card):
    make(order, card)
    cancel_order(order=order, on=today(), today=today(), reason="", owed=Decimal(0))
    assert [row.reserved for row in on_hand(workshop)] == [0]
    with pytest.raises(NotPossibleNow):
        make(order, card)
    take_out(
        item=item_for(line_of(order).version), place=home_of(workshop), quantity=20,
        kind=FinishedMove.Kind.SOLD, on=today(), today=today(),
    )  # fmt: skip


def test_a_batch_is_recorded_on_its_page(client, workshop, order, card):
    line = line_of(order)
    address = at("order_batch_new", order, line.pk) + "?quantity=12"
    assert "20 left to make." in client.get(address).content.decode()
    form = {"form_key": str(uuid.uuid4()), "good": "12", "made_on": today().isoformat(),
            "minutes": "100", "note": "", f"m{card.pk}": "2"}  # fmt: skip
    for _ in range(2):
        answer = client.post(address, form)
        assert answer.url == at("order_making", order)
    assert FinishedBatch.objects.count() == 1
    page = client.get(at("order_making", order)).content.decode()
    assert "reserved for" in page
    assert "Everything is made" not in page
    rest = {**form, "form_key": str(uuid.uuid4()), "good": "8"}
    client.post(at("order_batch_new", order, line.pk) + "?quantity=8", rest)
    made = client.get(at("order_making", order)).content.decode()
    # nothing to begin any more, and nothing to plan
    assert "Everything is made." in made
    assert "Start by" not in made
    assert "Create cutting plan" not in made
    for batch in FinishedBatch.objects.order_by("-pk"):
        client.post(at("order_batch_undo", order, batch.pk))
    assert on_hand(workshop) == []
    assert client.get(at("order_batch_new", order, line.pk) + "?quantity=0").status_code == 422
    assert client.get(at("order_batch_new", order, 999999)).status_code == 404


def test_a_timer_belongs_to_its_batch_and_fills_in_the_minutes(client, order, card):
    batch = start_order_batch(
        order=order, line=line_of(order), planned=20, started_on=today(), today=today(),
        materials={card.pk: Decimal(3)},
    )  # fmt: skip
    step = Step.objects.get()
    client.post(at("order_batch_timer", order, batch.pk), {"step": step.name})
    run = TimedRun.objects.get()
    assert run.batch == batch
    refused = client.post(
        at("order_batch_timer", order, batch.pk), {"step": "no such"}, follow=True
    )
    assert "no such step" in refused.content.decode()
    run.worked_seconds, run.running_since, run.count = 5400, None, 20
    run.finished_at = run.started_at
    run.save()
    finish = reverse("pricing:finished_batch_finish", args=[order.workshop.slug, batch.pk])
    assert 'value="90"' in client.get(finish).content.decode()
    assert "90 min" in client.get(at("order_making", order)).content.decode()


def test_batches_of_orders_go_out_and_come_back_with_the_workshop(workshop, owner, order, card):
    batch = make(order, card)
    TimedRun.objects.create(
        design=batch.item.design, step_name="fold", basis="made", started_at=batch.order.created_at,
        worked_seconds=60, batch=batch,
    )  # fmt: skip
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    document = export_workshop(workshop)
    copy = import_workshop(document, name="copy", owner=owner)
    back = export_workshop(copy)
    for name in ("finished_items", "timed_runs", "orders"):
        assert back[name] == document[name]
    moved = FinishedMove.objects.of(copy).get(kind="delivered")
    assert moved.delivery.order.workshop == copy
