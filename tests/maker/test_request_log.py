"""Log lines: one JSON object a request, found by the id that the answer carries, no secrets."""

import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path

from maker import urls
from maker.accounts.models import User
from maker.web.logs import JsonFormatter


def breaks(request: HttpRequest) -> HttpResponse:
    """Fail in a way nobody expected."""
    raise RuntimeError("a fault of the program")


urlpatterns = [*urls.urlpatterns, path("breaks/", breaks)]


class Collector(logging.Handler):
    """Keeps lines as the console would get them."""

    def __init__(self) -> None:
        super().__init__()
        self.setFormatter(JsonFormatter())
        self.texts: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.texts.append(self.format(record))

    @property
    def lines(self) -> list[dict[str, Any]]:
        """Return every line as the object it is."""
        return [json.loads(text) for text in self.texts]

    @property
    def requests(self) -> list[dict[str, Any]]:
        """Return the lines about requests."""
        return [line for line in self.lines if line["logger"] == "maker.requests"]


@pytest.fixture
def log() -> Iterator[Collector]:
    collector = Collector()
    logging.getLogger().addHandler(collector)
    yield collector
    logging.getLogger().removeHandler(collector)


def test_one_line_for_each_request(log: Collector, client: Client, owner: User) -> None:
    answer = client.get("/w/marlow/?q=what-she-searched")
    (line,) = log.requests
    assert line["request_id"] == answer["X-Request-Id"]
    assert (line["method"], line["path"], line["status"]) == ("GET", "/w/marlow/", 200)
    assert line["user"] == owner.pk
    assert line["address"] == "127.0.0.0/24"
    assert line["ms"] > 0
    assert line["at"].endswith("+00:00")
    client.get("/nothing/")
    assert [line["status"] for line in log.requests] == [200, 404]


def test_each_request_has_an_id_of_its_own(log: Collector, anonymous_client: Client) -> None:
    ids = {anonymous_client.get("/health/")["X-Request-Id"] for _ in range(20)}
    assert len(ids) == 20
    assert {line["request_id"] for line in log.requests} == ids
    assert {line["user"] for line in log.requests} == {None}


def test_no_secret_reaches_the_log(log: Collector, client: Client, owner: User) -> None:
    page = client.post(
        "/w/marlow/people/", {"email": "new@example.test", "role": "helper"}, follow=True
    )
    link = page.context["link"]["url"].removeprefix("http://testserver")
    key = link.partition("key=")[2]
    other = Client()
    other.get(link)
    other.post(link, {"new_password1": "needle and thread 8", "new_password2": "nope"})
    other.post("/sign-in/", {"username": owner.email, "password": "wrong-guess-77"})
    other.post("/sign-in/", {"username": owner.email, "password": "paper-and-twine"})
    text = "\n".join(log.texts)
    assert log.requests
    for secret in (
        key,
        "needle and thread 8",
        "wrong-guess-77",
        "paper-and-twine",
        other.cookies["sessionid"].value,
        other.cookies["csrftoken"].value,
        owner.email,
    ):
        assert secret not in text


@pytest.mark.urls(__name__)
def test_a_fault_is_logged_with_its_trace_under_the_same_id(log: Collector, client: Client) -> None:
    client.raise_request_exception = False
    answer = client.get("/breaks/?q=private")
    (fault,) = [line for line in log.lines if line["level"] == "error"]
    assert fault["request_id"] == answer["X-Request-Id"]
    assert "RuntimeError: a fault of the program" in fault["traceback"]
    assert "private" not in "\n".join(log.texts)


def test_a_line_break_in_an_address_forges_no_line(log: Collector, client: Client) -> None:
    client.get('/nothing/%0a{"level":"info","message":"forged"}')
    assert all("\n" not in text for text in log.texts)
    assert not [line for line in log.lines if line["message"] == "forged"]
