"""The bench on a phone: a watch that really runs, one thumb, no connection, no JavaScript."""

import datetime
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from catalogue.recipes.models import DesignVersion, Step
from pricing.times import services
from pricing.times.models import TimedRun
from tests.factories import make_recipe
from tests.pages.looks import LAPTOP, PHONE, assert_easy_to_hit, assert_no_sideways_scroll
from tests.pricing.timed_runs import after, make_run

BENCH = "/w/marlow/timer/"


@pytest.fixture
def version(workshop: Any) -> DesignVersion:
    version = make_recipe(workshop)
    Step.objects.create(
        version=version, name="cut the card", basis="sheet", minutes=3, caution="blade"
    )
    return version


def assert_open_to_everyone(page: Page, axe: Callable[[Page], None]) -> None:
    for size in (LAPTOP, PHONE):
        page.set_viewport_size(size)
        axe(page)
    assert_easy_to_hit(page)
    assert_no_sideways_scroll(page)


def started(version: DesignVersion, owner: Any, seconds: int) -> TimedRun:
    """A watch that runs for so many seconds already."""
    begun = timezone.now() - datetime.timedelta(seconds=seconds)
    return services.start_run(design=version.design, step_name="fold and glue", by=owner, now=begun)


def test_a_step_is_timed_from_start_to_count(
    signed_in_page: Page, version: DesignVersion, axe: Callable[[Page], None]
) -> None:
    page = signed_in_page
    page.set_viewport_size(PHONE)
    page.goto(BENCH)
    page.get_by_label("Design").select_option(label=version.design.name)
    page.get_by_role("button", name="Choose a step").click()
    assert_open_to_everyone(page, axe)
    before = timezone.now()
    page.get_by_role("button", name="Start cut the card").click()
    watch = page.get_by_role("timer")
    expect(watch).to_have_text(re.compile(r"^\d:(0[2-9]|[1-5]\d)$"))
    assert_open_to_everyone(page, axe)
    page.get_by_role("button", name="Finish").click()
    assert_open_to_everyone(page, axe)
    page.get_by_label("Sheets cut").fill("6")
    page.get_by_role("button", name="Save time").click()
    run = TimedRun.objects.get()
    assert run.count == 6
    assert 2 <= run.worked_seconds <= (timezone.now() - before).total_seconds()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("link", name="Finish", exact=True)).to_be_visible()
    page.get_by_role("button", name="Delete timer").click()
    expect(page.get_by_role("timer")).to_have_count(0)


def test_the_watch_is_the_servers_after_a_reload_and_after_sleep(
    signed_in_page: Page, version: DesignVersion, owner: Any
) -> None:
    run = started(version, owner, 3_725)
    page = signed_in_page
    # a phone whose own clock is a year off
    page.clock.install(time=datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC))
    page.goto(BENCH)
    expect(page.get_by_role("timer")).to_have_text(re.compile(r"^1:0\d:\d\d$"))
    # asleep for an hour, without a tick
    page.clock.fast_forward("01:00:00")
    expect(page.get_by_role("timer")).to_have_text(re.compile(r"^2:0\d:\d\d$"))
    page.reload()
    expect(page.get_by_role("timer")).to_have_text(re.compile(r"^1:0\d:\d\d$"))
    # another tab stops it while this one is out of sight
    services.stop_run(run=run, now=run.running_since + datetime.timedelta(seconds=754))
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.get_by_role("timer")).to_have_text("12:34")
    expect(page.get_by_role("button", name="Resume")).to_be_visible()


def test_without_a_connection_the_watch_goes_on(
    signed_in_page: Page, version: DesignVersion, owner: Any
) -> None:
    started(version, owner, 65)
    page = signed_in_page
    page.goto(BENCH)
    page.route("**/*", lambda route: route.abort())
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    first = page.get_by_role("timer").inner_text()
    expect(page.get_by_role("timer")).not_to_have_text(first)
    expect(page.get_by_role("button", name="Stop")).to_be_visible()


def test_it_all_works_without_javascript(
    browser: Any, sign_in_as: Any, base_url: str, version: DesignVersion, owner: Any, context: Any
) -> None:
    started(version, owner, 65)
    sign_in_as(owner)
    plain = browser.new_context(
        base_url=base_url, java_script_enabled=False, storage_state=context.storage_state()
    )
    page = plain.new_page()
    page.goto(BENCH)
    expect(page.get_by_role("timer")).to_have_text(re.compile(r"1:\d\d"))
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Resume").click()
    page.get_by_role("button", name="Finish").click()
    page.get_by_label("Items made").fill("8")
    page.get_by_role("button", name="Save time").click()
    assert TimedRun.objects.get().count == 8
    plain.close()


def test_timed_minutes_are_open_to_everyone_and_used_with_one_button(
    signed_in_page: Page, version: DesignVersion, axe: Callable[[Page], None]
) -> None:
    for number in range(3):
        make_run(version, finished_at=after(number * 90_000), note="an even pace")
    run = make_run(version, count=3)
    page = signed_in_page
    address = f"/w/marlow/designs/{version.design_id}/times/"
    page.goto(address)
    for details in page.locator("main details").all():
        details.evaluate("one => one.open = true")
    assert_open_to_everyone(page, axe)
    page.set_viewport_size(PHONE)
    page.get_by_role("button", name="Use these minutes").click()
    expect(page.get_by_text("in the recipe")).to_be_visible()
    expect(page.get_by_text("11.31 – 11.31 – 12 min")).to_be_visible()
    for place in (f"{BENCH}{run.pk}/", f"{BENCH}designs/{version.design_id}/enter/"):
        page.goto(place)
        assert_open_to_everyone(page, axe)
