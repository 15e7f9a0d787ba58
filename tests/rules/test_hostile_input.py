"""No value in any form, query or file of the program ends in a fault or adds two seconds.

What is sent is found by walking over the demo's pages: every form with its fields, every query a
link carries, every file that is asked for. `HOSTILE_VALUES=2000` tries two thousand; each run of
the tests a part of them.
"""

import os
import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl, urlencode
from xml.etree import ElementTree

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import connection, transaction
from django.db.models import CharField, EmailField, SlugField, TextField, URLField, Value
from django.db.models.functions import Cast, Concat
from django.test import Client
from django.urls import Resolver404, resolve

from maker.accounts.models import User
from tests.crawl import body_of, crawl, links_of
from tests.page_forms import forms_of
from tests.rules.nasty import BODIES, FILES, MARK, nasty

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="once is enough: it takes minutes"),
]
SEED = 20_261_129
HOW_MANY = int(os.environ.get("HOSTILE_VALUES", "200"))
MOST_SECONDS = 2.0
# what nobody types: names a page's own form carries back
OWN = {"csrfmiddlewaretoken"}
# A sign-out in the middle would end the visit of all that come after.
LEFT_ALONE = {"maker:sign_out"}
STORED = f"<b>{MARK}</b>&\"'"
# Texts that the program reads again: keys, codes and versions, addresses, forms of numbers.
CODES = {
    *("password", "session_key", "session_data", "sealed_secret", "hashed", "credential_id"),
    *("public_key", "transports", "key", "code", "version", "seen_version", "worker_id"),
    *("currency", "locale", "carrier_weekdays", "quantity_steps", "content_key", "stage", "form"),
    *("columns", "number", "basis", "website", "quote_prefix"),
}
AS_MARKUP = (
    f"<script>{MARK}",
    f"<img src=x onerror={MARK}",
    f"<svg onload={MARK}",
    f"<b>{MARK}",
    f"<{MARK}/>",
)
AS_A_FORM = "application/x-www-form-urlencoded"
PAGE_WORDS = ("page", "sort", "q", "format", "state", "per_page")


@dataclass
class Target:
    """One way to send something: an address with a method, and what it takes."""

    name: str
    method: str
    path: str
    data: dict[str, list[str]] = field(default_factory=dict)
    files: tuple[str, ...] = ()


@pytest.fixture
def demo_client(db: None) -> Client:
    call_command("load_demo", password="paper-and-twine-9", verbosity=0)
    assert write_markup_everywhere() > 20
    client = Client(raise_request_exception=False, SERVER_NAME="localhost")
    owner = User.objects.get(email="penny@example.test")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


def write_markup_everywhere() -> int:
    """Put markup into every text that people type; return into how many kinds of text."""
    filled = 0
    for model in apps.get_models():
        if not model.__module__.startswith(("maker.", "catalogue.", "pricing.")):
            continue
        for each in model._meta.concrete_fields:
            if not isinstance(each, CharField | TextField) or each.name in CODES or each.choices:
                continue
            if isinstance(each, SlugField | EmailField | URLField):
                continue
            if each.max_length is not None and each.max_length < len(STORED) + 6:
                continue
            # with its number, as many names must differ
            words = Concat(Value(STORED), Cast("pk", CharField()))
            filled += bool(
                model._default_manager.exclude(**{each.name: ""}).update(**{each.name: words})
            )
    return filled


def targets_of(client: Client) -> list[Target]:
    """Return every form and every query that the pages of the site offer, each once.

    On the way every page, drawing and paper must show the stored markup as text.
    """
    found: dict[tuple[Any, ...], Target] = {}

    def add(method: str, path: str, data: dict[str, list[str]], files: tuple[str, ...]) -> None:
        bare, _, query = path.partition("?")
        try:
            name = resolve(bare).view_name
        except Resolver404:
            return
        if name in LEFT_ALONE:
            return
        for key, value in parse_qsl(query, keep_blank_values=True):
            data.setdefault(key, [value])
        key = (name, method, *sorted(data), *files)
        found.setdefault(key, Target(name, method, bare, data, files))

    for path, answer in crawl(client):
        assert answer.status_code < 500, path
        assert not raw_markup(answer), path
        if answer.headers.get("Content-Type", "").startswith("image/svg"):
            ElementTree.fromstring(body_of(answer))  # noqa: S314 - our own drawing
        if "html" not in answer.headers.get("Content-Type", ""):
            continue
        page = body_of(answer).decode()
        add("get", path, {word: [""] for word in PAGE_WORDS}, ())
        for link in links_of(page, path):
            if "?" in link:
                add("get", link, {}, ())
        for form in forms_of(page, path):
            sent = {key: value for key, value in form.data.items() if key not in OWN}
            for button in form.buttons or [("", "")]:
                extra = {button[0]: [button[1]]} if button[0] else {}
                add(form.method, form.action, {**sent, **extra}, tuple(form.files))
    return list(found.values())


@contextmanager
def undone() -> Iterator[None]:
    """Take back whatever the request stores."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def prepared(target: Target, chance: random.Random) -> tuple[Callable[[Client], Any], str]:
    """Return how to send one hostile value with all else as the page would send it, and what."""
    data: dict[str, Any] = dict(target.data)
    if target.method == "post" and chance.random() < 0.08:
        body, kind = chance.choice(BODIES)
        return lambda client: client.generic(
            "POST", target.path, body, content_type=kind
        ), f"body {body[:40]!r}"
    if target.files and chance.random() < 0.5:
        what, content = chance.choice(target.files), chance.choice(FILES)
        name = f"f{chance.choice(('.csv', '.xlsx', '.json', '', '/../x.csv'))}"
        return lambda client: client.post(
            target.path, data | {what: SimpleUploadedFile(name, content)}
        ), f"file {what} {content[:30]!r}"
    what = chance.choice(list(data) or ["x"])
    data[what] = nasty(chance)
    sent, told = urlencode(data, doseq=True, errors="surrogatepass"), f"{what}={data[what]!r:.80}"
    if target.method == "get":
        return lambda client: client.get(f"{target.path}?{sent}"), told
    return lambda client: client.post(target.path, sent, content_type=AS_A_FORM), told


def as_it_is(target: Target) -> Callable[[Client], Any]:
    """Return how to send what the page itself would send."""
    sent = urlencode(target.data, doseq=True)
    if target.method == "get":
        return lambda client: client.get(f"{target.path}?{sent}")
    return lambda client: client.post(target.path, sent, content_type=AS_A_FORM)


def timed(client: Client, send: Callable[[Client], Any]) -> tuple[Any, float]:
    """Send and undo it; return the answer and the seconds of the processor."""
    with undone():
        began = time.process_time()
        answer = send(client)
        body_of(answer)
        return answer, time.process_time() - began


def raw_markup(answer: Any) -> bool:
    """Whether markup that was sent came back as markup."""
    if "html" not in answer.headers.get("Content-Type", "") or answer.streaming:
        return False
    page = answer.content.decode()
    return any(sign in page for sign in AS_MARKUP)


def one_of_each_address_first(targets: list[Target], chance: random.Random) -> list[Target]:
    """Return them so that no address is met twice before each was met once."""
    chance.shuffle(targets)
    met: Counter[str] = Counter()
    turns = []
    for place, target in enumerate(targets):
        turns.append((met[target.name], place))
        met[target.name] += 1
    return [targets[place] for _, place in sorted(turns)]


def test_no_value_ends_in_a_fault_or_takes_long(demo_client: Client) -> None:
    chance = random.Random(SEED)
    targets = one_of_each_address_first(targets_of(demo_client), chance)
    assert len({target.name for target in targets}) > 100
    faults, slow, markup = [], [], []
    for number in range(HOW_MANY):
        target = targets[number % len(targets)]
        send, what = prepared(target, chance)
        answer, seconds = timed(demo_client, send)
        if seconds > MOST_SECONDS:
            # Sheets that were never planned take the planner's own time once, and a list of
            # every quantity takes long by itself: what counts is what the value adds.
            seconds = timed(demo_client, send)[1] - timed(demo_client, as_it_is(target))[1]
        line = f"{target.method} {target.path} {what}"
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
