"""The calendar as a file other calendars subscribe to (iCalendar, RFC 5545).

Everything is on whole dates, which have no time zone and therefore no hour that a clock change
could move.
"""

import datetime
from collections.abc import Iterable

import icalendar

from maker.workshop.models import Workshop
from pricing.calendar.events import CalendarEvent

DAY = datetime.timedelta(days=1)
PRODUCT = "-//Pleat & Penny//Calendar//EN"


def calendar_file(
    workshop: Workshop, events: Iterable[CalendarEvent], now: datetime.datetime, site: str
) -> bytes:
    """Return the events as a file; `site` begins the addresses that lead back."""
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", workshop.name)
    for event in events:
        entry = icalendar.Event()
        entry.add("uid", f"{event.key}@{workshop.slug}.pleat-and-penny")
        entry.add("dtstamp", now)
        entry.add("dtstart", event.on)
        # the end of an entry on whole dates is the date after its last one
        entry.add("dtend", event.until + DAY)
        entry.add("summary", event.text)
        entry.add("transp", "TRANSPARENT")
        if event.url:
            entry.add("url", site + event.url)
        calendar.add_component(entry)
    return bytes(calendar.to_ical())
