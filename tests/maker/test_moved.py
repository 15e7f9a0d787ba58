"""An address someone kept before pages moved still leads there."""

import pytest
from django.urls import resolve

from maker.web.moved import MOVED

KEPT = [
    *(
        (
            f"/w/marlow/{start}{old}/".replace("<int:pk>", "7"),
            f"/w/marlow/{start}{new}/".replace("<int:pk>", "7"),
        )
        for start, names in MOVED.items()
        for old, new in names.items()
    ),
    ("/w/marlow/cutting/3/pdf/", "/w/marlow/cutting-plans/3/pdf/"),
    ("/w/marlow/designs/7/ladder/list.pdf", "/w/marlow/designs/7/quantities/list.pdf"),
    ("/w/marlow/forms/pillow_box/?length=90 mm", "/w/marlow/shapes/pillow_box/?length=90%20mm"),
    ("/w/marlow/spend/2026/3/?by=supplier", "/w/marlow/spending/2026/3/?by=supplier"),
]


@pytest.mark.parametrize(("old", "new"), KEPT)
def test_a_kept_address_leads_to_the_page_of_today(client, workshop, old, new):
    answer = client.get(old)
    assert answer.status_code == 308
    assert answer["Location"].replace("+", "%20") == new
    assert resolve(new.partition("?")[0]).url_name


def test_a_form_of_a_page_opened_before_arrives_as_it_was_sent(client, workshop):
    answer = client.post("/w/marlow/bench/4/count/", {"good": "3"})
    assert (answer.status_code, answer["Location"]) == (308, "/w/marlow/timer/4/count/")


@pytest.mark.parametrize(
    "address", ["/w/marlow/designs/7/nothing/", "/w/mar.low/spend/", "/spend/"]
)
def test_other_addresses_are_not_there(client, workshop, address):
    assert client.get(address).status_code == 404
