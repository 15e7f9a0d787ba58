"""What was done, as the owner reads it: what is kept, for how long, and what is not."""

import io
import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import DatabaseError
from django.test import Client, RequestFactory

from maker.accounts.models import Membership, User
from maker.activity.models import Event
from maker.activity.services import record
from maker.activity.visitor import kept_address
from maker.workshop.models import Workshop
from tests import factories

RIGHT = "paper-and-twine"
Kind = Event.Kind


def try_password(account: str, password: str, client: Client | None = None) -> Client:
    client = client or Client(REMOTE_ADDR="198.51.100.77")
    client.post("/sign-in/", {"username": account, "password": password})
    return client


def kept() -> list[tuple[str, str]]:
    return [(event.kind, event.about) for event in Event.objects.order_by("pk")]


def text(client: Client, path: str = "/w/marlow/activity/") -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_sign_ins_good_and_refused_are_kept(owner: User) -> None:
    try_password(owner.email, "wrong")
    client = try_password(owner.email, RIGHT)
    client.post("/sign-out/")
    assert kept() == [
        (Kind.REFUSED, "wrong password"),
        (Kind.SIGNED_IN, "password"),
        (Kind.SIGNED_OUT, ""),
    ]
    for event in Event.objects.all():
        assert (event.user, event.address) == (owner, "198.51.100.0/24")


def test_a_closed_door_is_kept_once_and_names_nobody_has_are_not_kept(db: None) -> None:
    for _ in range(8):
        try_password("my-password-typed-here@example.test", "wrong")
    assert kept() == [(Kind.REFUSED, "wrong password")] * 4 + [
        (Kind.REFUSED, "too many wrong passwords")
    ]
    assert not Event.objects.exclude(user=None).exists()


def test_people_and_roles_are_kept(client: Client, reader: User, workshop: Workshop) -> None:
    membership = Membership.objects.get(user=reader)
    client.post(f"/w/marlow/people/{membership.pk}/role/", {"role": "helper"})
    client.post(f"/w/marlow/people/{membership.pk}/remove/")
    client.post("/w/marlow/people/", {"email": "new@example.test", "role": "reader"})
    assert kept() == [
        (Kind.ROLE, "reader@example.test, helper"),
        (Kind.PERSON_REMOVED, "reader@example.test, helper"),
        (Kind.PERSON_ADDED, "new@example.test, reader"),
    ]
    assert {event.workshop for event in Event.objects.all()} == {workshop}
    page = text(client)
    assert "Changed a role: reader@example.test, helper" in page


def test_a_role_she_has_already_is_not_kept(client: Client, reader: User) -> None:
    membership = Membership.objects.get(user=reader)
    client.post(f"/w/marlow/people/{membership.pk}/role/", {"role": "reader"})
    assert kept() == []


def test_a_role_that_was_refused_is_not_kept(client: Client, owner: User) -> None:
    membership = Membership.objects.get(user=owner)
    client.post(f"/w/marlow/people/{membership.pk}/role/", {"role": "reader"})
    client.post(f"/w/marlow/people/{membership.pk}/role/", {"role": "king"})
    assert kept() == []


def test_files_taken_out_are_kept(client: Client, workshop: Workshop, tmp_path: Path) -> None:
    factories.make_supplier(workshop)
    client.get("/w/marlow/suppliers/?format=csv")
    client.get("/w/marlow/suppliers/")
    call_command(
        "export_workshop", str(tmp_path / "out.json"), workshop="marlow", stdout=io.StringIO()
    )
    assert kept() == [(Kind.EXPORTED, "Suppliers"), (Kind.EXPORTED, "workshop file")]
    assert "A command on the computer" in text(client)


def test_a_workshop_taken_in_is_kept(owner: User, tmp_path: Path) -> None:
    file = tmp_path / "out.json"
    call_command("export_workshop", str(file), workshop="marlow", stdout=io.StringIO())
    call_command("import_workshop", str(file), name="Copy", owner=owner.email, stdout=io.StringIO())
    event = Event.objects.get(kind=Kind.IMPORTED)
    assert (event.workshop, event.user) == (Workshop.objects.get(name="Copy"), owner)
    document = json.loads(file.read_text(encoding="utf-8"))
    assert "events" not in document


def test_the_owner_reads_her_workshop_and_no_other(
    client: Client, reader_client: Client, stranger: User, other_workshop: Workshop
) -> None:
    record(Kind.EXPORTED, workshop=other_workshop, user=stranger, about="secret list")
    try_password(stranger.email, "wrong")
    assert "secret list" not in text(client)
    assert "Sign-in refused" not in text(client).partition("</select>")[2]
    assert reader_client.get("/w/marlow/activity/").status_code == 403


def test_the_owner_reads_the_sign_ins_of_her_people(client: Client, reader: User) -> None:
    try_password(reader.email, "wrong")
    page = text(client).partition("</select>")[2]
    assert "Sign-in refused: wrong password" in page
    assert "reader@example.test" in page


def test_each_person_reads_her_own(reader_client: Client, reader: User, owner: User) -> None:
    try_password(owner.email, RIGHT)
    record(Kind.EXPORTED, user=reader, about="her own list")
    page = text(reader_client, "/account/activity/").partition("</select>")[2]
    assert "her own list" in page
    assert "Signed in" not in page


def test_who_looks_after_the_installation_reads_all(
    client: Client, reader_client: Client, stranger: User, other_workshop: Workshop
) -> None:
    User.objects.update(looks_after_installation=False)
    User.objects.filter(email="owner@example.test").update(looks_after_installation=True)
    record(Kind.EXPORTED, workshop=other_workshop, user=stranger, about="a list elsewhere")
    try_password("nobody@example.test", "wrong")
    page = text(client, "/installation/activity/")
    assert "a list elsewhere" in page
    assert "Sign-in refused: wrong password" in page
    assert reader_client.get("/installation/activity/").status_code == 403


def test_it_is_kept_as_long_as_the_setting_says(db: None, settings: Any) -> None:
    settings.LOG_DAYS = 100
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        record(Kind.EXPORTED, about="first")
        record(Kind.REFUSED, about="refused")
        clock.shift(timedelta(days=31))
        record(Kind.EXPORTED, about="second")
        assert kept() == [(Kind.EXPORTED, "first"), (Kind.EXPORTED, "second")]
        clock.shift(timedelta(days=70))
        record(Kind.EXPORTED, about="third")
        assert kept() == [(Kind.EXPORTED, "second"), (Kind.EXPORTED, "third")]


def test_the_page_says_how_long_it_is_kept(client: Client) -> None:
    assert "Kept for 365 days, refused sign-ins for 30." in text(client)


@pytest.mark.parametrize(
    ("way", "v4", "v6", "mapped"),
    [
        ("short", "198.51.100.0/24", "2001:db8:1::/48", "198.51.100.0/24"),
        ("full", "198.51.100.77", "2001:db8:1:2::3", "198.51.100.77"),
    ],
)
def test_addresses_are_kept_as_the_setting_says(
    settings: Any, way: str, v4: str, v6: str, mapped: str
) -> None:
    settings.LOG_ADDRESSES = way
    asked = ("198.51.100.77", "2001:db8:1:2::3", "::ffff:198.51.100.77")
    assert [kept_address(RequestFactory().get("/", REMOTE_ADDR=a)) for a in asked] == [
        v4,
        v6,
        mapped,
    ]
    assert kept_address(RequestFactory().get("/", REMOTE_ADDR="")) == ""


def test_a_hash_tells_the_same_from_another_but_not_which(settings: Any) -> None:
    settings.LOG_ADDRESSES = "hash"

    def told(address: str) -> str:
        return kept_address(RequestFactory().get("/", REMOTE_ADDR=address))

    assert told("198.51.100.77") == told("198.51.100.77") != told("198.51.100.78")
    assert "198" not in told("198.51.100.77")[:4]
    before = told("198.51.100.77")
    settings.SECRET_KEY = "another key of more than forty characters, for this test"
    assert told("198.51.100.77") != before, "else all four thousand million could be tried"


def test_a_claimed_address_is_not_kept(owner: User, settings: Any) -> None:
    factory = RequestFactory()
    claimed = factory.get("/", REMOTE_ADDR="198.51.100.77", HTTP_X_FORWARDED_FOR="192.0.2.1")
    assert kept_address(claimed) == "198.51.100.0/24"
    settings.BEHIND_PROXY = True
    claimed = factory.get(
        "/", REMOTE_ADDR="127.0.0.1", HTTP_X_FORWARDED_FOR="192.0.2.1, 203.0.113.5"
    )
    assert kept_address(claimed) == "203.0.113.0/24"


def test_what_cannot_be_kept_does_not_hold_up_her_files(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    factories.make_supplier(workshop)

    def full(self: Event, *args: object, **fields: object) -> None:
        raise DatabaseError("database or disk is full")

    monkeypatch.setattr(Event, "save_base", full)
    assert client.get("/w/marlow/suppliers/?format=csv").status_code == 200


@pytest.mark.parametrize(
    "odd", ["?page=0", "?page=x", "?page=999999999999", "?kind=%00", "?kind=x"]
)
def test_odd_addresses_show_the_list(client: Client, odd: str) -> None:
    text(client, f"/w/marlow/activity/{odd}")


def test_one_kind_is_shown(client: Client, workshop: Workshop) -> None:
    record(Kind.EXPORTED, workshop=workshop, about="a list")
    record(Kind.IMPORTED, workshop=workshop, about="<script>a file</script>")
    page = text(client, "/w/marlow/activity/?kind=imported").partition("</select>")[2]
    assert "a list" not in page
    assert "&lt;script&gt;a file" in page


def test_more_rows_cost_no_more_queries(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    for number in range(3):
        record(Kind.EXPORTED, workshop=workshop, user=factories.make_user(), about=str(number))
    with count_queries() as few:
        text(client)
    for number in range(80):
        record(Kind.EXPORTED, workshop=workshop, user=factories.make_user(), about=str(number))
    with count_queries() as many:
        page = text(client)
    assert len(few) == len(many)
    assert "Page 1 of 2" in page


@pytest.mark.django_db
def test_who_may_look_after_the_installation_is_kept_when_it_changes() -> None:
    factories.make_user("first@example.test")
    person = factories.make_user("second@example.test")
    for stop in (False, False, True):
        call_command("look_after", "Second@Example.test", stop=stop, stdout=io.StringIO())
        person.refresh_from_db()
        assert person.looks_after_installation is not stop
    kept = Event.objects.filter(kind=Event.Kind.INSTALLATION, user=person, address="command")
    assert list(kept.order_by("pk").values_list("about", flat=True)) == [
        "may look after it",
        "no longer looks after it",
    ]
