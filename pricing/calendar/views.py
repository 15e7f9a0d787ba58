"""The calendar: a month on a page, and the feed other calendars subscribe to."""

import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from maker.web.access import WorkshopRequest, may_own, may_see
from pricing.calendar.events import events_between
from pricing.calendar.feed import calendar_file
from pricing.calendar.models import CalendarFeed, end_feed, renew_feed
from pricing.calendar.months import days_of, month_of
from pricing.costs.inputs import terms_without_promises

# what a feed tells: a quarter back, a year and a half ahead
BACK, AHEAD = datetime.timedelta(days=92), datetime.timedelta(days=548)


@require_GET
@may_see
def calendar_month(request: WorkshopRequest) -> HttpResponse:
    """Show a month with what is on, and the hours to work on each date."""
    shop, today = request.workshop, timezone.localdate()
    month = month_of(request.GET.get("month", ""), today)
    events = events_between(shop, month.start, month.end)
    work = terms_without_promises(shop).bench.calendar
    weeks = days_of(month, events, work, today)
    context = {
        "month": month,
        "weeks": weeks,
        "days_with_events": [day for week in weeks for day in week if day.is_inside and day.events],
        "feed": CalendarFeed.objects.filter(workshop=shop).first(),
    }
    return render(request, "pricing/calendar/month.html", context)


@require_POST
@may_own
def calendar_feed_new(request: WorkshopRequest) -> HttpResponse:
    """Make or renew the secret address, and show it once."""
    token = renew_feed(request.workshop)
    address = request.build_absolute_uri(reverse("pricing:calendar_feed", args=[token]))
    context = {"address": address}
    response = render(request, "pricing/calendar/feed.html", context)
    response["Cache-Control"] = "no-store"
    return response


@require_POST
@may_own
def calendar_feed_end(request: WorkshopRequest) -> HttpResponse:
    """End the secret address."""
    if end_feed(request.workshop):
        messages.success(request, "The address of the calendar no longer works.")
    return redirect("pricing:calendar", request.workshop.slug)


def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Return the calendar of a secret address; without it there is nothing here."""
    feed = CalendarFeed.objects.by_token(token)
    if feed is None:
        raise Http404("No calendar has this address.")
    if request.method not in ("GET", "HEAD"):
        return HttpResponseNotAllowed(["GET", "HEAD"])
    now, today = timezone.now(), timezone.localdate()
    events = events_between(feed.workshop, today - BACK, today + AHEAD)
    content = calendar_file(feed.workshop, events, now, request.build_absolute_uri("/").rstrip("/"))
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'inline; filename="calendar.ics"'
    response["X-Robots-Tag"] = "noindex"
    response["Cache-Control"] = "private, no-store"
    return response
