"""The command that makes the first person and her workshop."""

import io
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from tests import factories

pytestmark = pytest.mark.django_db
GOOD = "scissors over paper 3"


def create_owner(monkeypatch: Any, *words: str, password: str = GOOD) -> str:
    monkeypatch.setattr("sys.stdin", io.StringIO(password + "\n"))
    out = io.StringIO()
    call_command("create_owner", *words, "--password-stdin", stdout=out)
    return out.getvalue()


def test_the_first_person_signs_in_and_owns_the_workshop(
    monkeypatch: Any, anonymous_client: Client
) -> None:
    said = create_owner(
        monkeypatch, "Ada@Example.test", "--workshop", "Bramble Lane", "--currency", "gbp"
    )
    assert said == "ada@example.test owns “Bramble Lane”. Its address is /w/bramble-lane/\n"
    data = {"username": "ada@example.test", "password": GOOD}
    assert anonymous_client.post("/sign-in/", data).status_code == 302
    assert anonymous_client.get("/w/bramble-lane/settings/").status_code == 200
    assert Workshop.objects.get().currency == "GBP"


def test_the_password_is_asked_for_twice(monkeypatch: Any) -> None:
    answers = iter([GOOD, GOOD])
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(answers))
    call_command("create_owner", "ada@example.test", "--workshop", "B", stdout=io.StringIO())
    assert User.objects.get().check_password(GOOD)


def test_two_different_passwords_create_nothing(monkeypatch: Any) -> None:
    answers = iter([GOOD, GOOD + "x"])
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(answers))
    with pytest.raises(CommandError, match="differ"):
        call_command("create_owner", "ada@example.test", "--workshop", "B")
    assert not User.objects.exists()


@pytest.mark.parametrize(
    ("words", "password", "why"),
    [
        (["nobody", "--workshop", "B"], GOOD, "is not an email address"),
        (["a@example.test", "--workshop", " "], GOOD, "1 to 120 letters"),
        (["a@example.test", "--workshop", "n" * 121], GOOD, "1 to 120 letters"),
        (["a@example.test", "--workshop", "B", "--currency", "XXX"], GOOD, "No currency"),
        (["a@example.test", "--workshop", "B", "--wage", "much"], GOOD, "an amount. Enter one"),
        (["a@example.test", "--workshop", "B", "--wage", "NaN"], GOOD, "0 or more"),
        (["a@example.test", "--workshop", "B", "--wage=-1"], GOOD, "0 or more"),
        (["a@example.test", "--workshop", "B"], "12345678", "entirely numeric"),
        (["a@example.test", "--workshop", "B"], "", "too short"),
    ],
)
def test_wrong_words_create_nothing(
    monkeypatch: Any, words: list[str], password: str, why: str
) -> None:
    with pytest.raises(CommandError, match=why):
        create_owner(monkeypatch, *words, password=password)
    assert not User.objects.exists()
    assert not Workshop.objects.exists()


def test_an_address_with_an_account_is_refused_with_the_way_on(monkeypatch: Any) -> None:
    factories.make_user("ada@example.test")
    with pytest.raises(CommandError, match=r"manage\.py changepassword ada@example\.test"):
        create_owner(monkeypatch, "Ada@example.test", "--workshop", "B")
    assert not Membership.objects.exists()
