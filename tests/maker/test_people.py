"""The people of a workshop: adding, roles, leaving, and the link for a first password."""

import re
from typing import Any

import pytest
import time_machine
from django.contrib.auth import SESSION_KEY
from django.test import Client

from maker.accounts.models import Membership, User
from maker.accounts.services import LastOwner, NoLinkForHer, remove_person, welcome_path
from maker.workshop.models import Workshop
from tests import factories

PEOPLE = "/w/marlow/people/"
CHOSEN = "thread needle thimble 7"


def membership_of(user: User) -> Membership:
    return Membership.objects.get(user=user, workshop__slug="marlow")


def invite(client: Client, email: str, role: str = "helper") -> str:
    """Add a person and return the path of the link that is shown."""
    page = client.post(PEOPLE, {"email": email, "role": role}, follow=True).content.decode()
    found = re.search(r'value="http://testserver(/welcome/[^"]+)"', page)
    return found[1].replace("&amp;", "&") if found else ""


def choose_password(path: str, **data: str) -> tuple[Client, Any]:
    browser = Client()
    sent = {"name": "Nell", "new_password1": CHOSEN, "new_password2": CHOSEN, **data}
    return browser, browser.post(path, sent)


def test_a_new_person_chooses_her_password_by_the_link_and_is_in(client: Client) -> None:
    path = invite(client, "New@example.test")
    user = User.objects.get(email="new@example.test")
    assert not user.has_usable_password()
    assert "new@example.test" in Client().get(path).content.decode()
    browser, answer = choose_password(path)
    assert answer["Location"] == "/workshops/"
    assert browser.get("/w/marlow/").status_code == 200
    user.refresh_from_db()
    assert (user.name, user.check_password(CHOSEN)) == ("Nell", True)
    assert membership_of(user).role == "helper"


def test_the_link_is_shown_once_and_works_once(client: Client) -> None:
    path = invite(client, "new@example.test")
    assert "/welcome/" not in client.get(PEOPLE).content.decode()
    choose_password(path)
    browser, answer = choose_password(path, new_password1="x", new_password2="x")
    assert answer.status_code == 404
    assert "This link has expired" in answer.content.decode()
    assert SESSION_KEY not in browser.session


def test_the_link_is_over_after_three_days(client: Client) -> None:
    with time_machine.travel("2026-03-02 09:00:00+00:00") as clock:
        path = invite(client, "new@example.test")
        clock.move_to("2026-03-05 08:59:00+00:00")
        assert Client().get(path).status_code == 200
        clock.move_to("2026-03-05 09:01:00+00:00")
        assert Client().get(path).status_code == 404


@pytest.mark.parametrize(
    "query", ["", "?who=&key=", "?who=MQ&key=x", "?who=%00&key=%00", "?who=" + "A" * 10_000]
)
def test_a_made_up_link_opens_nothing(anonymous_client: Client, owner: User, query: str) -> None:
    assert anonymous_client.get("/welcome/" + query).status_code == 404


def test_a_weak_first_password_is_explained(client: Client) -> None:
    path = invite(client, "new@example.test")
    _, answer = choose_password(path, new_password1="12345678", new_password2="12345678")
    assert answer.status_code == 200
    assert "entirely numeric" in answer.content.decode()
    assert not User.objects.get(email="new@example.test").has_usable_password()


def test_a_newer_link_ends_the_older_one_of_another_workshop(
    client: Client, stranger_client: Client
) -> None:
    older = invite(client, "new@example.test")
    page = stranger_client.post(
        "/w/else/people/", {"email": "new@example.test", "role": "owner"}, follow=True
    ).content.decode()
    # Nobody may choose the password of a person two workshops have invited.
    assert "/welcome/" not in page
    assert "changepassword new@example.test" in page
    assert Client().get(older).status_code == 404


def test_somebody_with_an_account_is_added_without_a_link(client: Client, stranger: User) -> None:
    page = client.post(
        PEOPLE, {"email": "Stranger@example.test", "role": "reader"}, follow=True
    ).content.decode()
    assert "had an account here and was added" in page
    assert "/welcome/" not in page
    assert membership_of(stranger).role == "reader"
    with pytest.raises(NoLinkForHer):
        welcome_path(membership_of(stranger))


def test_a_fresh_link_is_made_for_a_person_without_a_password(client: Client) -> None:
    invite(client, "new@example.test")
    membership = membership_of(User.objects.get(email="new@example.test"))
    page = client.post(f"{PEOPLE}{membership.pk}/link/", follow=True).content.decode()
    assert "/welcome/?who=" in page


def test_nobody_is_added_twice(client: Client, reader: User) -> None:
    answer = client.post(PEOPLE, {"email": reader.email, "role": "owner"})
    assert "is already a member" in answer.content.decode()
    assert membership_of(reader).role == "reader"


def test_a_role_is_changed(client: Client, reader: User) -> None:
    answer = client.post(
        f"{PEOPLE}{membership_of(reader).pk}/role/", {"role": "helper"}, follow=True
    )
    assert "is now an editor" in answer.content.decode()
    assert membership_of(reader).role == "helper"


@pytest.mark.parametrize("role", ["", "queen", "<b>", "owner\x00", "o" * 10_000])
def test_a_role_that_is_none_changes_nothing(client: Client, reader: User, role: str) -> None:
    answer = client.post(f"{PEOPLE}{membership_of(reader).pk}/role/", {"role": role}, follow=True)
    assert "That is not a role" in answer.content.decode()
    assert membership_of(reader).role == "reader"


def test_a_removal_can_be_undone(client: Client, reader: User) -> None:
    answer = client.post(f"{PEOPLE}{membership_of(reader).pk}/remove/", follow=True)
    page = answer.content.decode()
    assert not Membership.objects.filter(user=reader).exists()
    undo = re.search(r'action="(/w/marlow/people/bring-back/[^"]+)"', page)
    assert undo
    client.post(undo[1])
    assert membership_of(reader).role == "reader"


def test_an_undo_of_another_workshop_or_made_up_takes_nobody_in(
    client: Client, stranger_client: Client, reader: User
) -> None:
    page = client.post(f"{PEOPLE}{membership_of(reader).pk}/remove/", follow=True).content.decode()
    undo = re.search(r'action="/w/marlow/people/bring-back/([^"]+)"', page)
    assert undo
    stranger_client.post(f"/w/else/people/bring-back/{undo[1]}")
    client.post(f"{PEOPLE}bring-back/made-up/")
    assert not Membership.objects.filter(user=reader).exists()


def test_the_last_owner_can_neither_be_demoted_nor_removed_nor_leave(
    client: Client, owner: User, reader: User
) -> None:
    mine = membership_of(owner)
    for address, data in (
        (f"{PEOPLE}{mine.pk}/role/", {"role": "reader"}),
        (f"{PEOPLE}{mine.pk}/remove/", {}),
        (f"/workshops/leave/{mine.pk}/", {}),
    ):
        page = client.post(address, data, follow=True).content.decode()
        if "only owner" not in page:
            page = client.get("/workshops/?all").content.decode()
        assert "is the only owner, and a workshop needs one" in page
        assert membership_of(owner).role == "owner"


def test_one_of_two_owners_may_go(client: Client, owner: User, workshop: Workshop) -> None:
    factories.make_member(workshop, "owner", "second@example.test")
    answer = client.post(f"{PEOPLE}{membership_of(owner).pk}/remove/")
    assert answer["Location"] == "/workshops/"
    assert not Membership.objects.filter(user=owner).exists()
    with pytest.raises(LastOwner):
        remove_person(membership=Membership.objects.get(workshop=workshop))


def test_a_reader_leaves_by_herself(reader_client: Client, reader: User) -> None:
    page = reader_client.post(
        f"/workshops/leave/{membership_of(reader).pk}/", follow=True
    ).content.decode()
    assert "You have left Marlow Paperworks." in page
    assert "You have no workshop yet" in page


def test_nobody_leaves_for_somebody_else(reader_client: Client, owner: User) -> None:
    pk = membership_of(owner).pk
    assert reader_client.post(f"/workshops/leave/{pk}/").status_code == 404
    assert membership_of(owner).role == "owner"


def test_only_owners_see_people(
    helper_client: Client,
    reader_client: Client,
    stranger_client: Client,
    anonymous_client: Client,
    owner: User,
) -> None:
    assert helper_client.get(PEOPLE).status_code == 403
    assert reader_client.get(PEOPLE).status_code == 403
    assert stranger_client.get(PEOPLE).status_code == 404
    assert anonymous_client.get(PEOPLE).status_code == 302
    before = Membership.objects.count()
    for browser in (helper_client, reader_client, stranger_client, anonymous_client):
        browser.post(PEOPLE, {"email": "new@example.test", "role": "owner"})
    assert Membership.objects.count() == before


def test_a_member_of_another_workshop_is_not_changed_through_mine(
    client: Client, stranger: User
) -> None:
    theirs = Membership.objects.get(user=stranger)
    for action in ("role", "remove", "link"):
        answer = client.post(f"{PEOPLE}{theirs.pk}/{action}/", {"role": "reader"})
        assert answer.status_code == 404
    theirs.refresh_from_db()
    assert theirs.role == "owner"


@pytest.mark.parametrize(
    "email",
    ["", "nobody", "a" * 10_000 + "@example.test", "<b>@example.test", "a\x00@example.test"],
)
def test_an_odd_address_is_kept_and_explained(client: Client, email: str) -> None:
    answer = client.post(PEOPLE, {"email": email, "role": "helper"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "There is a problem" in page
    assert Membership.objects.count() == 1


def test_more_people_cost_no_more_queries(
    client: Client, workshop: Workshop, count_queries: Any
) -> None:
    with count_queries() as few:
        client.get(PEOPLE)
    for _ in range(10):
        factories.make_member(workshop, "reader")
    with count_queries() as many:
        client.get(PEOPLE)
    assert len(many) == len(few)
