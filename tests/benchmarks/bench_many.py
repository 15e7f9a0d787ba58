"""Every page of a workshop alone in its database and beside 500 others: seconds of CPU, in turn."""

import logging
import shutil
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from pathlib import Path

from django.core.management import call_command
from django.db import connection
from django.test import Client

import tests.benchmarks
from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from tests.benchmarks import Row
from tests.benchmarks.many_workshops import copy_workshops, settle
from tests.crawl import body_of, crawl

EMAIL = "bench-many@example.test"
# copies of the demo, and of a workshop ten times as large
COPIES, LARGE_COPIES = 450, 50
SHOWN = 20
AT_MOST = 1.5


def run() -> Iterable[Row]:
    """Measure each page of the demo and of one ten times as large; show the slowest ratios."""
    logging.getLogger("maker.requests").propagate = False
    call_command("load_demo", verbosity=0)
    few = tests.benchmarks.is_once
    call_command("seed_large", times=2 if few else 10, name="Ten times", verbosity=0)
    user = User.objects.create_user(EMAIL, "paper-and-twine")
    workshops = [*Workshop.objects.exclude(name="Worked case").order_by("pk")]
    for workshop in workshops:
        Membership.objects.create(user=user, workshop=workshop, role=Membership.Role.OWNER)
    settle()
    with closing(_Two()) as two:
        two.use("many")
        small, large = workshops
        started = time.perf_counter()
        rows = copy_workshops({small: 2 if few else COPIES, large: 1 if few else LARGE_COPIES})
        seconds = time.perf_counter() - started
        settle()
        pages = _pages(two, [small] if few else workshops, repeats=1 if few else 7)
        found = sorted(pages, key=_ratio, reverse=True)
        count = Workshop.objects.count()
    yield Row(f"seeding {count} workshops", seconds, note=f"{rows} rows")
    over = sum(_ratio(row) > AT_MOST for row in found)
    yield from found[:SHOWN]
    middle = found[len(found) // 2]
    yield Row(
        "the page in the middle", middle.seconds, middle.baseline_seconds,
        f"of {len(found)} pages; {over} over {AT_MOST}",
    )  # fmt: skip


def _ratio(row: Row) -> float:
    return row.ratio or 0


def _pages(two: "_Two", workshops: list[Workshop], repeats: int) -> Iterator[Row]:
    clients = {}
    for name in ("one", "many"):
        two.use(name)
        clients[name] = Client(HTTP_HOST="localhost")
        user = User.objects.get(email=EMAIL)
        clients[name].force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    two.use("one")
    paths = [
        path
        for workshop in workshops
        for path, answer in crawl(clients["one"], f"/w/{workshop.slug}/")
        if path.startswith(f"/w/{workshop.slug}/") and answer.status_code == 200
    ]
    for path in dict.fromkeys(paths):
        taken: dict[str, list[float]] = {"one": [], "many": []}
        for turn in range(repeats + 1):
            for name, seconds in taken.items():
                two.use(name)
                spent = two.cpu_seconds_of(lambda name=name, path=path: body_of(
                    clients[name].get(path)))  # type: ignore[misc]  # fmt: skip
                if turn or repeats == 1:
                    seconds.append(spent)
        yield Row(path[-44:], min(taken["many"]), min(taken["one"]), at_most=AT_MOST)


class _Two:
    """The benchmark's database and a copy of it, each with a connection that is kept."""

    def __init__(self) -> None:
        self.names = {"one": str(connection.settings_dict["NAME"])}
        self.names["many"] = self.names["one"] + "_many"
        self.now = "one"
        self.kept: dict[str, object] = {}
        connection.close()
        if connection.vendor == "sqlite":
            shutil.copy(self.names["one"], self.names["many"])
        else:
            self._on_the_server('CREATE DATABASE "{many}" TEMPLATE "{one}"')

    def use(self, name: str) -> None:
        """Let what follows happen in this one."""
        if name != self.now:
            self.kept[self.now] = connection.connection
            connection.connection = self.kept.get(name)
            connection.settings_dict["NAME"] = self.names[name]
            self.now = name
        connection.ensure_connection()

    def close(self) -> None:
        """Remove the copy."""
        self.use("many")
        connection.close()
        self.use("one")
        if connection.vendor == "sqlite":
            Path(self.names["many"]).unlink()
        else:
            self._on_the_server('DROP DATABASE "{many}"')

    def cpu_seconds_of(self, call: Callable[[], object]) -> float:
        """Return what this process and the server's part for it spent, not what they waited."""
        before = self._cpu_seconds()
        call()
        return self._cpu_seconds() - before

    def _cpu_seconds(self) -> float:
        spent = time.process_time()
        if connection.vendor == "postgresql":
            pid = connection.connection.info.backend_pid
            spent += int(Path(f"/proc/{pid}/schedstat").read_text().split()[0]) / 1e9
        return spent

    def _on_the_server(self, statement: str) -> None:
        with connection._nodb_cursor() as cursor:
            cursor.execute(statement.format(**self.names))
