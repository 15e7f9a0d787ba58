"""The copy of the day: asked for by any worker, made by one."""

from datetime import datetime, timedelta

from django.db.models import Q
from django.utils import timezone
from django_tasks import task

from maker.backup.models import THE_ONE, Installation
from maker.backup.services import copy_of_the_day

TRY_AGAIN_AFTER = timedelta(minutes=55)


@task()
def make_copy_of_the_day() -> None:
    """Make the copy of today unless there is one."""
    copy_of_the_day()


def ask_for_copy_of_the_day() -> None:
    """Queue it once a day, and each hour after one that failed; any number of workers may ask."""
    now = timezone.now()
    Installation.objects.kept_one()
    midnight = timezone.localtime(now).replace(hour=0, minute=0, second=0, microsecond=0)
    if Installation.objects.filter(_is_due(now, midnight), pk=THE_ONE).update(asked_at=now):
        make_copy_of_the_day.enqueue()


def _is_due(now: datetime, midnight: datetime) -> Q:
    failed = ~Q(copy_problem="") | ~Q(second_problem="")
    # a time to come was written before the clock was set back, and says nothing
    odd = Q(asked_at__isnull=True) | Q(asked_at__gt=now)
    return odd | Q(asked_at__lt=midnight) | (failed & Q(asked_at__lt=now - TRY_AGAIN_AFTER))
