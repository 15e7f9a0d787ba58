"""When the last good copy was made, in a line for pages."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.utils import timezone
from django.utils.formats import date_format

from maker.backup.models import Installation

LATE_AFTER = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class LastCopy:
    """What is said of the copies, and whether it must not be overlooked."""

    text: str
    is_late: bool
    problems: tuple[str, ...] = ()


def last_copy(installation: Installation, now: datetime) -> LastCopy:
    """Say when the last good copies were made, here and in the second folder if one is named."""
    text = f"Last backup: {_when(installation.copied_at, now)}."
    is_late = _is_late(installation.copied_at, installation, now)
    if settings.BACKUP_SECOND_DIR:
        text += f" In the second folder: {_when(installation.copied_twice_at, now)}."
        is_late = is_late or _is_late(installation.copied_twice_at, installation, now)
    problems = (installation.copy_problem, installation.second_problem)
    return LastCopy(text, is_late, tuple(problem for problem in problems if problem))


def _is_late(made_at: datetime | None, installation: Installation, now: datetime) -> bool:
    # one that was never stored was installed a moment ago
    since = made_at or installation.installed_at or now
    return now - since > LATE_AFTER


def _when(moment: datetime | None, now: datetime) -> str:
    if moment is None:
        return "none yet"
    local, today = timezone.localtime(moment), timezone.localdate(now)
    if local.date() == today:
        return f"today at {local:%H:%M}"
    if local.date() == today - timedelta(days=1):
        return f"yesterday at {local:%H:%M}"
    return date_format(local, "j M Y")
