"""Long lists as files: made by a worker with progress, by the rules of the page they come from."""

from datetime import timedelta
from urllib.parse import unquote

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from catalogue.suppliers.models import Supplier
from maker.accounts.models import Membership, User
from maker.activity.models import Event
from maker.documents import spreadsheet
from maker.documents.spreadsheet import read_table
from maker.exports import answers
from maker.slow_work import doing
from maker.slow_work.models import Work
from maker.slow_work.services import clear_away, stop_work
from maker.workshop.models import Workshop
from tests.at_once import at_once
from tests.catalogue.pages import text_of
from tests.slow_work import do_what_waits

pytestmark = pytest.mark.django_db(transaction=True)

LIST = "/w/marlow/suppliers/"
CSV = f"{LIST}?format=csv"


def stock_up(workshop: Workshop, number: int) -> None:
    Supplier.objects.bulk_create(
        Supplier(workshop=workshop, name=f"Mill {one:04}") for one in range(number)
    )


@pytest.fixture
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(answers, "MOST_ROWS_AT_ONCE", 3)


def work_of(answer: HttpResponse) -> Work:
    assert answer.status_code == 302, answer
    return Work.objects.get(pk=answer["Location"].rstrip("/").rsplit("/", 1)[1])


def file_of(client: Client, work: Work) -> HttpResponse:
    return client.get(f"/w/marlow/work/{work.pk}/file/")


def test_from_3000_rows_on_a_worker_makes_the_same_file(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    stock_up(workshop, 2_999)
    at_once_made = client.get(CSV)
    assert at_once_made["Content-Type"] == "text/csv; charset=utf-8"
    Supplier.objects.create(workshop=workshop, name="Mill the last")
    work = work_of(client.get(CSV))
    assert work.title == "Suppliers as CSV"
    do_what_waits()
    made = file_of(client, work)
    with monkeypatch.context() as patch:
        patch.setattr(answers, "MOST_ROWS_AT_ONCE", 10_000)
        same = client.get(CSV)
    assert made.content == same.content != at_once_made.content
    assert made.content.count(b"\r\n") == 3_001
    for header in ("Content-Type", "Content-Disposition", "Cache-Control"):
        assert made[header] == same[header]


@pytest.mark.usefixtures("_short")
def test_the_filter_and_the_format_are_those_of_the_page(
    client: Client, workshop: Workshop
) -> None:
    stock_up(workshop, 25)
    asked = f"{LIST}?search=Mill+000&format=xlsx"
    work = work_of(client.get(asked))
    do_what_waits()
    page = text_of(client.get(f"/w/marlow/work/{work.pk}/"))
    assert "The file is ready." in page
    assert "Open the spreadsheet" in page
    rows = read_table(file_of(client, work).content).rows
    assert [row[0] for row in rows] == [f"Mill {one:04}" for one in range(10)]
    assert unquote(work.came_from) == f"{LIST}?search=Mill+000"
    assert Event.objects.filter(kind=Event.Kind.EXPORTED, about="Suppliers").exists()


@pytest.mark.usefixtures("_short")
def test_it_says_how_far_it_is_and_can_be_stopped(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    stock_up(workshop, 250)
    monkeypatch.setattr(doing, "LOOK_EVERY_S", 0)
    work = work_of(client.get(CSV))
    told = []
    update = doing.WorkQuerySet.update

    def watched(rows: object, **values: object) -> int:
        if values.get("stage"):
            told.append((values["stage"], values["done"], values["of"]))
            if values["done"] == 200:
                stop_work(work=work)
        return update(rows, **values)

    monkeypatch.setattr(doing.WorkQuerySet, "update", watched)
    do_what_waits()
    assert told == [
        *((f"Reading rows: {number}", 0, 0) for number in (0, 100, 200)),
        *(("Writing rows", number, 250) for number in (0, 100, 200)),
    ]
    work.refresh_from_db()
    assert work.state == Work.State.STOPPED
    assert file_of(client, work).status_code == 404


@pytest.mark.usefixtures("_short")
def test_a_second_click_makes_it_once_and_a_later_one_anew(
    client: Client, workshop: Workshop
) -> None:
    stock_up(workshop, 4)
    first = work_of(client.get(CSV))
    assert work_of(client.get(CSV)) == first
    assert work_of(client.get(f"{LIST}?format=xlsx")) != first
    do_what_waits()
    Supplier.objects.create(workshop=workshop, name="New mill")
    again = work_of(client.get(CSV))
    assert again != first
    assert work_of(client.get(CSV)) == again
    do_what_waits()
    assert b"New mill" in file_of(client, again).content
    assert b"New mill" not in file_of(client, first).content


@pytest.mark.usefixtures("_short")
def test_two_clicks_at_the_same_moment_make_it_once(
    client: Client, owner: User, workshop: Workshop
) -> None:
    stock_up(workshop, 4)

    def ask() -> int:
        one = Client()
        one.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
        return work_of(one.get(CSV)).pk

    assert len(set(at_once(ask, ask))) == 1
    assert Work.objects.count() == 1


@pytest.mark.usefixtures("_short")
def test_a_viewer_may_and_nobody_of_another_workshop(
    reader_client: Client, stranger: User, workshop: Workshop
) -> None:
    stock_up(workshop, 4)
    work = work_of(reader_client.get(CSV))
    do_what_waits()
    assert file_of(reader_client, work).status_code == 200
    foreign = Client()
    foreign.force_login(stranger, backend="django.contrib.auth.backends.ModelBackend")
    assert foreign.get(CSV).status_code == 404
    assert file_of(foreign, work).status_code == 404
    assert file_of(Client(), work).status_code == 302


@pytest.mark.usefixtures("_short")
@pytest.mark.parametrize("gone", ["member", "active", "account"])
def test_who_lost_her_right_before_it_was_made_gets_nothing(
    gone: str, client: Client, reader_client: Client, reader: User, workshop: Workshop
) -> None:
    stock_up(workshop, 4)
    work = work_of(reader_client.get(CSV))
    if gone == "member":
        Membership.objects.filter(user=reader).delete()
    elif gone == "active":
        User.objects.filter(pk=reader.pk).update(is_active=False)
    else:
        reader.delete()
    do_what_waits()
    work.refresh_from_db()
    assert work.state == Work.State.REFUSED
    assert "can't be seen any more" in work.refusal or "is gone" in work.refusal
    assert file_of(client, work).status_code == 404


@pytest.mark.usefixtures("_short")
def test_more_than_a_file_takes_is_refused_by_the_worker(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    stock_up(workshop, 6)
    monkeypatch.setattr(spreadsheet, "MOST_ROWS_WRITTEN", 5)
    work = work_of(client.get(CSV))
    do_what_waits()
    page = text_of(client.get(f"/w/marlow/work/{work.pk}/"))
    assert "That is more than 5 rows." in page
    assert f'href="{LIST}"' in client.get(f"/w/marlow/work/{work.pk}/").content.decode()


@pytest.mark.usefixtures("_short")
def test_too_much_waiting_is_told_on_the_list(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    stock_up(workshop, 4)
    monkeypatch.setattr("maker.slow_work.services.MOST_UNDER_WAY", 1)
    work_of(client.get(CSV))
    answer = client.get(f"{LIST}?search=Mill&format=csv", follow=True)
    assert answer.redirect_chain == [(f"{LIST}?search=Mill", 302)]
    assert "already waiting" in text_of(answer)


@pytest.mark.usefixtures("_short")
def test_the_file_is_cleared_away_after_a_week(client: Client, workshop: Workshop) -> None:
    stock_up(workshop, 4)
    work = work_of(client.get(CSV))
    do_what_waits()
    clear_away()
    assert file_of(client, work).status_code == 200
    Work.objects.update(finished_at=timezone.now() - timedelta(days=7, minutes=1))
    clear_away()
    assert file_of(client, work).status_code == 404
    assert work_of(client.get(CSV)).state == Work.State.WAITING
