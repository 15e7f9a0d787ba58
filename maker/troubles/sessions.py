"""Sessions that cannot be stored for a full disk do not keep a page from being read."""

import logging

from django.contrib.messages.storage.session import SessionStorage
from django.contrib.sessions.exceptions import SessionInterrupted
from django.contrib.sessions.middleware import SessionMiddleware
from django.db import DatabaseError, OperationalError
from django.http import HttpRequest, HttpResponse

from maker.troubles.kinds import DISK_FULL, READ_ONLY, trouble_behind

logger = logging.getLogger("maker.troubles")


class PatientSessionMiddleware(SessionMiddleware):
    """Django's, but an answer stands when only its messages could not be stored.

    Messages that were shown are shown again, new ones are lost; what she saved is saved.
    """

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        try:
            return super().process_response(request, response)
        except (SessionInterrupted, DatabaseError) as error:
            trouble = trouble_behind(error)
            if trouble not in (DISK_FULL, READ_ONLY) or not _only_messages_changed(request):
                if trouble is not None:
                    # Django calls it a bad request of hers when the database goes away just here
                    raise OperationalError("The session could not be stored.") from error
                raise
            logger.warning("messages could not be stored: %s", trouble.name)
            return response


def _only_messages_changed(request: HttpRequest) -> bool:
    store = request.session
    stored = type(store)(store.session_key).load() if store.session_key else {}
    now, key = dict(store.items()), SessionStorage.session_key
    return {name: value for name, value in now.items() if name != key} == {
        name: value for name, value in stored.items() if name != key
    }
