"""The example workshops are loaded into what is there, and removed without a trace."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from catalogue.suppliers.models import Supplier
from maker.accounts.models import User
from maker.slow_work.models import Work
from maker.workshop.models import Workshop
from pricing.workshop_file.demo import DEMO_EMAIL, demo_document, load_examples
from pricing.workshop_file.removing import NotToBeRemoved, remove_workshop
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests import factories
from tests.at_once import at_once
from tests.catalogue.pages import text_of
from tests.pricing.demo_rows import rows_everywhere
from tests.slow_work import do_what_waits

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


LOAD, REMOVE = reverse("pricing:demo_load"), reverse("pricing:demo_remove")


def work_of(answer):
    """The work a press of the button leads to."""
    assert answer.status_code == 302
    assert "/work/" in answer["Location"], answer["Location"]
    return Work.objects.get(pk=answer["Location"].rstrip("/").rsplit("/", 1)[1])


@pytest.mark.django_db(transaction=True)
def test_buttons_load_and_remove_the_examples(client, owner, workshop):
    page = client.get(reverse("maker:workshop_list") + "?all")
    assert LOAD in page.content.decode()
    before = rows_everywhere()
    work = work_of(client.post(LOAD))
    assert work_of(client.post(LOAD)) == work  # a second click
    # the workshop is there and empty, and its page opens
    assert client.get(reverse("pricing:home", args=[work.workshop.slug])).status_code == 200
    do_what_waits()
    page = text_of(client.get(reverse("maker:work", args=[work.workshop.slug, work.pk])))
    assert "The example workshops are loaded." in page
    assert Workshop.objects.demo().count() == 2
    loaded = rows_everywhere()
    answer = client.post(LOAD)  # a click when all is there
    assert answer["Location"] == reverse("maker:workshop_list")
    assert rows_everywhere() == loaded
    page = client.get(reverse("maker:workshop_list"))
    assert REMOVE in page.content.decode()
    client.post(REMOVE)
    assert rows_everywhere() == before
    assert client.post(REMOVE).status_code == 302


@pytest.mark.django_db(transaction=True)
def test_loaded_by_a_worker_they_are_what_the_command_loads(client, owner):
    work = work_of(client.post(LOAD))
    do_what_waits()
    loaded = document_text(export_workshop(work.workshop))
    client.post(REMOVE)
    first, _ = load_examples(owner=owner, today=TODAY)
    assert document_text(export_workshop(first)) == loaded


@pytest.mark.django_db(transaction=True)
def test_two_presses_at_the_same_moment_load_them_once(client, owner):
    def press():
        one = Client()
        one.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
        return work_of(one.post(LOAD)).pk

    assert len(set(at_once(press, press))) == 1
    assert Workshop.objects.demo().count() == 1


@pytest.mark.django_db(transaction=True)
def test_removed_or_stopped_before_they_are_there_nothing_is_half(client, owner):
    before = rows_everywhere()
    work_of(client.post(LOAD))
    client.post(REMOVE)
    do_what_waits()
    assert rows_everywhere() == before
    work = work_of(client.post(LOAD))
    client.post(reverse("maker:work_stop", args=[work.workshop.slug, work.pk]))
    do_what_waits()
    work.refresh_from_db()
    assert work.state == Work.State.STOPPED
    assert not Supplier.objects.of(work.workshop).exists()
    # the button leads back to what was stopped, where it can be begun again
    assert work_of(client.post(LOAD)) == work
    client.post(reverse("maker:work_again", args=[work.workshop.slug, work.pk]))
    do_what_waits()
    assert Supplier.objects.of(work.workshop).exists()
    assert Workshop.objects.demo().count() == 2


def test_the_buttons_are_posted_by_people_who_are_signed_in(client, anonymous_client):
    for name in ("pricing:demo_load", "pricing:demo_remove"):
        assert client.get(reverse(name)).status_code == 405
        assert reverse("maker:sign_in") in anonymous_client.post(reverse(name))["Location"]
    assert not Workshop.objects.demo().exists()
