"""No value in any form, query, file or address of the program ends in a fault or adds two seconds.

What is sent is found by walking over the demo's pages: every form with its fields, every query a
link carries, every file that is asked for. `HOSTILE_VALUES=2000` tries two thousand, each run of
the tests a part of them; `HOSTILE_PART=2/6` does the second of six parts of that.
"""

import os
import random
import time
from itertools import cycle
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection
from django.db.models import CharField, Value
from django.db.models.functions import Cast, Concat
from django.test import Client

from maker.accounts.models import User
from maker.workshop.models import Workshop
from tests.crawl import body_of
from tests.rules.addresses import PARAMETER, Address, all_addresses
from tests.rules.hostile import (
    Send,
    Shot,
    Target,
    as_it_is,
    one_of_each_address_first,
    shot_at,
    targets_of,
    targets_without_a_form,
    undone,
)
from tests.rules.nasty import MARK, PARTS_OF_ADDRESSES
from tests.rules.texts import typed_fields

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="once is enough: it takes minutes"),
]
SEED = 20_261_129
HOW_MANY = int(os.environ.get("HOSTILE_VALUES", "200"))
PART, PARTS = map(int, os.environ.get("HOSTILE_PART", "1/1").split("/"))
IS_WHOLE = HOW_MANY >= 1000
MOST_SECONDS = 2.0
STORED = f"<b>{MARK}</b>&\"'"
AS_MARKUP = (
    f"<script>{MARK}",
    f"<img src=x onerror={MARK}",
    f"<svg onload={MARK}",
    f"<b>{MARK}",
    f"<{MARK}/>",
)


@pytest.fixture
def demo_client(db: None, settings: Any, tmp_path: Path) -> Client:
    # copies and files go there
    settings.DATA_DIR = tmp_path
    call_command("load_demo", password="paper-and-twine-9", verbosity=0)
    assert write_markup_everywhere() > 20
    client = Client(raise_request_exception=False, SERVER_NAME="localhost")
    owner = User.objects.get(email="penny@example.test")
    # so that the pages of the installation are walked over too
    owner.looks_after_installation = True
    owner.save()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


def demo_slug() -> str:
    return str(Workshop.objects.filter(is_demo=True).values_list("slug", flat=True)[0])


def write_markup_everywhere() -> int:
    """Put markup into every text that people type; return into how many kinds of text."""
    filled = 0
    for model in apps.get_models():
        for each in typed_fields(model):
            # with its number, as many names must differ
            words = Concat(Value(STORED), Cast("pk", CharField()))
            filled += bool(
                model._default_manager.exclude(**{each.name: ""}).update(**{each.name: words})
            )
    return filled


def shows_markup_as_text(path: str, answer: Any) -> None:
    assert answer.status_code < 500, path
    assert not raw_markup(answer), path
    if answer.headers.get("Content-Type", "").startswith("image/svg"):
        ElementTree.fromstring(body_of(answer))  # noqa: S314 - our own drawing


def raw_markup(answer: Any) -> bool:
    """Whether markup that was sent came back as markup."""
    if "html" not in answer.headers.get("Content-Type", "") or answer.streaming:
        return False
    page = answer.content.decode()
    return any(sign in page for sign in AS_MARKUP)


def shots_of_this_part(targets: list[Target], how_many: int) -> list[tuple[Target, Shot]]:
    """Return what this run sends: the same for the same part, whatever the others did."""
    sent = values = 0
    mine = []
    for target in cycle(targets):
        if values >= how_many:
            return mine
        shot = shot_at(target, random.Random(f"{SEED}-{sent}"))
        if sent % PARTS == PART - 1:
            mine.append((target, shot))
        sent, values = sent + 1, values + shot.values
    raise AssertionError("nothing to send to")


def timed(client: Client, send: Send) -> tuple[Any, float]:
    """Send and undo it; return the answer and the seconds of the processor."""
    with undone():
        began = time.process_time()
        answer = send(client)
        body_of(answer)
        return answer, time.process_time() - began


def test_no_value_ends_in_a_fault_or_takes_long(demo_client: Client) -> None:
    # the whole trial looks at an order that is a draft, one that was sent, and so on
    pages_each = 2 if IS_WHOLE else 1
    found = targets_of(demo_client, shows_markup_as_text, pages_each=pages_each)
    assert len({target.name for target in found}) > 100
    shoot(demo_client, found + targets_without_a_form(found, demo_slug()))


def test_no_value_at_the_door_does_either(demo_client: Client) -> None:
    anybody = Client(raise_request_exception=False, SERVER_NAME="localhost")
    found = targets_of(anybody, shows_markup_as_text, start="/sign-in/")
    assert {"maker:sign_in", "maker:lost_password"} <= {target.name for target in found}
    shoot(anybody, found, HOW_MANY // 10)


def shoot(client: Client, found: list[Target], how_many: int = HOW_MANY) -> None:
    """Send this part's values and tell of all that went wrong."""
    targets = one_of_each_address_first(found, random.Random(SEED))
    faults, slow, markup = [], [], []
    for target, shot in shots_of_this_part(targets, how_many):
        answer, seconds = timed(client, shot.send)
        if seconds > MOST_SECONDS:
            # Sheets that were never planned take the planner's own time once, and a list of
            # every quantity takes long by itself: what counts is what the value adds.
            seconds = timed(client, shot.send)[1] - timed(client, as_it_is(target))[1]
        line = f"{target.method} {target.path} {shot.told}"
        if answer.status_code >= 500:
            info = getattr(answer, "exc_info", None)
            faults.append(f"{line}: {answer.status_code} {info[1]!r:.200}" if info else line)
        if seconds > MOST_SECONDS:
            slow.append(f"{line}: {seconds:.1f} s")
        if raw_markup(answer):
            markup.append(line)
    assert not faults, "\n".join(faults)
    assert not markup, "\n".join(markup)
    assert not slow, "\n".join(slow)


def hostile_paths(address: Address, workshop: str) -> list[str]:
    """Return the address with one of its parts hostile, the others as they should be."""
    parameters = list(PARAMETER.finditer(address.route))
    paths = []
    for parameter in parameters:
        for value in PARTS_OF_ADDRESSES:
            route = address.route[: parameter.start()] + value + address.route[parameter.end() :]
            paths.append(Address(route, address.name, address.view).path(workshop))
    return paths


def test_no_address_made_of_nonsense_ends_in_a_fault(demo_client: Client) -> None:
    chance, faults, tried = random.Random(SEED), [], 0
    for address in all_addresses():
        paths = hostile_paths(address, demo_slug())
        if not IS_WHOLE:
            paths = chance.sample(paths, min(3, len(paths)))
        for path in paths[PART - 1 :: PARTS]:
            for method in ("get", "post"):
                tried += 1
                answer, seconds = timed(
                    demo_client,
                    # the path as it is, not tidied up by the client
                    lambda client, method=method, path=path: client.generic(method.upper(), path),
                )
                if answer.status_code >= 500 or seconds > MOST_SECONDS:
                    info = getattr(answer, "exc_info", None) or ("", "")
                    said = f"{answer.status_code} {seconds:.1f} s {info[1]!r:.200}"
                    faults.append(f"{method} {path:.120}: {said}")
    assert tried > 300 / PARTS
    assert not faults, "\n".join(faults)
