"""How gunicorn serves the app: processes by the cores, each with some threads."""

import os
import sys
from contextlib import suppress
from typing import Any
from urllib.parse import urlsplit

from maker.setup.place import answer
from maker.setup.processes import heavy_processes, web_processes

# `start` runs a second server, for heavy pages alone (`maker.heavy_pages`)
is_for_heavy_pages = bool(os.environ.get("PLEAT_TAKES_OVER"))
workers = heavy_processes() if is_for_heavy_pages else web_processes()
worker_class = "gthread"
# of those for light pages some wait for the other server
threads = 4 if is_for_heavy_pages else 12
# loaded once, before the processes part: they share what they only read
preload_app = True
# of a process that does not even say that it lives; requests have a limit of their own
timeout = 60
# Heartbeat files in memory, so that a busy disk never looks like a dead worker.
worker_tmp_dir = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108 - not a temporary file of ours
loglevel = "warning"
# Its default is a socket in the user's home; nothing here uses it.
control_socket_disable = True

# light pages come first, but where those keep every core busy a heavy one still gets a third of
# what a light one does, and ends within its time; slow work gives way to both
NICENESS = 5
if is_for_heavy_pages:
    # handed requests as they came in: what a visitor says of his way is for the others to judge
    secure_scheme_headers: dict[str, str] = {}
    forwarder_headers = ""


def post_fork(arbiter: Any, worker: Any) -> None:
    """Give way to the processes that answer light pages."""
    if is_for_heavy_pages:
        os.nice(NICENESS)


def post_worker_init(worker: Any) -> None:
    """Print the address once the first worker really answers."""
    address = os.environ.get("PLEAT_ADDRESS")
    is_main = not is_for_heavy_pages and worker.app.app_uri == "maker.wsgi:application"
    if not address or worker.age != 1 or not is_main:
        return
    answer(f"Open {address} (Ctrl-C stops)")
    first_visit = os.environ.get("PLEAT_FIRST_VISIT")
    if urlsplit(address).hostname in ("127.0.0.1", "localhost", "::1"):
        return
    _print_square(first_visit or address)
    if first_visit:
        answer(f"On a phone, scan this or open {first_visit}, which says what to do first.")
    else:
        answer(
            "On a phone in the same network, scan this. Without HTTPS others there can read along: "
            "`python3 manage.py start --https` sets it up."
        )


def _print_square(text: str) -> None:
    if "JOURNAL_STREAM" in os.environ:  # systemd.exec(5): nobody scans a log
        return
    import segno  # the server runs in the project's own environment

    # half blocks, two rows a line; light on dark is turned round by its white border
    with suppress(UnicodeEncodeError):
        segno.make_qr(text, error="m").terminal(out=sys.stdout, border=2, compact=True)
    sys.stdout.flush()
