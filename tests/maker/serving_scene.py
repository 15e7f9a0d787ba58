"""A real server with the site that hangs, started as `start` does."""

import http.client
import json
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from maker.setup.place import ROOT
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S

SERVE = f"""
import sys
sys.path.insert(0, {str(ROOT)!r})
from maker.setup import server
from maker.setup.place import ROOT
sys.exit(server.serve(ROOT, "127.0.0.1", int(sys.argv[1])))
"""


@dataclass(frozen=True)
class Answer:
    """What came back: status, headers, text."""

    status: int
    headers: list[tuple[str, str]]
    text: str

    @property
    def data(self) -> Any:
        """The JSON in it."""
        return json.loads(self.text)


@dataclass(frozen=True)
class Site:
    """The server under test."""

    port: int
    process: "subprocess.Popen[str]"

    def ask(
        self, path: str, method: str = "GET", body: str | None = None, **headers: str
    ) -> Answer:
        """Send a request and wait for its answer."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            sent = {name.replace("_", "-"): value for name, value in headers.items()}
            link.request(method, path, body, sent)
            answer = link.getresponse()
            return Answer(answer.status, answer.getheaders(), answer.read().decode())
        finally:
            link.close()

    def ask_aside(self, path: str, method: str = "GET") -> "Waiting":
        """Send a request and go on."""
        return Waiting(self, path, method)

    def processes(self) -> list[int]:
        """Every process of the server, the one that keeps them together first."""
        found = [self.process.pid]
        for pid in found:
            for task in Path(f"/proc/{pid}/task").iterdir():
                found += [int(child) for child in (task / "children").read_text().split()]
        return found


class Waiting(threading.Thread):
    """A request somebody waits for."""

    def __init__(self, site: Site, path: str, method: str) -> None:
        super().__init__(daemon=True)
        self.asked = site, path, method
        self.found: Answer | None = None
        self.start()

    def run(self) -> None:
        site, path, method = self.asked
        self.found = site.ask(path, method)

    def answer(self) -> Answer:
        """Wait for the answer."""
        self.join(PATIENCE_S)
        assert self.found, "no answer came"
        return self.found


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


@contextmanager
def serving(folder: Path, **settings: str) -> Iterator[Site]:
    """Serve the site that hangs, on an empty database."""
    (folder / "db.sqlite3").touch()
    port = free_port()
    env = clean_env(
        DATA_DIR=str(folder),
        DATABASE_URL=f"sqlite:///{folder / 'db.sqlite3'}",
        DJANGO_SETTINGS_MODULE="tests.maker.hanging_settings",
        SLOW_WORKERS="0",
        **settings,
    )
    command = [sys.executable, "-c", SERVE, str(port)]
    start = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True)
    assert start.stdout
    try:
        assert start.stdout.readline().startswith("Open ")
        yield Site(port, start)
    finally:
        start.send_signal(signal.SIGTERM)
        try:
            start.wait(PATIENCE_S)
        finally:
            start.kill()
            start.wait()
            start.stdout.close()


def is_alive(pid: int) -> bool:
    """Say whether any thread of a process runs: its sockets are open until the last one ends."""
    threads = Path(f"/proc/{pid}/task")
    try:
        states = [one.read_text().rpartition(")")[2].split()[0] for one in threads.glob("*/stat")]
    except (FileNotFoundError, ProcessLookupError):  # one ended meanwhile
        return threads.exists()
    return any(state not in "ZX" for state in states)
