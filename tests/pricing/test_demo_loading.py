"""The example workshops are loaded into what is there, and removed without a trace."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.workshop_file.demo import DEMO_EMAIL, demo_document
from pricing.workshop_file.removing import NotToBeRemoved, remove_workshop
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests import factories
from tests.pricing.demo_rows import rows_everywhere

TODAY = factories.today()

pytestmark = pytest.mark.django_db


def test_without_a_password_one_is_made_and_printed(db):
    output = StringIO()
    call_command("load_demo", stdout=output)
    password = output.getvalue().split()[-1]
    assert len(password) >= 12
    assert User.objects.get(email=DEMO_EMAIL).check_password(password)
    with pytest.raises(CommandError):
        call_command("load_demo", password="")


def test_removing_leaves_nothing(db):
    before = rows_everywhere()
    call_command("load_demo", verbosity=0)
    assert rows_everywhere() != before
    call_command("remove_demo", verbosity=0)
    assert rows_everywhere() == before


def test_real_workshops_and_their_owner_stay(owner, workshop):
    factories.make_recipe(workshop)
    real = import_workshop(demo_document(today=TODAY), name="Real", owner=owner)
    kept = document_text(export_workshop(real)), document_text(export_workshop(workshop))
    before = rows_everywhere()
    call_command("load_demo", verbosity=0)
    call_command("load_demo", again=True, verbosity=0)
    call_command("remove_demo", verbosity=0)
    assert rows_everywhere() == before
    assert (
        document_text(export_workshop(real)),
        document_text(export_workshop(workshop)),
    ) == kept
    with pytest.raises(NotToBeRemoved):
        remove_workshop(workshop=real)


def test_buttons_load_and_remove_the_examples(client, owner, workshop):
    page = client.get(reverse("maker:workshop_list") + "?all")
    assert reverse("pricing:demo_load") in page.content.decode()
    before = rows_everywhere()
    answer = client.post(reverse("pricing:demo_load"))
    assert answer.status_code == 302
    assert client.get(answer["Location"]).status_code == 200
    loaded = rows_everywhere()
    client.post(reverse("pricing:demo_load"))  # a second click
    assert rows_everywhere() == loaded
    page = client.get(reverse("maker:workshop_list"))
    assert reverse("pricing:demo_remove") in page.content.decode()
    client.post(reverse("pricing:demo_remove"))
    assert rows_everywhere() == before
    assert client.post(reverse("pricing:demo_remove")).status_code == 302


def test_the_buttons_are_posted_by_people_who_are_signed_in(client, anonymous_client):
    for name in ("pricing:demo_load", "pricing:demo_remove"):
        assert client.get(reverse(name)).status_code == 405
        assert reverse("maker:sign_in") in anonymous_client.post(reverse(name))["Location"]
    assert not Workshop.objects.demo().exists()
