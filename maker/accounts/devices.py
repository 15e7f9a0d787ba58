"""Where a person is signed in: the list, and ending what she does not want any more."""

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth import HASH_SESSION_KEY
from django.contrib.sessions.backends.base import SessionBase
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from maker.accounts.models import Session, User
from maker.accounts.sessions import SIGNED_IN, SessionStore

# The first that fits; a browser names others it wants to be taken for.
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS", "Firefox"),
    ("Chrom", "Chrome"),
    ("CriOS", "Chrome"),
    ("Safari/", "Safari"),
)
MACHINES = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("CrOS", "ChromeOS"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
)
SECONDS_OF_A_DAY = 24 * 60 * 60


@dataclass(frozen=True, slots=True)
class Device:
    """One browser a person is signed in with."""

    mark: str  # names it in an address; the key itself would let in whoever reads it
    browser: str
    address: str
    signed_in_at: datetime | None
    seen_at: datetime
    is_this: bool


def browser_name(user_agent: str) -> str:
    """Return which browser on what, in words; of others the beginning of what they say."""
    browser = next((name for sign, name in BROWSERS if sign in user_agent), "")
    machine = next((name for sign, name in MACHINES if sign in user_agent), "")
    if not browser:
        return re.sub(r"[^ -~]", "", user_agent)[:40].strip() or "Unknown browser"
    return f"{browser} on {machine}" if machine else browser


def devices_of(user: User, current_key: str | None) -> list[Device]:
    """Return where she is signed in, this browser first, then by when it was seen last."""
    found = []
    for row in _live(user):
        carried = row.get_decoded()
        told = carried.get(SIGNED_IN, {})
        began = told.get("at")
        found.append(
            Device(
                mark=_mark(row),
                browser=told.get("browser", "Unknown browser"),
                address=told.get("address", ""),
                signed_in_at=datetime.fromisoformat(began) if began else None,
                seen_at=row.seen_at,
                is_this=row.pk == current_key,
            )
        )
    return sorted(found, key=lambda one: (not one.is_this, -one.seen_at.timestamp(), one.mark))


def sign_out_device(user: User, mark: str) -> bool:
    """End one visit; False when it has ended already."""
    keys = [row.pk for row in _live(user) if constant_time_compare(_mark(row), mark)]
    return bool(Session.objects.filter(user=user, pk__in=keys).delete()[0])


def sign_out_others(user: User, current_key: str | None) -> int:
    """End all visits but this one (all, without one); return how many."""
    return int(Session.objects.filter(user=user).exclude(pk=current_key or "").delete()[0])


def session_seconds(days: int) -> int:
    """Return what Django's sessions call their expiry: 0 ends with the browser."""
    return days * SECONDS_OF_A_DAY


@transaction.atomic
def stay_signed_in(*, user: User, days: int, session: SessionBase) -> None:
    """Keep how long her visits last, for this browser and those she is signed in with elsewhere."""
    user.stay_signed_in_days = days
    user.save(update_fields=["stay_signed_in_days"])
    for row in Session.objects.filter(user=user).exclude(pk=session.session_key or ""):
        carried = row.get_decoded()
        carried["_session_expiry"] = session_seconds(days)
        row.session_data = Session.objects.encode(carried)
        row.expire_date = SessionStore().get_expiry_date(
            modification=row.seen_at, expiry=session_seconds(days)
        )
        row.save(update_fields=["session_data", "expire_date"])
    session.set_expiry(session_seconds(days))


def _live(user: User) -> list[Session]:
    """Return her sessions that a request would still take: not over, not of an older password."""
    rows: Any = Session.objects.filter(user=user, expire_date__gt=timezone.now())
    now_valid = user.get_session_auth_hash()
    return [
        row
        for row in rows.order_by("-seen_at", "pk")
        if constant_time_compare(row.get_decoded().get(HASH_SESSION_KEY, ""), now_valid)
    ]


def _mark(row: Session) -> str:
    return salted_hmac("maker.accounts.devices", row.pk, algorithm="sha256").hexdigest()[:24]
