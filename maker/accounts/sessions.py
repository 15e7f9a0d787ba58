"""Where browsers are kept: Django's sessions in the database, with whose they are."""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from maker.accounts.models import Session

logger = logging.getLogger(__name__)

SIGNED_IN = "signed_in"
# a visit is noted this often, so that opening pages does not write each time
NOTED_EVERY = timedelta(minutes=10)
# however often it is used, a visit ends and the password is asked for again
LONGEST = timedelta(days=365)


class SessionStore(DatabaseStore):
    """Keeps the person and the time beside what a browser carries along."""

    row: Session | None = None

    @classmethod
    def get_model_class(cls) -> type[Session]:
        """Return the rows it keeps."""
        return Session

    def load(self) -> dict[str, Any]:
        """Read what is carried along, and remember when it was seen."""
        store: Any = super()
        self.row = store._get_session_from_db()
        carried = self.decode(self.row.session_data) if self.row else {}
        if _is_over(carried):
            self.row = self._session_key = None
            return {}
        return carried

    def create_model_instance(self, data: dict[str, Any]) -> Session:
        """Return the row to write."""
        row: Session = super().create_model_instance(data)  # type: ignore[assignment] # its model
        row.user_id = int(data[SESSION_KEY]) if SESSION_KEY in data else None
        row.seen_at = timezone.now()
        return row


def _is_over(carried: dict[str, Any]) -> bool:
    began = carried.get(SIGNED_IN, {}).get("at")
    return bool(began) and timezone.now() - datetime.fromisoformat(began) > LONGEST


class SeenMiddleware:
    """Counts the time a visit may last from when it was used last."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        session: Any = request.session
        response = self.get_response(request)
        # only what the page has read: what needs no database must not need it here
        row, now = session.row, timezone.now()
        if row and row.user_id and not session.modified and now - row.seen_at > NOTED_EVERY:
            self._note(session, now)
            self._renew_cookie(session, response)
        return response

    def _note(self, session: Any, now: datetime) -> None:
        try:
            # no save: a row that was deleted meanwhile stays so, and what others wrote stays too
            Session.objects.filter(pk=session.session_key).update(
                seen_at=now, expire_date=session.get_expiry_date()
            )
        except DatabaseError:
            # a full disk or a read-only one: pages are still read
            logger.warning("a visit could not be noted", exc_info=True)

    def _renew_cookie(self, session: Any, response: HttpResponse) -> None:
        if session.get_expire_at_browser_close() or not session.session_key:
            return
        response.set_cookie(
            settings.SESSION_COOKIE_NAME,
            session.session_key,
            max_age=session.get_expiry_age(),
            domain=settings.SESSION_COOKIE_DOMAIN,
            path=settings.SESSION_COOKIE_PATH,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=settings.SESSION_COOKIE_HTTPONLY,
            samesite="Lax",
        )
