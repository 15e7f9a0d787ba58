"""The list of names of an order: by delivery and colourway, whole, quick, and kept private."""

import io

import pdfplumber
import pytest
from django.urls import reverse

from pricing.bench_sheets.names import name_parts
from pricing.orders.approvals import approve
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order
from pricing.orders.services import DeliveryInput, accept, save_deliveries
from pricing.quotes.models import QuoteLine
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote


@pytest.fixture
def order(workshop, owner):
    """Eight rose and five sage; six of the rose and all of the sage bear a name."""
    version = make_recipe(workshop)
    made = make_quote(workshop, title="Naming day")
    rose, sage = version.colourways.create(name="rose"), version.colourways.create(name="sage")
    make_line(made, version, 8, colourway=rose, names="\n".join(f"Rose {n}" for n in range(1, 7)))
    make_line(made, version, 5, colourway=sage, names="\n".join(f"Sage {n}" for n in range(1, 6)))
    return accept(quote=sent_quote(made, owner), who="Ada Fenn", on=today(), today=today())


def again(order):
    return Order.objects.with_people().get(pk=order.pk)


def split(order, *counts):
    lines, (row,) = lines_now(order), order.deliveries.all()
    save_deliveries(
        order=order,
        deliveries=[
            DeliveryInput(
                row if not place else None, None, "", "",
                dict(zip((line.pk for line in lines), each, strict=True)),
            )
            for place, each in enumerate(counts)
        ],
        edit_number=again(order).edit_number,
    )  # fmt: skip


def paper(client, order):
    return client.get(reverse("pricing:order_names_paper", args=[order.workshop.slug, order.pk]))


def text_of(answer):
    assert answer["Content-Type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(answer.content)) as opened:
        return "\n".join(page.extract_text() for page in opened.pages)


def test_names_go_with_the_deliveries_in_the_order_of_the_list(order):
    split(order, (4, 2), (4, 3))
    found = [(each.delivery, each.item[-4:], each.names) for each in name_parts(again(order))]
    assert found == [
        (1, "rose", ("Rose 1", "Rose 2", "Rose 3", "Rose 4")),
        (1, "sage", ("Sage 1", "Sage 2")),
        (2, "rose", ("Rose 5", "Rose 6")),
        (2, "sage", ("Sage 3", "Sage 4", "Sage 5")),
    ]


def test_the_paper_has_each_name_once_and_says_who_may_see_it(client, order):
    split(order, (4, 2), (4, 3))
    text = text_of(paper(client, order))
    for name in (f"{way} {n}" for way, most in (("Rose", 7), ("Sage", 6)) for n in range(1, most)):
        assert text.count(name) == 1
    assert "personal data" in text
    assert "Not approved by the customer yet." in text
    assert "2 names, 2 without" in text


def test_the_paper_says_who_approved_it(client, order):
    approve(order=order, kind="names", who="Ada Fenn", how="phone", on=today(), today=today())
    text = text_of(paper(client, order))
    assert "Approved by Ada Fenn" in text
    # one delivery needs no heading of its own
    assert "Delivery 1" not in text


def test_names_that_are_gone_or_missing_are_said(client, order):
    QuoteLine.objects.update(names="")
    page = client.get(reverse("pricing:order", args=[order.workshop.slug, order.pk]))
    assert "Print names list" not in page.content.decode()
    answer = paper(client, order)
    assert answer.status_code == 302
    assert "No names are entered yet." in client.get(answer.url).content.decode()
    Order.objects.update(names_deleted_on=today())
    assert "were deleted on" in client.get(paper(client, order).url).content.decode()


def test_thousands_of_names_and_hostile_ones_are_all_on_it(client, order):
    names = [f"N{n:05}" for n in range(1, 2001)]
    names[5] = "‮<b>Ada & Bo</b>"
    names[6] = "Wilhelmina " * 12
    QuoteLine.objects.filter(pk=lines_now(order)[0].pk).update(
        names="\n".join(names), quantity=2000
    )
    row = order.deliveries.get().lines.order_by("pk").first()
    row.quantity = 2000
    row.save()
    text = text_of(paper(client, order))
    assert all(name in text for name in names[8:])
    assert "<b>Ada &" in text
    assert text.count("Wilhelmina") == 12


def test_a_long_list_is_not_on_the_bench_sheet_too(client, order):
    key = lines_now(order)[0].pk
    QuoteLine.objects.filter(pk=key).update(names="\n".join(["Bo"] * 8))
    address = reverse("pricing:order_bench_sheet", args=[order.workshop.slug, order.pk])
    assert "names list" not in text_of(client.get(address))
    QuoteLine.objects.filter(pk=key).update(names="\n".join(["Bo"] * 300), quantity=300)
    text = text_of(client.get(address))
    assert "They are on the names list of this order." in text
    assert text.count("Bo") < 10


def test_another_workshop_sees_no_names(stranger_client, order):
    assert paper(stranger_client, order).status_code == 404
