"""Registers the models of this app with Django; import from the features, never from here."""

from maker.accounts.models import (
    CodeApp,
    Membership,
    Passkey,
    RecoveryCode,
    Session,
    Try,
    User,
)
from maker.activity.models import Event
from maker.backup.models import Installation
from maker.files.models import StoredPdf, StoredPicture
from maker.mail.models import MailServer
from maker.slow_work.models import Work, Worker, WorkPart
from maker.workshop.models import CalendarDate, OverheadItem, Workshop

__all__ = [
    "CalendarDate",
    "CodeApp",
    "Event",
    "Installation",
    "MailServer",
    "Membership",
    "OverheadItem",
    "Passkey",
    "RecoveryCode",
    "Session",
    "StoredPdf",
    "StoredPicture",
    "Try",
    "User",
    "Work",
    "WorkPart",
    "Worker",
    "Workshop",
]
