"""Light pages while many read and two heavy jobs go: `python -m tests.benchmarks.under_load`.

A server is started as `start` does, with the demo in a folder of its own. So many readers open
light pages with two seconds to read each; first alone, then while one person makes one PDF after
the other and another one prices one quantity after the other. Both halves lie in the same minute,
so what else the machine does slows both. `--root` names another checkout to be measured.
"""

import argparse
import http.client
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path
from random import Random
from urllib.parse import urlencode

READ_S = 2.0
PARTS_OF_LONG = 4
READY_S = 120.0
REQUEST_S = 60.0
LIGHT = ("", "materials/", "suppliers/", "designs/", "receipts/", "quotes/", "channels/", "tags/")
EMAIL = "penny@example.test"
SERVE = """
import sys
from pathlib import Path
from maker.setup.server import serve
serve(Path(".").resolve(), "127.0.0.1", int(sys.argv[1]))
"""


@dataclass
class Visitor:
    """Somebody signed in, who opens one page after the other."""

    port: int
    cookies: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, path: str, body: str = "") -> tuple[int, bytes]:
        """Send one request on a connection of its own and return status and content."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=REQUEST_S)
        sent = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if body:
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            link.request(method, path, body or None, sent)
            answer = link.getresponse()
            content = answer.read()
            for line in answer.headers.get_all("Set-Cookie") or []:
                name, value = line.split(";")[0].split("=", 1)
                self.cookies[name] = value
            return answer.status, content
        finally:
            link.close()

    def page(self, path: str) -> str:
        """Return the page, which has to be there."""
        status, content = self.ask("GET", path)
        if status != 200:
            raise SystemExit(f"{path} answered {status}")
        return content.decode()

    def sign_in(self, password: str) -> None:
        """Sign in as the person of the demo."""
        token = re.search(r'csrfmiddlewaretoken" value="(\w+)"', self.page("/sign-in/"))
        email = re.search(r'name="(username|email)"', self.page("/sign-in/"))
        assert token
        assert email
        said = {"csrfmiddlewaretoken": token[1], email[1]: EMAIL, "password": password}
        status, _ = self.ask("POST", "/sign-in/", urlencode(said))
        if status != 302:
            raise SystemExit(f"signing in answered {status}")


class Readers:
    """So many readers of light pages; keeps how long each page took."""

    def __init__(self, visitor: Visitor, pages: list[str], number: int) -> None:
        self.visitor, self.pages, self.number = visitor, pages, number

    def read(self, seconds: float) -> list[float]:
        """Read for so long, and return the seconds each page took; one that failed is infinite."""
        taken: list[float] = []
        until = time.monotonic() + seconds
        crowd = [
            threading.Thread(target=self._one, args=(Random(seed), until, taken))
            for seed in range(self.number)
        ]
        for one in crowd:
            one.start()
        for one in crowd:
            one.join()
        return sorted(taken)

    def _one(self, chance: Random, until: float, taken: list[float]) -> None:
        time.sleep(chance.uniform(0, READ_S))
        while time.monotonic() < until:
            started = time.perf_counter()
            try:
                status, _ = self.visitor.ask("GET", chance.choice(self.pages))
            except OSError:
                status = 0
            taken.append(time.perf_counter() - started if status == 200 else float("inf"))
            time.sleep(chance.uniform(0.75, 1.25) * READ_S)


class Job(threading.Thread):
    """One heavy request after the other, until told to stop."""

    def __init__(self, visitor: Visitor, paths: Iterator[str], pause_s: float) -> None:
        super().__init__(daemon=True)
        self.visitor, self.paths, self.pause_s = visitor, paths, pause_s
        self.is_over, self.taken = False, list[float]()

    def run(self) -> None:
        """Ask for one thing after the other."""
        while not self.is_over:
            started = time.perf_counter()
            status, _ = self.visitor.ask("GET", next(self.paths))
            self.taken.append(time.perf_counter() - started if status == 200 else float("inf"))
            time.sleep(self.pause_s)


def say(text: str) -> None:
    """Print one line of the report at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def percentile(taken: list[float], share: float) -> float:
    """Return the time that so large a share of the pages did not exceed."""
    return taken[min(len(taken) - 1, int(share * len(taken)))] if taken else float("nan")


def memory_of(pid: int) -> tuple[int, float, float]:
    """Return how many processes there are from this one down, their RSS and PSS in MB."""
    pids, rss, pss = [pid], 0, 0
    for one in pids:
        for task in Path(f"/proc/{one}/task").iterdir():
            pids += [int(child) for child in (task / "children").read_text().split()]
        said = Path(f"/proc/{one}/smaps_rollup").read_text()
        rss += int(re.search(r"^Rss:\s+(\d+)", said, re.M)[1])  # type: ignore[index]
        pss += int(re.search(r"^Pss:\s+(\d+)", said, re.M)[1])  # type: ignore[index]
    return len(pids), rss / 1024, pss / 1024


def line(name: str, taken: list[float]) -> str:
    """Return one line of the report."""
    p50, p95, most = (percentile(taken, share) * 1000 for share in (0.5, 0.95, 1))
    failed = sum(one == float("inf") for one in taken)
    return f"{name:34} {len(taken):5} {p50:8.0f} {p95:8.0f} {most:8.0f} ms   {failed} failed"


def measure(port: int, password: str, options: argparse.Namespace, server_pid: int) -> None:
    """Measure one server and print what was found."""
    visitor = Visitor(port)
    visitor.sign_in(password)
    workshops = re.findall(r"/w/([\w-]+)/", visitor.page("/workshops/"))
    base = f"/w/{options.workshop or workshops[0]}/"
    designs = sorted(set(re.findall(rf"{base}designs/(\d+)/", visitor.page(base + "designs/"))))
    quotes = sorted(set(re.findall(rf"{base}quotes/(\d+)/", visitor.page(base + "quotes/"))))
    for quote in quotes:
        pdf = f"{base}quotes/{quote}/quote.pdf"
        if visitor.ask("GET", pdf)[0] == 200:
            break
    else:
        raise SystemExit("the demo has no quote with a PDF")
    pages = [base + page for page in LIGHT] + [f"{base}designs/{one}/" for one in designs[:4]]
    for page in pages * 2:
        visitor.page(page)
    readers = Readers(visitor, pages, options.readers)
    say(f"{'':34} pages   median      p95      most")
    if not options.long:
        say(line(f"{options.readers} readers, idle", readers.read(options.seconds)))
    before = memory_of(server_pid)
    prices = (
        f"{base}designs/{designs[number % len(designs)]}/cost/?quantity={20 + number}"
        for number in range(1_000_000)
    )
    jobs = [Job(visitor, paths, options.pause) for paths in (cycle([pdf]), prices)]
    for job in jobs:
        job.start()
    for part in range(PARTS_OF_LONG if options.long else 1):
        if part:
            count, rss, pss = memory_of(server_pid)
            say(f"memory now: {count} processes, RSS {rss:.0f} MB in all, PSS {pss:.0f} MB")
        taken = readers.read(options.seconds / (PARTS_OF_LONG if options.long else 1))
        say(line(f"{options.readers} readers, two heavy jobs", taken))
    for job in jobs:
        job.is_over = True
    for name, job in zip(("  PDFs", "  prices"), jobs, strict=True):
        job.join()
        say(line(name, sorted(job.taken)))
    for when, (count, rss, pss) in (("before", before), ("after", memory_of(server_pid))):
        say(f"memory {when}: {count} processes, RSS {rss:.0f} MB in all, PSS {pss:.0f} MB")


def main() -> None:
    """Read the options, start a server, measure, and end the server."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--root", type=Path, default=Path(__file__).resolve().parents[2])
    parser.add_argument("--readers", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--port", type=int, default=8101)
    parser.add_argument("--workshop", default="")
    parser.add_argument("--data", type=Path, help="kept for the next run; else made anew")
    parser.add_argument("--long", action="store_true", help="only the heavy half, in parts")
    parser.add_argument("--pause", type=float, default=0, help="seconds after each heavy request")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        data = options.data or Path(folder)
        env = os.environ | {"DATA_DIR": str(data), "LOG_LEVEL": "ERROR"}
        python = sys.executable
        prepare = [python, "manage.py", "prepare", "--with-demo"]
        subprocess.run(prepare, cwd=options.root, env=env, check=True, stdout=subprocess.DEVNULL)
        serving = [python, "-c", SERVE, str(options.port)]
        server = subprocess.Popen(serving, cwd=options.root, env=env, stdout=subprocess.PIPE)
        assert server.stdout
        try:
            server.stdout.readline()
            password = (data / "demo_password").read_text().strip()
            measure(options.port, password, options, server.pid)
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(READY_S)


if __name__ == "__main__":
    main()
