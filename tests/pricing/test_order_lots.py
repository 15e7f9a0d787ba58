"""A lot kept for an order: one for all its pieces, never for two orders, let go by itself."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from catalogue.materials.lots import lots_of
from catalogue.sheet_plans.services import sheet_planner
from catalogue.stock.models import StockEntry
from catalogue.stock.services import move_stock
from maker.calc.strict_json import WrongJson, parse
from pricing.bench_sheets.asked import sheet_of_order
from pricing.bench_sheets.drawing import sheet_view
from pricing.making.batches import start_order_batch, undo_order_batch
from pricing.orders.change_answers import move_needs
from pricing.orders.lots import (
    LotNotFree,
    NoLotKept,
    keep_lot,
    let_lot_go,
    lots_to_take,
    one_lot_each,
)
from pricing.orders.models import Order, OrderNeed
from pricing.orders.services import (
    NotPossibleNow,
    accept,
    cancel_order,
    deliver,
    move_to,
    reinstate_order,
)
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests.at_once import at_once
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import buy_lot
from tests.factories import make_material, make_member, make_recipe, make_workshop, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

D = Decimal


def make_order(workshop: Any, owner: Any, version: Any, quantity: int = 20) -> Order:
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, version, quantity=quantity)
    return accept(quote=sent_quote(made, owner), who="Ada Fenn", on=today(), today=today())


def sheet_need(order: Order) -> OrderNeed:
    return order.needs.select_related("material").get(material__kind="sheet")


def two_lots_of(workshop: Any, order: Order, more: int = 0) -> tuple[Decimal, Any]:
    """Buy lot K 7 of just what the order needs and `more`, and a later lot of one sheet less."""
    need = sheet_need(order)
    # what the recipe's material had before is of no lot
    before = need.material.on_hand
    if before:
        move_stock(
            material=need.material, kind="scrap", amount=before, moved_on=today(), today=today()
        )
    buy_lot(workshop, need.material, str(need.left + more), "K 7", datetime.date(2026, 1, 3))
    buy_lot(workshop, need.material, str(need.left - 1), "L 2", datetime.date(2026, 2, 3))
    return need.left, need.material


def address(name: str, workshop: Any, *keys: Any) -> str:
    return reverse(f"pricing:{name}", args=[workshop.slug, *keys])


@pytest.fixture
def version(workshop):
    return make_recipe(workshop)


@pytest.fixture
def order(workshop, owner, version):
    return make_order(workshop, owner, version)


def test_the_page_says_which_lot_is_enough_and_keeps_it_in_one_step(client, workshop, order):
    needed, card = two_lots_of(workshop, order)
    page = address("order_materials", workshop, order.pk)
    text = text_of(client.get(page))
    assert "One lot for the order" in text
    assert "Keep lot <bdi>K 7</bdi>" in text
    assert "Keep lot <bdi>L 2</bdi>" not in text
    said = text_of(
        client.post(
            address("order_lot_keep", workshop, order.pk, card.pk), {"lot": "k7"}, follow=True
        )
    )
    assert f"Kept {needed:.0f} sheets of lot K 7 for {order}." in said
    assert f"Kept: {needed:.0f} sheets of lot <bdi>K 7</bdi>." in said
    assert (sheet_need(order).lot, sheet_need(order).kept) == ("K 7", needed)
    # let go, and that undone
    said = text_of(
        client.post(address("order_lot_let_go", workshop, order.pk, card.pk), follow=True)
    )
    assert sheet_need(order).lot == ""
    undo = said[said.index(f"materials/{card.pk}/keep-lot/?lot=K+7") :].split('"')[0]
    client.post(f"/w/{workshop.slug}/orders/{order.pk}/{undo}")
    assert sheet_need(order).lot == "K 7"


def test_the_page_says_what_to_buy_when_no_single_lot_is_enough(client, workshop, order):
    needed, _ = two_lots_of(workshop, order, more=-2)
    text = text_of(client.get(address("order_materials", workshop, order.pk)))
    assert (
        f"No single lot is enough for {needed:.0f} sheets. Buy 1 sheet more of lot L 2, "
        f"or {needed:.0f} sheets of a new one." in text
    )
    assert "Keep lot" not in text


def test_kept_sheets_are_not_offered_to_another_order(client, owner, workshop, version, order):
    needed, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    other = make_order(workshop, owner, version)
    text = text_of(client.get(address("order_materials", workshop, other.pk)))
    assert f"Lot <bdi>K 7</bdi>: 0 sheets free, {needed:.0f} sheets kept for other orders" in text
    assert "Keep lot" not in text
    assert 'value="K 7"' not in text
    with pytest.raises(LotNotFree, match="Lot K 7 has 0 sheets free"):
        keep_lot(order=other, material=card.pk, lot="K 7")
    with pytest.raises(LotNotFree, match="no lot “Z”"):
        keep_lot(order=other, material=card.pk, lot="Z")


@pytest.mark.django_db(transaction=True)
def test_two_orders_keep_a_lot_at_the_same_moment_and_one_gets_it():
    workshop = make_workshop()
    owner = make_member(workshop, "owner", "two@example.test")
    version = make_recipe(workshop)
    orders = [make_order(workshop, owner, version) for _ in range(2)]
    _, card = two_lots_of(workshop, orders[0])
    results = at_once(
        *(
            lambda order=order: keep_lot(order=order, material=card.pk, lot="K 7")
            for order in orders
        )
    )
    assert sorted(type(result).__name__ for result in results) == ["LotNotFree", "OrderNeed"]
    assert OrderNeed.objects.filter(lot="K 7").count() == 1


def test_an_order_keeps_one_lot_at_a_time_and_nothing_twice(workshop, order):
    _, card = two_lots_of(workshop, order, more=5)
    with pytest.raises(NoLotKept):
        let_lot_go(order=order, material=card.pk)
    keep_lot(order=order, material=card.pk, lot="K 7")
    with pytest.raises(NotPossibleNow, match="Let go of it first"):
        keep_lot(order=order, material=card.pk, lot="L 2")
    assert let_lot_go(order=order, material=card.pk) == "K 7"
    with pytest.raises(NoLotKept):
        keep_lot(order=order, material=card.pk + 999, lot="K 7")


def test_a_batch_takes_from_the_kept_lot_unless_another_is_chosen(client, workshop, order):
    needed, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    line = order.quote.lines.get()
    page = address("order_batch_new", workshop, order.pk, line.pk) + "?quantity=2"
    form = client.get(page).context["form"]
    assert form[f"lot{card.pk}"].value() == "K 7"
    sent = {
        "form_key": str(uuid.uuid4()), "good": "2", "made_on": today().isoformat(),
        "minutes": "5", f"m{card.pk}": "1", f"lot{card.pk}": "K 7",
    }  # fmt: skip
    client.post(page, sent)
    entry = StockEntry.objects.filter(kind="used").latest("pk")
    assert (entry.lot, sheet_need(order).kept) == ("K 7", needed - 1)
    client.post(page, sent | {"form_key": str(uuid.uuid4()), f"lot{card.pk}": "L 2"})
    assert StockEntry.objects.filter(kind="used").latest("pk").lot == "L 2"
    wrong = client.post(page, sent | {"form_key": str(uuid.uuid4()), f"lot{card.pk}": "Z"})
    assert wrong.status_code == 422
    assert lots_of(card).left_of("K 7") == needed - 1


def test_an_undone_batch_gives_its_sheets_back_to_the_lot(workshop, order):
    needed, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    batch = start_order_batch(
        order=order, line=order.quote.lines.get(), planned=20, started_on=today(), today=today(),
        materials={card.pk: needed}, lots={card.pk: "K 7"},
    )  # fmt: skip
    assert (sheet_need(order).kept, lots_of(card).left_of("K 7")) == (0, 0)
    undo_order_batch(batch=batch)
    assert (sheet_need(order).kept, lots_of(card).left_of("K 7")) == (needed, needed)


def test_what_is_taken_on_the_materials_page_names_the_lot(client, workshop, order):
    _, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    page = address("order_materials", workshop, order.pk)
    assert client.get(page).context["form"][f"lot{card.pk}"].value() == "K 7"
    sent = {
        f"m{card.pk}": "1", f"lot{card.pk}": "K 7", "on": today().isoformat(),
        "form_key": str(uuid.uuid4()),
    }  # fmt: skip
    client.post(page, sent)
    assert StockEntry.objects.get(kind="used").lot == "K 7"
    wrong = client.post(page, sent | {f"lot{card.pk}": "nonsense", "form_key": str(uuid.uuid4())})
    assert wrong.status_code == 422


def test_a_cancelled_or_delivered_order_lets_go_by_itself(workshop, owner, version, order):
    _, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    cancel_order(order=order, on=today(), today=today(), reason="", owed=D(0))
    assert sheet_need(order).lot == ""
    reinstate_order(order=order)
    other = make_order(workshop, owner, version)
    keep_lot(order=other, material=card.pk, lot="K 7")
    move_to(order=other, state="ready")
    assert sheet_need(other).lot == "K 7"
    deliver(delivery=other.deliveries.get(), on=today(), today=today())
    assert sheet_need(other).lot == ""
    keep_lot(order=order, material=card.pk, lot="K 7")
    with pytest.raises(NotPossibleNow):
        keep_lot(order=other, material=card.pk, lot="K 7")


def test_an_order_that_grows_keeps_what_it_had_and_asks_for_the_rest(client, workshop, order):
    needed, card = two_lots_of(workshop, order, more=3)
    keep_lot(order=order, material=card.pk, lot="K 7")
    move_needs(order, {card.name: "2"})
    assert sheet_need(order).kept == needed
    text = text_of(client.get(address("order_materials", workshop, order.pk)))
    assert f"Keep {needed + 2:.0f} sheets of lot <bdi>K 7</bdi>" in text
    keep_lot(order=order, material=card.pk, lot="K 7")
    assert sheet_need(order).kept == needed + 2
    move_needs(order, {card.name: "4"})
    text = text_of(client.get(address("order_materials", workshop, order.pk)))
    assert f"Lot K 7 is not enough for {needed + 6:.0f} sheets. Buy 3 sheets more" in text


def test_a_kept_lot_that_was_used_up_elsewhere_is_told(client, workshop, order):
    needed, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    move_stock(material=card, kind="scrap", amount=D(1), moved_on=today(), today=today(), lot="K 7")
    text = text_of(client.get(address("order_materials", workshop, order.pk)))
    assert f"Lot K 7 is not enough for {needed:.0f} sheets. Buy 1 sheet more of lot K 7" in text


def test_only_who_may_change_keeps_lots_of_their_own_workshop(
    reader_client, client, workshop, order
):
    _, card = two_lots_of(workshop, order)
    keep = address("order_lot_keep", workshop, order.pk, card.pk)
    assert reader_client.post(keep, {"lot": "K 7"}).status_code == 403
    assert "sign-in" in type(client)().post(keep, {"lot": "K 7"})["Location"]
    assert sheet_need(order).lot == ""
    for wrong in ("", "x" * 100, "Z"):
        said = text_of(client.post(keep, {"lot": wrong}, follow=True))
        assert "There is no lot" in said
    foreign = make_workshop(slug="elsewhere", name="Elsewhere")
    assert client.post(address("order_lot_keep", foreign, order.pk, card.pk)).status_code == 404


def test_more_lots_and_orders_cost_no_more_queries(
    client, owner, workshop, version, order, count_queries
):
    _, card = two_lots_of(workshop, order)
    page = address("order_materials", workshop, order.pk)
    client.get(page)
    with count_queries() as few:
        client.get(page)
    for number in range(3):
        buy_lot(workshop, card, "50", f"M {number}")
        keep_lot(order=make_order(workshop, owner, version), material=card.pk, lot=f"M {number}")
    with count_queries() as many:
        client.get(page)
    assert len(many) == len(few)


def test_a_kept_lot_comes_back_with_the_workshop_file(workshop, order):
    needed, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    move_stock(material=card, kind="scrap", amount=D(1), moved_on=today(), today=today(), lot="L 2")
    exported = export_workshop(type(workshop).objects.get(pk=workshop.pk))
    document = parse(document_text(exported).encode())
    again = import_workshop(document, name="Another")
    need = OrderNeed.objects.get(order__in=Order.objects.of(again), material__kind="sheet")
    assert (need.lot, need.lot_amount) == ("K 7", needed)
    assert lots_of(need.material) == lots_of(card)
    document["orders"][0]["state"] = "cancelled"
    with pytest.raises(WrongJson, match="still to be made"):
        import_workshop(document, name="A third")


def test_the_lot_is_told_by_order_where_several_are_made_together(workshop, owner, version, order):
    _, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    other = make_order(workshop, owner, version)
    assert lots_to_take([order]) == {card.name: "lot K 7"}
    assert lots_to_take([order, other]) == {card.name: f"lot K 7 for {order}"}


def test_a_cutting_plan_of_the_order_takes_from_its_lot(client, workshop, order):
    _, card = two_lots_of(workshop, order)
    keep_lot(order=order, material=card.pk, lot="K 7")
    new = address("order_plan_new", workshop, order.pk)
    plan_page = client.post(new, {"form_key": str(uuid.uuid4())})["Location"]
    page = client.get(plan_page)
    assert "take from lot <bdi>K 7</bdi>" in text_of(page)
    form = page.context["cut_form"]
    assert form[f"lot{card.pk}"].value() == "K 7"
    sent = {"form_key": str(uuid.uuid4()), "cut_on": today().isoformat()}
    wrong = client.post(f"{plan_page}cut/", sent | {f"lot{card.pk}": "Z"}, follow=True)
    assert "Z is not one of the available choices" in text_of(wrong)
    client.post(f"{plan_page}cut/", sent | {f"lot{card.pk}": "K 7"})
    assert StockEntry.objects.get(kind="used").lot == "K 7"


def test_orders_cut_together_that_keep_two_lots_name_none(workshop, owner, version, order):
    _, card = two_lots_of(workshop, order, more=5)
    keep_lot(order=order, material=card.pk, lot="K 7")
    other = make_order(workshop, owner, version)
    assert one_lot_each([order, other]) == {card.name: "K 7"}
    buy_lot(workshop, card, "90", "M 3")
    keep_lot(order=other, material=card.pk, lot="M 3")
    assert one_lot_each([order, other]) == {}


def test_making_and_the_bench_sheet_say_which_lot_to_take(client, workshop, order):
    _, card = two_lots_of(workshop, order)
    page = address("order_making", workshop, order.pk)
    assert "take from" not in text_of(client.get(page))
    keep_lot(order=order, material=card.pk, lot="K 7")
    assert "take from <bdi>lot K 7</bdi>" in text_of(client.get(page))
    # so is what is not cut from sheets
    twine = make_material(workshop, name="Cotton twine")
    OrderNeed.objects.create(order=order, material=twine, amount=3, lot="T 1", lot_amount=3)
    assert "Take <bdi>Cotton twine</bdi> from <bdi>lot T 1</bdi>." in text_of(client.get(page))
    asked = sheet_of_order(Order.objects.with_people().get(pk=order.pk))
    (batch,) = sheet_view(asked, workshop, sheet_planner())["batches"]
    assert [words.split(" of ")[1] for words in batch["sheets"]] == [f"{card.name} from lot K 7"]
