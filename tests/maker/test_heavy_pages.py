"""Heavy pages are answered by processes of their own, and light ones never wait for them."""

import os
import signal
import socket
import time
from pathlib import Path

import pytest
from django.urls import get_resolver

from maker.heavy_pages.handing_over import MOST_AT_ONCE
from maker.heavy_pages.marks import HeavyAddresses, endpoints
from maker.setup import processes
from maker.setup.place import MachineNotReady
from tests.maker.serving_scene import Site, is_alive, serving
from tests.patience import PATIENCE_S


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    settings = {"REQUEST_SECONDS": "4", "WEB_PROCESSES": "1", "HEAVY_PROCESSES": "1"}
    with serving(tmp_path_factory.mktemp("site"), **settings) as site:
        until_other(site, 0, site.ask("/light/").data["pid"])
        yield site


@pytest.mark.slow
@pytest.mark.parametrize(
    ("method", "body"),
    [("GET", None), ("POST", "words=paper+%26+twine&words=card"), ("HEAD", None)],
)
def test_a_page_cannot_tell_that_it_was_handed_over(site: Site, method: str, body: str | None):
    def ask(path: str):
        return site.ask(
            f"{path}caf%C3%A9%20%2B/?q=a%20b&q=c",
            method,
            body,
            Cookie="twine=red; card=blue",
            Content_Type="application/x-www-form-urlencoded",
            X_Forwarded_For="192.0.2.7",
            X_Pleat_Note="inf https 192.0.2.8",
        )

    light, heavy = ask("/seen/"), ask("/heavy/seen/")
    assert light.status == heavy.status == 418

    def told(answer):
        return sorted(one for one in answer.headers if one[0] not in ("X-Request-Id", "Date"))

    assert [value for name, value in heavy.headers if name == "Set-Cookie"] == [
        value for name, value in light.headers if name == "Set-Cookie"
    ]
    names = [name for name, _ in told(heavy)]
    assert names == [name for name, _ in told(light)]
    if method == "HEAD":
        return
    assert light.data["pid"] != heavy.data["pid"]
    assert (light.data["nice"], heavy.data["nice"]) == (os.nice(0), min(os.nice(0) + 5, 19))
    seen = heavy.data["as"]
    seen[3] = seen[3].removeprefix("/heavy")
    # the note of a visitor is a header like any other to a light page, and nothing to a heavy one
    seen[7] = light.data["as"][7]
    assert seen == light.data["as"]


@pytest.mark.slow
def test_a_method_that_is_not_heavy_stays(site: Site):
    pid = site.ask("/light/").data["pid"]
    assert site.ask("/heavy/post/").data["pid"] == pid
    assert site.ask("/heavy/post/", "POST", "a=b").data["pid"] != pid


@pytest.mark.slow
def test_light_pages_are_answered_whatever_hangs_and_too_much_is_refused(site: Site):
    pid = site.ask("/light/").data["pid"]
    hanging = [site.ask_aside("/heavy/loop/") for _ in range(MOST_AT_ONCE + 7)]
    for _ in range(30):
        assert site.ask("/light/").data["pid"] == pid
    assert sum(one.found is None for one in hanging) >= MOST_AT_ONCE
    answers = [one.answer() for one in hanging]
    assert {answer.status for answer in answers} == {503}
    stopped = sum("This took too long" in answer.text for answer in answers)
    refused = sum("Too much is being worked out" in answer.text for answer in answers)
    assert stopped == MOST_AT_ONCE
    assert refused == 7
    assert site.ask("/heavy/seen/x/").data["pid"] != pid


@pytest.mark.slow
def test_a_heavy_process_that_hears_nothing_or_is_killed_is_replaced(site: Site):
    pid = site.ask("/light/").data["pid"]
    before = site.ask("/heavy/seen/x/").data["pid"]
    deaf = site.ask_aside("/heavy/deaf/")
    answer = deaf.answer()
    assert answer.status == 503
    assert "This took too long" in answer.text
    until_other(site, before, pid)
    second = site.ask("/heavy/seen/x/").data["pid"]
    hanging = site.ask_aside("/heavy/loop/")
    time.sleep(0.5)
    os.kill(second, signal.SIGKILL)
    assert hanging.answer().status == 503
    until_other(site, second, pid)


@pytest.mark.slow
def test_without_the_second_server_the_first_does_all(tmp_path):
    with serving(tmp_path, WEB_PROCESSES="1", HEAVY_PROCESSES="1") as site:
        pid = site.ask("/light/").data["pid"]
        until_other(site, 0, pid)
        heavy = site.ask("/heavy/seen/x/").data["pid"]
        keeper = int(Path(f"/proc/{heavy}/stat").read_text().rpartition(")")[2].split()[1])
        os.kill(keeper, signal.SIGKILL)
        os.kill(heavy, signal.SIGKILL)
        while is_alive(keeper) or is_alive(heavy):
            time.sleep(0.01)
        sent = {"Content_Type": "application/x-www-form-urlencoded"}
        found = site.ask("/heavy/seen/x/", "POST", "words=card", **sent).data
        assert found["as"][6] == {"words": ["card"]}
        assert found["pid"] != heavy
        until_other(site, heavy, pid)


def until_other(site: Site, before: int, light: int) -> None:
    """Wait until another process answers heavy pages."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        answer = site.ask("/heavy/seen/x/")
        if answer.status == 418 and answer.data["pid"] not in (before, light):
            return
        time.sleep(0.1)
    raise AssertionError("no new process came")


@pytest.mark.slow
def test_who_sends_less_than_announced_holds_no_thread(site: Site):
    held = []
    for _ in range(4):
        link = socket.create_connection(("127.0.0.1", site.port), timeout=PATIENCE_S)
        link.sendall(b"POST /heavy/post/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\n1")
        held.append(link)
    assert site.ask("/light/").status == 200
    for link in held:
        assert link.recv(100).startswith(b"HTTP/1.1 503")
        link.close()
    assert site.ask("/heavy/post/", "POST", "a=b").status == 418


def test_papers_and_sums_are_heavy_and_pages_that_are_turned_are_not():
    addresses = HeavyAddresses()
    for route, view in endpoints(get_resolver()):
        if route.endswith((".pdf", "/pdf/")):
            assert hasattr(view, "heavy_methods"), route
    for path in ("/w/a/quotes/3/quote.pdf", "/w/a/designs/3/cost/", "/w/a/shapes/box/template.pdf"):
        assert addresses.hold("GET", path, "")
    assert addresses.hold("POST", "/w/a/tags/", "")
    assert addresses.hold("GET", "/w/a/materials/", "page=2&format=csv")
    for path in ("/w/a/", "/w/a/materials/", "/w/a/designs/3/", "/w/a/tags/", "/health/"):
        assert not addresses.hold("GET", path, "page=2&q=format")


@pytest.mark.parametrize(("cores", "web", "heavy"), [(1, 1, 1), (2, 2, 1), (4, 4, 2), (64, 4, 2)])
def test_processes_by_cores(cores, web, heavy, monkeypatch):
    monkeypatch.setattr(processes.os, "sched_getaffinity", lambda pid: set(range(cores)))
    for name in ("WEB_PROCESSES", "HEAVY_PROCESSES", "SLOW_WORKERS"):
        monkeypatch.delenv(name, raising=False)
    assert processes.web_processes() == web
    assert processes.heavy_processes() == heavy
    assert processes.slow_workers() == 1


@pytest.mark.parametrize("number", ["-1", "many", "1.5", "65", "", "²", "9" * 5000])
def test_a_wrong_number_of_processes_is_one_line(number, monkeypatch):
    monkeypatch.setenv("WEB_PROCESSES", number)
    monkeypatch.setenv("HEAVY_PROCESSES", number)
    with pytest.raises(MachineNotReady, match="use a whole number from 1 to 64"):
        processes.web_processes()
    with pytest.raises(MachineNotReady, match="use a whole number from 0 to 64"):
        processes.heavy_processes()


def test_no_web_process_at_all_is_refused(monkeypatch):
    monkeypatch.setenv("WEB_PROCESSES", "0")
    with pytest.raises(MachineNotReady, match="from 1 to 64"):
        processes.web_processes()
