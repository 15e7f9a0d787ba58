"""What no committed file may hold: package registries, paths of one machine, keys."""

import ast
import os
import re
import shutil
import subprocess
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

import pytest

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
    texts = {}
    for name in names_of_files(ROOT):
        path = ROOT / name
        if name.startswith(FOREIGN) or path.suffix in BINARY or not path.is_file():
            continue
        texts[name] = path.read_text(encoding="utf-8")
    return texts


def names_of_files(root: Path) -> list[str]:
    """Return what git tracks; without git or without history, what is there and not ignored."""
    return _names_from_git(root) or _names_without_git(root)


def _names_from_git(root: Path) -> list[str]:
    try:
        done = subprocess.run(
            ["git", "ls-files", "-z"], cwd=root, capture_output=True, text=True, check=False
        )
    except FileNotFoundError:
        return []
    # an unpacked archive inside somebody's own repository is answered with nothing at all
    return [name for name in done.stdout.split("\0") if name] if done.returncode == 0 else []


def _names_without_git(root: Path) -> list[str]:
    ignored = [
        ".git",
        *(
            line.rstrip("/")
            for line in (root / ".gitignore").read_text(encoding="utf-8").splitlines()
            if line and not line.startswith("#")
        ),
    ]

    def is_kept(name: str) -> bool:
        return not any(fnmatch(name, pattern) for pattern in ignored)

    names = []
    for folder, folders, files in os.walk(root):
        folders[:] = filter(is_kept, folders)
        kept = filter(is_kept, files)
        names += [str((Path(folder) / name).relative_to(root)) for name in kept]
    return sorted(names)


def test_there_is_something_to_look_at() -> None:
    assert {"manage.py", "pyproject.toml", "maker/settings.py"} <= set(tracked_texts())


@pytest.mark.parametrize("git", ["not installed", "no history", "history of another folder"])
def test_a_copy_without_git_is_looked_at_as_it_lies_there(
    git: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "unpacked"
    kept = [".gitignore", "manage.py", "maker/calc/money.py", "tests/variety.py"]
    left_out = [".git/config", ".venv/bin/python", "var/secret_key", "maker/calc/old.pyc"]
    for name in kept + left_out:
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("# comment\n\n.venv/\nvar/\n*.pyc\n")
    if git == "not installed":
        monkeypatch.setenv("PATH", str(tmp_path))
    else:
        shutil.rmtree(root / ".git")
    if git == "history of another folder":
        if shutil.which("git") is None:
            pytest.skip("git is not installed here")
        subprocess.run(["git", "init", "-q", str(tmp_path)], check=True)
    assert names_of_files(root) == sorted(kept)


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
    assert not PATHS.search("https://example.test/wo" + "rk/list")
    assert KEYS.search("-----BEGIN RSA PRIVATE " + "KEY-----")
