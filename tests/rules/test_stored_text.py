"""Whatever was typed comes out as it was typed: in every page, drawing, paper and spreadsheet.

Names and notes of the demo's rows become what a browser, a PDF reader, a template or a spreadsheet
could take for its own; then every page is walked over and every file read back.
"""

import csv
import ctypes
import io
import re
from collections import Counter, defaultdict
from collections.abc import Callable
from itertools import cycle
from typing import Any
from urllib.parse import parse_qsl, urlencode
from xml.etree import ElementTree

import openpyxl
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection
from django.db.models import Count, Field
from django.test import Client
from django.urls import resolve

from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.quotes.models import Quote, QuoteLine
from tests.crawl import body_of, crawl, links_of
from tests.page_forms import forms_of
from tests.rules.nasty import MARK
from tests.rules.texts import typed_fields

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="what is drawn is the same"),
]
# each begins with what tells it apart in a paper, where lines are broken and blanks lost
WORDS = (
    f"<script>{MARK}()</script>",
    f'"><img src=x onerror={MARK}()>',
    f"{{{{7*7}}}}{{%{MARK}%}}",
    f'=HYPERLINK("http://{MARK}.test","x")',
    f"+{MARK}!A1|cmd",
    f"@SUM({MARK})",
    f"-{MARK}",
    f"\\input{{{MARK}}}$x^2$%",
    f"\u202e{MARK}\u202c\u2066x\u2069\u200b",
    f"http://{MARK}.test/",
    f"javascript:{MARK}()",
    f"&lt;{MARK}&gt;&#x41;",
    f"({MARK})Tj/JS",
    MARK + "x" * 5000,
)
FILE = re.compile(r"\.(pdf|svg)(\?|$)|[?&]format=|pdf")
# those a link leads to
PAPERS = {
    "catalogue:plan_pdf",
    *("pricing:quote_pdf", "pricing:quote_own_pdf", "pricing:quantities_pdf"),
    *("pricing:for_customer_pdf", "catalogue:shape_pdf", "pricing:price_board"),
    *("pricing:bench_sheet", "pricing:order_bench_sheet", "pricing:fair_tally"),
    *("pricing:delivery_note", "pricing:order_names_paper"),
}
SHOWS_NOTHING = "shows nothing of what was typed"
NOTHING_TYPED = {"catalogue:shape_pdf"}
FORMULA = ("=", "+", "-", "@", "\t", "\r")


@pytest.fixture
def client_of_demo(db: None, monkeypatch: pytest.MonkeyPatch) -> Client:
    monkeypatch.setattr("catalogue.cutting_plans.views.MOST_LAYOUTS_AT_ONCE", 1000)
    call_command("load_demo", password="paper-and-twine-9", verbosity=0)
    # names on items are deleted in time, so the orders of the example have none
    assert QuoteLine.objects.filter(quote__order__isnull=False).update(names="Ada Fenn")
    assert write_everywhere() > 20
    client = Client(raise_request_exception=False, SERVER_NAME="localhost")
    owner = User.objects.get(email="penny@example.test")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


def write_everywhere() -> int:
    """Put one of the words into every text that people type; return into how many kinds of text."""
    filled = 0
    now: dict[str, str] = {}
    for model in apps.get_models():
        for each in typed_fields(model):
            rows = model._default_manager.exclude(**{each.name: ""}).order_by("pk")
            # with its number, as many names must differ
            stored = list(rows.values_list("pk", each.name))
            for (key, before), word in zip(stored, cycle(WORDS), strict=False):
                now[before] = shortened(word, each, f" {key}")
                model._default_manager.filter(pk=key).update(**{each.name: now[before]})
            filled += bool(stored)
    for model in (Quote, QuoteLine):
        # what was sent stays as it was sent: it holds the same texts
        for row in model._default_manager.all():
            row.frozen = exchanged(row.frozen, now)
            row.save(update_fields=["frozen"])
    return filled


def exchanged(said: Any, now: dict[str, str]) -> Any:
    if isinstance(said, dict):
        return {name: exchanged(value, now) for name, value in said.items()}
    if isinstance(said, list):
        return [exchanged(value, now) for value in said]
    return now.get(said, said) if isinstance(said, str) and " " in said else said


def shortened(word: str, field: "Field[Any, Any]", number: str) -> str:
    room = (field.max_length or 10_000) - len(number)
    return word[:room] + number


def files_of(client: Client, start: str) -> dict[str, dict[str, bytes]]:
    """Return what every address answers that is no page: by kind, then by path."""
    found: dict[str, dict[str, bytes]] = defaultdict(dict)
    waiting: dict[tuple[str, str], str] = {}

    def take(path: str, answer: Any) -> None:
        assert answer.status_code < 500, path
        kind = answer.headers.get("Content-Type", "").partition(";")[0]
        if answer.status_code != 200:
            return
        found[kind][path] = body_of(answer)
        if kind != "text/html":
            return
        page = found[kind][path].decode()
        papers = [
            f"{form.action}?{urlencode(form.data | {name: value}, doseq=True)}"
            for form in forms_of(page, path)
            if form.method == "get"
            for name, value in [*form.buttons, *(("format", each) for each in form.buttons[:1])]
        ]
        for link in [*links_of(page, path), *papers]:
            bare, _, query = link.partition("?")
            if FILE.search(link):
                # one of each address, in each form it can be had
                what = dict(parse_qsl(query)).get("format", bare.rpartition(".")[2][:4])
                waiting.setdefault((resolve(bare).view_name, what), link)

    for path, answer in crawl(client, start):
        take(path, answer)
    for link in list(waiting.values()):
        take(link, client.get(link))
    return found


def test_stored_text_comes_out_as_text_everywhere(client_of_demo: Client) -> None:
    # the examples worked by hand have no quotes
    shop = Workshop.objects.annotate(quotes=Count("customers")).order_by("-quotes")[0]
    files = files_of(client_of_demo, f"/w/{shop.slug}/")
    counts = Counter({kind: len(paths) for kind, paths in files.items()})
    names = {resolve(path.partition("?")[0]).view_name for path in files["application/pdf"]}
    assert names == PAPERS
    assert counts["text/csv"] >= 8, counts
    wrong = []
    for kind, look in LOOKS.items():
        assert files[kind], kind
        for path, content in files[kind].items():
            name = resolve(path.partition("?")[0]).view_name
            wrong += [
                f"{name} {path}: {fault}"
                for fault in look(content)
                if not (fault == SHOWS_NOTHING and name in NOTHING_TYPED)
            ]
    assert not wrong, "\n".join(wrong)


def faults_of_pdf(content: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(content)
    faults = []
    if pdfium.FPDFDoc_GetJavaScriptActionCount(document.raw):
        faults.append("carries a script")
    if pdfium.FPDFDoc_GetAttachmentCount(document.raw):
        faults.append("carries a file")
    if document.get_formtype():
        faults.append("carries a form")
    text = ""
    for number, page in enumerate(document, 1):
        text += page.get_textpage().get_text_bounded()
        place, link = ctypes.c_int(0), pdfium.FPDF_LINK()
        if pdfium.FPDFLink_Enumerate(page.raw, ctypes.byref(place), ctypes.byref(link)):
            faults.append(f"has a link on page {number}")
        if pdfium.FPDFPage_GetAnnotCount(page.raw):
            faults.append(f"has an annotation on page {number}")
    said = "".join(text.split())
    if MARK not in said:
        faults.append(SHOWS_NOTHING)
    # whoever runs the text as a template or markup has no marks left
    for word in WORDS[:4]:
        bare = "".join(word.split())
        if bare.strip("<>{}()")[:12] in said and bare[:12] not in said:
            faults.append(f"shows {word[:20]} otherwise")
    return faults


def faults_of_svg(content: bytes) -> list[str]:
    root = ElementTree.fromstring(content)  # noqa: S314 - our own drawing
    bare = {element.tag.rpartition("}")[2] for element in root.iter()}
    names = {name.lower() for element in root.iter() for name in element.attrib}
    faults = [f"has a {tag}" for tag in bare & {"script", "foreignObject", "a", "image", "iframe"}]
    return faults + [f"has {name}" for name in names if name.startswith("on") or "href" in name]


def faults_of_csv(content: bytes) -> list[str]:
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    return [
        f"row {number} begins a formula: {cell[:40]}"
        for number, row in enumerate(rows, 1)
        for cell in row
        if MARK in cell and cell.startswith(FORMULA)
    ]


def faults_of_xlsx(content: bytes) -> list[str]:
    book = openpyxl.load_workbook(io.BytesIO(content))
    faults = []
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    faults.append(f"{cell.coordinate} is a formula: {cell.value!r:.40}")
                if cell.hyperlink:
                    faults.append(f"{cell.coordinate} is a link")
    return faults


def faults_of_page(content: bytes) -> list[str]:
    page = content.decode()
    signs = (f"<script>{MARK}", f"<img src=x onerror={MARK}", f'href="http://{MARK}.test')
    signs += (f'href="javascript:{MARK}', "49{%", f"&amp;lt;{MARK}&amp;gt;&amp;#x41;&amp;amp")
    return [f"has {sign}" for sign in signs if sign in page]


LOOKS: dict[str, Callable[[bytes], list[str]]] = {
    "application/pdf": faults_of_pdf,
    "image/svg+xml": faults_of_svg,
    "text/csv": faults_of_csv,
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": faults_of_xlsx,
    "text/html": faults_of_page,
}
