"""Where a person is signed in, for how long, and how it ends."""

import re
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.db import DatabaseError
from django.test import Client

from maker.accounts.devices import browser_name
from maker.accounts.models import Session, User

RIGHT = "paper-and-twine"
NEW = "ribbon card 49 folds"
PHONE = "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 Chrome/131.0.0.0 Mobile Safari/537.36"
LAPTOP = "Mozilla/5.0 (X11; Linux x86_64; rv:132.0) Gecko/20100101 Firefox/132.0"


def browser(user: User, agent: str = LAPTOP, visitor: str = "198.51.100.77") -> Client:
    client = Client(headers={"User-Agent": agent}, REMOTE_ADDR=visitor)
    answer = client.post("/sign-in/", {"username": user.email, "password": RIGHT})
    assert answer.status_code == 302
    return client


def is_in(client: Client) -> bool:
    return client.get("/account/").status_code == 200


def marks(client: Client) -> list[str]:
    return re.findall(r'action="/account/devices/(\w{24})/"', devices(client))


def devices(client: Client) -> str:
    return client.get("/account/devices/").content.decode()


def test_each_browser_is_listed_and_told_apart(owner: User, reader: User) -> None:
    laptop, phone = browser(owner), browser(owner, PHONE, "2001:db8:1:2::3")
    browser(reader)
    page = devices(laptop)
    assert page.count("<tr>") == 3
    assert page.index("Firefox on Linux") < page.index("This one") < page.index("Chrome on Android")
    assert "198.51.100.0/24" in page
    assert "2001:db8:1::/48" in page
    assert "198.51.100.77" not in page
    for client in (laptop, phone):
        assert client.session.session_key not in page


def test_one_is_signed_out_and_the_others_stay(owner: User) -> None:
    laptop, phone, shop = browser(owner), browser(owner, PHONE), browser(owner)
    page = devices(laptop)
    (mark,) = [
        mark
        for mark, rest in re.findall(r'devices/(\w{24})/".*?Sign out(.*?)</button>', page, re.S)
        if "Chrome" in rest
    ]
    answer = laptop.post(f"/account/devices/{mark}/", follow=True)
    assert "Signed out there." in answer.content.decode()
    assert (is_in(laptop), is_in(phone), is_in(shop)) == (True, False, True)
    again = laptop.post(f"/account/devices/{mark}/", follow=True)
    assert "already signed out" in again.content.decode()


def test_all_others_are_signed_out(owner: User, reader: User) -> None:
    laptop, phone, shop, other = browser(owner), browser(owner), browser(owner), browser(reader)
    assert "Sign out all others" in devices(laptop)
    laptop.post("/account/devices/others/")
    assert [is_in(one) for one in (laptop, phone, shop, other)] == [True, False, False, True]
    assert "Sign out all others" not in devices(laptop)
    answer = laptop.post("/account/devices/others/", follow=True)
    assert "signed in anywhere else" in answer.content.decode()


def test_nobody_signs_out_somebody_else(owner: User, reader: User) -> None:
    mine, hers, hers_too = browser(owner), browser(reader), browser(reader)
    for mark in marks(hers):
        mine.post(f"/account/devices/{mark}/")
    assert is_in(hers_too)


def test_signing_out_others_takes_the_password_after_a_quarter_of_an_hour(owner: User) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        laptop, phone = browser(owner), browser(owner)
        clock.shift(timedelta(minutes=16))
        answer = laptop.post(
            "/account/devices/others/", headers={"Referer": "http://testserver/account/devices/"}
        )
        assert answer["Location"] == "/account/prove/?next=%2Faccount%2Fdevices%2F"
        assert is_in(phone)
        wrong = laptop.post("/account/prove/", {"password": "no", "next": "/account/devices/"})
        assert "your password. Try again" in wrong.content.decode()
        right = laptop.post("/account/prove/", {"password": RIGHT, "next": "/account/devices/"})
        assert right["Location"] == "/account/devices/"
        laptop.post("/account/devices/others/")
        assert not is_in(phone)


def test_who_found_an_open_browser_cannot_guess_the_password_there(owner: User) -> None:
    laptop = browser(owner)
    for _ in range(5):
        answer = laptop.post("/account/prove/", {"password": "guess"})
    assert answer.status_code == 429
    change = {
        "change_password": "",
        "old_password": RIGHT,
        "new_password1": NEW,
        "new_password2": NEW,
    }
    assert laptop.post("/account/", change).status_code == 429


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/"])
def test_the_question_leads_nowhere_else(client: Client, elsewhere: str) -> None:
    answer = client.post("/account/prove/", {"password": RIGHT, "next": elsewhere})
    assert answer["Location"] == "/account/"


def test_a_new_password_signs_out_the_others_and_clears_the_list(owner: User) -> None:
    laptop, phone = browser(owner), browser(owner, PHONE)
    change = {
        "change_password": "",
        "old_password": RIGHT,
        "new_password1": NEW,
        "new_password2": NEW,
    }
    assert laptop.post("/account/", change).status_code == 302
    assert (is_in(laptop), is_in(phone)) == (True, False)
    assert Session.objects.filter(user=owner).count() == 1
    assert "Chrome on Android" not in devices(laptop)


def test_a_password_changed_by_a_command_signs_out_everywhere(owner: User) -> None:
    laptop = browser(owner)
    User.objects.filter(pk=owner.pk).update(password=make_password(NEW))
    assert not is_in(laptop)


def test_an_account_that_was_closed_is_signed_out_everywhere(owner: User) -> None:
    laptop = browser(owner)
    User.objects.filter(pk=owner.pk).update(is_active=False)
    assert not is_in(laptop)


@pytest.mark.parametrize(
    ("days", "in_at", "out_at", "cookie_days"),
    [
        (0, timedelta(hours=23), timedelta(hours=25), None),
        (1, timedelta(hours=23), timedelta(hours=25), 1),
        (14, timedelta(days=13), timedelta(days=15), 14),
        (90, timedelta(days=89), timedelta(days=91), 90),
    ],
)
def test_a_visit_lasts_as_long_as_she_chose(
    owner: User, days: int, in_at: timedelta, out_at: timedelta, cookie_days: int | None
) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        first = browser(owner)
        first.post("/account/devices/", {"stay_signed_in_days": days})
        laptop = browser(owner)
        max_age = laptop.cookies["sessionid"]["max-age"]
        assert max_age == ("" if cookie_days is None else cookie_days * 24 * 60 * 60)
        start = "2026-03-02 09:00:00+00:00"
        clock.shift(in_at)
        assert is_in(laptop), "unused, but not for too long"
        # a visit counts the time anew
        clock.shift(in_at)
        assert is_in(laptop)
        clock.move_to(start)
        other = browser(owner)
        clock.shift(out_at)
        assert not is_in(other)


def test_a_choice_holds_for_browsers_that_are_signed_in(owner: User) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        laptop, phone = browser(owner), browser(owner)
        answer = laptop.post("/account/devices/", {"stay_signed_in_days": "1"})
        assert answer.status_code == 302
        assert laptop.cookies["sessionid"]["max-age"] == 24 * 60 * 60
        clock.shift(timedelta(hours=23))
        assert is_in(phone)
        clock.shift(timedelta(hours=25))
        assert not is_in(laptop)
        assert not is_in(phone)


@pytest.mark.parametrize("days", ["", "2", "-1", "9999", "x"])
def test_another_length_than_those_offered_is_refused(client: Client, days: str) -> None:
    answer = client.post("/account/devices/", {"stay_signed_in_days": days})
    assert answer.status_code == 200
    assert "There is a problem" in answer.content.decode()


def test_after_a_year_she_signs_in_again(owner: User) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        laptop = browser(owner)
        for _ in range(36):
            clock.shift(timedelta(days=10))
            assert is_in(laptop)
        clock.shift(timedelta(days=6))
        assert not is_in(laptop)


def test_opening_pages_writes_once_in_ten_minutes(owner: User, count_queries: Any) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        laptop = browser(owner)
        is_in(laptop)

        def writes() -> int:
            with count_queries() as queries:
                assert is_in(laptop)
            return sum("UPDATE" in query["sql"] for query in queries)

        assert writes() == 0
        clock.shift(timedelta(minutes=11))
        assert writes() == 1
        assert writes() == 0


def test_a_disk_that_takes_no_writes_still_shows_pages(
    owner: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*args: object, **fields: object) -> int:
        raise DatabaseError("database or disk is full")

    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        laptop = browser(owner)
        clock.shift(timedelta(minutes=11))
        monkeypatch.setattr("django.db.models.query.QuerySet.update", full)
        assert is_in(laptop)


def test_signing_in_takes_away_visits_that_are_over(owner: User) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        browser(owner)
        clock.shift(timedelta(days=15))
        browser(owner)
        assert Session.objects.count() == 1


@pytest.mark.parametrize(
    ("agent", "told"),
    [
        (PHONE, "Chrome on Android"),
        (LAPTOP, "Firefox on Linux"),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_1 like Mac OS X) AppleWebKit/605.1.15 "
            "(KHTML, like Gecko) Version/18.1 Mobile/15E148 Safari/604.1",
            "Safari on iPhone",
        ),
        (
            "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/131.0.0.0 "
            "Safari/537.36 Edg/131.0.0.0",
            "Edge on Windows",
        ),
        ("", "Unknown browser"),
        ("curl/8.5.0", "curl/8.5.0"),
        ("<b>" + "x" * 900, "<b>" + "x" * 37),
        ("\x00\x1b[31m", "[31m"),
    ],
)
def test_a_browser_is_told_in_words(agent: str, told: str) -> None:
    assert browser_name(agent) == told


def test_what_a_browser_says_of_itself_stays_text(owner: User) -> None:
    laptop = browser(owner, "<script>alert(1)</script>")
    assert "<script>alert(1)" not in devices(laptop)
    assert "&lt;script&gt;alert(1)" in devices(laptop)
