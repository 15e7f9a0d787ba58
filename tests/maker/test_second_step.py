"""Codes and recovery codes as second step: what lets in, what does not, what is kept."""

import base64
import io
import re
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client

from maker.accounts.models import CodeApp, RecoveryCode, User
from maker.accounts.one_time_codes import code_at, counter_of
from maker.accounts.second_steps import (
    WrongCode,
    check_code,
    new_recovery_codes,
    opened,
    sealed,
)
from maker.activity.models import Event
from maker.sealing import SealBroken, seal, unseal
from tests.at_once import at_once

RIGHT = "paper-and-twine"
SECRET = b"12345678901234567890"
NOW = "2026-03-02 09:00:00+00:00"
NOW_SECONDS = 1772442000


def code(steps_later: int = 0) -> str:
    return code_at(SECRET, counter_of(NOW_SECONDS) + steps_later)


def set_up(user: User) -> list[str]:
    CodeApp.objects.create(
        user=user, sealed_secret=sealed(SECRET), last_counter=0, added_at="2026-01-01 00:00Z"
    )
    return new_recovery_codes(user)


def password(user: User, client: Client | None = None, **more: str) -> Client:
    client = client or Client()
    client.post("/sign-in/", {"username": user.email, "password": RIGHT, **more})
    return client


def step(client: Client, typed: str, **more: str) -> Any:
    return client.post("/sign-in/second-step/", {"code": typed, **more})


def is_in(client: Client) -> bool:
    return client.get("/workshops/?all").status_code == 200


@pytest.fixture(autouse=True)
def clock() -> Iterator[Any]:
    with time_machine.travel(NOW, tick=False) as travelling:
        yield travelling


def test_a_password_alone_does_not_let_in(owner: User) -> None:
    set_up(owner)
    client = Client()
    answer = client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
    assert answer["Location"] == "/sign-in/second-step/"
    assert not is_in(client)
    assert "_auth_user_id" not in client.session
    assert "known_browser" not in client.cookies
    page = client.get("/sign-in/second-step/").content.decode()
    assert "The six digits in your app" in page


def test_the_code_lets_in_where_she_wanted_to_go(owner: User) -> None:
    set_up(owner)
    client = password(owner, next="/w/marlow/settings/tax/")
    answer = step(client, f" {code()[:3]} {code()[3:]} ", next="/w/marlow/settings/tax/")
    assert answer["Location"] == "/w/marlow/settings/tax/"
    assert is_in(client)
    assert Event.objects.latest("pk").about == "password and code"


def test_the_key_of_the_browser_changes_at_both_steps(owner: User) -> None:
    set_up(owner)
    client = Client()
    session = client.session
    session["planted"] = "yes"
    session.save()
    planted = session.session_key
    password(owner, client)
    half = client.session.session_key
    step(client, code())
    assert len({planted, half, client.session.session_key}) == 3


def test_a_code_is_taken_once(owner: User, clock: Any) -> None:
    set_up(owner)
    assert is_in_after(owner, code())
    assert not is_in_after(owner, code())
    # nor an older one that was not used
    assert not is_in_after(owner, code(-1))
    clock.shift(30)
    assert is_in_after(owner, code(1))


def is_in_after(user: User, typed: str) -> bool:
    client = password(user)
    step(client, typed)
    return is_in(client)


def test_wrong_codes_close_the_door_for_the_right_one_too(owner: User, clock: Any) -> None:
    set_up(owner)
    answers = [step(password(owner), "000000").status_code for _ in range(5)]
    assert answers == [200, 200, 200, 200, 429]
    answer = step(password(owner), code())
    assert answer.status_code == 429
    assert "Wait 15 minutes" in answer.content.decode()
    clock.shift(15 * 60 + 1)
    assert is_in_after(owner, code(30))
    kinds = Event.objects.filter(kind="refused").values_list("about", flat=True)
    assert sorted(kinds) == ["too many wrong codes"] + ["wrong code"] * 4


def test_each_recovery_code_lets_in_once(owner: User) -> None:
    codes = set_up(owner)
    assert len(set(codes)) == 8
    assert all(re.fullmatch(r"[1-8]-[a-hj-km-np-z2-9]{5}-[a-hj-km-np-z2-9]{5}", c) for c in codes)
    assert is_in_after(owner, codes[2])
    assert not is_in_after(owner, codes[2])
    assert is_in_after(owner, codes[3].upper().replace("-", " "))
    assert RecoveryCode.objects.filter(user=owner, used_at=None).count() == 6


def test_no_code_lets_in_somebody_else(owner: User, reader: User) -> None:
    codes = set_up(owner)
    CodeApp.objects.create(
        user=reader, sealed_secret=sealed(b"x" * 20), last_counter=0, added_at=NOW
    )
    client = password(reader)
    for typed in (code(), codes[0]):
        step(client, typed)
        assert not is_in(client)


@pytest.mark.parametrize("typed", ["", "x" * 41, "\x00", "٣٤٥٦٧٨", "²²²²²²", "9-aaaaa-aaaaa", "-"])
def test_odd_codes_are_refused(owner: User, typed: str) -> None:
    set_up(owner)
    client = password(owner)
    answer = step(client, typed)
    assert answer.status_code == 200
    assert "There is a problem" in answer.content.decode()
    assert not is_in(client)


def test_the_second_step_must_be_taken_within_ten_minutes(owner: User, clock: Any) -> None:
    set_up(owner)
    client = password(owner)
    clock.shift(10 * 60 + 1)
    assert step(client, code(20))["Location"] == "/sign-in/"
    assert not is_in(client)


def test_a_password_changed_meanwhile_starts_it_anew(owner: User) -> None:
    set_up(owner)
    client = password(owner)
    User.objects.filter(pk=owner.pk).update(password=make_password("ribbon card 49 folds"))
    assert step(client, code())["Location"] == "/sign-in/"


def test_nobody_begins_at_the_second_step(anonymous_client: Client, owner: User) -> None:
    set_up(owner)
    assert anonymous_client.get("/sign-in/second-step/")["Location"] == "/sign-in/"
    assert step(anonymous_client, code())["Location"] == "/sign-in/"


def test_secrets_cannot_be_read_in_the_database(owner: User) -> None:
    codes = set_up(owner)
    with connection.cursor() as cursor:
        kept = ""
        for table in ("maker_codeapp", "maker_recoverycode"):
            cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - our own names
            kept += repr(cursor.fetchall())
    for secret in (SECRET.decode(), SECRET.hex(), "GEZDGNBV", *(c[2:7] + c[8:] for c in codes)):
        assert secret not in kept
    assert opened(CodeApp.objects.get().sealed_secret) == SECRET


def test_another_secret_key_opens_nothing_and_says_so(owner: User, settings: Any) -> None:
    codes = set_up(owner)
    old = settings.SECRET_KEY
    settings.SECRET_KEY = "another key of more than forty characters, for this test"
    client = password(owner)
    answer = step(client, code())
    assert "kept with another secret key" in answer.content.decode()
    # paper still works: its codes are hashed, not sealed
    assert is_in_after(owner, codes[0])
    settings.SECRET_KEY_FALLBACKS = [old]
    assert is_in_after(owner, code())


def test_what_is_sealed_opens_for_its_purpose_alone() -> None:
    sealed_text = seal("a secret", "mail")
    assert unseal(sealed_text, "mail") == "a secret"
    assert sealed_text != seal("a secret", "mail")
    with pytest.raises(SealBroken):
        unseal(sealed_text, "one-time codes")
    for odd in ("", "x", sealed_text[:-4], sealed_text.swapcase()):
        with pytest.raises(SealBroken):
            unseal(odd, "mail")


def fresh(client: Client) -> Client:
    client.post("/account/prove/", {"password": RIGHT})
    return client


def shown_secret(page: str) -> bytes:
    (words,) = re.findall(r"<code>([A-Z2-7 ]+)</code>", page)
    return base64.b32decode(words.replace(" ", ""))


def test_codes_are_set_up_and_turned_off(client: Client, owner: User) -> None:
    assert client.get("/account/second-step/")["Location"].startswith("/account/prove/")
    fresh(client)
    page = client.get("/account/second-step/codes/").content.decode()
    secret = shown_secret(page)
    assert len(secret) == 20
    assert "<svg" in page
    assert "style=" not in page
    wrong = client.post("/account/second-step/codes/", {"code": "000000"}).content.decode()
    assert "the code the app shows now" in wrong
    assert shown_secret(wrong) == secret
    assert not CodeApp.objects.exists()
    right = code_at(secret, counter_of(NOW_SECONDS))
    done = client.post("/account/second-step/codes/", {"code": right}).content.decode()
    codes = re.findall(r"<code>([1-8]-\w{5}-\w{5})</code>", done)
    assert len(codes) == 8
    # the code that turned it on is used up
    assert not is_in_after(owner, right)
    assert is_in_after(owner, codes[7])
    page = client.get("/account/second-step/").content.decode()
    assert "7 left" in page
    assert codes[0] not in page
    client.post("/account/second-step/codes/remove/")
    assert not RecoveryCode.objects.exists()
    assert is_in(password(owner))


def test_a_new_set_of_recovery_codes_ends_the_old_one(client: Client, owner: User) -> None:
    codes = set_up(owner)
    page = fresh(client).post("/account/second-step/recovery/").content.decode()
    fresh_codes = re.findall(r"<code>([1-8]-\w{5}-\w{5})</code>", page)
    assert not is_in_after(owner, codes[0])
    assert is_in_after(owner, fresh_codes[0])


def test_without_a_second_step_there_is_nothing_to_recover(client: Client) -> None:
    answer = fresh(client).post("/account/second-step/recovery/", follow=True)
    assert "Set up codes or a passkey first." in answer.content.decode()
    assert not RecoveryCode.objects.exists()


def test_who_lost_phone_and_paper_is_helped_by_a_command(owner: User) -> None:
    set_up(owner)
    call_command("reset_second_step", owner.email.upper(), stdout=io.StringIO())
    assert is_in(password(owner))
    with pytest.raises(CommandError, match="password alone already"):
        call_command("reset_second_step", owner.email)
    with pytest.raises(CommandError, match="Nobody"):
        call_command("reset_second_step", "nobody@example.test")


@pytest.mark.django_db(transaction=True)
def test_one_code_sent_twice_at_one_moment_is_taken_once(owner: User) -> None:
    codes = set_up(owner)
    for typed in (code(), codes[0]):
        results = at_once(*[lambda typed=typed: check_code(user=owner, code=typed)] * 3)
        assert sum(isinstance(result, WrongCode) for result in results) == 2
