"""Registers the models of this app with Django; import from the features, never from here."""

from maker.accounts.models import Membership, Session, Try, User
from maker.activity.models import Event
from maker.backup.models import Installation
from maker.slow_work.models import Worker
from maker.workshop.models import CalendarDate, OverheadItem, Workshop

__all__ = [
    "CalendarDate",
    "Event",
    "Installation",
    "Membership",
    "OverheadItem",
    "Session",
    "Try",
    "User",
    "Worker",
    "Workshop",
]
