"""Keeps what was done. Every room that lets something in or out says so here."""

import logging
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import DatabaseError, transaction
from django.http import HttpRequest
from django.utils import timezone

from maker.activity.models import Event
from maker.activity.visitor import kept_address

logger = logging.getLogger(__name__)

# anybody can be refused, as often as the limits on guessing allow
REFUSED_DAYS = 30
ON_THE_COMPUTER = "command"


def record(
    kind: Event.Kind,
    *,
    request: HttpRequest | None = None,
    user: Any = None,
    workshop: Any = None,
    about: str = "",
    later: bool = False,
) -> None:
    """Keep that something was done.

    Person and workshop are those of the request where none are named. Without a request it was a
    command on the computer itself or, said with `later`, slow work that somebody asked for. Never
    give it what was typed as a password or a name.
    """
    if request is not None:
        asked: Any = request
        if user is None and asked.user.is_authenticated:
            user = asked.user
        workshop = workshop or getattr(asked, "workshop", None)
    now = timezone.now()
    event = Event(
        at=now,
        kind=kind,
        user=user,
        workshop=workshop,
        address=_address(request, later),
        about=about[:200],
    )
    try:
        with transaction.atomic():
            event.save()
            _forget_old(now)
    except DatabaseError:
        # On a full disk she must still get her files out; the line of the log says it then.
        logger.exception("not kept: %s of person %s", event.kind, event.user_id)


def _address(request: HttpRequest | None, later: bool) -> str:
    if request is None:
        return "" if later else ON_THE_COMPUTER
    return kept_address(request)[:64]


def _forget_old(now: datetime) -> None:
    Event.objects.filter(at__lt=now - timedelta(days=settings.LOG_DAYS)).delete()
    Event.objects.filter(
        at__lt=now - timedelta(days=REFUSED_DAYS), kind=Event.Kind.REFUSED
    ).delete()
