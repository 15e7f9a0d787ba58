"""Nobody signed in sends more within a minute than a person can enter."""

import pytest
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import reverse

from catalogue.suppliers.models import Supplier
from maker.troubles.pace import MINUTE_S, Pace
from maker.workshop.models import Workshop

pytestmark = pytest.mark.django_db


def add(client: Client, workshop: Workshop, name: str) -> HttpResponse:
    """Enter a supplier, where three posts a minute are allowed."""
    with override_settings(CHANGES_A_MINUTE=3):
        return client.post(reverse("catalogue:supplier_new", args=[workshop.slug]), {"name": name})


def test_what_is_sent_too_often_is_refused_before_anything_is_done(
    client: Client, workshop: Workshop
) -> None:
    assert [add(client, workshop, f"Supplier {each}").status_code for each in range(3)] == [302] * 3
    refused = add(client, workshop, "One more")
    assert refused.status_code == 429
    assert refused["Retry-After"] == "60"
    assert b"Wait a minute, then send it again." in refused.content
    assert not Supplier.objects.of(workshop).filter(name="One more").exists()
    assert client.get(reverse("pricing:home", args=[workshop.slug])).status_code == 200


def test_after_a_minute_there_is_room_again() -> None:
    now = 1_000.0
    pace = Pace(now=lambda: now)
    assert [pace.allows("7", 2) for _ in range(3)] == [True, True, False]
    assert pace.allows("8", 2)
    now += MINUTE_S
    assert pace.allows("7", 2)
