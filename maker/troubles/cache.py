"""A cache in files that keeps nothing, rather than failing, when there is no room to keep it."""

import logging
from typing import Any

from django.core.cache.backends.filebased import FileBasedCache

logger = logging.getLogger("maker.troubles")


class PatientFileCache(FileBasedCache):
    """Django's; what cannot be stored is worked out anew next time."""

    def __init__(self, folder: str, params: dict[str, Any]) -> None:
        try:
            super().__init__(folder, params)
        except OSError as error:
            logger.warning("the folder of a cache could not be made: %s", error.strerror)

    def set(self, *args: Any, **kwargs: Any) -> None:
        """Store an entry if that is possible."""
        try:
            super().set(*args, **kwargs)
        except OSError as error:
            logger.warning("an entry of a cache could not be kept: %s", error.strerror)
