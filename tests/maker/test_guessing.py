"""How guessing ends: by account, by address and in all, at what cost, and for whom it does not."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.hashers import MD5PasswordHasher
from django.test import Client

from maker.accounts.guessing import TooManyTries, count_try, counter, one_try
from maker.accounts.models import Try, User
from tests import factories
from tests.at_once import at_once

RIGHT = "paper-and-twine"
WRONG = "not-this-one"


def guess(
    account: str, visitor: str = "192.0.2.1", password: str = WRONG, client: Client | None = None
) -> int:
    form = {"username": account, "password": password}
    return (client or Client()).post("/sign-in/", form, REMOTE_ADDR=visitor).status_code


@pytest.fixture
def hashes(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every password that was put through the hash."""
    seen: list[str] = []
    hash_it = MD5PasswordHasher.encode

    def encode(self: Any, password: str, salt: str) -> str:
        seen.append(password)
        return hash_it(self, password, salt)

    monkeypatch.setattr(MD5PasswordHasher, "encode", encode)
    return seen


@pytest.mark.django_db
def test_thirty_accounts_from_one_address_meet_a_limit_that_costs_no_hash(
    hashes: list[str],
) -> None:
    people = [factories.make_user() for _ in range(30)]
    hashes.clear()
    answers = [guess(person.email) for person in people]
    assert answers == [200] * 19 + [429] * 11
    assert len(hashes) == 20
    assert guess(people[0].email, visitor="192.0.2.2", password=RIGHT) == 302


@pytest.mark.django_db
def test_names_nobody_has_cost_the_same_hash_and_meet_the_same_limits(hashes: list[str]) -> None:
    """Nothing tells a guesser whether there is such an account: answer, work, or when it ends."""
    there = factories.make_user("there@example.test")
    factories.make_user("left@example.test", is_active=False)
    invited = factories.make_user("invited@example.test")
    invited.set_unusable_password()
    invited.save()
    told, work = {}, {}
    for number, name in enumerate(("there", "nobody", "left", "invited")):
        hashes.clear()
        told[name] = [guess(f"{name}@example.test", f"192.0.2.{number}") for _ in range(6)]
        work[name] = len(hashes)
    assert there.check_password(RIGHT)
    assert set(map(tuple, told.values())) == {(200, 200, 200, 200, 429, 429)}
    assert set(work.values()) == {5}


@pytest.mark.django_db
def test_signing_in_to_an_own_account_wipes_no_guesses_at_others() -> None:
    mine = factories.make_user("mine@example.test")
    for number in range(19):
        assert guess(f"other{number}@example.test") == 200
    assert guess(mine.email, password=RIGHT) == 302
    assert guess("other19@example.test") == 429


@pytest.mark.django_db
def test_one_account_guessed_at_from_everywhere_is_closed_for_the_day() -> None:
    person = factories.make_user()
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        for number in range(25):
            for _ in range(4):
                last = guess(person.email, f"198.51.100.{number}")
            clock.shift(timedelta(minutes=10))
        assert last == 429
        assert guess(person.email, "203.0.113.9", RIGHT) == 429
        clock.move_to("2026-03-03 09:01:00+00:00")
        assert guess(person.email, "203.0.113.9", RIGHT) == 302


@pytest.mark.django_db
def test_all_guessers_together_have_a_limit(hashes: list[str]) -> None:
    for number in range(210):
        answer = guess(f"person{number}@example.test", f"198.51.{number}.1")
    assert answer == 429
    assert len(hashes) == 200


@pytest.mark.django_db
def test_who_signed_in_here_before_gets_in_while_strangers_guess() -> None:
    person = factories.make_user("known@example.test")
    home = Client()
    assert guess(person.email, password=RIGHT, client=home) == 302
    cookie = home.cookies["known_browser"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert person.email not in cookie.value
    home.post("/sign-out/")
    # the very house she sits in, and her own account
    for _ in range(6):
        closed = guess(person.email)
    assert closed == 429
    assert guess(person.email, password=RIGHT, client=home) == 302
    # for another account it is a browser like any other, and here too five are enough
    assert guess("nobody@example.test", client=home) == 302, "signed in already"
    home.post("/sign-out/")
    for _ in range(5):
        last = guess(person.email, client=home)
    assert last == 429
    assert guess(person.email, password=RIGHT, client=home) == 429


@pytest.mark.django_db
@pytest.mark.parametrize("forged", ["", "x", "WyJhIixbImIiXV0:1:x", "\x00"])
def test_a_forged_cookie_is_no_known_browser(forged: str) -> None:
    person = factories.make_user()
    client = Client()
    client.cookies["known_browser"] = forged
    for _ in range(5):
        last = guess(person.email, client=client)
    assert last == 429


@pytest.mark.django_db
def test_the_table_tells_no_name_and_no_address_and_is_emptied() -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        guess("secret-friend@example.test", "198.51.100.77")
        kept = " ".join(Try.objects.values_list("key", flat=True))
        assert Try.objects.count() == 4
        assert "secret-friend" not in kept
        assert "198.51.100.77" not in kept
        clock.shift(timedelta(hours=24, seconds=1))
        guess("somebody@example.test", "198.51.100.78")
        assert Try.objects.count() == 4


@pytest.mark.django_db
def test_how_long_is_told_in_whole_minutes_or_hours() -> None:
    def told(seconds: float) -> str:
        return TooManyTries(timedelta(seconds=seconds)).wait_text

    assert [told(0.2), told(59), told(60), told(899.5), told(5399), told(5401), told(86399)] == [
        "1 minute",
        "1 minute",
        "1 minute",
        "15 minutes",
        "90 minutes",
        "2 hours",
        "24 hours",
    ]


@pytest.mark.django_db
def test_a_fault_of_the_program_is_no_wrong_try() -> None:
    counters = [counter("test", most=1)]
    for _ in range(3):
        with pytest.raises(ZeroDivisionError), one_try(counters, ValueError):
            _ = 1 / 0
    count_try(counters)
    with pytest.raises(TooManyTries):
        count_try(counters)


@pytest.mark.django_db(transaction=True)
def test_many_guesses_at_one_moment_are_many_guesses() -> None:
    looked_at = []

    def one_guess() -> None:
        with one_try([counter("test", most=3)], ValueError):
            looked_at.append(1)
            raise ValueError

    def all_end() -> object:
        try:
            return one_guess()
        except ValueError:
            return None

    for _ in range(3):
        Try.objects.all().delete()
        looked_at.clear()
        at_once(*[all_end] * 10)
        assert len(looked_at) <= 3


@pytest.mark.django_db
def test_the_first_person_looks_after_the_installation() -> None:
    first, second = factories.make_user(), factories.make_user()
    assert first.looks_after_installation
    assert not User.objects.get(pk=second.pk).looks_after_installation
