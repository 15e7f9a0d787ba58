"""The settings of a workshop's calendar: its week, and dates that differ."""

import datetime
import re
from html import unescape

import pytest
from django.test import Client

from maker.workshop.models import CalendarDate, Workshop
from tests.maker.test_workshop_settings import DATES, SETTINGS, save, saved


def date_rows(*entries: tuple[str, str, str, str, str]) -> dict[str, str]:
    """Return rows of dates as the page sends them: what, from, to, hours, note."""
    data = {"dates-TOTAL_FORMS": str(len(entries)), "dates-INITIAL_FORMS": "0"}
    for number, row in enumerate(entries):
        names = ("kind", "first_on", "last_on", "minutes", "note")
        data |= {f"dates-{number}-{name}": v for name, v in zip(names, row, strict=True)}
    return data


def test_hours_and_dates_are_saved(client: Client, workshop: Workshop) -> None:
    sent = DATES | date_rows(
        ("off", "2026-12-24", "2027-01-02", "", "Between the years"),
        ("hours", "2026-12-08", "", "1 h 30", "School play"),
        ("carrier", "2026-12-26", "", "2", ""),
        ("off", "", "", "", ""),
    )
    assert saved(save(client, "dates/", sent, workshop), workshop)
    assert workshop.weekday_minutes == (210, 210, 0, 80, 210, 0, 0)
    assert (workshop.buffer_days, workshop.proof_days, workshop.transit_days) == (2, 4, 3)
    assert (workshop.carrier_weekdays, workshop.purchase_lead_days) == ("1235", 6)
    stored = CalendarDate.objects.of(workshop).values_list("kind", "first_on", "last_on", "minutes")
    day = datetime.date
    assert list(stored) == [
        ("hours", day(2026, 12, 8), day(2026, 12, 8), 90),
        ("off", day(2026, 12, 24), day(2027, 1, 2), None),
        ("carrier", day(2026, 12, 26), day(2026, 12, 26), None),
    ]
    page = client.get(f"{SETTINGS}dates/").content.decode()
    assert 'value="1.33"' in page
    assert 'value="School play"' in page


def test_the_page_of_dates_saved_as_it_opens_changes_nothing(
    client: Client, workshop: Workshop
) -> None:
    sent = DATES | date_rows(("hours", "2026-12-08", "", "0.7", ""))
    assert saved(save(client, "dates/", sent, workshop), workshop)
    before = workshop.weekday_minutes
    form = client.get(f"{SETTINGS}dates/").context["form"]
    opened = {field.html_name: field.value() for field in form}
    again = opened | date_rows(("hours", "2026-12-08", "2026-12-08", "0.7", ""))
    assert saved(save(client, "dates/", again, workshop), workshop)
    assert workshop.weekday_minutes == before
    assert CalendarDate.objects.of(workshop).get().minutes == 42


def test_a_week_without_hours_is_refused(client: Client, workshop: Workshop) -> None:
    answer = save(
        client, "dates/", DATES | {key: "0" for key in DATES if key.endswith("_minutes")}, workshop
    )
    assert not saved(answer, workshop)
    assert "Enter hours on at least one day" in answer.content.decode()


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("off", "", "2026-12-24", "", ""), "Enter a date."),
        (("off", "2026-12-24", "2026-12-23", "", ""), "not before the first"),
        (("off", "2026-12-24", "2028-12-24", "", ""), "within a year"),
        (("off", "tomorrow", "", "", ""), "Enter one like 31 March 2026"),
        (("hours", "2026-12-24", "", "", ""), "Enter the hours of each date"),
        (("hours", "2026-12-24", "", "25", ""), "The most is 24."),
        (("never", "2026-12-24", "", "", ""), "not one of the available choices"),
        (("off", "2026-12-24", "", "", "n" * 81), "at most 80"),
    ],
)
def test_a_wrong_date_is_kept_and_explained(
    client: Client, workshop: Workshop, row: tuple[str, str, str, str, str], why: str
) -> None:
    answer = save(
        client, "dates/", DATES | date_rows(("off", "2026-12-01", "", "", "Fair"), row), workshop
    )
    page = answer.content.decode()
    assert not saved(answer, workshop)
    assert "Row 2" in page
    assert why in unescape(page)
    assert 'value="Fair"' in page
    assert not CalendarDate.objects.exists()


def test_the_second_to_save_dates_sees_both(client: Client, workshop: Workshop) -> None:
    opened_with = workshop.edit_number
    save(client, "dates/", DATES | date_rows(("off", "2026-12-01", "", "", "Fair")), workshop)
    second = DATES | date_rows(("off", "2026-12-02", "", "", "Market"))
    second |= {"monday_minutes": "2", "edit_number": opened_with}
    page = client.post(f"{SETTINGS}dates/", second).content.decode()
    assert "Somebody else saved this" in page
    assert re.search(r"<td>2</td><td>3.5</td>", page)
    assert "Market" in page
    assert "Fair" in page
    assert CalendarDate.objects.of(workshop).get().note == "Fair"
