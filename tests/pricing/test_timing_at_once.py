"""Two tabs, two people or two clicks at the bench in the same moment."""

import uuid

import pytest

from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion, Step
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from pricing.times import services
from pricing.times.models import TimedRun
from pricing.times.standards import timings_of, use_timed_minutes
from tests import factories
from tests.at_once import at_once
from tests.pricing.timed_runs import NOON, after, make_run

pytestmark = pytest.mark.django_db(transaction=True)


def scene():
    workshop = factories.make_workshop()
    version = factories.make_recipe(workshop)
    Step.objects.create(version=version, name="cut", basis="sheet", minutes=3)
    return version, factories.make_member(workshop, "owner")


def start(version, by, step, key=None):
    return services.start_run(
        design=Design.objects.get(pk=version.design_id),
        step_name=step,
        by=User.objects.get(pk=by.pk),
        now=NOON,
        form_key=key,
    )


def test_two_tabs_leave_one_watch_running():
    version, by = scene()
    for _ in range(5):
        at_once(lambda: start(version, by, "cut"), lambda: start(version, by, "fold and glue"))
        assert TimedRun.objects.running().count() == 1


def test_a_double_click_starts_one_watch():
    version, by = scene()
    key = uuid.uuid4()
    results = at_once(*[lambda: start(version, by, "cut", key)] * 3)
    assert sum(isinstance(result, Refusal) for result in results) == 2
    assert TimedRun.objects.count() == 1


def test_two_who_go_on_with_each_others_runs_wait_for_nobody_for_ever():
    version, one = scene()
    other = factories.make_member(version.design.workshop, "helper")
    for _ in range(5):
        TimedRun.objects.all().delete()
        runs = [services.stop_run(run=start(version, who, "cut"), now=after(5))
                for who in (one, other)]  # fmt: skip

        def go_on(run, by):
            return services.go_on(run=TimedRun.objects.get(pk=run.pk), by=by, now=after(9))

        at_once(lambda: go_on(runs[0], other), lambda: go_on(runs[1], one))  # noqa: B023 # runs at once
        assert TimedRun.objects.running().count() == 2


def test_of_two_who_count_at_once_one_is_told():
    version, by = scene()
    run = start(version, by, "cut")

    def count(number):
        return services.finish_run(
            run=TimedRun.objects.get(pk=run.pk), count=number, rejects=0, note="", now=after(60)
        )

    results = at_once(lambda: count(3), lambda: count(4))
    assert sum(isinstance(result, Refusal) for result in results) == 1
    kept = next(result for result in results if isinstance(result, TimedRun))
    assert TimedRun.objects.get().count == kept.count


def test_minutes_used_twice_at_once_make_one_version():
    version, _ = scene()
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at=NOON)
    for number in range(3):
        make_run(version, finished_at=after(number))
    now = DesignVersion.objects.with_recipe().get(pk=version.pk)
    found = timings_of(now, version.design.workshop).steps[0].suggestion

    def use():
        return use_timed_minutes(
            design=Design.objects.get(pk=version.design_id),
            workshop=version.design.workshop,
            step_name="fold and glue",
            seen=found.key,
            version_number=1,
            edit_number=0,
            by=None,
        )

    results = at_once(use, use)
    assert sum(isinstance(result, Refusal) for result in results) == 1
    assert DesignVersion.objects.count() == 2
