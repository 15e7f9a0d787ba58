"""Enquiries: kept, made a quote in one step, declined, opened again, archived."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import Colourway
from pricing.enquiries.inputs import inside_of, lengths_in
from pricing.enquiries.models import Enquiry
from pricing.enquiries.services import (
    AlreadyKept,
    DropInput,
    NotOpen,
    decline_enquiry,
    quote_enquiry,
    reopen_enquiry,
    save_enquiry,
    undo_quote,
)
from pricing.quotes.models import Quote
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer

DAY = datetime.timedelta(days=1)


def make_enquiry(workshop, **fields):
    customer = fields.pop("customer", None) or make_customer(workshop)
    values = {"title": "Favours", "asked_on": today(), "quantities": "120, maybe 100"} | fields
    drops = values.pop("drops", [])
    return save_enquiry(enquiry=Enquiry(customer=customer, **values), drops=drops)


def again(row):
    return type(row).objects.with_people().get(pk=row.pk)


def address(name, workshop, *args):
    return reverse(f"pricing:{name}", args=[workshop.slug, *args])


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("90 x 45 x 140 mm", (90, 45, 140)),
        ("wedge 110 x 80 x 55 mm", (110, 80, 55)),
        ("9 × 4.5 × 14 cm", (90, 45, 140)),
        ('3 x 2 x 4 1/2"', (Decimal("76.2"), Decimal("50.8"), Decimal("114.3"))),
        ("45 x 80 mm, set of 5", None),
        ("", None),
        ("a x b x c", None),
    ],
)
def test_finished_sizes_as_they_are_written(text, found):
    assert lengths_in(text) == found


def test_names_and_places_are_kept_and_the_names_move_to_the_line(workshop):
    version = make_recipe(workshop)
    enquiry = make_enquiry(
        workshop,
        names="Ada\nBo",
        drops=[DropInput("Mill Lane", 80, Decimal(12)), DropInput("Hall")],
    )
    assert [drop.quantity for drop in enquiry.drops.order_by("position")] == [80, None]
    quote = quote_enquiry(enquiry=enquiry, today=today(), channel=None, version=version)
    stored = again(enquiry)
    assert (stored.state, stored.quote, stored.names) == ("quoted", quote, "")
    assert quote.lines.get().names == "Ada\nBo"
    with pytest.raises(NotOpen, match="already has"):
        quote_enquiry(enquiry=enquiry, today=today(), channel=None)
    back = undo_quote(enquiry=stored)
    assert (back.state, back.quote, back.names) == ("open", None, "Ada\nBo")
    assert Quote.objects.get(pk=quote.pk).state == Quote.State.DISCARDED


def test_more_names_than_items_are_refused_and_nothing_is_made(workshop):
    version = make_recipe(workshop)
    enquiry = make_enquiry(workshop, quantities="1", names="Ada\nBo")
    with pytest.raises(Exception, match="2 names for 1"):
        quote_enquiry(enquiry=enquiry, today=today(), channel=None, version=version)
    assert not Quote.objects.exists()


def test_declined_reopened_archived(client, workshop):
    enquiry = make_enquiry(workshop)
    page = address("enquiry_decline", workshop, enquiry.pk)
    answer = client.post(page, {"reason": "no time", "on": today() + DAY})
    assert answer.status_code == 422
    assert "in the future" in answer.content.decode()
    client.post(page, {"reason": "No time.", "on": today()})
    assert again(enquiry).state == "declined"
    shown = client.get(address("enquiry", workshop, enquiry.pk)).content.decode()
    assert "“<bdi>No time.</bdi>”</p>" in shown
    with pytest.raises(NotOpen):
        decline_enquiry(enquiry=enquiry, reason="", on=today())
    client.post(address("enquiry_reopen", workshop, enquiry.pk))
    assert again(enquiry).state == "open"
    with pytest.raises(NotOpen):
        reopen_enquiry(enquiry=enquiry)
    page, listed = address("enquiry", workshop, enquiry.pk), address("enquiry_list", workshop)
    client.post(address("enquiry_retire", workshop, enquiry.pk), follow=True)
    assert page not in client.get(listed).content.decode()
    assert page in client.get(listed + "?state=away").content.decode()
    client.post(address("enquiry_restore", workshop, enquiry.pk))
    assert again(enquiry).retired_on is None


def typed(**fields):
    values = {
        "new_name": "Ines",
        "title": "Boxes",
        "asked_on": "2026-10-01",
        "quantities": "120, maybe 100 or 150",
        "drops-TOTAL_FORMS": "1",
        "drops-INITIAL_FORMS": "0",
        "drops-0-address": "Mill Lane",
        "drops-0-quantity": "80",
    }
    return values | fields


def test_one_is_entered_with_a_new_customer_once(client, workshop):
    page, key = address("enquiry_new", workshop), str(uuid.uuid4())
    for _ in range(2):
        answer = client.post(page, typed(form_key=key), follow=True)
        assert answer.status_code == 200
    row = Enquiry.objects.get()
    assert (row.customer.name, row.wanted, row.drops.get().quantity) == (
        "Ines",
        (120, 100, 150),
        80,
    )
    with pytest.raises(AlreadyKept):
        save_enquiry(
            enquiry=Enquiry(customer=row.customer, title="x", form_key=row.form_key), drops=[]
        )


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"quantities": "some"}, "Enter a number, like 120"),
        ({"new_name": ""}, "Choose a customer or enter"),
        ({"title": ""}, "Enter a subject"),
        ({"width_mm": "80"}, "Enter all three lengths, or none"),
        ({"youngest": "-1"}, "The least is 0"),
        ({"budget_each": "two"}, "two"),
        ({"drops-0-quantity": "x"}, "x"),
    ],
)
def test_what_cannot_be_is_told_and_what_was_typed_stays(client, workshop, fields, said):
    answer = client.post(address("enquiry_new", workshop), typed(**fields))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "Mill Lane" in answer.content.decode()
    assert not Enquiry.objects.exists()


def test_pages_of_one(client, reader_client, workshop, django_assert_max_num_queries):
    make_recipe(workshop)
    enquiry = make_enquiry(workshop, is_food=True, youngest=2)
    page = address("enquiry", workshop, enquiry.pk)
    shown = client.get(page).content.decode()
    assert "Wrapped food only" in shown
    assert "no small parts" in shown
    assert "Create empty quote" in shown
    assert "Create empty quote" not in reader_client.get(page).content.decode()
    designs = address("enquiry_designs", workshop, enquiry.pk)
    with django_assert_max_num_queries(45):
        assert "Create quote" in client.get(designs).content.decode()
    part = client.get(designs, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part
    assert "Create quote" not in reader_client.get(designs).content.decode()
    customer = address("customer", workshop, enquiry.customer_id)
    assert page in client.get(customer).content.decode()


def test_a_quote_in_one_click_and_the_way_back(client, workshop):
    version = make_recipe(workshop)
    enquiry = make_enquiry(workshop)
    page, key = address("enquiry_quote", workshop, enquiry.pk), str(uuid.uuid4())
    sent = {"version": version.pk, "choice": ["nothing:here"], "form_key": key}
    answer = client.post(page, sent)
    quote = Quote.objects.get()
    assert answer["Location"] == address("quote", workshop, quote.pk)
    assert "From the enquiry" in client.get(answer["Location"]).content.decode()
    client.post(page, sent)  # the second click
    assert Quote.objects.count() == 1
    client.post(address("enquiry_undo_quote", workshop, enquiry.pk))
    assert again(enquiry).state == "open"
    answer = client.post(page, {"version": 10**9}, follow=True)
    assert "isn&#x27;t there any more" in answer.content.decode()


def test_a_line_for_each_colourway_that_was_asked_for(client, workshop):
    version = make_recipe(workshop)
    moss, plum = (
        Colourway.objects.create(version=version, name=name, position=place)
        for place, name in enumerate(("Moss", "Plum"))
    )
    names = [f"Guest {number}" for number in range(1, 81)]
    enquiry = make_enquiry(workshop, colours="70 moss, 50 plum", names="\n".join(names))
    shown = client.get(address("enquiry_designs", workshop, enquiry.pk)).content.decode()
    assert "A quote line each: 70 Moss, 50 Plum" in shown
    page = address("enquiry_quote", workshop, enquiry.pk)
    client.post(page, {"version": version.pk, "form_key": str(uuid.uuid4())})
    first, second = Quote.objects.get().lines.kept()
    assert (first.colourway, first.quantity, first.colourway_name) == (moss, 70, "Moss")
    assert (second.colourway, second.quantity) == (plum, 50)
    assert first.names.splitlines() + second.names.splitlines() == names
    assert len(second.names.splitlines()) == 10
    assert first.other_quantities == ""
    client.post(address("enquiry_undo_quote", workshop, enquiry.pk))
    assert again(enquiry).names.splitlines() == names


def test_one_colourway_is_one_line_with_its_other_quantities(workshop):
    version = make_recipe(workshop)
    moss = Colourway.objects.create(version=version, name="Moss")
    enquiry = make_enquiry(workshop, colours="moss")
    quote = quote_enquiry(enquiry=enquiry, today=today(), channel=None, version=version)
    line = quote.lines.get()
    assert (line.colourway, line.quantity, line.other_quantities) == (moss, 120, "100")


def test_a_design_without_a_shape_is_measured_by_its_words(workshop):
    version = make_recipe(workshop, finished_size="60 x 30 x 110 mm")
    assert inside_of(version) == (60, 30, 110)
