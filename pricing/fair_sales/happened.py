"""When a sale was, if the clock of the phone may be wrong."""

import datetime

from django.utils import timezone

# what a request takes, and clocks that are only a little off
ABOUT_RIGHT = datetime.timedelta(minutes=2)


def happened_at(
    phone_at: datetime.datetime | None,
    ahead: datetime.timedelta,
    on: datetime.date,
    now: datetime.datetime,
) -> datetime.datetime:
    """Return the best guess: never later than `now`, on the day of the fair where that can be.

    `ahead` is by how much the phone's clock was ahead when it sent. A clock that was put right
    between selling and sending is off by whole days or by nothing one could know: then only the
    date is taken from the day. What the phone said is kept beside it.
    """
    if phone_at is None:
        return now
    at = phone_at - ahead if abs(ahead) > ABOUT_RIGHT else phone_at
    local = timezone.localtime(at)
    if local.date() != on:
        moved = timezone.make_aware(datetime.datetime.combine(on, local.time()))
        if moved <= now:
            return moved
    return min(at, now)
