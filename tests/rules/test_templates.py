"""What no template may hold: inline script or style, handlers in tags, addresses outside."""

import re
from pathlib import Path

import pytest
from django.template import engines
from django.template.loader import get_template

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
SCRIPTS = sorted((ROOT / "static" / "js").glob("*.js"))
STYLES = sorted((ROOT / "static" / "css").glob("*.css"))

FORBIDDEN = {
    "inline style": re.compile(r"\sstyle\s*=", re.I),
    "style element": re.compile(r"<style\b", re.I),
    "inline script": re.compile(r"<script\b(?![^>]*\bsrc=)", re.I),
    "handler in a tag": re.compile(r"<[a-z][^>]*\son[a-z]+\s*=", re.I),
    "script in an address": re.compile(r"(?:href|src|action)\s*=\s*[\"']?\s*javascript:", re.I),
    "address outside": re.compile(
        r"(?:href|src|action|srcset|poster|data|hx-\w+)\s*=\s*[\"']?\s*(?:https?:)?//", re.I
    ),
    "text marked safe": re.compile(r"{%\s*autoescape\s+off"),
}
# Comments for people who edit the file never reach a browser.
COMMENT = re.compile(r"{%\s*comment.*?endcomment\s*%}|{#.*?#}", re.S)


def short(path: Path) -> str:
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("path", TEMPLATES, ids=short)
def test_template_holds_nothing_inline_and_no_address_outside(path: Path) -> None:
    text = COMMENT.sub("", path.read_text(encoding="utf-8"))
    found = [what for what, pattern in FORBIDDEN.items() if pattern.search(text)]
    assert not found


@pytest.mark.parametrize("path", TEMPLATES, ids=short)
def test_template_can_be_parsed(path: Path) -> None:
    assert get_template(str(path.relative_to(ROOT / "templates")))


@pytest.mark.parametrize("path", TEMPLATES, ids=short)
def test_template_sums_nothing(path: Path) -> None:
    text = COMMENT.sub("", path.read_text(encoding="utf-8"))
    assert not re.search(r"\|(?:add|divisibleby|widthratio)\b|{%\s*widthratio\b", text)


# who has the key in the address may do all that its form does, and no cookie counts: see the views
WITHOUT_A_TOKEN = {
    "templates/pricing/customer_pages/page.html",
    "templates/pricing/customer_pages/_order.html",
}


@pytest.mark.parametrize("path", TEMPLATES, ids=short)
def test_every_form_that_posts_carries_its_token(path: Path) -> None:
    if short(path) in WITHOUT_A_TOKEN:
        return
    text = COMMENT.sub("", path.read_text(encoding="utf-8"))
    forms = re.findall(r"<form\b[^>]*method=[\"']?post.*?</form>", text, re.S | re.I)
    assert all("{% csrf_token %}" in form or 'name="csrfmiddlewaretoken"' in form for form in forms)


@pytest.mark.parametrize("path", [*SCRIPTS, *STYLES], ids=short)
def test_script_and_style_ask_no_other_host(path: Path) -> None:
    text = re.sub(
        r"/\*.*?\*/|(?<![:\"'])//[^\n]*", "", path.read_text(encoding="utf-8"), flags=re.S
    )
    text = text.replace("http://www.w3.org/", "")
    assert not re.search(r"https?://|@import|\beval\(|new Function|innerHTML", text)


def test_the_patterns_find_what_they_are_for() -> None:
    for bad in (
        '<p style="color:red">',
        "<style>p{}</style>",
        "<script>alert(1)</script>",
        '<a href="#" onclick="go()">',
        '<a href="javascript:go()">',
        '<img src="//elsewhere.example/a.png">',
        '<form action="https://elsewhere.example/">',
        "{% autoescape off %}",
    ):
        assert any(pattern.search(bad) for pattern in FORBIDDEN.values()), bad
    assert engines["django"].engine.autoescape
