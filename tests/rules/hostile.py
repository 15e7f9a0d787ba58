"""What hostile values are sent to: every form, query and file that the pages of the demo offer."""

import csv
import io
import random
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import Resolver404, resolve

from catalogue.materials.importing import IMPORTING as MATERIALS
from catalogue.purchases.importing import IMPORTING as RECEIPTS
from maker.imports.kinds import Importing
from tests.crawl import body_of, crawl, links_of
from tests.page_forms import forms_of
from tests.rules.addresses import all_addresses, filled, numbers_by_beginning
from tests.rules.nasty import BODIES, FILES, nasty, one_of

# what nobody types: names a page's own form carries back
OWN = {"csrfmiddlewaretoken"}
# A sign-out in the middle would end the visit of all that come after.
LEFT_ALONE = {"maker:sign_out"}
AS_A_FORM = "application/x-www-form-urlencoded"
PAGE_WORDS = ("page", "sort", "q", "format", "state", "per_page")
IMPORTS = {"catalogue:material_import": MATERIALS, "catalogue:purchase_import": RECEIPTS}
# of a file's cells so many are hostile
HOSTILE_CELLS = 0.25
MOST_AT_ONCE = 6

Send = Callable[[Client], Any]


@dataclass
class Target:
    """One way to send something: an address with a method, and what it takes."""

    name: str
    method: str
    path: str
    data: dict[str, list[str]] = field(default_factory=dict)
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shot:
    """One request with hostile values: how to send it, how many they are, and what they are."""

    send: Send
    values: int
    told: str


@contextmanager
def undone() -> Iterator[None]:
    """Take back whatever the request stores."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def targets_of(
    client: Client,
    on_answer: Callable[[str, Any], None],
    start: str = "/workshops/",
    pages_each: int = 1,
) -> list[Target]:
    """Return every form and every query that the pages of the site offer, each once.

    `on_answer` gets each page, drawing and paper on the way. Of each address `pages_each` are
    looked at: a draft has other forms than what was sent. Pages that only a sent file leads to
    (which column is what, the preview) are walked over as well.
    """
    walk = _Walk(on_answer)
    for path, answer in crawl(client, start, pages_each):
        walk.look(path, answer)
    for target in list(walk.found.values()):
        if target.name in IMPORTS and target.files:
            for ask_columns in ({}, {"ask_columns": "on"}):
                content = file_of(IMPORTS[target.name], random.Random(1), 0)[0]
                sent = target.data | ask_columns | {target.files[0]: upload(content)}
                with undone():
                    walk.look(target.path, client.post(target.path, sent))
    return list(walk.found.values())


def targets_without_a_form(found: list[Target], workshop: str) -> list[Target]:
    """Return a way to send something to each address that no page of the walk led to.

    So a new address is tried whatever state its row must be in to be offered. What it takes is
    not known: it gets the names that most forms have.
    """
    met = {target.name for target in found}
    numbers = numbers_by_beginning({each.name: each.path for each in found}, all_addresses())
    names = Counter(name for target in found for name in target.data)
    common = {name: [""] for name, _ in names.most_common(40)}
    return [
        Target(address.name, method, filled(address, numbers, workshop), dict(common))
        for address in all_addresses()
        if address.name not in met | LEFT_ALONE and not address.name.startswith("moved:")
        for method in ("get", "post")
    ]


class _Walk:
    """Gathers what pages offer to send."""

    def __init__(self, on_answer: Callable[[str, Any], None]) -> None:
        self.on_answer = on_answer
        self.found: dict[tuple[Any, ...], Target] = {}

    def add(
        self, method: str, path: str, data: dict[str, list[str]], files: tuple[str, ...] = ()
    ) -> None:
        bare, _, query = path.partition("?")
        try:
            name = resolve(bare).view_name
        except Resolver404:
            return
        if name in LEFT_ALONE:
            return
        for key, value in parse_qsl(query, keep_blank_values=True):
            data.setdefault(key, [value])
        # a row's number in a field's name makes no other form
        names = {"".join(sign for sign in key if not sign.isdigit()) for key in data}
        key = (name, method, *sorted(names), *files)
        self.found.setdefault(key, Target(name, method, bare, data, files))

    def look(self, path: str, answer: Any) -> None:
        self.on_answer(path, answer)
        if "html" not in answer.headers.get("Content-Type", ""):
            return
        page = body_of(answer).decode()
        self.add("get", path, {word: [""] for word in PAGE_WORDS})
        for link in links_of(page, path):
            if "?" in link:
                self.add("get", link, {})
        for form in forms_of(page, path):
            sent = {key: value for key, value in form.data.items() if key not in OWN}
            for button in form.buttons or [("", "")]:
                extra = {button[0]: [button[1]]} if button[0] else {}
                self.add(form.method, form.action, {**sent, **extra}, tuple(form.files))
            for method, action in form.ways:
                self.add(method, action, dict(sent))


def one_of_each_address_first(targets: list[Target], chance: random.Random) -> list[Target]:
    """Return them so that no address is met twice before each was met once."""
    chance.shuffle(targets)
    met: Counter[str] = Counter()
    turns = []
    for place, target in enumerate(targets):
        turns.append((met[target.name], place))
        met[target.name] += 1
    return [targets[place] for _, place in sorted(turns)]


# ---- what is sent ----


def upload(content: bytes, name: str = "f.csv") -> SimpleUploadedFile:
    """Return a file as a browser sends it."""
    return SimpleUploadedFile(name, content)


GOOD_CELLS = {
    "Name": "Fern card",
    "Material": "Fern card",
    "Counted in": "pieces",
    "Pack holds": "24",
    "Pack price": "3.50",
    "Day": "2026-03-04",
    "Supplier": "Fern mill",
    "Quantity": "24",
    "Paid": "6",
}


def file_of(
    importing: Importing, chance: random.Random, hostile: float = HOSTILE_CELLS
) -> tuple[bytes, int]:
    """Return a file with the headings it should have, and how many of its cells are hostile."""
    text, values = io.StringIO(), 0
    writer = csv.writer(text)
    writer.writerow(importing.fields)
    for number in range(4):
        row = []
        for heading in importing.fields:
            if chance.random() < hostile:
                values += 1
                row.append(one_of(chance)[:2000])
            else:
                good = GOOD_CELLS.get(heading, "")
                row.append(f"{good} {number}" if heading in ("Name", "Material") else good)
        writer.writerow(row)
    return text.getvalue().encode("utf-8", "surrogatepass"), values


def shot_at(target: Target, chance: random.Random) -> Shot:
    """Return one request with a few hostile values and all else as the page would send it."""
    data: dict[str, Any] = dict(target.data)
    if target.method == "post" and chance.random() < 0.05:
        body, kind = chance.choice(BODIES)
        return Shot(
            lambda client: client.generic("POST", target.path, body, content_type=kind),
            1,
            f"body {body[:40]!r}",
        )
    if target.files and chance.random() < 0.7:
        return _file_shot(target, chance)
    names = list(data) or ["x"]
    # one alone reaches what a check of another would hide; several at once find more in less time
    count = min(len(names), chance.choice((1, 1, chance.randint(2, MOST_AT_ONCE))))
    told = []
    for name in chance.sample(names, count):
        data[name] = nasty(chance)
        told.append(f"{name}={data[name]!r:.80}")
    sent = urlencode(data, doseq=True, errors="surrogatepass")
    return Shot(_sender(target, sent), count, " ".join(told))


def _file_shot(target: Target, chance: random.Random) -> Shot:
    what = chance.choice(target.files)
    name = f"f{chance.choice(('.csv', '.xlsx', '.json', '', '/../x.csv'))}"
    importing = IMPORTS.get(target.name)
    if importing and chance.random() < 0.7:
        content, values = file_of(importing, chance)
    else:
        content, values = chance.choice(FILES), 1
    return Shot(
        lambda client: client.post(target.path, target.data | {what: upload(content, name)}),
        values,
        f"file {what} {content[:30]!r}",
    )


def as_it_is(target: Target) -> Send:
    """Return how to send what the page itself would send."""
    return _sender(target, urlencode(target.data, doseq=True))


def _sender(target: Target, sent: str) -> Send:
    if target.method == "get":
        return lambda client: client.get(f"{target.path}?{sent}")
    return lambda client: client.post(target.path, sent, content_type=AS_A_FORM)
