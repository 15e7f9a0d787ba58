"""Numbered changes of an accepted order: their price, date, needs, deliveries and invoices."""

import datetime
import json
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from maker.calc.strict_json import WrongJson
from pricing.calc.invoicing.invoices import order_totals
from pricing.costs.inputs import date_terms
from pricing.orders.change_answers import accept_change, decline_change, offer_change
from pricing.orders.change_effects import BadChange, work_out_change
from pricing.orders.changes import (
    AnsweredAlready,
    ChangeInput,
    add_item,
    restore_change,
    save_change,
    start_change,
    withdraw_change,
)
from pricing.orders.inputs import goods_of, lines_now, sale_terms
from pricing.orders.invoicing import issue_invoice
from pricing.orders.models import Order, OrderApproval, OrderChange
from pricing.orders.services import (
    DeliveryInput,
    NotPossibleNow,
    OrderBegun,
    accept,
    deliver,
    move_to,
    owed_on,
    save_deliveries,
    undo_answer,
)
from pricing.quotes.services import QuoteLineInput
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.at_once import at_once
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
ZERO = Decimal(0)


def again(row):
    return type(row).objects.get(pk=row.pk)


@pytest.fixture
def version(workshop):
    return make_recipe(workshop)


@pytest.fixture
def order(workshop, owner, version):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, version, quantity=20)
    quote = sent_quote(made, owner)
    return accept(quote=quote, who="Ada Fenn", on=today(), today=today())


def fresh(change):
    return OrderChange.objects.select_related("order__quote__customer__workshop").get(pk=change.pk)


def changed(order, typed, extra=None):
    """A change of the order, offered."""
    change = start_change(order=order)
    save_change(change=change, typed=typed, today=today(), edit_number=change.edit_number)
    if extra is not None:
        add_item(change=change, line=extra, edit_number=again(change).edit_number)
    return offer_change(change=fresh(change), today=today())


def said_yes(change):
    return accept_change(change=change, who="Ada Fenn", how="phone", on=today(), today=today())


def to_count(order, count, **more):
    (line,) = lines_now(order)
    return ChangeInput(counts={line.pk: count}, **more)


def reserved(order):
    return {need.material_id: need.amount for need in order.needs.all()}


def test_more_is_an_addition_with_its_own_price_at_the_accepted_one(order):
    (line,) = lines_now(order)
    change = changed(order, to_count(order, 26, note="Six more guests"))
    assert (change.number, change.state) == (1, OrderChange.State.OFFERED)
    each = Decimal(line.frozen["price_each"])
    assert change.total_change == each * 6
    assert change.document["lines"][0]["quantity"] == 6
    # nothing of the order has changed until it is accepted
    assert [row.quantity for row in lines_now(order)] == [20]
    assert again(order).changes_total == 0


def test_an_accepted_change_is_a_part_of_the_order(order):
    before, minutes = reserved(order), work_minutes(order)
    change = said_yes(changed(order, to_count(order, 90, due_on=today() + 40 * DAY)))
    held = again(order)
    assert sorted(row.quantity for row in lines_now(held)) == [20, 70]
    assert held.total == held.quote.total + change.total_change
    assert owed_on(held) == held.total
    assert held.due_on == today() + 40 * DAY
    (delivery,) = held.deliveries.all()
    assert sorted(row.quantity for row in delivery.lines.all()) == [20, 70]
    after = reserved(held)
    assert any(after[key] > before[key] for key in before)
    assert all(after[key] >= before[key] for key in before)
    assert work_minutes(held) > minutes


def work_minutes(order):
    """What the calendar of another order holds free for this one."""
    Order.objects.filter(pk=order.pk).update(due_on=today() + 60 * DAY)
    (promise,) = date_terms(order.workshop, today()).promises
    return promise.minutes


def test_fewer_gives_needs_minutes_and_money_back(order):
    before, minutes = reserved(order), work_minutes(order)
    change = said_yes(changed(order, to_count(order, 12)))
    (line,) = lines_now(order)
    assert line.quantity == 12
    assert change.total_change == -8 * Decimal(line.frozen["price_each"])
    (delivery,) = again(order).deliveries.all()
    assert [row.quantity for row in delivery.lines.all()] == [12]
    assert all(reserved(order)[key] <= before[key] for key in before)
    assert work_minutes(again(order)) < minutes


def test_another_colour_takes_all_of_one_and_adds_the_other(workshop, owner):
    version = make_recipe(workshop)
    rose = version.colourways.create(name="rose")
    sage = version.colourways.create(name="sage")
    made = make_quote(workshop)
    make_line(made, version, quantity=10, colourway=rose)
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    (line,) = lines_now(order)
    change = changed(order, ChangeInput(colourways={line.pk: sage}))
    assert change.total_change == 0
    said_yes(change)
    assert [(row.colourway_name, row.quantity) for row in lines_now(order)] == [("sage", 10)]
    (delivery,) = order.deliveries.all()
    assert [row.line.colourway_name for row in delivery.lines.all()] == ["sage"]


def test_an_extra_item_is_priced_within_the_order(order, workshop):
    extra = QuoteLineInput(version=make_recipe(workshop), quantity=5, names="Ada\nBo")
    change = changed(order, ChangeInput(), extra)
    assert change.total_change > 0
    assert Decimal(change.document["own"]["minutes"]) > 0
    said_yes(change)
    assert sorted(row.quantity for row in lines_now(order)) == [5, 20]


def test_the_invoices_of_a_changed_order_add_up_to_the_cent(order, workshop):
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.2")
    said_yes(changed(order, to_count(order, 26)))
    rows = lines_now(order)
    first, last = rows[0], rows[1]
    (delivery,) = order.deliveries.all()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(delivery, today() + 9 * DAY, "", "", {first.pk: 13, last.pk: 2}),
            DeliveryInput(None, today() + 30 * DAY, "", "", {first.pk: 7, last.pk: 4}),
        ],
        edit_number=again(order).edit_number,
    )
    issued = [
        issue_invoice(delivery=row, on=today(), today=today())
        for row in order.deliveries.order_by("position")
    ]
    held = again(order)
    assert sum(each.total for each in issued) == held.total
    assert owed_on(held) == held.total
    whole = order_totals(
        [goods_of(lines_now(held), held.quote.frozen)], sale_terms(held.quote.frozen)
    )
    assert whole.gross == held.total


def test_discount_and_charges_of_the_quote_stay_as_they_were(workshop, owner, version):
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.2")
    workshop.save()
    made = make_quote(workshop)
    make_line(made, version, quantity=20)
    made.extras.create(kind="discount", reason="first order", amount=Decimal("3.33"))
    made.extras.create(kind="charge", reason="names set-up", amount=Decimal("12.00"))
    order = accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    change = changed(order, to_count(order, 27))
    assert Decimal(change.document["total_before"]) == again(order).quote.total
    said_yes(change)
    issued = issue_invoice(delivery=order.deliveries.get(), on=today(), today=today())
    assert issued.total == again(order).total == Decimal(change.document["total_after"])


def test_each_change_counts_from_what_the_order_is_then(order):
    said_yes(changed(order, to_count(order, 26)))
    first, second = lines_now(order)
    change = changed(order, ChangeInput(counts={first.pk: 10, second.pk: 8}))
    assert change.number == 2
    each = Decimal(first.frozen["price_each"])
    assert change.total_change == -8 * each
    said_yes(change)
    assert again(order).total == 18 * each
    assert sum(row.quantity for row in lines_now(order)) == 18


def test_what_has_left_or_is_invoiced_cannot_be_taken_off(order):
    (line,) = lines_now(order)
    (row,) = order.deliveries.all()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(row, None, "", "", {line.pk: 15}),
            DeliveryInput(None, None, "", "", {line.pk: 5}),
        ],
        edit_number=again(order).edit_number,
    )
    deliver(delivery=row, on=today(), today=today())
    with pytest.raises(BadChange, match="Only 5 of"):
        changed(order, to_count(order, 14))
    change = order.changes.get()
    save_change(
        change=change, typed=to_count(order, 15), today=today(), edit_number=change.edit_number
    )
    said_yes(offer_change(change=fresh(change), today=today()))
    # the delivery in which nothing is left is gone
    assert again(order).deliveries.count() == 1
    assert again(order).state == Order.State.DELIVERED


def test_a_delivery_that_left_meanwhile_keeps_the_answer_from_going_through(order):
    change = changed(order, to_count(order, 12))
    (row,) = order.deliveries.all()
    issue_invoice(delivery=row, on=today(), today=today())
    with pytest.raises(BadChange, match="on an invoice"):
        said_yes(change)
    assert again(change).state == OrderChange.State.OFFERED
    assert again(order).changes_total == 0


def test_all_of_it_is_a_cancellation(order):
    with pytest.raises(BadChange, match="Cancel the order"):
        changed(order, to_count(order, 0))


def test_nothing_is_no_change(order):
    with pytest.raises(BadChange, match="Nothing changes"):
        changed(order, ChangeInput(note="Hello"))


def test_a_date_alone_is_a_change(order):
    said_yes(changed(order, ChangeInput(due_on=today() + 50 * DAY)))
    assert again(order).due_on == today() + 50 * DAY
    assert order.deliveries.get().due_on == today() + 50 * DAY
    assert again(order).changes_total == 0


def test_a_date_that_has_passed_is_refused(order):
    with pytest.raises(BadChange, match="passed"):
        changed(order, ChangeInput(due_on=today() - DAY))


def test_a_change_is_answered_once(order):
    change = said_yes(changed(order, to_count(order, 26)))
    total = again(order).total
    with pytest.raises(AnsweredAlready):
        said_yes(change)
    with pytest.raises(AnsweredAlready):
        decline_change(change=change, who="", how="phone", note="", on=today(), today=today())
    assert again(order).total == total


@pytest.mark.django_db(transaction=True)
def test_two_people_accepting_a_change_at_once_change_it_once(order):
    change = changed(order, to_count(order, 26))
    found = at_once(lambda: said_yes(fresh(change)), lambda: said_yes(fresh(change)))
    assert sorted(type(each).__name__ for each in found) == ["AnsweredAlready", "OrderChange"]
    assert again(order).changes_total == change.total_change
    assert sum(row.quantity for row in lines_now(order)) == 26


def test_a_declined_change_leaves_the_order_and_can_be_reopened(order):
    change = changed(order, to_count(order, 26))
    decline_change(
        change=change, who="Ada", how="email", note="Too much", on=today(), today=today()
    )
    assert [row.quantity for row in lines_now(order)] == [20]
    assert restore_change(change=change).state == OrderChange.State.DRAFT


def test_one_change_is_open_at_a_time(order):
    change = start_change(order=order)
    assert start_change(order=order) == change
    withdraw_change(change=change)
    second = start_change(order=order)
    assert second.number == 2
    with pytest.raises(NotPossibleNow, match="Change 2 is still open"):
        restore_change(change=change)


def test_a_ready_order_with_more_to_make_is_in_the_making_again(order):
    OrderApproval.objects.create(
        order=order, kind="proof", decided_on=today(), decided_by="Ada", decided_how="phone"
    )
    change = changed(order, to_count(order, 26))
    move_to(order=order, state=Order.State.READY)
    said_yes(change)
    assert again(order).state == Order.State.MAKING
    assert not order.approvals.exists()


def test_a_cancelled_or_delivered_order_is_not_changed(order):
    (row,) = order.deliveries.all()
    deliver(delivery=row, on=today(), today=today())
    with pytest.raises(NotPossibleNow, match="delivered"):
        start_change(order=order)


def test_an_answer_is_not_undone_once_a_change_was_offered(order):
    changed(order, to_count(order, 26))
    with pytest.raises(OrderBegun, match="change"):
        undo_answer(quote=order.quote)
    withdraw_change(change=order.changes.get())
    undo_answer(quote=order.quote)
    assert not Order.objects.exists()


def test_an_item_that_cannot_be_worked_out_needs_a_price(order, workshop):
    change, version = start_change(order=order), make_recipe(workshop)
    rose = version.colourways.create(name="rose")
    extra = QuoteLineInput(version=version, quantity=5, colourway=rose)
    line = add_item(change=change, line=extra, edit_number=change.edit_number)
    rose.delete()
    with pytest.raises(BadChange, match="Enter a price"):
        work_out_change(fresh(change), today())
    save_change(
        change=change,
        typed=ChangeInput(extras={line.pk: (5, Decimal("3.20"))}),
        today=today(),
        edit_number=again(change).edit_number,
    )
    worked = work_out_change(fresh(change), today())
    assert worked.total_change == Decimal("16.00")
    assert "rose" in worked.problem


def test_a_document_for_the_customer_holds_no_inner_figure(order):
    change = changed(order, to_count(order, 26))
    public = {key: value for key, value in change.document.items() if key != "own"}
    assert not {"minutes", "needs", "cost", "margin", "floor"} & set(str(public).split("'"))


def page_of(order, change=None):
    if change is None:
        return reverse("pricing:order", args=[order.workshop.slug, order.pk])
    return reverse("pricing:order_change", args=[order.workshop.slug, order.pk, change.pk])


@pytest.fixture
def client_of(client, owner):
    client.force_login(owner)
    return client


def test_a_change_from_the_order_to_the_answer_by_pages(client_of, order):
    (line,) = lines_now(order)
    new = reverse("pricing:order_change_new", args=[order.workshop.slug, order.pk])
    change = client_of.post(new, follow=True).context["change"]
    assert client_of.post(new, follow=True).context["change"] == change
    sent = {
        "edit_number": change.edit_number, "note": "Six more guests", "due_on": "",
        f"count_{line.pk}": "26", "offer": "1",
    }  # fmt: skip
    answer = client_of.post(page_of(order, change), sent, follow=True)
    assert "waiting for an answer" in answer.content.decode()
    answer_page = page_of(order, change) + "answer/"
    assert client_of.get(answer_page).status_code == 200
    client_of.post(
        answer_page, {"who": "Ada", "how": "phone", "on": today().isoformat()}, follow=True
    )
    assert again(change).state == OrderChange.State.ACCEPTED
    page = client_of.get(page_of(order)).content.decode()
    assert "Added by change 1" in page
    assert "on the phone" in page


def test_a_draft_shows_its_effect_and_keeps_what_was_typed(client_of, order):
    change = start_change(order=order)
    (line,) = lines_now(order)
    sent = {"edit_number": 0, "note": "x", "due_on": "", f"count_{line.pk}": "many"}
    answer = client_of.post(page_of(order, change), sent)
    assert answer.status_code == 422
    assert 'value="many"' in answer.content.decode()
    client_of.post(page_of(order, change), sent | {f"count_{line.pk}": "26"})
    page = client_of.get(page_of(order, change)).content.decode()
    assert "Price effect" in page
    assert "Earliest date" in page
    stale = client_of.post(page_of(order, change), sent | {f"count_{line.pk}": "30"})
    assert "Somebody else saved" in stale.content.decode()


def test_an_item_is_added_by_its_page(client_of, order, workshop):
    change = start_change(order=order)
    version = make_recipe(workshop)
    page = page_of(order, change) + "items/new/"
    assert client_of.get(page).status_code == 200
    entry = f"{page}?design={version.design_id}"
    assert client_of.get(entry).status_code == 200
    answer = client_of.post(
        entry, {"edit_number": change.edit_number, "version": version.pk, "quantity": "5"}
    )
    assert answer.status_code == 302
    assert [row.quantity for row in change.lines.all()] == [5]
    assert client_of.post(entry, {"version": version.pk, "quantity": "0"}).status_code == 422


def test_changes_and_approvals_are_in_the_workshop_file(order, workshop, owner):
    said_yes(changed(order, to_count(order, 26)))
    first, second = lines_now(order)
    OrderApproval.objects.create(
        order=order, kind="names", decided_on=today(), decided_by="Ada", decided_how="link"
    )
    extra = QuoteLineInput(version=make_recipe(workshop), quantity=5, names="Ada\nBo")
    change = changed(order, ChangeInput(counts={first.pk: 15, second.pk: 6}), extra)
    written = export_workshop(workshop)
    copy = import_workshop(json.loads(json.dumps(written)), name="Second Mill")
    theirs = Order.objects.of(copy).with_people().get()
    assert theirs.total == again(order).total
    assert sorted(row.quantity for row in lines_now(theirs)) == [6, 20]
    assert theirs.approvals.get().decided_by == "Ada"
    other = theirs.changes.get(number=2)
    assert other.document == change.document
    assert other.less.get().quantity == 5
    said_yes(fresh(other))
    assert sorted(row.quantity for row in lines_now(theirs)) == [5, 6, 15]
    again_written = export_workshop(workshop)
    assert again_written["orders"] == written["orders"]


@pytest.mark.parametrize(
    ("where", "value", "told"),
    [
        ("document", {}, "says what it was"),
        ("document", {"lines": []}, "missing"),
        ("number", "one", "number"),
        ("less", [{"line": 9, "quantity": 1}], "at most 2"),
    ],
)
def test_a_change_that_cannot_be_is_refused_with_its_path(
    order, workshop, owner, where, value, told
):
    changed(order, to_count(order, 26))
    written = export_workshop(workshop)
    written["orders"][0]["changes"][0][where] = value
    with pytest.raises(WrongJson, match=told):
        import_workshop(json.loads(json.dumps(written)), name="Second Mill")


def test_what_a_change_takes_off_is_told_with_a_minus(client_of, order):
    change = start_change(order=order)
    (line,) = lines_now(order)
    sent = {"edit_number": 0, "note": "", "due_on": "", f"count_{line.pk}": "8"}
    answer = client_of.post(page_of(order, change), sent, follow=True)
    assert re.search(r"<dt>Work</dt><dd>−\d+ min</dd>", answer.content.decode())
