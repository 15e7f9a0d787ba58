"""The own account: name and password."""

from typing import Any

import pytest
from django.test import Client

from maker.accounts.models import User

NEW = "ribbon card 49 folds"


def change_password(client: Client, old: str, new: str, again: str | None = None) -> Any:
    data = {
        "change_password": "",
        "old_password": old,
        "new_password1": new,
        "new_password2": new if again is None else again,
    }
    return client.post("/account/", data)


def test_the_name_is_changed(client: Client, owner: User) -> None:
    answer = client.post("/account/", {"change_name": "", "name": "  Ada  Reed "}, follow=True)
    assert "Your name is saved." in answer.content.decode()
    owner.refresh_from_db()
    assert owner.name == "Ada Reed"


def test_the_password_is_changed_here_and_other_browsers_are_signed_out(
    client: Client, owner: User
) -> None:
    other_browser = Client()
    other_browser.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    assert change_password(client, "paper-and-twine", NEW).status_code == 302
    owner.refresh_from_db()
    assert owner.check_password(NEW)
    assert client.get("/account/").status_code == 200
    assert other_browser.get("/account/").status_code == 302


@pytest.mark.parametrize(
    ("old", "new", "again", "why"),
    [
        ("wrong", NEW, NEW, "old password was entered incorrectly"),
        ("paper-and-twine", NEW, NEW + "!", "didn’t match"),
        ("paper-and-twine", "short", "short", "too short"),
        ("paper-and-twine", "Marlow-Paperworks 49!", None, "would try these words first"),
        ("paper-and-twine", "pleat&penny2026", None, "would try these words first"),
        ("paper-and-twine", "password1", "password1", "too common"),
        ("paper-and-twine", "owner@example.test", "owner@example.test", "too similar"),
        ("paper-and-twine", "x" * 10_000, "x" * 10_000, "at most 1000"),
        ("", "", "", "Fill this in."),
    ],
)
def test_a_bad_password_is_refused_with_the_reason(
    client: Client, owner: User, old: str, new: str, again: str | None, why: str
) -> None:
    answer = change_password(client, old, new, again)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert why in page
    assert "There is a problem" in page
    assert NEW not in page
    owner.refresh_from_db()
    assert owner.check_password("paper-and-twine")


def test_a_name_of_ten_thousand_letters_is_kept_and_explained(client: Client, owner: User) -> None:
    answer = client.post("/account/", {"change_name": "", "name": "n" * 10_000})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "at most 120" in page
    assert "n" * 10_000 in page
    owner.refresh_from_db()
    assert owner.name == ""


def test_html_in_a_name_stays_text(client: Client, owner: User) -> None:
    client.post("/account/", {"change_name": "", "name": "<script>alert(1)</script>"})
    page = client.get("/w/marlow/people/").content.decode()
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert(1)" not in page


def test_nobody_has_no_account(anonymous_client: Client) -> None:
    assert anonymous_client.get("/account/")["Location"] == "/sign-in/?next=/account/"


def test_every_role_may_change_the_own_account(reader_client: Client, reader: User) -> None:
    reader_client.post("/account/", {"change_name": "", "name": "Rae"})
    reader.refresh_from_db()
    assert reader.name == "Rae"
