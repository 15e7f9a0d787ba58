"""The list page: every quantity priced, jumps explained, rows kept and printed."""

import io
from collections import OrderedDict
from decimal import Decimal
from urllib.parse import urlencode

import pdfplumber
import pytest
from django.urls import reverse

from maker.slow_work.models import Work
from pricing.prices.models import PriceListEntry
from pricing.quantities import services
from tests.factories import make_channel, make_recipe
from tests.slow_work import do_what_waits


@pytest.fixture
def version(workshop):
    return make_recipe(workshop)


def address(workshop, version, name="quantities", **question):
    base = reverse(f"pricing:{name}", args=[workshop.slug, version.design_id])
    return f"{base}?{urlencode(question)}"


def test_every_quantity_is_priced_and_the_list_never_rises(client, workshop, version):
    make_channel(workshop, name="Fair")
    response = client.get(address(workshop, version, quantity=9, up_to=40))
    every_quantity = response.context["every_quantity"]
    assert [quantity_row.quantity for quantity_row in every_quantity.rows] == list(range(1, 41))
    # worked by hand on the cost page: nine from one sheet of 0.50 ask 4.70 each
    assert every_quantity.row(9).worked_out_each == Decimal("4.70")
    prices = [quantity_row.price_each for quantity_row in every_quantity.rows]
    assert prices == sorted(prices, reverse=True)
    totals = [quantity_row.total for quantity_row in every_quantity.rows]
    assert totals == sorted(set(totals))


def test_a_list_asked_for_again_is_not_worked_out_again_unless_something_changed(
    client, workshop, version, monkeypatch, settings
):
    memory = {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "again"}
    settings.CACHES = {**settings.CACHES, "figures": memory}
    worked_out, work_out = [], services.every_quantity_of
    monkeypatch.setattr(
        services,
        "every_quantity_of",
        lambda *given, **more: worked_out.append(1) or work_out(*given, **more),
    )
    make_channel(workshop, name="Fair")
    question = address(workshop, version, quantity=9, up_to=40)
    first, again = (client.get(question).context["every_quantity"] for _ in range(2))
    assert len(worked_out) == 1
    assert again == first
    workshop.wage_per_hour += 1
    workshop.save(update_fields=["wage_per_hour"])
    dearer = client.get(question).context["every_quantity"]
    assert len(worked_out) == 2
    assert dearer.row(9).cost > first.row(9).cost


def test_a_tenth_needs_a_second_sheet_and_the_page_says_so(client, workshop, version):
    make_channel(workshop, name="Fair")
    response = client.get(address(workshop, version, quantity=9, up_to=12))
    jumps = {row["words"]: row["why"] for row in response.context["cliffs"]}
    assert "one more sheet" in jumps["10 cost more each than 9"]
    assert "10 cost more each than 9" in response.content.decode()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("quantity", "0", "The least is 1"),
        ("quantity", "many", "a number. Enter one"),
        ("up_to", "5000", "1000"),
        ("steps", "1, two", "Enter whole numbers"),
        ("bears_each", "-3", ""),
        ("setup_limit", "250", ""),
    ],
)
def test_what_cannot_be_read_is_kept_and_explained(client, workshop, version, field, value, words):
    response = client.get(address(workshop, version, **{"quantity": 9, field: value}))
    form = response.context["form"]
    assert field in form.errors
    assert "every_quantity" not in response.context
    page = response.content.decode()
    assert f'value="{value}"' in page
    assert words in page


def test_rows_go_on_the_price_list_with_the_cost_of_their_quantity(client, workshop, version):
    channel = make_channel(workshop, name="Fair")
    to = address(workshop, version, "quantities_publish", quantity=9, up_to=40, steps="9, 36")
    response = client.post(to, follow=True)
    assert "from 9, 36" in response.content.decode()
    entries = PriceListEntry.objects.of(workshop).current().order_by("bought_at_once")
    assert [(e.bought_at_once, e.made_at_once, e.channel) for e in entries] == [
        (9, 9, channel),
        (36, 36, channel),
    ]
    assert entries[0].price == Decimal("4.70")
    client.post(to)
    assert PriceListEntry.objects.of(workshop).count() == 2
    fewer = address(workshop, version, "quantities_publish", quantity=9, up_to=40, steps="9")
    assert "Prices from 36 are unchanged" in client.post(fewer, follow=True).content.decode()


def test_a_reader_sees_but_does_not_put_prices_on_the_list(reader_client, workshop, version):
    make_channel(workshop, name="Fair")
    page = reader_client.get(address(workshop, version, quantity=9, up_to=12))
    assert page.status_code == 200
    assert "Ask these prices" not in page.content.decode()
    refused = reader_client.post(address(workshop, version, "quantities_publish", quantity=9))
    assert refused.status_code == 403
    assert not PriceListEntry.objects.exists()


def test_the_printed_list_has_prices_and_no_figure_of_her_own(client, workshop, version):
    make_channel(workshop, name="Fair")
    asked = {"quantity": 9, "up_to": 40, "steps": "1, 9, 36"}
    to = address(workshop, version, "quantities_pdf", **asked)
    # what is not asked yet is no price list
    assert "Save them first" in client.get(to, follow=True).content.decode()
    client.post(address(workshop, version, "quantities_publish", **asked))
    response = client.get(to)
    assert response["Content-Type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(response.content)) as pdf:
        text = "".join(page.extract_text() for page in pdf.pages)
    assert "€4.70" in text
    assert "€42.30" in text  # 9 x 4.70
    for own in ("Cost", "Floor", "Margin", "€3.26"):
        assert own not in text


def test_a_longer_list_takes_no_more_queries(client, workshop, version, count_queries):
    make_channel(workshop, name="Fair")
    client.get(address(workshop, version, quantity=2, up_to=3))
    with count_queries() as few:
        client.get(address(workshop, version, quantity=2, up_to=3))
    with count_queries() as many:
        client.get(address(workshop, version, quantity=2, up_to=120))
    assert len(many) == len(few)


def test_a_list_may_be_longer_than_what_fits_side_by_side(client, workshop, version):
    make_channel(workshop, name="Fair")
    steps = ",".join(str(step) for step in range(1, 41))
    rows = client.get(address(workshop, version, quantity=9, up_to=40, steps=steps)).context["rows"]
    assert [row.quantity for row in rows] == list(range(1, 41))
    too_many = client.get(address(workshop, version, quantity=9, steps=f"{steps},41"))
    assert "No more than 40" in str(too_many.context["form"].errors["steps"])


def test_where_offcuts_count_the_first_list_is_short(client, workshop, version):
    make_channel(workshop, name="Fair")
    response = client.get(address(workshop, version, quantity=9))
    assert len(response.context["every_quantity"].rows) == 250
    workshop.offcut_value = "area"
    workshop.save(update_fields=["offcut_value"])
    response = client.get(address(workshop, version, quantity=9))
    assert len(response.context["every_quantity"].rows) == 40
    assert "each quantity is planned by itself" in response.content.decode()


# ---- long lists: worked out by a worker


@pytest.fixture
def long_lists(monkeypatch):
    """Let any new cutting plan be more than a page waits for."""
    monkeypatch.setattr(services, "MOST_NEW_PLANS_AT_ONCE", -1)
    monkeypatch.setattr("catalogue.sheet_plans.services._MEMORY._kept", OrderedDict())


def keyed(workshop):
    return list(Work.objects.of(workshop).order_by("pk"))


@pytest.mark.django_db(transaction=True)
def test_a_long_list_is_worked_out_by_a_worker_and_is_the_same(
    reader_client, workshop, version, monkeypatch
):
    make_channel(workshop, name="Fair")
    question = address(workshop, version, quantity=9, up_to=40)
    at_once = reader_client.get(question).context["every_quantity"]
    monkeypatch.setattr(services, "MOST_SIZE_AT_ONCE", 0)
    waits = reader_client.get(question)
    assert waits.status_code == 200
    assert "prices of 40 quantities" in keyed(workshop)[0].title
    page = waits.content.decode()
    assert "No worker is running" in page
    assert f'hx-get="/w/marlow/work/{keyed(workshop)[0].pk}/"' in page
    # asked again while it waits it is the same work
    reader_client.get(question)
    do_what_waits()
    work = keyed(workshop)
    assert [one.state for one in work] == ["done"]
    kept = reader_client.get(question).context["every_quantity"]
    assert kept == at_once
    # with the decimals that are shown
    assert [row.line for row in kept.rows] == [row.line for row in at_once.rows]
    assert {str(row.price_each) for row in kept.rows} == {
        str(row.price_each) for row in at_once.rows
    }
    # the page of the work leads back, and nobody gets what is kept as a file
    assert reader_client.get(f"/w/marlow/work/{work[0].pk}/")["Location"] == question
    assert reader_client.get(f"/w/marlow/work/{work[0].pk}/file/").status_code == 404


@pytest.mark.django_db(transaction=True)
def test_a_list_whose_design_changes_meanwhile_is_never_shown_with_old_figures(
    client, workshop, version, monkeypatch
):
    monkeypatch.setattr(services, "MOST_SIZE_AT_ONCE", 0)
    question = address(workshop, version, quantity=9, up_to=12)
    client.get(question)
    workshop.wage_per_hour = Decimal(99)
    workshop.save()
    do_what_waits()
    assert "have changed" in keyed(workshop)[0].refusal
    assert "every_quantity" not in client.get(question).context
    assert len(keyed(workshop)) == 2
    do_what_waits()
    assert client.get(question).context["every_quantity"]


def test_new_cutting_plans_beyond_a_page_s_wait_are_left_to_a_worker(
    client, workshop, version, long_lists
):
    question = address(workshop, version, quantity=9, up_to=12)
    assert "every_quantity" not in client.get(question).context
    assert keyed(workshop)


def test_prices_that_are_still_worked_out_are_not_put_on_the_list(
    client, workshop, version, monkeypatch
):
    monkeypatch.setattr(services, "MOST_SIZE_AT_ONCE", 0)
    channel = make_channel(workshop, name="Fair")
    publish = address(workshop, version, "quantities_publish", quantity=9, channel=channel.pk)
    page = client.post(publish, follow=True).content.decode()
    assert "still being calculated. Nothing was saved." in page
    assert not PriceListEntry.objects.exists()


def test_what_is_kept_by_another_version_is_worked_out_anew(client, workshop, version, monkeypatch):
    question = address(workshop, version, quantity=9, up_to=12)
    with monkeypatch.context() as patch:
        patch.setattr(services, "MOST_SIZE_AT_ONCE", 0)
        client.get(question)
    for older in (b'{"rows": [], "planned": 3}', b"\x80\x05K\x01."):
        Work.objects.update(state="done", file=older)
        assert client.get(question).context["every_quantity"].rows
