"""Which dated copies stay: 7 days, 5 weeks, 12 months."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from maker.backup.keeping import those_that_stay

SUNDAY = datetime(2026, 11, 29, 11, tzinfo=UTC)
DAY = timedelta(days=1)


def daily(count, end=SUNDAY):
    return [end - DAY * number for number in range(count)]


def after_years_of_daily_copies(days):
    """Make a copy a day and let old ones go each time, as the program does."""
    kept = set()
    for moment in reversed(daily(days)):
        kept = those_that_stay({*kept, moment})
    return sorted(kept, reverse=True)


def test_after_years_there_are_seven_days_five_weeks_and_twelve_months():
    dates = [f"{moment:%Y-%m-%d}" for moment in after_years_of_daily_copies(800)]
    # worked by hand with a calendar; weeks end on Sundays, 29 November 2026 is one
    days = ["11-29", "11-28", "11-27", "11-26", "11-25", "11-24", "11-23"]
    weeks = ["11-22", "11-15", "11-08", "11-01"]  # with the week of today five
    months = [
        "10-31",
        "09-30",
        "08-31",
        "07-31",
        "06-30",
        "05-31",
        "04-30",
        "03-31",
        "02-28",
        "01-31",
    ]
    assert dates == [f"2026-{day}" for day in (*days, *weeks, *months)] + ["2025-12-31"]


def test_letting_go_each_day_keeps_what_letting_go_once_keeps():
    assert set(after_years_of_daily_copies(800)) == those_that_stay(daily(800))


def test_a_machine_that_was_off_for_months_loses_nothing():
    old = daily(7, SUNDAY - 200 * DAY)
    assert those_that_stay(old) == set(old)
    assert set(old[:6]) <= those_that_stay([*old, SUNDAY])


def test_every_copy_of_the_newest_days_stays():
    hours = [SUNDAY - timedelta(hours=number) for number in range(10)]
    assert those_that_stay(hours) == set(hours)


def test_of_an_older_day_only_the_last_stays():
    twice = [SUNDAY - 30 * DAY, SUNDAY - 30 * DAY - timedelta(hours=3)]
    assert those_that_stay([*daily(10), *twice]) & set(twice) == {twice[0]}


moments = st.lists(
    st.integers(0, 87_600).map(lambda hours: SUNDAY - timedelta(hours=hours)), max_size=60
)


@given(moments)
def test_the_newest_always_stays_and_never_more_than_a_copy_for_each_period(found):
    stay = those_that_stay(found)
    assert stay <= set(found)
    assert not found or max(found) in stay
    days = sorted({moment.date() for moment in found}, reverse=True)[:7]
    older = [moment for moment in stay if moment.date() not in days]
    assert len(older) <= 5 + 12
    assert those_that_stay(stay) == stay
