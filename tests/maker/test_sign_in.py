"""Sign-in by address and password: what it lets in, what it gives away, how guessing ends."""

from html import unescape
from typing import Any

import pytest
import time_machine
from django.test import Client

from maker.accounts.models import User
from tests import factories

RIGHT = "paper-and-twine"


def try_to_sign_in(client: Client, address: str, password: str, **more: str) -> Any:
    data = {"username": address, "password": password, **more}
    return client.post("/sign-in/", data)


def test_the_right_password_lets_in(anonymous_client: Client, owner: User) -> None:
    answer = try_to_sign_in(anonymous_client, "owner@example.test", RIGHT)
    assert answer.status_code == 302
    assert answer["Location"] == "/workshops/"
    assert anonymous_client.get("/w/marlow/").status_code == 200


def test_an_address_is_known_however_it_is_capitalised(
    anonymous_client: Client, owner: User
) -> None:
    assert try_to_sign_in(anonymous_client, " Owner@EXAMPLE.test", RIGHT).status_code == 302


def test_a_wrong_password_and_an_unknown_address_get_the_same_answer(
    anonymous_client: Client, owner: User
) -> None:
    known = try_to_sign_in(anonymous_client, "owner@example.test", "wrong")
    unknown = try_to_sign_in(anonymous_client, "nobody@example.test", "wrong")
    no_longer = factories.make_user("left@example.test", is_active=False)
    shut_out = try_to_sign_in(anonymous_client, no_longer.email, RIGHT)
    for answer in (known, unknown, shut_out):
        assert answer.status_code == 200
        assert "That email and password don&#x27;t match." in answer.content.decode()
        assert "_auth_user_id" not in anonymous_client.session


def test_five_wrong_passwords_close_the_door_even_for_the_right_one(
    anonymous_client: Client, owner: User
) -> None:
    # Capitals must not count as another account with fresh tries.
    spellings = ["owner@example.test", "Owner@example.test", "OWNER@example.test"]
    for number in range(4):
        answer = try_to_sign_in(anonymous_client, spellings[number % 3], "wrong")
        assert answer.status_code == 200
    answer = try_to_sign_in(anonymous_client, "owner@example.test", "wrong")
    assert answer.status_code == 429
    assert "Wait 15 minutes" in answer.content.decode()
    assert 14 * 60 < int(answer["Retry-After"]) <= 15 * 60 + 1
    for spelling in spellings:
        assert try_to_sign_in(anonymous_client, spelling, RIGHT).status_code == 429


def test_wrong_passwords_for_one_account_leave_the_others_open(
    anonymous_client: Client, owner: User, reader: User
) -> None:
    for _ in range(5):
        try_to_sign_in(anonymous_client, "owner@example.test", "wrong")
    assert try_to_sign_in(anonymous_client, "reader@example.test", RIGHT).status_code == 302


def test_the_door_opens_again_after_a_quarter_of_an_hour_whatever_was_tried_meanwhile(
    anonymous_client: Client, owner: User
) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        for _ in range(5):
            try_to_sign_in(anonymous_client, "owner@example.test", "wrong")
        clock.move_to("2026-03-02 09:14:00+00:00")
        assert try_to_sign_in(anonymous_client, "owner@example.test", RIGHT).status_code == 429
        clock.move_to("2026-03-02 09:16:00+00:00")
        assert try_to_sign_in(anonymous_client, "owner@example.test", RIGHT).status_code == 302


def test_behind_a_proxy_a_guesser_elsewhere_does_not_close_the_door(
    anonymous_client: Client, owner: User, settings: Any
) -> None:
    settings.BEHIND_PROXY = True
    # what a visitor claims stands before what the proxy adds
    guesser = {"X-Forwarded-For": "192.0.2.7, 198.51.100.9"}
    for number in range(5):
        claimed = {"X-Forwarded-For": f"192.0.2.{number}, 198.51.100.9"}
        answer = anonymous_client.post(
            "/sign-in/", {"username": owner.email, "password": "wrong"}, headers=claimed
        )
    assert answer.status_code == 429
    right = {"username": owner.email, "password": RIGHT}
    assert anonymous_client.post("/sign-in/", right, headers=guesser).status_code == 429
    odd = {"X-Forwarded-For": "no address\x00"}
    assert anonymous_client.post("/sign-in/", right, headers=odd).status_code == 302


def test_without_a_proxy_a_claimed_address_does_not_count(
    anonymous_client: Client, owner: User
) -> None:
    for number in range(5):
        answer = anonymous_client.post(
            "/sign-in/",
            {"username": owner.email, "password": "wrong"},
            headers={"X-Forwarded-For": f"192.0.2.{number}"},
        )
    assert answer.status_code == 429


def test_a_guesser_with_a_network_of_addresses_is_one_guesser(
    anonymous_client: Client, owner: User
) -> None:
    def try_from(address: str) -> int:
        form = {"username": owner.email, "password": "wrong"}
        return anonymous_client.post("/sign-in/", form, REMOTE_ADDR=address).status_code

    for number in range(5):
        answer = try_from(f"2001:db8:1:2:{number}::9")
    assert answer == 429
    assert try_from("2001:db8:1:3::9") == 200
    # how an address of the older kind arrives at a socket for both
    for _ in range(4):
        assert try_from("::ffff:198.51.100.9") == 200
    assert try_from("198.51.100.9") == 429


def test_signing_in_clears_the_count(anonymous_client: Client, owner: User) -> None:
    for _ in range(2):
        for _ in range(4):
            try_to_sign_in(anonymous_client, "owner@example.test", "wrong")
        assert try_to_sign_in(anonymous_client, "owner@example.test", RIGHT).status_code == 302
        anonymous_client.post("/sign-out/")


def test_she_lands_where_she_wanted_to_go(anonymous_client: Client, owner: User) -> None:
    first = anonymous_client.get("/w/marlow/settings/tax/")
    assert first["Location"] == "/sign-in/?next=/w/marlow/settings/tax/"
    assert (
        'value="/w/marlow/settings/tax/"'
        in anonymous_client.get(first["Location"]).content.decode()
    )
    answer = try_to_sign_in(
        anonymous_client, "owner@example.test", RIGHT, next="/w/marlow/settings/tax/"
    )
    assert answer["Location"] == "/w/marlow/settings/tax/"


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example",
        "javascript:alert(1)",
        "http:///elsewhere.example",
        "\x00/w/marlow/",
    ],
)
def test_the_way_on_never_leads_elsewhere(
    anonymous_client: Client, owner: User, elsewhere: str
) -> None:
    answer = try_to_sign_in(anonymous_client, "owner@example.test", RIGHT, next=elsewhere)
    assert answer["Location"] == "/workshops/"
    assert anonymous_client.get("/sign-in/", {"next": elsewhere})["Location"] == "/workshops/"


@pytest.mark.parametrize(
    ("address", "password"),
    [
        ("", ""),
        ("no address", RIGHT),
        ("<script>alert(1)</script>", RIGHT),
        ("a" * 10_000 + "@example.test", RIGHT),
        ("owner@example.test", "x" * 10_000),
        ("owner@example.test\x00", RIGHT),
        ("owner@example.test", RIGHT + "\x00"),
        ("' OR 1=1 --@example.test", "' OR 1=1 --"),
    ],
)
def test_odd_entries_are_refused_with_a_summary(
    anonymous_client: Client, owner: User, address: str, password: str
) -> None:
    answer = try_to_sign_in(anonymous_client, address, password)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "There is a problem" in page
    assert "<script>alert(1)</script>" not in page
    assert "_auth_user_id" not in anonymous_client.session


def test_a_typed_password_never_comes_back(anonymous_client: Client, owner: User) -> None:
    answer = try_to_sign_in(anonymous_client, "owner@example.test", "my-secret-slip")
    assert "my-secret-slip" not in answer.content.decode()
    assert "owner@example.test" in answer.content.decode()


def test_signing_out_takes_a_post(client: Client) -> None:
    assert client.get("/sign-out/").status_code == 405
    answer = client.post("/sign-out/")
    assert answer["Location"] == "/sign-in/"
    assert answer["Clear-Site-Data"] == '"cache"'
    assert client.get("/w/marlow/").status_code == 302


def test_a_form_without_its_token_is_refused_with_a_remedy(owner: User) -> None:
    strict = Client(enforce_csrf_checks=True)
    answer = try_to_sign_in(strict, "owner@example.test", RIGHT)
    assert answer.status_code == 403
    assert "This page timed out" in answer.content.decode()


def test_an_installation_without_people_says_how_to_begin(anonymous_client: Client) -> None:
    page = unescape(anonymous_client.get("/sign-in/").content.decode())
    # straight quotes: a shell takes curly ones for letters of the name
    assert 'create_owner YOUR-ADDRESS --workshop "NAME OF YOUR WORKSHOP"' in page
    factories.make_user()
    assert "create_owner" not in anonymous_client.get("/sign-in/").content.decode()


def test_the_session_changes_its_key_at_sign_in(anonymous_client: Client, owner: User) -> None:
    session = anonymous_client.session
    session["planted"] = "yes"
    session.save()
    before = session.session_key
    try_to_sign_in(anonymous_client, "owner@example.test", RIGHT)
    assert anonymous_client.session.session_key != before
