"""Where a document's parts lie while it is written: in memory, so that a full disk stops none."""

import os
from pathlib import Path
from tempfile import mkdtemp, mkstemp

_MEMORY = "/dev/shm"  # noqa: S108 - nothing in it gets a name that could be guessed


def _folder() -> str | None:
    # without it: the usual folder for temporary files
    return _MEMORY if os.access(_MEMORY, os.W_OK) else None


def scratch_folder() -> Path:
    """Return a new folder; who asks for it deletes it."""
    return Path(mkdtemp(prefix="pleat-", dir=_folder()))


def scratch_file() -> str:
    """Return the path of a new empty file; who asks for it deletes it."""
    handle, path = mkstemp(prefix="pleat-", dir=_folder())
    os.close(handle)
    return path
