"""Error pages say what happened and where to go, whoever looks and whatever is missing."""

import pytest
from django.contrib.messages import get_messages
from django.contrib.messages.storage.fallback import FallbackStorage
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from maker.web.errors import csrf_failed, too_many_tries
from maker.web.messages import undo_message


@pytest.mark.parametrize(
    "template", ["400.html", "403.html", "403_csrf.html", "404.html", "429.html", "500.html"]
)
def test_an_error_page_needs_nothing_to_be_shown(template: str) -> None:
    html = render_to_string(template)
    assert "<h1>" in html
    assert 'href="/"' in html
    assert "style=" not in html


def test_an_unknown_address_is_answered_with_our_page(anonymous_client: Client) -> None:
    answer = anonymous_client.get("/no/such/page/")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.text


@pytest.mark.parametrize(("view", "status"), [(too_many_tries, 429), (csrf_failed, 403)])
def test_refusals_before_a_view_have_their_page(
    rf: RequestFactory, view: object, status: int
) -> None:
    assert view(rf.get("/")).status_code == status


@pytest.mark.urls("tests.pages.sample_pages")
def test_a_broken_view_is_answered_with_a_page_that_stands_alone(db: None) -> None:
    answer = Client(raise_request_exception=False).get("/sample/broken/")
    assert answer.status_code == 500
    assert "Something broke on our side" in answer.text


@pytest.fixture
def request_with_messages(rf: RequestFactory) -> HttpRequest:
    request = rf.get("/")
    request.session = {}
    request._messages = FallbackStorage(request)
    return request


def test_an_undo_message_carries_its_address(request_with_messages: HttpRequest) -> None:
    undo_message(request_with_messages, "Removed the receipt.", "/w/marlow/receipts/3/undo/")
    (message,) = get_messages(request_with_messages)
    assert (str(message), message.extra_tags) == (
        "Removed the receipt.",
        "/w/marlow/receipts/3/undo/",
    )


@pytest.mark.parametrize("address", ["https://example.test/", "//example.test/", "undo/", ""])
def test_an_undo_message_only_leads_to_this_site(
    request_with_messages: HttpRequest, address: str
) -> None:
    with pytest.raises(ValueError, match="path of this site"):
        undo_message(request_with_messages, "Removed.", address)
