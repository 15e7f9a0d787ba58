"""The copy of the day: once, kept so long, in a second folder too, and told when it fails."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from maker.backup.folder import copies, own_folder
from maker.backup.models import Installation
from maker.backup.services import back_up
from maker.backup.tasks import ask_for_copy_of_the_day
from maker.slow_work import worker
from maker.slow_work.hourly import EACH_HOUR
from tests.slow_work import do_what_waits

pytestmark = pytest.mark.migrations  # a copy says which were made
NOON = datetime(2026, 11, 29, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.BACKUP_SECOND_DIR = ""
    return settings.DATA_DIR


def asked():
    return DBTaskResult.objects.filter(task_path__endswith="make_copy_of_the_day").count()


@pytest.mark.django_db
def test_it_is_asked_for_once_a_day_however_many_workers_ask():
    with time_machine.travel(NOON, tick=False) as clock:
        for _ in range(3):
            ask_for_copy_of_the_day()
        assert asked() == 1
        clock.shift(timedelta(hours=11))
        ask_for_copy_of_the_day()
        assert asked() == 1
        clock.shift(timedelta(hours=2))
        ask_for_copy_of_the_day()
        assert asked() == 2


@pytest.mark.django_db
def test_after_one_that_failed_it_is_asked_for_each_hour():
    with time_machine.travel(NOON, tick=False) as clock:
        ask_for_copy_of_the_day()
        Installation.objects.note(copy_problem="The disk is full.")
        ask_for_copy_of_the_day()
        assert asked() == 1
        clock.shift(timedelta(hours=1))
        ask_for_copy_of_the_day()
        assert asked() == 2


@pytest.mark.django_db
def test_a_clock_that_was_set_back_does_not_end_it():
    with time_machine.travel(NOON + timedelta(days=400), tick=False):
        ask_for_copy_of_the_day()
    with time_machine.travel(NOON, tick=False):
        ask_for_copy_of_the_day()
    assert asked() == 2


@pytest.mark.django_db(transaction=True)
@pytest.mark.slow
def test_a_worker_makes_it_after_a_while(monkeypatch):
    assert "maker.backup.tasks.ask_for_copy_of_the_day" in EACH_HOUR
    do_what_waits()
    assert copies(own_folder()) == []
    monkeypatch.setattr(worker, "FIRST_HOUR_S", 0.0)
    do_what_waits()  # asks
    do_what_waits()  # makes
    (copy,) = copies(own_folder())
    assert copy.reason == "daily"
    assert Installation.objects.the_one().copied_at.replace(microsecond=0) == copy.made_at
    DBTaskResult.objects.all().delete()
    Installation.objects.note(asked_at=None)
    do_what_waits()
    do_what_waits()
    assert copies(own_folder()) == [copy], "there was one of today"


@pytest.mark.django_db(transaction=True)
@pytest.mark.slow
def test_it_goes_to_the_second_folder_and_old_ones_go_in_both(settings, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    (stick / "hers.txt").write_text("stays")
    settings.BACKUP_SECOND_DIR = str(stick)
    with time_machine.travel(NOON - timedelta(days=40), tick=False) as clock:
        for _ in range(9):
            back_up(reason="daily")
            clock.shift(timedelta(days=1))
    own = [copy.path for copy in copies(own_folder())]
    (place,) = (path for path in stick.iterdir() if path.is_dir())
    twins = {path.name: path.read_bytes() for path in place.iterdir()}
    assert twins == {path.name: path.read_bytes() for path in own}
    # seven days, and the last of the week and of the month before them: worked by hand, 20 October
    # 2026 is a Tuesday, so of 20 to 28 October 22 to 28 stay as days and none is the last before
    assert [f"{path.name[6:14]}" for path in own] == [f"202610{day}" for day in range(28, 21, -1)]
    assert (stick / "hers.txt").exists()


@pytest.mark.django_db(transaction=True)
@pytest.mark.slow
def test_a_second_folder_that_is_missing_is_told_and_made_good_later(settings, tmp_path):
    stick = tmp_path / "stick"
    settings.BACKUP_SECOND_DIR = str(stick)
    back_up(reason="daily")
    one = Installation.objects.the_one()
    assert one.second_problem == f"The second folder {stick} is not there. Plug it in."
    assert (one.copied_at is not None, one.copied_twice_at) == (True, None)
    assert not stick.exists(), "made on the disk it is to protect from"
    stick.mkdir()
    from maker.backup.services import copy_of_the_day

    copy_of_the_day()
    one = Installation.objects.the_one()
    assert (one.second_problem, one.copied_twice_at is not None) == ("", True)
    assert len(copies(own_folder())) == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.slow
def test_one_that_fails_is_told_and_the_next_good_one_ends_it(settings, tmp_path):
    from maker.backup.services import copy_of_the_day

    (tmp_path / "file").write_text("no folder")
    settings.DATA_DIR = tmp_path / "file"
    copy_of_the_day()
    assert "cannot be used" in Installation.objects.the_one().copy_problem
    settings.DATA_DIR = tmp_path / "data"
    copy_of_the_day()
    assert Installation.objects.the_one().copy_problem == ""


HOME = "/w/marlow/"


def said(client):
    page = client.get(HOME).content.decode()
    _, found, rest = page.partition('<p class="last-copy')
    return rest.partition("</p>")[0] if found else ""


def test_home_says_when_the_last_copy_was_and_turns_red_after_a_week(client):
    now = timezone.now()
    assert "none yet" in said(client)
    assert "alarm" not in said(client)
    Installation.objects.note(copied_at=now)
    assert "Last backup: today at" in said(client)
    Installation.objects.note(copied_at=now - timedelta(days=6, hours=23))
    assert "alarm" not in said(client)
    Installation.objects.note(copied_at=now - timedelta(days=7, hours=1))
    assert "alarm" in said(client)


def test_home_turns_red_when_a_week_went_by_without_any(client):
    Installation.objects.kept_one()
    Installation.objects.update(installed_at=timezone.now() - timedelta(days=8))
    assert "none yet" in said(client)
    assert "alarm" in said(client)


def test_home_turns_red_when_the_second_folder_was_away_for_a_week(client, settings):
    settings.BACKUP_SECOND_DIR = "/media/stick"
    now = timezone.now()
    Installation.objects.note(
        copied_at=now,
        copied_twice_at=now - timedelta(days=8),
        second_problem="The second folder is not there.",
    )
    assert "alarm" in said(client)
    assert "The second folder is not there." in said(client)


def test_home_tells_it_to_owners_alone(owner, reader_client, helper_client):
    assert said(reader_client) == said(helper_client) == ""
