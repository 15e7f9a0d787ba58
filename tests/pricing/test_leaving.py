"""Deleting a workshop or an account: exported first, a week to change her mind, then gone."""

from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone

from maker.accounts.models import Membership, User
from maker.slow_work import worker
from maker.workshop.models import Workshop
from pricing.workshop_file import leaving
from pricing.workshop_file.leaving import (
    OthersNeedHer,
    ask_to_delete_account,
    ask_to_delete_workshop,
    delete_what_is_due,
    keep_account,
    keep_workshop,
)
from pricing.workshop_file.removing import NotToBeRemoved, remove_workshop
from pricing.workshop_file.tasks import ask_for_deletions
from tests import factories
from tests.slow_work import do_what_waits

WEEK = timedelta(days=7)
DELETE, KEEP = "/w/marlow/settings/delete/", "/w/marlow/settings/keep/"


@pytest.fixture
def proved_client(client):
    """The owner's browser, in which she has just typed her password."""
    assert client.post("/account/prove/", {"password": "paper-and-twine"}).status_code == 302
    return client


def in_a_week():
    return time_machine.travel(timezone.now() + WEEK + timedelta(minutes=1))


def test_a_workshop_is_exported_first_and_deleted_after_a_week(proved_client, workshop):
    factories.make_pack(factories.make_material(workshop))
    page = proved_client.get(DELETE).content.decode()
    assert "/w/marlow/settings/file/export/" in page
    assert Workshop.objects.get().delete_after is None, "looking deletes nothing"
    proved_client.post(DELETE)
    home = proved_client.get("/w/marlow/").content.decode()
    assert "This workshop is deleted on" in home
    delete_what_is_due()
    assert Workshop.objects.exists(), "a week has not gone by"
    with in_a_week():
        delete_what_is_due()
        delete_what_is_due()
    assert not Workshop.objects.exists()
    assert User.objects.filter(email="owner@example.test").exists()


def test_she_can_change_her_mind(proved_client, workshop):
    proved_client.post(DELETE)
    proved_client.post(KEEP)
    assert "This workshop is deleted on" not in proved_client.get("/w/marlow/").content.decode()
    with in_a_week():
        delete_what_is_due()
    assert Workshop.objects.exists()


def test_a_second_click_begins_no_new_week(workshop):
    ask_to_delete_workshop(workshop=workshop)
    first = Workshop.objects.get().delete_after
    with time_machine.travel(timezone.now() + timedelta(days=3)):
        ask_to_delete_workshop(workshop=workshop)
    assert Workshop.objects.get().delete_after == first
    keep_workshop(workshop=workshop)
    assert Workshop.objects.get().delete_after is None


def test_a_workshop_whose_week_is_not_over_is_never_removed(workshop):
    for moment in (None, timezone.now() + timedelta(minutes=1)):
        Workshop.objects.update(delete_after=moment)
        with pytest.raises(NotToBeRemoved):
            remove_workshop(workshop=workshop)


def test_the_password_is_asked_again(client, workshop):
    assert client.post(DELETE)["Location"].startswith("/account/prove/")
    assert client.post("/account/delete/")["Location"].startswith("/account/prove/")
    assert Workshop.objects.get().delete_after is None
    assert not User.objects.exclude(delete_after=None).exists()


def test_helpers_and_readers_delete_nothing(helper_client, reader_client, workshop):
    for somebody in (helper_client, reader_client):
        for path in (DELETE, KEEP, "/w/marlow/settings/file/", "/w/marlow/settings/file/export/"):
            assert somebody.get(path).status_code in (403, 405)
            assert somebody.post(path).status_code == 403
    assert Workshop.objects.get().delete_after is None


@pytest.mark.django_db(transaction=True)
@pytest.mark.slow
def test_a_worker_deletes_what_is_due(workshop, monkeypatch, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(worker, "FIRST_HOUR_S", 0.0)
    monkeypatch.setattr(
        "maker.slow_work.hourly.EACH_HOUR", [f"{ask_for_deletions.__module__}.ask_for_deletions"]
    )
    Workshop.objects.update(delete_after=timezone.now() - timedelta(minutes=1))
    do_what_waits()
    do_what_waits()
    assert not Workshop.objects.exists()


def test_an_account_goes_with_the_workshops_that_are_only_hers(proved_client, owner, workshop):
    shared = factories.make_workshop(name="Shared", slug="shared")
    Membership.objects.create(user=owner, workshop=shared, role="owner")
    factories.make_member(shared, "owner", "second@example.test")
    User.objects.update(looks_after_installation=True)
    page = proved_client.get("/account/delete/").content.decode()
    assert "Export Marlow Paperworks" in page
    assert "Export Shared" not in page
    proved_client.post("/account/delete/")
    assert "Your account is deleted on" in proved_client.get("/w/marlow/").content.decode()
    with in_a_week():
        delete_what_is_due()
    assert not User.objects.filter(pk=owner.pk).exists()
    assert [shop.name for shop in Workshop.objects.all()] == ["Shared"]


def test_an_account_is_kept_with_its_workshops(proved_client, owner, workshop):
    proved_client.post("/account/delete/")
    assert Workshop.objects.get().delete_after is not None
    proved_client.post("/account/keep/")
    assert Workshop.objects.get().delete_after is None
    with in_a_week():
        delete_what_is_due()
    assert User.objects.filter(pk=owner.pk).exists()


def test_the_only_owner_among_others_must_name_another_first(proved_client, owner, helper_person):
    page = proved_client.get("/account/delete/").content.decode()
    assert "You are the only owner of Marlow Paperworks" in page
    assert proved_client.post("/account/delete/").status_code == 422
    with pytest.raises(OthersNeedHer, match="Make somebody else an owner"):
        ask_to_delete_account(user=owner)


def test_who_alone_looks_after_the_installation_must_name_another_first(owner, stranger):
    owner.looks_after_installation = True
    owner.save()
    User.objects.exclude(pk=owner.pk).update(looks_after_installation=False)
    with pytest.raises(OthersNeedHer, match="look_after EMAIL"):
        ask_to_delete_account(user=owner)
    User.objects.exclude(pk=owner.pk).update(looks_after_installation=True)
    ask_to_delete_account(user=owner)


def test_what_has_changed_in_the_week_is_looked_at_again(owner, workshop):
    ask_to_delete_account(user=owner)
    # a helper was added, and the workshop kept
    factories.make_member(workshop, "helper")
    keep_workshop(workshop=workshop)
    with in_a_week():
        delete_what_is_due()
    assert User.objects.get(pk=owner.pk).delete_after is None
    assert Workshop.objects.exists()


def test_what_is_kept_while_the_due_ones_are_deleted_stays(owner, workshop, monkeypatch):
    def kept_just_before(*, workshop):
        keep_account(user=owner)
        remove_workshop(workshop=workshop)

    monkeypatch.setattr(leaving, "remove_workshop", kept_just_before)
    ask_to_delete_account(user=owner)
    with in_a_week():
        due = User.objects.get(pk=owner.pk)
        delete_what_is_due()
        # as it was read before she kept it
        leaving._delete_account(due)
    assert Workshop.objects.get().delete_after is None
    assert User.objects.filter(pk=owner.pk).exists()
