"""Each error has a page that says what happened and what to do, also without a database."""

from typing import Any

import pytest
from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import path
from django.views.defaults import bad_request, server_error

from maker import urls


def breaks(request: HttpRequest) -> HttpResponse:
    """Fail in a way nobody expected."""
    raise RuntimeError("a fault of the program with secret-in-the-message")


def suspicious(request: HttpRequest) -> HttpResponse:
    """Refuse what no browser sends by itself."""
    raise SuspiciousOperation("odd")


urlpatterns = [*urls.urlpatterns, path("breaks/", breaks), path("suspicious/", suspicious)]


def title(answer: Any) -> str:
    page = answer.content.decode()
    assert "<h1>" in page
    assert "Nothing" in page or "nothing" in page or "fault" in page or "Sign-in" in page
    return page.split("<h1>")[1].split("</h1>")[0]


def test_404_says_what_it_may_be(client: Client) -> None:
    answer = client.get("/w/marlow/no-such-page/")
    assert answer.status_code == 404
    assert title(answer) == "There is nothing at this address"


def test_403_names_the_way_on(reader_client: Client) -> None:
    answer = reader_client.get("/w/marlow/settings/")
    assert answer.status_code == 403
    assert title(answer) == "Your role does not allow this"


@pytest.mark.urls(__name__)
def test_400_for_what_no_browser_sends(client: Client) -> None:
    answer = client.get("/suspicious/")
    assert answer.status_code == 400
    assert title(answer) == "That didn't arrive properly"


def test_400_for_a_host_that_is_not_ours(client: Client) -> None:
    answer = client.get("/w/marlow/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 400


def test_400_page_needs_no_request_context() -> None:
    answer = bad_request(RequestFactory().get("/"), Exception())
    assert b"What arrived is incomplete or too large" in answer.content


@pytest.mark.urls(__name__)
def test_500_tells_nothing_of_the_inside(client: Client) -> None:
    client.raise_request_exception = False
    answer = client.get("/breaks/")
    page = answer.content.decode()
    assert answer.status_code == 500
    assert title(answer) == "Something went wrong"
    assert "RuntimeError" not in page
    assert "secret-in-the-message" not in page
    assert "Traceback" not in page


def test_500_needs_no_database() -> None:
    # This test has no database: whatever asks one fails, as it would with the server gone.
    answer = server_error(RequestFactory().get("/"))
    assert answer.status_code == 500
    browser = Client(raise_request_exception=False)
    answer = browser.get("/sign-in/")
    assert answer.status_code == 500
    assert title(answer) == "Something went wrong"
    assert answer["X-Request-Id"]
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    browser.cookies["sessionid"] = "x" * 32
    assert browser.get("/w/marlow/").status_code == 500


def test_413_like_uploads_are_refused_with_a_page(client: Client, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    answer = client.post("/account/", {"change_name": "", "name": "n" * 2000})
    assert answer.status_code == 400
    assert title(answer) == "That didn't arrive properly"


def test_too_many_fields_are_refused_with_a_page(client: Client, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 10
    answer = client.post("/account/", {f"field{number}": "x" for number in range(20)})
    assert answer.status_code == 400
