"""One PostgreSQL with two web processes and two workers beside it, and people who use them.

Run as `python -m tests.maker.side_by_side WORD` it prepares, asks for work or tells what is there,
as JSON, in the database of DATABASE_URL.
"""

import http.client
import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlencode

from maker.setup.machine import postgres_program
from maker.setup.place import ROOT
from maker.setup.postgres import _unprivileged
from maker.setup.server import listen
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S

EMAIL, PASSWORD = "iris@example.test", "paper-and-twine-9"
ON_THE_SHELF = 100_000


@dataclass
class Person:
    """Somebody with a browser: her cookies, and which of the web processes she asks next."""

    ports: tuple[int, ...]
    cookies: dict[str, str] = field(default_factory=dict)
    asked: int = 0

    def ask(self, path: str, data: dict[str, str] | None = None) -> tuple[int, str]:
        """Get or post; return status and text, status 0 when nobody answered."""
        self.asked += 1
        connection = http.client.HTTPConnection(
            "127.0.0.1", self.ports[self.asked % len(self.ports)], timeout=30
        )
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        headers = {"Cookie": cookies, "Content-Type": "application/x-www-form-urlencoded"}
        if data is not None:
            data = data | {"csrfmiddlewaretoken": self.cookies.get("csrftoken", "")}
        try:
            body = None if data is None else urlencode(data)
            connection.request("GET" if data is None else "POST", path, body, headers)
            answer = connection.getresponse()
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie":
                    key, _, kept = value.partition(";")[0].partition("=")
                    self.cookies[key] = kept
            return answer.status, answer.read().decode()
        except OSError:
            return 0, ""
        finally:
            connection.close()

    def sign_in(self) -> None:
        """Sign in with the password."""
        self.ask("/sign-in/")
        status, _ = self.ask("/sign-in/", {"username": EMAIL, "password": PASSWORD})
        assert status == 302, status


@dataclass
class Side:
    """What runs: the ports of the web processes, the environment, the facts at the beginning."""

    ports: tuple[int, ...]
    env: dict[str, str]
    facts: dict[str, Any]

    def tell(self, *words: str) -> dict[str, Any]:
        """Run this module in a process of its own on the same database."""
        return tell(self.env, *words)

    def until_done(self, works: int) -> dict[str, Any]:
        """Wait until so many pieces of work ended; return the facts then."""
        end = time.monotonic() + PATIENCE_S
        while True:
            facts = self.tell("facts")
            if facts["ended"] >= works:
                return facts
            assert time.monotonic() < end, facts
            time.sleep(0.5)


def tell(env: dict[str, str], *words: str) -> dict[str, Any]:
    """Run this module in a process of its own; return what it tells."""
    command = [sys.executable, "-m", "tests.maker.side_by_side", *words]
    told = subprocess.run(command, env=env, cwd=ROOT, capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stderr[-2000:]
    found: dict[str, Any] = json.loads(told.stdout.splitlines()[-1])
    return found


@contextmanager
def side_by_side(url: str, folder: Path) -> Iterator[Side]:
    """Run two web processes and two workers on the database while the block runs."""
    env = clean_env(DATABASE_URL=url, DATA_DIR=str(folder), ALLOWED_HOSTS="127.0.0.1")
    facts = tell(env, "prepare")
    ports, processes = [], []
    with ExitStack() as at_the_end:
        for _ in range(2):
            listener = listen("127.0.0.1", 0)
            at_the_end.callback(listener.close)
            ports.append(listener.getsockname()[1])
            os.set_inheritable(listener.fileno(), True)
            web = ["-m", "gunicorn", "--config=python:maker.setup.serving"]
            web += [f"--bind=fd://{listener.fileno()}", "maker.wsgi:application"]
            processes.append(_start(env, web, at_the_end, pass_fds=(listener.fileno(),)))
            processes.append(_start(env, ["manage.py", "work"], at_the_end))
        side = Side(tuple(ports), env, facts)
        _wait_for_health(side)
        yield side
        assert [process.poll() for process in processes] == [None] * 4, "one of them ended"


def _start(
    env: dict[str, str], words: list[str], at_the_end: ExitStack, **options: Any
) -> "subprocess.Popen[bytes]":
    process = subprocess.Popen(
        [sys.executable, *words], env=env, cwd=ROOT, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, **options,
    )  # fmt: skip
    at_the_end.callback(process.wait, PATIENCE_S)
    at_the_end.callback(process.terminate)
    return process


def _wait_for_health(side: Side) -> None:
    end = time.monotonic() + PATIENCE_S
    for port in side.ports:
        while Person((port,)).ask("/health/")[0] not in (200, 503):
            assert time.monotonic() < end
            time.sleep(0.2)


def restart_postgres(url: str, mode: str) -> None:
    """End the private server and start it again; `immediate` is as if it had died."""
    folder = Path(unquote(re.findall(r"@([^/]*)/", url)[0]))
    command = [str(postgres_program("pg_ctl")), "restart", "--wait", f"--mode={mode}"]
    with (folder / "said").open("w") as said:
        subprocess.run(
            [*command, "-D", str(folder / "data"), "-l", str(folder / "log")],
            check=True, stdout=said, stderr=said, cwd=folder, **_unprivileged(folder),
        )  # fmt: skip


def take_one(work: Any, watch: Any) -> Any:
    """Work of a worker: one unit leaves the shelf, and done twice two would."""
    import datetime
    from decimal import Decimal

    from catalogue.materials.models import Material
    from catalogue.stock.services import move_stock
    from maker.slow_work.doing import Outcome

    material = Material.objects.select_related("workshop").get(pk=work.given["material"])
    for done in range(5):
        watch.look(done, 5, "Taking")
        time.sleep(0.05)

    def ending() -> Outcome:
        today = datetime.date(2026, 6, 30)
        move_stock(material=material, kind="sample", amount=Decimal(1), moved_on=today, today=today)
        return Outcome()

    return ending


def _prepare() -> dict[str, Any]:
    from django.core.management import call_command

    from maker.accounts.models import Membership
    from tests import factories
    from tests.catalogue.receipts import make_receipt

    call_command("migrate", verbosity=0)
    workshop = factories.make_workshop()
    user = factories.make_member(workshop, Membership.Role.OWNER, EMAIL)
    user.set_password(PASSWORD)
    user.save()
    material = factories.make_material(workshop)
    make_receipt(workshop, (material, str(ON_THE_SHELF), "1000.00"))
    suppliers = list(workshop.suppliers.values_list("name", flat=True))
    return {"material": material.pk, "slug": workshop.slug, "suppliers": suppliers}


def _ask(count: int) -> dict[str, Any]:
    from catalogue.materials.models import Material
    from maker.slow_work.models import Work
    from maker.slow_work.services import ask_work

    # by the name a worker finds it under
    from tests.maker.side_by_side import take_one

    material = Material.objects.select_related("workshop").get()
    for number in range(count):
        ask_work(
            workshop=material.workshop, kind=Work.Kind.FIGURES, title=f"Take {number}",
            doing=take_one, given={"material": material.pk}, came_from="/", by=None,
        )  # fmt: skip
    return {}


def _facts() -> dict[str, Any]:
    from django.db.models import Count

    from catalogue.materials.models import Material
    from catalogue.stock.models import StockEntry
    from catalogue.suppliers.models import Supplier
    from maker.slow_work.models import Work

    material = Material.objects.get()
    states = dict(
        Work.objects.order_by().values_list("state").annotate(count=Count("pk")).values_list(
            "state", "count"
        )
    )  # fmt: skip
    return {
        "suppliers": sorted(Supplier.objects.values_list("name", flat=True)),
        "form_keys": sorted(map(str, StockEntry.objects.filter(kind="used").values_list(
            "form_key", flat=True))),
        "balance": int(material.on_hand),
        "samples": StockEntry.objects.filter(kind="sample").count(),
        "states": states,
        "ended": sum(count for state, count in states.items() if state not in (
            "waiting", "working")),
    }  # fmt: skip


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "maker.settings")
    import django

    django.setup()
    what, *rest = sys.argv[1:]
    doings: dict[str, Any] = {"prepare": _prepare, "facts": _facts, "ask": _ask}
    sys.stdout.write(json.dumps(doings[what](*map(int, rest))) + "\n")
