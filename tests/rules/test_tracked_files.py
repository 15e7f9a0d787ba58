"""What no committed file may hold: package registries, paths of one machine, keys."""

import ast
import re
import subprocess
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# Licences and minified code of others are kept as they came.
FOREIGN = ("tests/pages/vendor/", "static/vendor/", "static/fonts/")
BINARY = {".woff2", ".png", ".pdf", ".ico", ".jpg", ".xlsx", ".gz", ".zip"}
# Written in halves, so that this file passes its own check.
REGISTRIES = [
    "py" + "pi.org",
    "python" + "hosted.org",
    "registry.npm" + "js.org",
    "unp" + "kg.com",
    "jsde" + "livr",
    "files.py" + "thonhosted",
    "conda" + ".anaconda",
    "index" + "-url",
    "prox" + "y.golang.org",
]
PATHS = re.compile(r"(?<![\w.<>{}-])/(?:" + "wo" + "rk|" + "ro" + "ot|home/" + r"[a-z]+)/[\w.-]")
KEYS = re.compile(r"-----BEGIN [A-Z ]*PRIVATE KEY-----|\bAKIA[0-9A-Z]{16}\b|\bgh[pousr]_\w{36}")


@cache
def tracked_texts() -> dict[str, str]:
    done = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    names = done.stdout.split("\0") if done.returncode == 0 else _names_without_git()
    texts = {}
    for name in filter(None, names):
        path = ROOT / name
        if name.startswith(FOREIGN) or path.suffix in BINARY or not path.is_file():
            continue
        texts[name] = path.read_text(encoding="utf-8")
    return texts


def _names_without_git() -> list[str]:
    """Return the files of a copy without history, such as an unpacked archive."""
    ignored = [
        line.rstrip("/")
        for line in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    return [
        str(path.relative_to(ROOT))
        for path in ROOT.rglob("*")
        if path.is_file()
        and not any(
            fnmatch(part, pattern) for part in path.relative_to(ROOT).parts for pattern in ignored
        )
    ]


def test_there_is_something_to_look_at() -> None:
    assert {"manage.py", "pyproject.toml", "maker/settings.py"} <= set(tracked_texts())


def test_no_file_names_a_package_registry() -> None:
    found = [
        f"{name}: {host}"
        for name, text in tracked_texts().items()
        for host in REGISTRIES
        if host in text
    ]
    assert not found


def test_no_file_names_a_path_of_one_machine() -> None:
    found = [
        f"{name}: {match[0]}"
        for name, text in tracked_texts().items()
        for match in PATHS.finditer(text)
    ]
    assert not found


def test_no_file_holds_a_key() -> None:
    assert not [name for name, text in tracked_texts().items() if KEYS.search(text)]


def test_every_module_begins_with_a_sentence() -> None:
    without = [
        name
        for name, text in tracked_texts().items()
        if name.endswith(".py")
        and "/migrations/" not in name
        and not (ast.get_docstring(ast.parse(text)) or "").partition("\n\n")[0].endswith((".", ":"))
    ]
    assert not without


def test_silenced_rules_say_which_and_why() -> None:
    bare = re.compile(r"#\s*" + r"noqa(?!: ?[A-Z]+\d+)|#\s*type:\s*" + r"ignore(?!\[)")
    found = [
        f"{name}:{number}"
        for name, text in tracked_texts().items()
        if name.endswith(".py")
        for number, line in enumerate(text.splitlines(), 1)
        if bare.search(line)
    ]
    assert not found


def test_the_patterns_find_what_they_are_for() -> None:
    assert PATHS.search("see /wo" + "rk/x")
    assert PATHS.search("'/ro" + "ot/.cache'")
    assert not PATHS.search("https://example.test/work/list")
    assert KEYS.search("-----BEGIN RSA PRIVATE " + "KEY-----")
