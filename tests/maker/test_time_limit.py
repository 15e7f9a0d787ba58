"""No request takes for ever: a page says that it was stopped, and nothing is half saved."""

import socket
import time

import pytest

from maker.setup.serving import threads
from tests.maker.serving_scene import Answer, Site, serving
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """One process for all: whatever hangs, hangs beside what is asked next."""
    settings = {"REQUEST_SECONDS": "3", "WEB_PROCESSES": "1", "HEAVY_PROCESSES": "0"}
    with serving(tmp_path_factory.mktemp("site"), **settings) as site:
        yield site


def is_stopped(answer: Answer) -> bool:
    return answer.status == 503 and "This took too long and was stopped" in answer.text


@pytest.mark.parametrize("path", ["/loop/", "/stubborn/", "/query/"])
def test_what_hangs_is_stopped_and_says_so_while_others_are_answered(site: Site, path: str):
    pid = site.ask("/light/").data["pid"]
    hanging = site.ask_aside(path)
    assert site.ask("/light/").data["pid"] == pid
    assert hanging.found is None, "it did not hang"
    answer = hanging.answer()
    assert is_stopped(answer)
    assert ("Cache-Control", "no-store, private") in answer.headers
    assert any(name == "Content-Security-Policy" for name, _ in answer.headers)
    assert site.ask("/light/").data["pid"] == pid, "the same process goes on"


def test_what_was_being_saved_is_not_and_the_next_is(site: Site):
    assert site.ask("/write/?words=first", "POST").status == 200
    assert is_stopped(site.ask("/write/?words=half&hang=1", "POST"))
    # more often than there are threads, so that the broken-off one comes again
    for number in range(20):
        assert site.ask(f"/write/?words=next-{number:02}", "POST").status == 200
    said = site.ask("/said/").data["said"]
    assert said == ["first", *(f"next-{number:02}" for number in range(20))]


def test_who_sends_less_than_announced_holds_no_thread(site: Site):
    held = []
    for _ in range(threads + 4):
        link = socket.create_connection(("127.0.0.1", site.port), timeout=PATIENCE_S)
        link.sendall(b"POST /body/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\n12345")
        held.append(link)
    assert site.ask("/light/").status == 200
    for link in held:
        assert link.recv(100).startswith((b"HTTP/1.1 503", b"HTTP/1.1 400"))
        link.close()


def test_what_takes_its_time_may(site: Site):
    assert site.ask("/slowly/").text == "done"


def test_what_hears_nothing_is_answered_and_its_process_replaced(tmp_path):
    settings = {"REQUEST_SECONDS": "3", "WEB_PROCESSES": "2", "HEAVY_PROCESSES": "0"}
    with serving(tmp_path, **settings) as site:
        hanging = site.ask_aside("/deaf/")
        pids = set()
        while hanging.found is None and hanging.is_alive():
            pids.add(site.ask("/light/").data["pid"])
            time.sleep(0.05)
        assert is_stopped(hanging.answer())
        until = time.monotonic() + PATIENCE_S
        while site.ask("/light/").data["pid"] in pids:
            assert time.monotonic() < until, "no new process came"
