"""`prepare` loads the demo into a new database once, and never among real people."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command

from maker import VERSION
from maker.accounts.models import User
from maker.backup.models import Installation
from maker.management.commands.prepare import DEMO_EMAIL
from maker.workshop.models import Workshop

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@pytest.fixture
def prepare(settings, tmp_path, capsys, db) -> Callable[[], str]:
    """Run `prepare --with-demo` on a data folder of its own and return what it says."""
    settings.DATA_DIR = tmp_path
    Installation.objects.note(version=VERSION)

    def run() -> str:
        call_command("prepare", with_demo=True)
        return capsys.readouterr().out

    return run


def test_a_new_database_gets_the_demo_once(prepare, tmp_path: Path):
    (tmp_path / "demo_to_load").touch()
    first = prepare()
    password = (tmp_path / "demo_password").read_text().strip()
    assert first.splitlines() == [
        "Loading the demo workshop",
        f"Sign in as {DEMO_EMAIL} with the password {password}",
    ]
    assert (tmp_path / "demo_password").stat().st_mode & 0o777 == 0o600
    assert User.objects.get(email=DEMO_EMAIL).check_password(password)
    workshops = Workshop.objects.count()
    assert workshops >= 2
    again = prepare()
    assert again.splitlines() == first.splitlines()[1:]
    assert Workshop.objects.count() == workshops


def test_killed_before_the_demo_was_complete_it_is_loaded_next_time(prepare, tmp_path: Path):
    # What a killed start leaves: the mark and a password, but nobody yet.
    (tmp_path / "demo_to_load").touch()
    (tmp_path / "demo_password").write_text("made-before-it-was-killed\n")
    assert f"{DEMO_EMAIL} with the password made-before-it-was-killed" in prepare()
    assert not (tmp_path / "demo_to_load").exists()


def test_nothing_is_loaded_among_real_people(prepare, tmp_path: Path):
    (tmp_path / "demo_to_load").touch()
    User.objects.create_user("maker@example.test", "a long enough password")
    assert prepare() == "Sign in with your own address and password\n"
    assert not Workshop.objects.exists()


def test_a_password_she_changed_is_not_printed(prepare, tmp_path: Path):
    (tmp_path / "demo_to_load").touch()
    prepare()
    owner = User.objects.get(email=DEMO_EMAIL)
    owner.set_password("her own choice of words")
    owner.save()
    assert prepare() == "Sign in with your own address and password\n"


def test_with_nobody_left_the_way_to_an_account_is_named(prepare):
    assert "create_owner" in prepare()
