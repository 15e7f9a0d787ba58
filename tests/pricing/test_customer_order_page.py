"""What a customer does with her order by the link: changes, the proof, the names."""

import re

import pytest
from django.urls import reverse

from maker.activity.models import Event
from pricing.customer_pages.models import QuoteMessage
from pricing.customer_pages.order_answers import names_by_link
from pricing.customer_pages.services import NoLink, make_link, revoke_link
from pricing.orders.approvals import (
    ApprovedAlready,
    BadNames,
    NamesLocked,
    approve,
    save_names,
    undo_approval,
)
from pricing.orders.change_answers import offer_change
from pricing.orders.changes import ChangeInput, save_change, start_change
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderChange
from pricing.orders.services import NotPossibleNow, accept, cancel_order
from tests.at_once import at_once
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote
from tests.pricing.test_customer_pages_by_link import DAY, _outside, again, customer, told

__all__ = ["_outside", "customer"]


@pytest.fixture
def order(workshop, owner):
    buyer = make_customer(workshop, name="Fenn & Sons", email="ada@example.test")
    made = make_quote(workshop, title="Favour boxes", customer=buyer)
    make_line(made, make_recipe(workshop), quantity=5, names="Ada\nBo\nCy")
    accept(quote=sent_quote(made, owner), who="Ada", on=today(), today=today())
    return Order.objects.with_people().get()


@pytest.fixture
def made(order, owner):
    return make_link(quote=order.quote, ends_on=today() + 9 * DAY, by=owner, today=today())


@pytest.fixture
def page(made):
    return f"{reverse('pricing:customer_quote')}?key={made[1]}"


@pytest.fixture
def change(order):
    change, (line,) = start_change(order=order), lines_now(order)
    save_change(
        change=change, typed=ChangeInput(note="Three more", counts={line.pk: 8}),
        today=today(), edit_number=0,
    )  # fmt: skip
    fresh = OrderChange.objects.select_related("order__quote__customer__workshop").get()
    return offer_change(change=fresh, today=today())


def test_a_change_is_accepted_on_the_page(customer, page, order, change):
    text = told(customer.get(page))
    assert "Change 1" in text
    assert "Three more" in text
    assert f"yes-{change.pk}" in text
    answer = customer.post(page, {"answer": f"yes-{change.pk}", "name": "Ada Fenn"})
    assert answer.status_code == 302
    held = again(change)
    assert (held.state, held.decided_by, held.decided_how) == ("accepted", "Ada Fenn", "link")
    assert sum(row.quantity for row in lines_now(order)) == 8
    said = QuoteMessage.objects.get()
    assert (said.kind, said.text) == ("change_yes", "Change 1")
    assert "Your order now" in told(customer.get(page))
    # a second click is told, and changes nothing
    late = customer.post(page, {"answer": f"yes-{change.pk}", "name": "Ada Fenn"})
    assert late.status_code == 422
    assert "answered already" in told(late)


def test_a_change_is_declined_with_a_reason(customer, page, order, change):
    customer.post(page, {"answer": f"no-{change.pk}", "name": "Ada", "note": "Too much"})
    assert again(change).decline_note == "Too much"
    assert QuoteMessage.objects.get().text == "Change 1: Too much"
    assert [row.quantity for row in lines_now(order)] == [5]


def test_a_draft_of_a_change_is_never_shown(customer, page, order):
    change = start_change(order=order)
    assert "Change 1" not in told(customer.get(page))
    answer = customer.post(page, {"answer": f"yes-{change.pk}", "name": "Ada"})
    assert answer.status_code == 422
    assert again(change).state == "draft"


def test_a_change_of_another_order_is_not_reached(customer, page, workshop, owner, change):
    other = make_quote(workshop)
    make_line(other, make_recipe(workshop), quantity=5)
    sent = sent_quote(other, owner)
    accept(quote=sent, who="Bo", on=today(), today=today())
    _, key = make_link(quote=sent, ends_on=today() + DAY, by=owner, today=today())
    theirs = f"{reverse('pricing:customer_quote')}?key={key}"
    assert customer.post(theirs, {"answer": f"yes-{change.pk}", "name": "Bo"}).status_code == 422
    assert again(change).state == "offered"


def test_the_proof_is_approved_once(customer, page, order):
    assert "Approve proof" in told(customer.get(page))
    customer.post(page, {"answer": "proof", "name": "Ada Fenn"})
    given = order.approvals.get()
    assert (given.kind, given.decided_by, given.decided_how) == ("proof", "Ada Fenn", "link")
    assert "Approved by" in told(customer.get(page))
    with pytest.raises(ApprovedAlready):
        approve(order=order, kind="proof", who="x", how="link", on=today(), today=today())


def line_field(order):
    (line,) = lines_now(order)
    return f"line_{line.pk}"


def test_names_are_corrected_until_they_are_approved(customer, page, order):
    field = line_field(order)
    assert "Ada\nBo\nCy" in told(customer.get(page))
    customer.post(page, {"answer": "names", "name": "Ada", field: "Ada\nBea\nCy"})
    (line,) = lines_now(order)
    assert line.names == "Ada\nBea\nCy"
    customer.post(page, {"answer": "names-ok", "name": "Ada", field: "Ada\nBea\nCyd"})
    assert order.approvals.get().kind == "names"
    text = told(customer.get(page))
    assert "The names are locked" in text
    assert "<textarea" not in text.split('id="names"')[1].split("</section>")[0]
    late = customer.post(page, {"answer": "names", "name": "Ada", field: "X\nY\nZ"})
    assert late.status_code == 422
    with pytest.raises(NamesLocked):
        save_names(order=order, names={line.pk: "X"})
    undo_approval(order=order, kind="names")
    save_names(order=order, names={line.pk: "X"})


def test_a_missing_name_keeps_the_list_from_being_approved(customer, page, order):
    sent = {"answer": "names-ok", "name": "Ada", line_field(order): "Ada\nBo"}
    answer = customer.post(page, sent)
    assert answer.status_code == 422
    assert "2 of 3 names are entered" in told(answer)
    assert not order.approvals.exists()


def test_ten_thousand_names_are_refused_with_a_sentence_and_kept_on_the_page(customer, page, order):
    long = "\n".join(f"Name {number}" for number in range(10_000))
    answer = customer.post(page, {"answer": "names", "name": "Ada", line_field(order): long})
    assert answer.status_code == 422
    assert "10,000 names are more than 3" in told(answer)
    assert "Name 9999" in told(answer)
    (line,) = lines_now(order)
    assert line.names == "Ada\nBo\nCy"


def test_no_inner_figure_is_in_the_source_of_an_order(customer, page, order, change):
    text = re.sub(r"<svg.*?</svg>", "", told(customer.get(page)), flags=re.S).lower()
    for word in ("wage", "margin", "lowest price", "overhead", "profit", "floor", "minutes"):
        assert word not in text, word
    own = change.document["own"]
    for name in own["needs"]:
        assert name.lower() not in text
    assert f">{own['minutes']}<" not in text


def test_what_a_customer_does_is_in_activity(customer, page, order, workshop, owner, client):
    customer.post(page, {"answer": "proof", "name": "Ada Fenn"})
    event = Event.objects.of(workshop).get()
    assert event.kind == "customer"
    assert event.about == f"Approved the proof of {order.quote}"
    assert "Ada" not in event.about
    client.force_login(owner)
    shown = client.get(reverse("maker:workshop_activity", args=[workshop.slug])).content.decode()
    assert "Approved the proof of" in shown


def test_an_order_that_is_over_has_no_link_and_takes_no_answer(order, owner, made, customer, page):
    cancel_order(order=order, on=today(), today=today(), reason="", owed=0)
    assert "Approve proof" not in told(customer.get(page))
    with pytest.raises(NotPossibleNow):
        approve(order=order, kind="proof", who="x", how="link", on=today(), today=today())
    with pytest.raises(NoLink):
        make_link(quote=order.quote, ends_on=today() + DAY, by=owner, today=today())


def test_a_revoked_link_answers_nothing(made, customer, page, order):
    revoke_link(link=made[0])
    answer = customer.post(page, {"answer": "proof", "name": "Ada"})
    assert answer.status_code == 410
    assert not order.approvals.exists()


@pytest.mark.django_db(transaction=True)
def test_names_saved_and_approved_at_once_end_in_one_of_both(order, made):
    (line,) = lines_now(order)
    results = at_once(
        lambda: names_by_link(link=made[0], names={line.pk: "A\nB\nC"}, name="x", today=today()),
        lambda: approve(order=order, kind="names", who="y", how="link", on=today(), today=today()),
    )
    kinds = {type(each).__name__ for each in results}
    assert kinds <= {"QuoteMessage", "OrderApproval", "NamesLocked", "NotAnswerable"}
    assert order.approvals.count() == 1


def test_the_maker_notes_approvals_and_enters_names(client, owner, workshop, order):
    client.force_login(owner)

    def address(name, *keys):
        return reverse(f"pricing:{name}", args=[workshop.slug, order.pk, *keys])

    page = address("order_names")
    assert client.get(page).status_code == 200
    client.post(page, {line_field(order): "Ada\nBo\nDee"})
    (line,) = lines_now(order)
    assert line.names.endswith("Dee")
    assert client.post(page, {line_field(order): "A\nB\nC\nD"}).status_code == 422
    sent = {"who": "Ada", "how": "email", "on": today().isoformat()}
    assert client.get(address("order_approval", "names")).status_code == 200
    client.post(address("order_approval", "names"), sent)
    assert order.approvals.get().decided_how == "email"
    assert client.post(page, {line_field(order): "A"}).status_code == 422
    client.post(address("order_approval_undo", "names"))
    assert not order.approvals.exists()
    assert client.get(address("order_approval", "colour")).status_code == 404


def test_more_names_than_the_price_counts_are_refused(order):
    (line,) = lines_now(order)
    with pytest.raises(BadNames, match="more than 3"):
        save_names(order=order, names={line.pk: "A\nB\nC\nD"})
