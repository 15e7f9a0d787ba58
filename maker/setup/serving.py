"""How gunicorn serves the app: one process with four threads, enough for a workshop."""

import os
from typing import Any

from maker.setup.place import answer

workers = 1
worker_class = "gthread"
threads = 4
# Heartbeat files in memory, so that a busy disk never looks like a dead worker.
worker_tmp_dir = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108 - not a temporary file of ours
loglevel = "warning"
# Its default is a socket in the user's home; nothing here uses it.
control_socket_disable = True


def post_worker_init(worker: Any) -> None:
    """Print the address once the first worker really answers."""
    address = os.environ.get("PLEAT_ADDRESS")
    if address and worker.age == 1:
        answer(f"Open {address} (Ctrl-C stops)")
