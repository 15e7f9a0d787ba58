"""The bench: watches by the server's clock, one pair of hands each, nothing lost or done twice."""

import datetime
import uuid
import zoneinfo

import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.recipes.models import Step
from maker.web.editing import ChangedMeanwhile
from pricing.times import services
from pricing.times.models import TimedRun
from tests.factories import make_design, make_recipe
from tests.pricing.timed_runs import NOON, after, make_run

BASES = ("batch", "sheet", "pass", "good", "carton", "name", "job")


@pytest.fixture
def version(workshop):
    version = make_recipe(workshop)
    Step.objects.create(version=version, name="cut", basis="sheet", minutes=3)
    return version


def url(name, *args):
    return reverse(f"pricing:{name}", args=["marlow", *args])


def start(client, version, step="fold and glue", key=None):
    data = {"design": version.design_id, "step": step, "form_key": key or uuid.uuid4()}
    return client.post(url("timer_start"), data)


def started(version, by, *, step="fold and glue", now=NOON):
    return services.start_run(design=version.design, step_name=step, by=by, now=now)


def test_a_step_is_started_stopped_gone_on_with_and_counted(client, version, owner):
    start(client, version)
    run = TimedRun.objects.get()
    assert (run.step_name, run.basis, run.timed_by) == ("fold and glue", "made", owner)
    assert "data-runs" in client.get(url("timer")).content.decode()
    client.post(url("timer_stop", run.pk))
    assert "data-runs" not in client.get(url("timer")).content.decode()
    client.post(url("timer_go_on", run.pk))
    answer = client.post(url("timer_stop", run.pk), {"then": "count"})
    assert answer.url == url("timer_count", run.pk)
    TimedRun.objects.update(worked_seconds=600)
    client.post(url("timer_count", run.pk), {"count": "12", "rejects": "1", "note": "new jig"})
    run.refresh_from_db()
    assert (run.count, run.rejects, run.note, run.worked_seconds) == (12, 1, "new jig", 600)
    page = client.get(url("timer")).content.decode()
    assert "12 in 10 min, 1 spoiled" in page
    assert f'action="{url("timer_reopen", run.pk)}"' in page


def test_seconds_are_those_between_presses_and_pauses_do_not_count(version, owner):
    run = started(version, owner)
    run = services.stop_run(run=run, now=after(90))
    assert run.worked_seconds == 90
    run = services.go_on(run=run, by=owner, now=after(1000))
    assert run.seconds_at(after(1030)) == 120
    run = services.finish_run(run=run, count=5, rejects=0, note="", now=after(1060))
    assert (run.worked_seconds, run.finished_at) == (150, after(1060))


def test_a_clock_that_was_set_back_takes_nothing_away(version, owner):
    run = started(version, owner)
    assert services.stop_run(run=run, now=after(-3600)).worked_seconds == 0


def test_the_hour_of_the_clock_change_is_no_hour_of_work(settings, version, owner):
    settings.TIME_ZONE = "Europe/Berlin"
    berlin = zoneinfo.ZoneInfo("Europe/Berlin")
    # on 29 March 2026 it went from 02:00 to 03:00 there; on 25 October from 03:00 to 02:00
    for first, last, hours in (
        ((2026, 3, 29, 1, 30), (2026, 3, 29, 4, 30), 2),
        ((2026, 10, 25, 1, 30), (2026, 10, 25, 4, 30), 4),
    ):
        run = started(version, owner, now=datetime.datetime(*first, tzinfo=berlin))
        end = datetime.datetime(*last, tzinfo=berlin)
        assert run.seconds_at(end) == hours * 3600
        run.refresh_from_db()
        done = services.stop_run(run=run, now=end)
        assert done.worked_seconds == hours * 3600


def test_starting_another_watch_stops_her_own_only(version, owner, helper_person):
    first = started(version, owner)
    other = started(version, helper_person)
    second = started(version, owner, step="cut", now=after(60))
    first.refresh_from_db()
    other.refresh_from_db()
    assert (first.running_since, first.worked_seconds) == (None, 60)
    assert other.running_since == second.running_since - datetime.timedelta(seconds=60)
    # going on with the first stops the second; another's run becomes hers
    services.go_on(run=first, by=owner, now=after(100))
    second.refresh_from_db()
    assert (second.running_since, second.worked_seconds) == (None, 40)
    services.stop_run(run=other, now=after(120))
    assert services.go_on(run=other, by=owner, now=after(130)).timed_by == owner
    assert TimedRun.objects.running().count() == 1


def test_a_second_click_does_nothing_twice(client, version):
    key = uuid.uuid4()
    start(client, version, key=key)
    answer = client.post(
        url("timer_start"),
        {"design": version.design_id, "step": "fold and glue", "form_key": key},
        follow=True,
    )
    assert "already" in answer.content.decode()
    run = TimedRun.objects.get()
    client.post(url("timer_stop", run.pk))
    assert "Already stopped" in client.post(url("timer_stop", run.pk), follow=True).content.decode()
    client.post(url("timer_go_on", run.pk))
    assert (
        "Already running" in client.post(url("timer_go_on", run.pk), follow=True).content.decode()
    )
    TimedRun.objects.update(worked_seconds=60)
    for _ in range(2):
        client.post(url("timer_count", run.pk), {"count": "7"})
    run.refresh_from_db()
    assert run.count == 7
    client.post(url("timer_count", run.pk), {"count": "9"})
    run.refresh_from_db()
    assert run.count == 7


def test_counting_and_throwing_away_can_be_taken_back(client, version, owner):
    run = services.finish_run(
        run=started(version, owner), count=8, rejects=0, note="", now=after(300)
    )
    client.post(url("timer_reopen", run.pk))
    run.refresh_from_db()
    assert (run.finished_at, run.running_since, run.worked_seconds) == (None, None, 300)
    # what was counted is still in the form
    assert client.get(url("timer_count", run.pk)).context["form"]["count"].value() == 8
    page = client.post(url("timer_leave_out", run.pk), follow=True).content.decode()
    assert "Deleted timer" in page
    assert f'action="{url("timer_take_in", run.pk)}"' in page
    assert not TimedRun.objects.under_way().exists()
    client.post(url("timer_take_in", run.pk))
    assert TimedRun.objects.under_way().get() == run


def test_throwing_away_stops_the_watch(version, owner):
    run = services.leave_out(run=started(version, owner), now=after(45))
    assert (run.running_since, run.worked_seconds) == (None, 45)
    for what in (
        lambda: services.go_on(run=run, by=owner, now=after(50)),
        lambda: services.finish_run(run=run, count=1, rejects=0, note="", now=after(50)),
    ):
        with pytest.raises(services.RunMovedOn):
            what()


@pytest.mark.parametrize(
    ("field", "value"),
    [("count", "0"), ("count", "1000000000"), ("count", "-3"), ("count", "2.5"), ("count", "x"),
     ("count", ""), ("rejects", "11"), ("rejects", "-1"), ("minutes", "-5"), ("minutes", "0"),
     ("minutes", "1000000000"), ("note", "n" * 201)],
)  # fmt: skip
def test_what_cannot_be_meant_is_kept_and_explained(client, version, owner, field, value):
    run = services.stop_run(run=started(version, owner), now=after(60))
    answer = client.post(url("timer_count", run.pk), {"count": "10", field: value})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    run.refresh_from_db()
    assert run.finished_at is None


def test_a_watch_that_never_ran_asks_for_the_minutes(client, version, owner):
    run = services.stop_run(run=started(version, owner), now=NOON)
    answer = client.post(url("timer_count", run.pk), {"count": "10"})
    assert list(answer.context["form"].errors) == ["minutes"]
    client.post(url("timer_count", run.pk), {"count": "10", "minutes": "12,5"})
    run.refresh_from_db()
    assert run.worked_seconds == 750


def test_a_forgotten_watch_is_pointed_at_and_can_be_put_right(client, version, owner):
    yesterday = timezone.now() - datetime.timedelta(hours=15)
    run = started(version, owner, now=yesterday)
    assert "ran a long time" in client.get(url("timer")).content.decode()
    client.post(url("timer_count", run.pk), {"count": "10", "minutes": "50"})
    run.refresh_from_db()
    assert (run.worked_seconds, run.running_since) == (3000, None)


@pytest.mark.parametrize("step", ["no such step", "", "dry", "twice", "x" * 5000, "a\x00b"])
def test_a_step_that_cannot_be_timed_is_refused(client, version, step):
    Step.objects.create(version=version, name="dry", basis="rack", minutes=20)
    for _ in range(2):
        Step.objects.create(version=version, name="twice", minutes=1)
    page = start(client, version, step)
    assert page.url == url("timer")
    assert not TimedRun.objects.exists()
    offered = client.get(url("timer") + f"?design={version.design_id}").context["steps"]
    assert [one["name"] for one in offered] == ["fold and glue", "cut"]


@pytest.mark.parametrize("design", ["", "0", "99999999999999999999", "x", "-1"])
def test_a_design_that_is_not_hers_is_not_there(client, version, other_workshop, design):
    assert client.post(url("timer_start"), {"design": design, "step": "x"}).status_code == 404
    theirs = make_recipe(other_workshop)
    assert start(client, theirs).status_code == 404
    run = make_run(theirs)
    for name in ("timer_stop", "timer_go_on", "timer_count", "timer_reopen", "timer_leave_out",
                 "timer_take_in", "timer_edit"):  # fmt: skip
        assert client.post(url(name, run.pk)).status_code == 404
    assert client.get(url("timer") + f"?design={theirs.design_id}").context["chosen"] is None


def test_a_form_key_of_another_run_does_not_stop_a_new_one(client, version, other_workshop):
    key = uuid.uuid4()
    make_run(make_recipe(other_workshop), form_key=key)
    start(client, version, key=key)
    assert TimedRun.objects.of(version.design.workshop).get().form_key is None
    client.post(url("timer_start"),
                {"design": version.design_id, "step": "cut", "form_key": "no key"})  # fmt: skip
    assert TimedRun.objects.of(version.design.workshop).count() == 2


def test_minutes_are_typed_in_later(client, version):
    key = uuid.uuid4()
    data = {"step_name": "cut", "minutes": "31.5", "count": "9", "done_on": "2024-02-29",
            "form_key": str(key)}  # fmt: skip
    for _ in range(2):
        answer = client.post(url("timer_enter", version.design_id), data)
        assert answer.url == url("design_times", version.design_id)
    run = TimedRun.objects.get()
    assert (run.worked_seconds, run.count, run.basis) == (1890, 9, "sheet")
    assert timezone.localtime(run.finished_at).date() == datetime.date(2024, 2, 29)
    assert run.finished_at - run.started_at == datetime.timedelta(seconds=1890)


@pytest.mark.parametrize(
    ("field", "value"),
    [("done_on", "2999-01-01"), ("done_on", "1980-01-01"), ("done_on", "soon"),
     ("done_on", ""), ("minutes", "-1"), ("minutes", ""), ("minutes", "0.001"),
     ("step_name", "no such step"), ("step_name", ""), ("count", "0")],
)  # fmt: skip
def test_typed_minutes_that_cannot_be_meant(client, version, field, value):
    data = {"step_name": "cut", "minutes": "31.5", "count": "9", "done_on": "2024-02-29"}
    answer = client.post(url("timer_enter", version.design_id), data | {field: value})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert not TimedRun.objects.exists()


def test_a_run_is_corrected_and_the_second_of_two_is_told(client, version):
    run = make_run(version, each="12", worked_seconds=7199)
    page = client.get(url("timer_edit", run.pk))
    typed = {name: page.context["form"][name].value() for name in page.context["form"].fields}
    client.post(url("timer_edit", run.pk), typed | {"count": "11", "step_name": "cut"})
    run.refresh_from_db()
    # 119.98 minutes shown are the same 7199 seconds when they come back untouched
    assert (run.count, run.step_name, run.basis, run.worked_seconds) == (11, "cut", "sheet", 7199)
    late = client.post(url("timer_edit", run.pk), typed | {"count": "12"})
    assert late.status_code == 422
    assert {both.label: (both.yours, both.theirs) for both in late.context["both"]}["Step"] == (
        "fold and glue",
        "cut",
    )
    run.refresh_from_db()
    assert run.count == 11


def test_a_correction_opened_before_the_counting_was_taken_back_is_told(version):
    run = make_run(version)
    services.reopen_run(run=run)
    with pytest.raises(ChangedMeanwhile):
        services.change_run(run=run, step_name="cut", minutes=5, count=1, rejects=0, note="",
                            edit_number=0)  # fmt: skip


def test_a_step_the_recipe_has_no_more_may_stay(client, version):
    run = make_run(version, step_name="trim the edge")
    page = client.get(url("timer_edit", run.pk))
    typed = {name: page.context["form"][name].value() for name in page.context["form"].fields}
    assert client.post(url("timer_edit", run.pk), typed | {"note": "old"}).status_code == 302
    run.refresh_from_db()
    assert (run.step_name, run.note) == ("trim the edge", "old")


def test_what_was_timed_lately_is_offered_again_unless_it_is_gone(client, version, workshop):
    make_run(version)
    make_run(version, step_name="trim the edge")
    away = make_recipe(workshop)
    make_run(away)
    away.design.retired_on = NOON.date()
    away.design.save()
    recent = client.get(url("timer")).context["recent"]
    assert [(run.design_id, run.step_name) for run, _ in recent] == [
        (version.design_id, "fold and glue")
    ]


def test_a_reader_looks_and_a_stranger_does_not(reader_client, anonymous_client, version, owner):
    started(version, owner)
    page = reader_client.get(url("timer")).content.decode()
    assert "fold and glue" in page
    assert "<form" not in page.split("<main")[1]
    for name in ("timer_count", "timer_edit"):
        run = TimedRun.objects.get()
        assert reader_client.get(url(name, run.pk)).status_code == 403
    assert anonymous_client.get(url("timer")).status_code == 302


@pytest.mark.parametrize("basis", BASES)
def test_each_step_is_counted_by_its_own_measure(client, version, owner, basis):
    Step.objects.create(version=version, name="other", basis=basis, minutes=1)
    run = started(version, owner, step="other")
    label = client.get(url("timer_count", run.pk)).context["form"].fields["count"].label
    assert run.basis == basis
    assert label == {
        "job": "Jobs", "batch": "Batches", "sheet": "Sheets cut", "pass": "Die passes",
        "carton": "Cartons", "name": "Names",
    }.get(basis, "Items made")  # fmt: skip


def test_more_runs_cost_no_more_queries(client, version, owner, workshop, count_queries):
    def look():
        with count_queries() as queries:
            client.get(url("timer") + f"?design={version.design_id}")
        return len(queries)

    services.stop_run(run=started(version, owner), now=after(5))
    make_run(version, timed_by=owner)
    look()
    before = look()
    for number in range(12):
        other = make_recipe(workshop)
        make_run(other, timed_by=owner, finished_at=after(number))
        services.stop_run(run=started(other, owner), now=after(5))
    make_design(workshop)
    assert look() == before
