"""What tests/data/asvs_5_level_2.csv claims and no feature's own test shows."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.backends.base import VALID_KEY_CHARS
from django.core.exceptions import ValidationError
from django.forms import ModelForm
from django.test import Client
from weasyprint.urls import FatalURLFetchingError

from maker.accounts.models import User
from maker.documents.pdf import render_pdf
from maker.exports.answers import file_response
from maker.slow_work.doing import File
from tests.rules.addresses import all_addresses

ROOT = Path(__file__).resolve().parents[2]
APPS = ("maker", "catalogue", "pricing")


def program() -> Iterator[tuple[Path, ast.AST]]:
    """Yield every node of the program's own Python."""
    for app in APPS:
        for path in (ROOT / app).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                yield path, node


def called(node: ast.AST) -> str:
    return ast.unparse(node.func) if isinstance(node, ast.Call) else ""


def test_no_command_goes_through_a_shell() -> None:
    through = [
        (path.name, node.lineno)
        for path, node in program()
        if isinstance(node, ast.Call)
        and (
            called(node) in ("os.system", "os.popen", "subprocess.getoutput")
            or any(word.arg == "shell" for word in node.keywords)
        )
    ]
    assert not through


def test_nothing_is_run_that_was_typed() -> None:
    forbidden = ("eval", "exec", "compile", "Template", "Engine.from_string")
    assert not [(path.name, called(node)) for path, node in program() if called(node) in forbidden]


def test_only_plain_values_are_read_from_what_is_kept() -> None:
    runs_what_it_reads = ("pickle", "marshal", "shelve", "dill", "joblib")
    readers = [
        path.name
        for path, node in program()
        if (isinstance(node, ast.Import) and any(n.name in runs_what_it_reads for n in node.names))
        or (isinstance(node, ast.ImportFrom) and node.module in runs_what_it_reads)
    ]
    assert not readers


def test_no_pattern_is_built_from_what_was_typed() -> None:
    built = []
    for path, node in program():
        if called(node).startswith("re.") and called(node) != "re.escape":
            assert isinstance(node, ast.Call)
            if node.args and isinstance(node.args[0], ast.JoinedStr | ast.BinOp):
                built.append((path.name, node.lineno))
    # of names and signs that stand in the program
    assert len(built) <= 6, built


def test_no_weak_hash_protects_anything() -> None:
    weak = ("hashlib.md5", "hashlib.sha1", "hashlib.new", "random.choice", "random.random")
    assert not [(path.name, called(node)) for path, node in program() if called(node) in weak]


def test_every_form_names_its_fields() -> None:
    def below(kind: type[Any]) -> Iterator[type[Any]]:
        for each in kind.__subclasses__():
            yield each
            yield from below(each)

    all_addresses()  # loads every form
    forms = [each for each in below(ModelForm) if each.__module__.startswith(APPS)]
    open_ones = [form for form in forms if getattr(form, "_meta", None) and form._meta.model]
    assert open_ones
    assert not [form for form in open_ones if form._meta.fields in (None, "__all__")]


def test_a_paper_opens_no_address_that_was_typed(tmp_path: Path) -> None:
    secret = tmp_path / "secret.css"
    secret.write_text("h1::after { content: 'gotcha' }")
    html = (
        f"<html lang='en'><title>T</title><link rel='stylesheet' href='{secret.as_uri()}'>"
        f"<img src='{secret.as_uri()}'><img src='http://127.0.0.1:9/x'><h1>T</h1></html>"
    )
    with pytest.raises(FatalURLFetchingError, match="Error fetching"):
        render_pdf(html=html, css="")


def test_the_name_of_a_file_breaks_no_header() -> None:
    answer = file_response(File('a"\r\nSet-Cookie: b=c; ../ä.csv', "text/csv", b""))
    assert "\n" not in answer["Content-Disposition"]
    assert "Set-Cookie" not in answer.headers


def test_only_web_addresses_become_links(client: Client) -> None:
    for address in ("javascript:alert(1)", "data:text/html,x", "ftp://example.test/"):
        client.post("/w/marlow/suppliers/new/", {"name": address[:4], "website": address})
        page = client.get("/w/marlow/suppliers/").content.decode()
        assert f'href="{address}' not in page


def test_no_other_site_may_read_an_answer(client: Client) -> None:
    answer = client.get("/w/marlow/", headers={"Origin": "https://elsewhere.example"})
    assert not [name for name in answer.headers if name.startswith("Access-Control")]


def test_each_answer_says_its_kind_and_encoding(client: Client) -> None:
    for address in all_addresses():
        answer = client.get(address.path())
        if answer.streaming or answer.content:
            kind = answer.headers.get("Content-Type", "")
            assert kind, address.path()
            if kind.startswith("text/html"):
                assert "charset=utf-8" in kind


def test_claimed_proxy_headers_change_nothing(client: Client, settings: Any) -> None:
    claimed = {
        "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "elsewhere.example",
        "X-Forwarded-For": "203.0.113.7",
        "X-Forwarded-Port": "9",
        "X-Real-IP": "203.0.113.7",
        "X-HTTP-Method-Override": "DELETE",
        "X-Original-URL": "/w/else/",
        "X-Rewrite-URL": "/w/else/",
        "Forwarded": "for=203.0.113.7;host=elsewhere.example;proto=https",
    }
    plain, spoofed = client.get("/account/"), client.get("/account/", headers=claimed)
    token = re.compile(rb'csrfmiddlewaretoken" value="\w+"')
    assert token.sub(b"", plain.content) == token.sub(b"", spoofed.content)
    assert not spoofed.wsgi_request.is_secure()
    assert b"elsewhere.example" not in spoofed.content
    # behind a proxy of one's own the scheme is believed, and still no other host
    settings.BEHIND_PROXY = True
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    behind = client.get("/account/", headers=claimed)
    assert behind.wsgi_request.is_secure()
    assert b"elsewhere.example" not in behind.content
    assert behind.wsgi_request.get_host().startswith("testserver")


def test_trace_is_not_answered(client: Client) -> None:
    for path in ("/", "/account/", "/w/marlow/", "/health/"):
        answer = client.generic("TRACE", path, headers={"X-Secret": "tell-me"})
        assert b"tell-me" not in answer.content


@pytest.mark.parametrize(
    "path",
    ["/.git/config", "/static/", "/static/css/", "/manage.py", "/static/../manage.py", "/var/"],
)
def test_nothing_of_the_project_but_static_files_is_served(client: Client, path: str) -> None:
    assert client.get(path).status_code in (400, 404)


def test_passwords_may_be_long_and_of_any_signs(owner: User) -> None:
    for fine in ("correct horse battery", "ünïcödé ☂ sätze", "q" * 40 + "w" * 60):
        validate_password(fine, owner)
        owner.set_password(fine)
        assert owner.check_password(fine)
        assert not owner.check_password(fine.upper())
        assert not owner.check_password(fine[:-1])
        assert not owner.check_password(f"{fine} ")
    for bad in ("short12", "password1", "qwertyuiop", "12345678901"):
        with pytest.raises(ValidationError):
            validate_password(bad, owner)


def test_password_fields_hide_and_let_managers_fill_them(
    client: Client, anonymous_client: Client
) -> None:
    for page in (client.get("/account/"), anonymous_client.get("/sign-in/")):
        fields = re.findall(r"<input[^>]*password[^>]*>", page.content.decode())
        assert fields
        for field in fields:
            assert 'type="password"' in field
            assert re.search(r'autocomplete="(current|new)-password"', field)
            assert "onpaste" not in field


def test_passwords_are_kept_by_a_slow_hash() -> None:
    from django.conf import global_settings

    assert "PASSWORD_HASHERS" not in (ROOT / "maker" / "settings.py").read_text()
    assert global_settings.PASSWORD_HASHERS[0].endswith("PBKDF2PasswordHasher")


def test_keys_of_visits_are_long_enough(client: Client) -> None:
    key = client.session.session_key
    assert key is not None
    # 32 signs out of 36: 165 bits
    assert len(VALID_KEY_CHARS) ** len(key) >= 2**128


def test_every_page_offers_to_sign_out(client: Client) -> None:
    for path in ("/account/", "/workshops/?all", "/w/marlow/", "/w/marlow/suppliers/new/"):
        assert 'action="/sign-out/"' in client.get(path).content.decode()


# the page at the table works without network; nobody's name is among what it keeps
AT_THE_TABLE = {
    "table-store.js": {"indexedDB"},  # sales wait there until they are sent
    "table-sending.js": {"document.cookie", "JSON.parse"},  # the token of forms; what was stored
    "table-state.js": {"JSON.parse"},  # items and prices of the day, from the page itself
    "table-page.js": {"postMessage"},  # on a channel of its own to other tabs of this site
}


def test_no_script_stores_anything_in_the_browser_but_sales_at_the_table() -> None:
    for path in (ROOT / "static" / "js").glob("*.js"):
        words = path.read_text()
        stores = {"localStorage", "sessionStorage", "indexedDB", "document.cookie"}
        for store in stores - AT_THE_TABLE.get(path.name, set()):
            assert store not in words, path.name


def test_no_script_merges_what_it_is_given() -> None:
    for path in (ROOT / "static" / "js").glob("*.js"):
        words = path.read_text()
        assert "__proto__" not in words, path.name
        assert "innerHTML" not in words, path.name
        for way in {"JSON.parse", "postMessage"} - AT_THE_TABLE.get(path.name, set()):
            assert way not in words, path.name


def test_every_library_is_locked_by_its_hash() -> None:
    for name in ("requirements.txt", "requirements-test.txt"):
        text = (ROOT / name).read_text()
        packages = re.findall(r"^[a-z0-9]\S*==", text, re.MULTILINE)
        assert packages
        assert all("--hash=sha256:" in block for block in re.split(r"\n(?=[a-z0-9])", text.strip()))


def test_the_server_that_reads_requests_is_locked_to_a_version() -> None:
    assert re.search(r"^gunicorn==", (ROOT / "requirements.txt").read_text(), re.MULTILINE)
