"""Nobody reaches a row of another workshop by its number, with any method, at any address.

The numbers are real ones: found by walking over the demo's pages as its owner. Asked for below the
stranger's own workshop, where her role allows everything, each must look as if it were not there.
"""

import re

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import resolve

from maker.accounts.models import User
from tests.crawl import body_of, crawl, links_of
from tests.page_forms import forms_of
from tests.rules.addresses import (
    NUMBER,
    Address,
    all_addresses,
    filled,
    numbers_by_beginning,
    plain,
)

pytestmark = pytest.mark.slow

METHODS = ("get", "post", "head", "put", "patch", "delete")
# a year or a month is no row
ROW = re.compile(r"<int:(?!year|month)\w+>")


def with_a_number() -> list[Address]:
    """Return the addresses of a workshop that name a row."""
    return [
        address
        for address in all_addresses()
        if address.is_of_a_workshop and ROW.search(address.route) and address.access
    ]


def real_paths(client: Client) -> dict[str, str]:
    """Return a path with real numbers for each address, by its name."""
    found: dict[str, str] = {}
    for path, answer in crawl(client):
        seen = [path]
        if "html" in answer.headers.get("Content-Type", ""):
            page = body_of(answer).decode()
            seen += links_of(page, path)
            seen += [form.action for form in forms_of(page, path)]
        for each in seen:
            bare = each.partition("?")[0]
            if bare.startswith("/w/"):
                found.setdefault(resolve(bare).view_name, bare)
    return found


def test_a_number_of_another_workshop_is_not_there(stranger_client: Client, db: None) -> None:
    call_command("load_demo", password="paper-and-twine-9", verbosity=0)
    penny = Client()
    penny.force_login(
        User.objects.get(email="penny@example.test"),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    addresses = with_a_number()
    numbers = numbers_by_beginning(real_paths(penny), addresses)
    assert len(addresses) > 60
    real = [each for each in addresses if set_out(each) in numbers]
    # what no page of the demo leads to and shares no beginning with what one does: a handful
    assert len(real) >= len(addresses) - 8
    stranger_client.raise_request_exception = False
    let_in = []
    for address in addresses:
        path = filled(address, numbers, "else")
        # old addresses lead on to the new ones, which are asked for as well
        allowed = (308, 404, 405) if address.name.startswith("moved:") else (404, 405)
        for method in METHODS:
            status = getattr(stranger_client, method)(path).status_code
            if status not in allowed:
                let_in.append(f"{method} {path} ({address.name}): {status}")
    assert not let_in, "\n".join(let_in)


def set_out(address: Address) -> str:
    first = NUMBER.search(address.route)
    return plain(address.route[: first.start()]) if first else ""
