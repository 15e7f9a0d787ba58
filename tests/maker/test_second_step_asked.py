"""A workshop whose people must sign in with a second step, and letters about accounts."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.core.management import call_command
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from maker.accounts.models import CodeApp, User
from maker.accounts.second_steps import new_recovery_codes, sealed
from maker.accounts.tasks import send_account_letter
from maker.activity.models import Event
from maker.workshop.models import Workshop

RIGHT = "paper-and-twine"
PEOPLE = "/w/marlow/people/"
WANTED = "/account/second-step/wanted/"


def set_up(user: User) -> list[str]:
    CodeApp.objects.create(
        user=user, sealed_secret=sealed(b"1" * 20), last_counter=0, added_at=timezone.now()
    )
    return new_recovery_codes(user)


def sign_in(user: User) -> tuple[Client, Any]:
    client = Client()
    answer = client.post("/sign-in/", {"username": user.email, "password": RIGHT})
    return client, answer


def asks(client: Client) -> bool:
    client.post("/account/prove/", {"password": RIGHT})
    client.post(f"{PEOPLE}second-step/", {"ask": "1"})
    return bool(Workshop.objects.get(slug="marlow").second_step_since)


def letters() -> list[str]:
    """Return the subjects of queued letters."""
    rows = DBTaskResult.objects.filter(task_path=send_account_letter.module_path)
    return [row.args_kwargs["args"][1] for row in rows.order_by("enqueued_at")]


def test_an_owner_without_one_is_told_to_begin(client: Client) -> None:
    assert not asks(client)
    page = client.get(PEOPLE).content.decode()
    assert "Set up your own second step first" in page
    assert "No second step" in page


def test_who_has_none_is_led_to_it_and_gets_in_with_one(
    client: Client, owner: User, helper_person: User, helper_client: Client
) -> None:
    set_up(owner)
    assert asks(client)
    # not thrown out of what she is doing, but the next sign-in leads there
    assert helper_client.get("/w/marlow/").status_code == 200
    hers, answer = sign_in(helper_person)
    assert answer["Location"].startswith(WANTED)
    closed = hers.get("/w/marlow/designs/")
    assert closed["Location"] == f"{WANTED}?next=%2Fw%2Fmarlow%2Fdesigns%2F"
    assert "Marlow" in hers.get(WANTED).content.decode()
    for path in ("/workshops/?all", "/account/", "/account/second-step/codes/"):
        assert hers.get(path).status_code == 200
    set_up(helper_person)
    assert hers.get("/w/marlow/designs/").status_code == 200
    assert hers.get(f"{WANTED}?next=/w/marlow/")["Location"] == "/w/marlow/"


def test_after_a_week_nobody_stays_signed_in_without(
    client: Client, owner: User, helper_person: User, helper_client: Client
) -> None:
    set_up(owner)
    before = timezone.now()
    assert asks(client)
    with time_machine.travel(before + timedelta(days=7, minutes=1), tick=False):
        helper_client.force_login(helper_person)
        # as if she had come back each day and never signed in again
        User.objects.filter(pk=helper_person.pk).update(last_login=before)
        assert WANTED in helper_client.get("/w/marlow/")["Location"]
        assert WANTED in helper_client.post("/w/marlow/designs/new/", {})["Location"]


def test_a_lost_phone_locks_nobody_out_for_ever(client: Client, owner: User) -> None:
    set_up(owner)
    assert asks(client)
    call_command("reset_second_step", owner.email)
    hers, answer = sign_in(owner)
    assert answer["Location"].startswith(WANTED)
    assert hers.get("/account/second-step/codes/").status_code == 200


def test_an_owner_can_stop_asking(client: Client, owner: User, helper_person: User) -> None:
    set_up(owner)
    assert asks(client)
    client.post(f"{PEOPLE}second-step/", {})
    assert not Workshop.objects.get(slug="marlow").second_step_since
    hers, _ = sign_in(helper_person)
    assert hers.get("/w/marlow/").status_code == 200
    about = Event.objects.filter(kind="second_step").values_list("about", flat=True)
    assert list(about.order_by("pk")) == ["asked of everybody", "not asked of everybody any more"]


def test_only_owners_ask(helper_client: Client) -> None:
    assert helper_client.post(f"{PEOPLE}second-step/", {"ask": "1"}).status_code == 403


def test_a_letter_tells_of_each_change(client: Client, owner: User) -> None:
    codes = set_up(owner)
    data = {"old_password": RIGHT, "new_password1": "ribbon-and-card-9"}
    client.post(
        "/account/", {**data, "new_password2": data["new_password1"], "change_password": "1"}
    )
    client.post("/account/second-step/recovery/")
    client.post("/account/second-step/codes/remove/")
    assert letters() == [
        "The password was changed for Pleat & Penny",
        "New recovery codes were made for Pleat & Penny",
        "Codes from an app were turned off for Pleat & Penny",
    ]
    assert codes


def test_a_recovery_code_that_lets_in_is_told(owner: User) -> None:
    codes = set_up(owner)
    hers, _ = sign_in(owner)
    hers.post("/sign-in/second-step/", {"code": codes[0]})
    assert hers.get("/workshops/?all").status_code == 200
    assert letters() == ["A recovery code was used to sign in for Pleat & Penny"]


def test_the_letter_says_where_and_what_to_do(
    owner: User, client: Client, monkeypatch: pytest.MonkeyPatch, tmp_path: Any, settings: Any
) -> None:
    settings.DATA_DIR = tmp_path
    set_up(owner)
    client.post("/account/prove/", {"password": RIGHT})
    client.post("/account/second-step/codes/remove/", HTTP_USER_AGENT="Firefox/130 Linux")
    row = DBTaskResult.objects.get(task_path=send_account_letter.module_path)
    send_account_letter.call(*row.args_kwargs["args"])
    (file,) = (tmp_path / "mail").iterdir()
    text = file.read_text()
    for words in (owner.email, "with Firefox on Linux from 127.0.0.0/24", "change your password"):
        assert words in text
    assert not mail.outbox
