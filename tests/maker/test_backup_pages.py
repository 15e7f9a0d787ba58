"""Copies in the browser: for who looks after the installation alone, with the password again."""

import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from maker.accounts.models import User
from maker.activity.models import Event
from maker.backup.folder import copies, own_folder
from maker.backup.services import back_up
from maker.workshop.models import Workshop
from tests import factories

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.migrations]
PAGES = (
    "/backups/",
    "/backups/make/",
    "/backups/upload/",
    "/backups/pleat-20261129-111500-daily.zip/download/",
    "/backups/pleat-20261129-111500-daily.zip/restore/",
)


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.BACKUP_SECOND_DIR = ""


@pytest.fixture
def keeper_client(owner, client):
    """A browser of who looks after the installation, who has just typed her password."""
    User.objects.update(looks_after_installation=False)
    User.objects.filter(pk=owner.pk).update(looks_after_installation=True)
    answer = client.post("/account/prove/", {"password": "paper-and-twine"})
    assert answer.status_code == 302
    return client


def test_it_is_made_downloaded_sent_in_again_and_restored(keeper_client):
    page = keeper_client.post("/backups/make/", follow=True).content.decode()
    assert "was read back" in page
    (copy,) = copies(own_folder())
    assert f"/backups/{copy.name}/download/" in page
    answer = keeper_client.get(f"/backups/{copy.name}/download/")
    content = b"".join(answer.streaming_content)
    assert content == copy.path.read_bytes()
    assert f'attachment; filename="{copy.name}"' in answer["Content-Disposition"]

    Workshop.objects.update(name="Changed since")
    answer = keeper_client.post("/backups/upload/", {"file": SimpleUploadedFile("b.zip", content)})
    sent = answer["Location"]
    assert re.fullmatch(r"/backups/pleat-\d{8}-\d{6}-uploaded\.zip/restore/", sent)
    page = keeper_client.get(sent).content.decode()
    assert "It replaces everything" in page
    assert Workshop.objects.get().name == "Changed since", "looking at it replaces nothing"

    answer = keeper_client.post(sent)
    assert answer["Location"] == "/sign-in/"
    assert Workshop.objects.get().name == "Marlow Paperworks"
    assert keeper_client.get("/w/marlow/").status_code == 302, "she is signed out"
    assert (
        "Sign in with the password of that time" in keeper_client.get("/sign-in/").content.decode()
    )
    assert {one.reason for one in copies(own_folder())} == {"by-hand", "uploaded", "before-restore"}
    event = Event.objects.get(kind=Event.Kind.RESTORED)
    assert event.user == User.objects.get(email="owner@example.test")


def test_an_account_that_was_not_there_then_restores_all_the_same(keeper_client):
    path = back_up(reason="by-hand").path
    User.objects.update(email="renamed@example.test")
    assert keeper_client.post(f"/backups/{path.name}/restore/").status_code == 302
    assert Event.objects.get(kind=Event.Kind.RESTORED).user is None


def test_a_bad_file_is_refused_beside_the_field_and_not_kept(keeper_client):
    content = bytearray(back_up(reason="by-hand").path.read_bytes())
    content[len(content) // 2] ^= 1
    for file, said in (
        (SimpleUploadedFile("b.zip", bytes(content)), "This is not a whole backup"),
        (SimpleUploadedFile("letter.txt", b"Dear Penny"), "This is not a whole backup"),
        (SimpleUploadedFile("empty.zip", b""), "The file is empty"),
        ("", "Choose a file"),
    ):
        answer = keeper_client.post("/backups/upload/", {"file": file})
        assert answer.status_code == 200
        assert said in answer.content.decode()
    assert len(copies(own_folder())) == 1
    assert len(list(own_folder().iterdir())) == 1


def test_a_damaged_copy_on_the_machine_is_told_and_changes_nothing(keeper_client):
    path = back_up(reason="by-hand").path
    path.write_bytes(path.read_bytes()[:-100])
    for method in (keeper_client.get, keeper_client.post):
        answer = method(f"/backups/{path.name}/restore/", follow=True)
        assert "not a whole backup" in answer.content.decode()
    assert len(copies(own_folder())) == 1


def test_no_other_file_of_the_machine_can_be_reached(keeper_client):
    secret = own_folder().parent / "secret_key"
    secret.write_text("secret")
    (own_folder() / "notes.zip").write_text("hers")
    for name in ("..%2Fsecret_key", "notes.zip", "..", "pleat-20261129-111500-daily.zip"):
        for what in ("download", "restore"):
            assert keeper_client.get(f"/backups/{name}/{what}/").status_code == 404


def test_an_owner_of_another_workshop_may_do_nothing_here(
    keeper_client, stranger_client, reader_client
):
    for somebody in (stranger_client, reader_client):
        for path in (*PAGES, "/backups/move/"):
            assert somebody.get(path).status_code == 403
            assert somebody.post(path).status_code == 403
        assert "/backups/" not in somebody.get("/account/").content.decode()
    assert not Path(own_folder()).joinpath("x").exists()
    assert copies(own_folder()) == []


def test_nobody_who_is_not_signed_in_gets_in(anonymous_client):
    for path in (*PAGES, "/backups/move/"):
        assert anonymous_client.get(path)["Location"].startswith("/sign-in/")
        assert anonymous_client.post(path)["Location"].startswith("/sign-in/")


def test_the_password_is_asked_again_and_guessing_it_ends(keeper_client):
    session = keeper_client.session
    del session["proved_at"]
    session.save()
    for path in PAGES:
        for method in (keeper_client.get, keeper_client.post):
            assert method(path)["Location"].startswith("/account/prove/")
    assert copies(own_folder()) == []
    for _ in range(4):
        keeper_client.post("/account/prove/", {"password": "wrong"})
    assert keeper_client.post("/account/prove/", {"password": "wrong"}).status_code == 429
    assert keeper_client.post("/account/prove/", {"password": "paper-and-twine"}).status_code == 429


def test_the_four_steps_to_another_computer_name_the_commands(keeper_client):
    page = keeper_client.get("/backups/move/").content.decode()
    assert page.count("<h2>") == 4
    assert "python3 manage.py restore" in page
    assert "python3 manage.py start" in page


def test_home_and_the_installation_lead_there(keeper_client):
    assert 'href="/backups/"' in keeper_client.get("/w/marlow/").content.decode()
    assert 'href="/backups/"' in keeper_client.get("/installation/activity/").content.decode()


def test_more_copies_ask_no_more_of_the_database(keeper_client, count_queries):
    factories.make_workshop()
    back_up(reason="by-hand")
    keeper_client.get("/backups/")
    with count_queries() as few:
        keeper_client.get("/backups/")
    for _ in range(3):
        back_up(reason="by-hand")
    with count_queries() as many:
        keeper_client.get("/backups/")
    assert len(many) == len(few)
