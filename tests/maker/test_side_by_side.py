"""Two web processes and two workers on one PostgreSQL, also while it is restarted under them."""

import threading
import time
import uuid
from collections import Counter
from pathlib import Path

import pytest

from maker.setup.machine import postgres_program
from maker.setup.postgres import private_postgres
from tests.maker.side_by_side import ON_THE_SHELF, Person, Side, restart_postgres, side_by_side
from tests.patience import PATIENCE_S
from tests.thorough import tries

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(postgres_program("initdb") is None, reason="needs PostgreSQL's server"),
]
WORKS = 12


class Writer(threading.Thread):
    """Enters suppliers and uses of stock, each again until it is acknowledged."""

    def __init__(self, side: Side, number: int, over: threading.Event) -> None:
        super().__init__(daemon=True)
        self.number, self.over = number, over
        self.base = f"/w/{side.facts['slug']}/"
        self.move = f"{self.base}materials/{side.facts['material']}/stock/"
        self.person = Person(side.ports)
        self.person.sign_in()
        self.suppliers: list[str] = []
        self.form_keys: list[str] = []
        self.answers: Counter[int] = Counter()

    def run(self) -> None:
        while not self.over.is_set():
            name = f"Supplier {self.number} {len(self.suppliers)}"
            # 422: a name that is taken, by what was kept though its answer was lost
            if self._until_kept(f"{self.base}suppliers/new/", {"name": name}, (302, 422)):
                self.suppliers.append(name)
            key = str(uuid.uuid4())
            used = {"form_key": key, "kind": "used", "amount": "1", "moved_on": "2026-06-30"}
            if self._until_kept(self.move, used, (302,)):
                self.form_keys.append(key)

    def _until_kept(self, path: str, data: dict[str, str], kept: tuple[int, ...]) -> bool:
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            status, _ = self.person.ask(path, data)
            self.answers[status] += 1
            if status in kept:
                return True
            time.sleep(0.1)
        return False


def write_while(side: Side, what_happens: "list[str]", url: str, seconds: float) -> list[Writer]:
    """Let four people write on both web processes while the server is restarted now and then."""
    over = threading.Event()
    writers = [Writer(side, number, over) for number in range(4)]
    for writer in writers:
        writer.start()
    for mode in what_happens:
        time.sleep(seconds)
        restart_postgres(url, mode)
    time.sleep(seconds)
    over.set()
    for writer in writers:
        writer.join(PATIENCE_S)
        assert not writer.is_alive()
    return writers


def assert_nothing_lost_nothing_twice(side: Side, writers: list[Writer]) -> None:
    facts = side.until_done(WORKS)
    suppliers = sorted(name for writer in writers for name in writer.suppliers)
    form_keys = sorted(key for writer in writers for key in writer.form_keys)
    assert min(len(suppliers), len(form_keys)) > 8
    assert facts["suppliers"] == sorted([*suppliers, *side.facts["suppliers"]])
    assert facts["form_keys"] == form_keys
    assert (facts["states"], facts["samples"]) == ({"done": WORKS}, WORKS)
    assert facts["balance"] == ON_THE_SHELF - len(form_keys) - WORKS


def test_two_of_each_side_by_side(tmp_path: Path) -> None:
    with private_postgres() as url, side_by_side(url, tmp_path) as side:
        side.tell("ask", str(WORKS))
        writers = write_while(side, [], url, 4)
        assert_nothing_lost_nothing_twice(side, writers)
        # nothing was refused, whichever process was asked, and both were signed in to by one
        assert {status for writer in writers for status in writer.answers} == {302}


@pytest.mark.parametrize("turn", range(tries(1, 10)))
def test_a_server_restarted_under_load_loses_nothing_acknowledged(
    tmp_path: Path, turn: int
) -> None:
    with private_postgres(forgetful=False) as url, side_by_side(url, tmp_path) as side:
        side.tell("ask", str(WORKS))
        happens = ["immediate", "fast", "immediate"]
        writers = write_while(side, happens, url, 2 + turn / 10)
        assert_nothing_lost_nothing_twice(side, writers)
        # what could not be kept was said as 503 (the page of a database that is away)
        assert {status for writer in writers for status in writer.answers} <= {302, 422, 503}
