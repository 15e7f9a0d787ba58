"""How mail goes out, and a new password by a letter."""

import email
import re
import socket
from collections.abc import Iterator
from datetime import timedelta
from email.policy import default
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client

from maker.accounts.models import CodeApp, Session, User
from maker.accounts.resets import choose_password, reset_key
from maker.accounts.second_steps import new_secret, sealed
from maker.activity.models import Event
from maker.mail.models import MailServer
from maker.mail.services import MailNotSent, save_mail_server, send_letter
from maker.sealing import SealBroken
from tests import factories
from tests.at_once import at_once
from tests.mail_server import MailServer as Server
from tests.mail_server import mail_server
from tests.slow_work import do_what_waits

RIGHT = "paper-and-twine"
NEW = "ribbon card 49 folds"
OWN = "smtp-pass-word"
# a worker has a connection of its own
by_worker = pytest.mark.django_db(transaction=True)


@pytest.fixture
def server() -> Iterator[Server]:
    with mail_server(OWN) as running:
        yield running


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path


@pytest.fixture
def keeper(owner: User) -> Client:
    """The browser of who looks after the installation."""
    User.objects.update(looks_after_installation=False)
    User.objects.filter(pk=owner.pk).update(looks_after_installation=True)
    client = Client()
    client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
    return client


def entries(server: Server, **more: Any) -> dict[str, Any]:
    return {
        "host": "127.0.0.1",
        "port": server.port,
        "security": "none",
        "username": "ada",
        "password": OWN,
        "from_address": "workshop@example.test",
        **more,
    }


def set_up(server: Server) -> None:
    save_mail_server(**entries(server))


def told(answer: Any) -> str:
    return str(answer.content.decode())


def test_letters_are_written_into_a_folder_of_its_own_at_first(
    keeper: Client, tmp_path: Path
) -> None:
    assert str(tmp_path / "mail") in told(keeper.get("/installation/mail/"))
    answer = keeper.post("/installation/mail/test/", follow=True)
    assert "written into" in told(answer)
    (file,) = (tmp_path / "mail").iterdir()
    assert (tmp_path / "mail").stat().st_mode & 0o77 == 0
    letter = email.message_from_bytes(file.read_bytes(), policy=default)
    assert letter["To"] == "owner@example.test"


def test_a_server_is_set_up_and_tried(keeper: Client, server: Server) -> None:
    answer = keeper.post("/installation/mail/", entries(server), follow=True)
    assert "send yourself a test message" in told(answer)
    answer = keeper.post("/installation/mail/test/", follow=True)
    assert "was sent to owner@example.test" in told(answer)
    (letter,) = server.letters
    assert (letter["From"], letter["To"]) == ("workshop@example.test", "owner@example.test")
    assert server.logins == ["ada"]
    assert "mail by 127.0.0.1" in Event.objects.get(kind="installation").about


def test_the_password_of_the_server_is_neither_shown_nor_readable(
    keeper: Client, server: Server
) -> None:
    keeper.post("/installation/mail/", entries(server))
    assert OWN not in told(keeper.get("/installation/mail/"))
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM maker_mailserver")
        assert OWN not in repr(cursor.fetchall())
    # left empty it stays
    keeper.post("/installation/mail/", entries(server, password="", port=server.port))
    keeper.post("/installation/mail/test/")
    assert len(server.letters) == 1


def test_a_kept_password_does_not_go_to_another_server(keeper: Client, server: Server) -> None:
    keeper.post("/installation/mail/", entries(server))
    answer = keeper.post("/installation/mail/", entries(server, password="", host="localhost"))
    assert "Enter the password again" in told(answer)
    assert MailServer.objects.get().host == "127.0.0.1"


def test_what_is_wrong_with_a_server_is_said(
    keeper: Client, server: Server, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def trial(**changed: Any) -> str:
        keeper.post("/installation/mail/", entries(server, **changed))
        return told(keeper.post("/installation/mail/test/", follow=True))

    monkeypatch.setattr("maker.accounts.reset_views.count_try", lambda counters: None)
    assert "refuses this user and password" in trial(password="wrong")
    assert "refuses mail to refused@example.test" in str(_refused(server))
    # this server knows no encryption
    assert "STARTTLS" in trial(security="starttls")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    assert "could not be used" in trial(port=port)
    assert "could not be used" in trial(host="nothing.invalid")
    settings.SECRET_KEY = "another key of more than forty characters, for this test"
    with pytest.raises(SealBroken, match="kept with another secret key"):
        send_letter(to="ada@example.test", subject="x", text="x")


def _refused(server: Server) -> MailNotSent:
    set_up(server)
    with pytest.raises(MailNotSent) as caught:
        send_letter(to="refused@example.test", subject="x", text="x")
    return caught.value


@pytest.mark.parametrize(
    "odd",
    [
        {"host": ""},
        {"host": "a b"},
        {"host": "mail..example.test"},
        {"host": "x" * 64},
        {"host": "x\r\nRCPT TO:<a@b>"},
        {"port": 0},
        {"port": 70000},
        {"port": "x"},
        {"security": "maybe"},
        {"security": "none", "host": "mail.example.test"},
        {"from_address": "nobody"},
        {"from_address": "a@example.test\r\nBcc: b@example.test"},
        {"username": "x" * 300},
    ],
)
def test_odd_entries_are_refused(keeper: Client, server: Server, odd: dict[str, Any]) -> None:
    answer = keeper.post("/installation/mail/", entries(server, **odd))
    assert answer.status_code == 200
    assert "There is a problem" in told(answer)
    assert OWN not in told(answer)
    assert not MailServer.objects.exists()


def test_the_server_is_forgotten_with_its_password(keeper: Client, server: Server) -> None:
    keeper.post("/installation/mail/", entries(server))
    keeper.post("/installation/mail/forget/")
    assert not MailServer.objects.exists()


@pytest.mark.parametrize("path", ["", "test/", "forget/"])
def test_only_who_looks_after_the_installation_sets_up_mail(
    keeper: Client, reader: User, path: str
) -> None:
    client = Client()
    client.post("/sign-in/", {"username": reader.email, "password": RIGHT})
    assert client.post(f"/installation/mail/{path}").status_code == 403
    assert client.get("/installation/mail/").status_code == 403
    assert "Installation" not in told(client.get("/account/"))


def test_setting_up_mail_takes_the_password_again(keeper: Client) -> None:
    with time_machine.travel(timedelta(minutes=16)):
        answer = keeper.get("/installation/mail/")
        assert answer["Location"].startswith("/account/prove/")


def ask(address: str, client: Client | None = None, **more: Any) -> Any:
    return (client or Client()).post("/sign-in/lost/", {"email": address}, **more)


def link(server: Server) -> str:
    do_what_waits()
    text = server.letters[-1].get_content()
    (found,) = re.findall(r"http://testserver(/new-password/\S+)", text)
    return str(found)


def choose(path: str, password: str = NEW, client: Client | None = None) -> Any:
    entered = {"new_password1": password, "new_password2": password}
    return (client or Client()).post(path, entered)


def test_without_mail_the_page_names_the_command(owner: User) -> None:
    page = told(Client().get("/sign-in/lost/"))
    assert "manage.py changepassword" in page
    assert "<form class" not in page
    assert ask(owner.email).status_code == 200


@by_worker
def test_a_new_password_by_letter(owner: User, server: Server) -> None:
    set_up(server)
    client = Client()
    client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
    assert "Email sent" in told(ask("Owner@Example.test"))
    path = link(server)
    assert server.recipients == [owner.email]
    answer = choose(path)
    assert answer["Location"] == "/sign-in/"
    owner.refresh_from_db()
    assert owner.check_password(NEW)
    assert not Session.objects.filter(user=owner).exists()
    assert client.get("/account/").status_code == 302
    assert Event.objects.latest("pk").about == "by letter"


@by_worker
def test_a_link_works_once_and_for_an_hour(owner: User, server: Server) -> None:
    set_up(server)
    ask(owner.email)
    path = link(server)
    assert Client().get(path).status_code == 200
    with time_machine.travel(timedelta(hours=1, minutes=1)):
        answer = Client().get(path)
        assert answer.status_code == 404
        assert "more than an hour old" in told(answer)
    choose(path)
    assert choose(path, "another pass 77").status_code == 404
    owner.refresh_from_db()
    assert owner.check_password(NEW)


@by_worker
def test_signing_in_ends_a_link(owner: User, server: Server) -> None:
    set_up(server)
    ask(owner.email)
    path = link(server)
    Client().post("/sign-in/", {"username": owner.email, "password": RIGHT})
    assert choose(path).status_code == 404


@by_worker
def test_a_link_does_not_pass_by_the_second_step(owner: User, server: Server) -> None:
    set_up(server)
    CodeApp.objects.create(
        user=owner, sealed_secret=sealed(new_secret()), last_counter=0, added_at="2026-01-01 00:00Z"
    )
    ask(owner.email)
    client = Client()
    choose(link(server), client=client)
    assert client.get("/account/").status_code == 302
    answer = client.post("/sign-in/", {"username": owner.email, "password": NEW})
    assert answer["Location"] == "/sign-in/second-step/"


@by_worker
def test_nothing_tells_who_has_an_account(owner: User, server: Server, count_queries: Any) -> None:
    set_up(server)
    left = factories.make_user("left@example.test", is_active=False)
    answers, work = [], []
    for number, address in enumerate((owner.email, "nobody@example.test", left.email)):
        with count_queries() as queries:
            answer = ask(address, REMOTE_ADDR=f"198.51.100.{number}")
        answers.append(re.sub(r'value="\w{64}"', "", told(answer)))
        work.append(len(queries))
    assert len(set(answers)) == len(set(work)) == 1
    do_what_waits()
    assert server.recipients == [owner.email]


@by_worker
def test_a_mailbox_is_not_flooded(owner: User, server: Server) -> None:
    set_up(server)
    answers = [ask(owner.email, REMOTE_ADDR=f"198.51.100.{n}").status_code for n in range(5)]
    assert answers == [200, 200, 200, 429, 429]
    do_what_waits()
    assert len(server.letters) == 3


@by_worker
def test_a_letter_opens_a_door_that_guessers_closed(owner: User, server: Server) -> None:
    set_up(server)
    wrong = {"username": owner.email, "password": "wrong"}
    for number in range(25):
        for _ in range(4):
            Client().post("/sign-in/", wrong, REMOTE_ADDR=f"198.51.{number}.1")
    right = {"username": owner.email, "password": NEW}
    ask(owner.email)
    choose(link(server))
    assert Client().post("/sign-in/", right, REMOTE_ADDR="203.0.113.1").status_code == 302


@by_worker
@pytest.mark.parametrize("is_known", [False, True])
def test_a_letter_opens_a_door_that_she_closed_herself(
    owner: User, server: Server, is_known: bool
) -> None:
    set_up(server)
    client = Client()
    if is_known:
        client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
        client.post("/sign-out/")
    for _ in range(5):
        last = client.post("/sign-in/", {"username": owner.email, "password": "forgotten"})
    assert last.status_code == 429
    ask(owner.email)
    choose(link(server), client=client)
    answer = client.post("/sign-in/", {"username": owner.email, "password": NEW})
    assert answer.status_code == 302


@pytest.mark.parametrize("key", ["", "x", "\x00", "WzEsIngiXQ:1:x", "x" * 5000])
def test_a_made_up_link_is_over(owner: User, key: str) -> None:
    assert Client().get("/new-password/", {"key": key}).status_code == 404


def test_a_weak_password_is_refused(owner: User) -> None:
    answer = choose(f"/new-password/?key={reset_key(owner)}", "password1")
    assert "too common" in told(answer)
    owner.refresh_from_db()
    assert owner.check_password(RIGHT)


@by_worker
def test_a_host_that_was_made_up_gets_no_letter(owner: User, server: Server) -> None:
    set_up(server)
    assert ask(owner.email, headers={"Host": "elsewhere.example"}).status_code == 400
    do_what_waits()
    assert not server.letters


@by_worker
def test_a_link_sent_twice_at_one_moment_sets_one_password(owner: User) -> None:
    key = reset_key(owner)
    passwords = ("first words 11", "second words 22", "third words 33")
    results = at_once(
        *[lambda one=one: choose_password(key=key, password=one) for one in passwords]
    )
    assert sum(result is not None for result in results) == 1
