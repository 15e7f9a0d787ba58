"""The documents name every command and every setting, and none that is not there."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

ROOT = Path(__file__).resolve().parents[2]
PAGES = ("README.md", "DEVELOPERS.md")
# pages that stand beside the code they are about
BESIDE = sorted(
    str(path.relative_to(ROOT))
    for folder in ("maker", "catalogue", "pricing", "templates")
    for path in (ROOT / folder).rglob("README.md")
)
DOCUMENTS = {name: (ROOT / name).read_text(encoding="utf-8") for name in (*PAGES, *BESIDE)}
ALL = "\n".join(DOCUMENTS.values())
# Before Django is installed; see maker/setup/commands.py.
BEFORE_DJANGO = {"setup", "start", "verify"}
OURS = sorted(
    BEFORE_DJANGO
    | {
        path.stem
        for app in ("maker", "catalogue", "pricing")
        for path in (ROOT / app / "management" / "commands").glob("[!_]*.py")
    }
)


def settings_read() -> list[str]:
    """Return the environment variables that maker/settings.py reads."""
    text = (ROOT / "maker" / "settings.py").read_text(encoding="utf-8")
    return sorted(set(re.findall(r"env\.\w+\(\s*\"([A-Z_]+)\"", text)))


@pytest.mark.parametrize("command", OURS)
def test_every_command_is_documented(command: str) -> None:
    assert re.search(rf"(?:manage\.py |`){command}\b", ALL), f"say in README.md what {command} does"


def test_every_command_that_is_named_is_there() -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", ALL)) - {"help"}
    assert named
    assert named <= {*OURS, *get_commands()}


@pytest.mark.parametrize("variable", settings_read())
def test_every_setting_is_documented(variable: str) -> None:
    assert f"`{variable}`" in DOCUMENTS["README.md"]


def test_the_settings_are_found() -> None:
    assert {"DATABASE_URL", "DEBUG", "SECRET_KEY"} <= set(settings_read())


def test_every_file_that_is_named_is_there() -> None:
    named = set(
        re.findall(r"`((?:maker|catalogue|pricing|templates|static|tests|fixtures)/[\w./-]+)`", ALL)
    )
    missing = [name for name in named if not (ROOT / name).exists()]
    assert not missing


def test_the_page_for_developers_is_read_in_an_hour_and_leads_to_every_other() -> None:
    page = DOCUMENTS["DEVELOPERS.md"]
    assert len(page) <= 12_000
    assert [name for name in BESIDE if f"`{name}`" not in page] == []
