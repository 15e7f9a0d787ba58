"""Slow work as people see it: asked for, watched, stopped, tried again; whole or not at all."""

import signal
import time
import uuid
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import OperationalError, connection, transaction
from django.test import Client
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from catalogue.suppliers.models import Supplier
from maker.calc.refusal import Refusal
from maker.slow_work import doing, services
from maker.slow_work.doing import Ending, File, Outcome, Watch, claim, do
from maker.slow_work.models import Work, Worker
from maker.slow_work.services import ask_work, clear_away, stop_work, sweep, try_again
from maker.workshop.models import Workshop
from tests.at_once import at_once
from tests.catalogue.pages import text_of
from tests.patience import PATIENCE_S
from tests.slow_work import do_what_waits, start_worker

pytestmark = pytest.mark.django_db(transaction=True)

NAMES = ["Alder mill", "Birch mill", "Cedar mill"]


def add_suppliers(work: Work, watch: Watch) -> Ending:
    """Write some rows, after looking up once for each."""
    names = list(watch.each(work.given["names"], "Reading"))

    def ending() -> Outcome:
        for name in names:
            Supplier.objects.create(workshop=work.workshop, name=name)
        return Outcome(says=[("success", f"Added {len(names)}.")])

    return ending


def add_and_wait(work: Work, watch: Watch) -> Ending:
    """Write rows, then be in the middle of the transaction for long: the first time only."""

    def ending() -> Outcome:
        outcome = add_suppliers(work, watch)()
        flag = Path(work.given["flag"])
        if not flag.exists():
            flag.touch()
            time.sleep(600)
        return outcome

    return ending


def add_too_late(work: Work, watch: Watch) -> Ending:
    """Be about to write when another worker has done it all: the first time only."""
    ending = add_suppliers(work, watch)
    flag = Path(work.given["flag"])
    if not flag.exists():
        flag.touch()
        do(work.pk)
    return ending


def make_file(work: Work, watch: Watch) -> Ending:
    """Make a file."""
    file = File("list.pdf", "application/pdf", b"%PDF-1.7 small")
    return lambda: Outcome(file=file)


def refuse(work: Work, watch: Watch) -> Ending:
    """Say no, in words."""
    raise Refusal("The caution does not fit on these labels.")


def refuse_at_the_end(work: Work, watch: Watch) -> Ending:
    """Write something, then say no."""

    def ending() -> Outcome:
        Supplier.objects.create(workshop=work.workshop, name="Half mill")
        raise Refusal("Another supplier has this name.")

    return ending


def break_down(work: Work, watch: Watch) -> Ending:
    """Meet a mistake of ours."""
    raise ZeroDivisionError


@pytest.fixture(autouse=True)
def _looks_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doing, "LOOK_EVERY_S", 0)


def asked(
    workshop: Workshop,
    what: doing.Doing = add_suppliers,
    kind: Work.Kind = Work.Kind.IMPORT,
    form_key: uuid.UUID | None = None,
    **given: object,
) -> Work:
    """Ask for a piece of work."""
    return ask_work(
        workshop=workshop,
        kind=kind,
        title="Import 3 suppliers",
        doing=what,
        given={"names": NAMES, **given},
        came_from="/w/marlow/suppliers/",
        by=None,
        form_key=form_key,
    )


def page_of(client: Client, work: Work, part: bool = False) -> str:
    headers = {"HX-Request": "true"} if part else {}
    return text_of(client.get(f"/w/marlow/work/{work.pk}/", headers=headers))


def alive() -> None:
    services.say_alive("a worker")


def names() -> list[str]:
    return list(Supplier.objects.order_by("name").values_list("name", flat=True))


def until(is_so: Callable[[], object]) -> None:
    """Wait for another process."""
    end = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.1)


def test_work_is_done_told_and_shown(client: Client, workshop: Workshop) -> None:
    work = asked(workshop)
    assert names() == []
    do_what_waits()
    work.refresh_from_db()
    assert (work.state, work.says) == ("done", [["success", "Added 3."]])
    assert names() == NAMES
    assert "Added 3." in page_of(client, work)


def test_the_page_tells_how_far_it_is(client: Client, workshop: Workshop) -> None:
    alive()
    work = asked(workshop)
    assert "It comes next. You can leave this page" in page_of(client, work)
    claimed = claim(work.pk)
    assert claimed is not None
    Watch(claimed).look(1_200, 2_900, "Checking rows")
    part = page_of(client, work, part=True)
    assert "Checking rows" in part
    assert "1,200 of 2,900." in part
    assert "Look again" in page_of(client, work)
    assert "1,200 of 2,900" in text_of(client.get("/w/marlow/work/"))


def test_a_page_that_polls_is_loaded_again_when_the_work_is_over(
    client: Client, workshop: Workshop
) -> None:
    work = asked(workshop)
    do_what_waits()
    answer = client.get(f"/w/marlow/work/{work.pk}/", headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Refresh"]) == (204, "true")


def test_without_a_worker_the_page_says_since_when_it_waits_and_what_to_do(
    client: Client, workshop: Workshop
) -> None:
    work = asked(workshop)
    since = timezone.localtime(work.asked_at)
    page = page_of(client, work)
    assert "No worker is running" in page
    assert f"Waiting since {since.day} {since:%b %Y, %H:%M}" in page
    assert "python3 manage.py start" in page
    alive()
    assert "No worker" not in page_of(client, work)
    claim(work.pk)
    Worker.objects.update(seen_at=timezone.now() - timedelta(minutes=5))
    assert "Begun, and waiting since" in page_of(client, work)


def test_it_says_how_much_comes_before(client: Client, workshop: Workshop) -> None:
    alive()
    asked(workshop)
    asked(workshop)
    last = asked(workshop)
    assert "2 before it." in page_of(client, last)


def test_the_same_form_twice_starts_it_once(workshop: Workshop) -> None:
    key = uuid.uuid4()
    both = at_once(*[lambda: asked(workshop, form_key=key).pk] * 2)
    assert both[0] == both[1]
    assert DBTaskResult.objects.count() == 1
    do_what_waits()
    assert asked(workshop, form_key=key).state == "done"
    assert names() == NAMES


def test_what_waits_is_stopped_at_once_and_tried_again(client: Client, workshop: Workshop) -> None:
    work = asked(workshop)
    client.post(f"/w/marlow/work/{work.pk}/stop/")
    do_what_waits()
    assert names() == []
    assert "Nothing was saved." in page_of(client, work)
    client.post(f"/w/marlow/work/{work.pk}/again/")
    do_what_waits()
    work.refresh_from_db()
    assert (work.state, names()) == ("done", NAMES)
    page = text_of(client.post(f"/w/marlow/work/{work.pk}/again/", follow=True))
    assert "This task is done" in page
    page = text_of(client.post(f"/w/marlow/work/{work.pk}/stop/", follow=True))
    assert "This task has ended." in page


def test_what_was_stopped_and_tried_again_waits_in_the_queue_once(workshop: Workshop) -> None:
    work, other = asked(workshop), asked(workshop)
    for _ in range(3):
        stop_work(work=work)
        assert waiting_for(work) == 0
        try_again(work=work)
        assert (waiting_for(work), waiting_for(other)) == (1, 1)


def waiting_for(work: Work) -> int:
    return sum(row.args_kwargs["args"] == [work.pk] for row in DBTaskResult.objects.ready())


def test_what_is_being_done_stops_at_its_next_look(workshop: Workshop) -> None:
    work = asked(workshop)
    claimed = claim(work.pk)
    assert claimed is not None
    stop_work(work=work)
    with pytest.raises(doing.Stopped):
        Watch(claimed).look()
    # by the worker that has it next: begun again, it sees at once that it should stop
    do(work.pk)
    work.refresh_from_db()
    assert (work.state, names()) == ("stopped", [])


def test_a_stop_that_comes_while_it_writes_undoes_what_was_written(
    workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = asked(workshop)
    settle = doing._settle

    def stop_first(mine: Work, outcome: Outcome) -> None:
        Work.objects.filter(pk=mine.pk).update(stop_asked=True)
        settle(mine, outcome)

    monkeypatch.setattr(doing, "_settle", stop_first)
    monkeypatch.setattr(doing, "LOOK_EVERY_S", 600)
    do_what_waits()
    work.refresh_from_db()
    # the stop itself was in the transaction that was undone
    assert (work.state, names()) == ("stopped", [])


def test_a_refusal_is_told_with_a_way_to_change_it(client: Client, workshop: Workshop) -> None:
    work = asked(workshop, refuse, Work.Kind.PDF)
    do_what_waits()
    page = page_of(client, work)
    assert "The caution does not fit on these labels." in page
    assert (
        'href="/w/marlow/suppliers/"' in client.get(f"/w/marlow/work/{work.pk}/").content.decode()
    )
    assert "Try again" in page


def test_a_refusal_at_the_end_leaves_nothing(workshop: Workshop) -> None:
    work = asked(workshop, refuse_at_the_end)
    do_what_waits()
    work.refresh_from_db()
    assert (work.state, work.refusal) == ("refused", "Another supplier has this name.")
    assert names() == []


def test_a_mistake_of_ours_is_shown_and_in_the_log(client: Client, workshop: Workshop) -> None:
    work = asked(workshop, break_down)
    do_what_waits()
    work.refresh_from_db()
    assert work.state == "failed"
    assert "ZeroDivisionError" in DBTaskResult.objects.failed().get().traceback
    page = page_of(client, work)
    assert "Something went wrong" in page
    assert "Nothing was saved. Try again." in page


def test_work_that_kills_its_workers_is_shown_as_failed(workshop: Workshop) -> None:
    work = asked(workshop)
    for number in range(services.MOST_TRIES):
        DBTaskResult.objects.get().claim(f"victim {number}")
        claim(work.pk)
        sweep()
    work.refresh_from_db()
    assert work.state == "failed"
    try_again(work=work)
    do_what_waits()
    assert names() == NAMES


def test_a_database_that_is_away_for_a_moment_costs_nothing(workshop: Workshop) -> None:
    work = asked(workshop)
    failures: list[str] = []

    def is_away(execute: Callable[..., object], sql: str, *more: object) -> object:
        if "supplier" in sql and len(failures) < 2:
            failures.append(sql)
            raise OperationalError("database is locked")
        return execute(sql, *more)

    with connection.execute_wrapper(is_away):
        do(work.pk)
    work.refresh_from_db()
    assert len(failures) == 2
    assert (work.state, names()) == ("done", NAMES)


def test_a_worker_thought_dead_keeps_nothing_of_what_it_did(workshop: Workshop) -> None:
    work = asked(workshop)
    slow = claim(work.pk)
    assert slow is not None
    ending = add_suppliers(slow, Watch(slow))
    stop_work(work=work)
    do(work.pk)
    # the one that was only slow wakes up, and writes
    with pytest.raises(doing.TakenOver), transaction.atomic():
        doing._settle(slow, ending())
    with pytest.raises(doing.TakenOver):
        Watch(slow).look()
    assert names() == []


def test_two_workers_at_one_piece_of_work_do_it_once(workshop: Workshop) -> None:
    work = asked(workshop)
    at_once(lambda: do(work.pk), lambda: do(work.pk))
    work.refresh_from_db()
    assert (work.state, names()) == ("done", NAMES)


def test_what_another_worker_wrote_meanwhile_is_no_mistake(
    workshop: Workshop, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    work = asked(workshop, add_too_late, flag=str(tmp_path / "begun"))
    do(work.pk)
    work.refresh_from_db()
    assert (work.state, names()) == ("done", NAMES)
    assert f"another worker has work {work.pk} now" in caplog.text


@pytest.mark.slow
def test_a_worker_killed_while_it_writes_leaves_nothing_half_and_nothing_twice(
    workshop: Workshop, tmp_path: Path
) -> None:
    flag = tmp_path / "written"
    work = asked(workshop, add_and_wait, flag=str(flag))
    process = start_worker(tmp_path)
    until(flag.exists)
    process.send_signal(signal.SIGKILL)
    process.wait(PATIENCE_S)
    work.refresh_from_db()
    assert (work.state, names()) == ("working", [])
    Worker.objects.update(seen_at=timezone.now() - timedelta(minutes=5))
    second, third = start_worker(tmp_path), start_worker(tmp_path)
    try:
        until(lambda: Work.objects.filter(pk=work.pk, state="done").exists())
    finally:
        for one in (second, third):
            one.terminate()
            one.wait(PATIENCE_S)
    assert names() == NAMES
    result = DBTaskResult.objects.get()
    assert (result.status, len(result.worker_ids)) == (TaskResultStatus.SUCCESSFUL, 2)


def test_a_file_is_kept_for_some_days(client: Client, workshop: Workshop) -> None:
    work = asked(workshop, make_file, Work.Kind.PDF)
    assert client.get(f"/w/marlow/work/{work.pk}/file/").status_code == 404
    do_what_waits()
    assert "Open the PDF (14" in page_of(client, work)
    answer = client.get(f"/w/marlow/work/{work.pk}/file/")
    assert (answer.content, answer["Content-Type"]) == (b"%PDF-1.7 small", "application/pdf")
    assert answer["Content-Disposition"] == 'inline; filename="list.pdf"'
    assert answer["X-Content-Type-Options"] == "nosniff"
    Work.objects.update(finished_at=timezone.now() - services.WORK_KEPT_FOR - timedelta(hours=1))
    clear_away()
    assert client.get(f"/w/marlow/work/{work.pk}/file/").status_code == 404


def test_what_waits_is_never_cleared_away(workshop: Workshop) -> None:
    asked(workshop)
    Work.objects.update(asked_at=timezone.now() - timedelta(days=90))
    clear_away()
    assert Work.objects.count() == 1


def test_nobody_else_sees_it(
    stranger_client: Client, anonymous_client: Client, workshop: Workshop, other_workshop: Workshop
) -> None:
    work = asked(workshop, make_file, Work.Kind.PDF)
    do_what_waits()
    for path in ("", "file/"):
        for shop in ("marlow", "else"):
            address = f"/w/{shop}/work/{work.pk}/{path}"
            assert stranger_client.get(address).status_code == 404
            assert anonymous_client.get(address).status_code == 302
    for path in ("stop/", "again/"):
        assert stranger_client.post(f"/w/else/work/{work.pk}/{path}").status_code == 404
    assert "Import 3 suppliers" not in text_of(stranger_client.get("/w/else/work/"))


def test_a_viewer_handles_only_what_she_asked_for_and_what_writes_nothing(
    reader_client: Client, reader: object, workshop: Workshop
) -> None:
    writing, foreign, own = (
        asked(workshop),
        asked(workshop, make_file, Work.Kind.PDF),
        asked(workshop, make_file, Work.Kind.PDF),
    )
    Work.objects.filter(pk__in=(writing.pk, own.pk)).update(asked_by=reader)
    assert "Stop" not in page_of(reader_client, writing)
    assert "Stop" in page_of(reader_client, own)
    for work, status in ((writing, 403), (foreign, 403), (own, 302)):
        assert reader_client.post(f"/w/marlow/work/{work.pk}/stop/").status_code == status
        assert reader_client.post(f"/w/marlow/work/{work.pk}/again/").status_code == status


def test_a_workshop_asks_for_so_much_at_once(
    workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(services, "MOST_UNDER_WAY", 2)
    asked(workshop)
    asked(workshop)
    with pytest.raises(services.TooMuchWaits):
        asked(workshop)
    do_what_waits()
    Supplier.objects.all().delete()
    asked(workshop)


def test_the_list_takes_the_same_few_queries(
    client: Client, workshop: Workshop, count_queries: Callable[[], object]
) -> None:
    counts = []
    for _ in range(2):
        for what in (make_file, refuse, add_suppliers):
            asked(workshop, what, Work.Kind.PDF)
        with count_queries() as queries:  # type: ignore[attr-defined]  # a context manager
            page = text_of(client.get("/w/marlow/work/"))
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert page.count("waiting") == 6


def test_only_functions_of_a_module_can_be_asked_for(workshop: Workshop) -> None:
    with pytest.raises((ValueError, ImportError)):
        asked(workshop, lambda work, watch: lambda: Outcome())
