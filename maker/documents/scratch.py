"""Where a document's parts lie while it is written: in memory, so that a full disk stops none.

Where memory has no room for them either (a container's may be 64 MB in all), they go to the
settings' folder for temporary files, and a full disk is told as one.
"""

import os
from pathlib import Path
from tempfile import mkdtemp, mkstemp

from django.conf import settings

_MEMORY = "/dev/shm"  # noqa: S108 - nothing in it gets a name that could be guessed
# the fonts of a paper are a megabyte
ROOM_FOR_A_FOLDER = 16 * 1024 * 1024
# the longest list that is written, 100,000 rows of ten texts, takes 80 MB before it is packed
ROOM_FOR_A_FILE = 256 * 1024 * 1024


def scratch_folder() -> Path:
    """Return a new folder; who asks for it deletes it. Errors: OSError on a full disk."""
    return Path(mkdtemp(prefix="pleat-", dir=_folder(ROOM_FOR_A_FOLDER)))


def scratch_file() -> str:
    """Return the path of a new empty file; who asks for it deletes it. Errors: OSError."""
    handle, path = mkstemp(prefix="pleat-", dir=_folder(ROOM_FOR_A_FILE))
    os.close(handle)
    return path


def _folder(room: int) -> str | None:
    """Return memory if so many bytes are free there, else the folder for temporary files."""
    if os.access(_MEMORY, os.W_OK) and _free_in(_MEMORY) >= room:
        return _MEMORY
    return settings.FILE_UPLOAD_TEMP_DIR


def _free_in(folder: str) -> int:
    told = os.statvfs(folder)
    return told.f_bavail * told.f_frsize
