"""What the tests of pages share: who may do what, and forms with rows."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import HttpResponse
from django.test import Client


def text_of(response: HttpResponse) -> str:
    """Return the page as text, entities of quotation marks resolved."""
    page = response.content.decode()
    return page.replace("&#x27;", "'").replace("&quot;", '"').replace("&amp;", "&")


def rows(prefix: str, filled: Sequence[Mapping[str, Any]], **management: Any) -> dict[str, Any]:
    """Return what a browser sends for rows of a form."""
    sent: dict[str, Any] = {
        f"{prefix}-TOTAL_FORMS": len(filled),
        f"{prefix}-INITIAL_FORMS": 0,
        **{f"{prefix}-{name}": value for name, value in management.items()},
    }
    for number, row in enumerate(filled):
        sent |= {f"{prefix}-{number}-{name}": value for name, value in row.items()}
    return sent


def sent_to_sign_in(response: HttpResponse) -> bool:
    """Say whether nobody in particular was asked to sign in."""
    return response.status_code == 302 and "sign-in" in response["Location"]


def who_gets_in(
    address: str,
    *,
    writes: bool,
    clients: Mapping[str, Client],
) -> dict[str, int]:
    """Return the status that each kind of visitor gets, asking (or posting nothing)."""
    statuses = {}
    for name, client in clients.items():
        response = client.post(address) if writes else client.get(address)
        statuses[name] = 302 if sent_to_sign_in(response) else response.status_code
    return statuses
