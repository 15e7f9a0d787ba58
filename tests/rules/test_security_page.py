"""docs/security.md says what the program does: held against models, keys, limits, logs."""

import ast
import re
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import global_settings
from django.core.management import CommandError, call_command
from django.utils.module_loading import import_string

import catalogue.purchases.line_forms
import maker.calc.amounts
import maker.documents.grid
import maker.documents.spreadsheet
import maker.files.cleaning
import maker.files.pdf_checking
import maker.heavy_pages.handing_over
import maker.settings
import maker.slow_work.services
import pricing.customer_pages.services
import pricing.price_tags.services
import pricing.quotes.services
from maker.accounts.models import CodeApp, User
from maker.accounts.second_steps import opened, sealed
from maker.activity.models import Event
from maker.mail.models import MailServer
from maker.mail.services import PURPOSE, save_mail_server
from maker.sealing import SealBroken, unseal
from maker.workshop.models import Workshop
from tests.factories import make_recipe
from tests.pricing.quotes import make_line, make_quote, sent_quote

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
MB = 1024 * 1024


def rows(heading: str) -> list[list[str]]:
    """Return the cells of every table row below a heading of the page."""
    part = PAGE.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]
    lines = [line.strip("|").split("|") for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line] for line in lines]


def test_every_kind_of_row_is_in_one_class() -> None:
    classes = {row[0]: row[2] for row in rows("What the data are") if len(row) == 3}
    named = [
        name
        for kind in ("secrets", "people", "business", "workings")
        for name in re.findall(r"\b[A-Z]\w+", classes[kind])
    ]
    there = {
        model.__name__: model._meta.app_label
        for model in apps.get_models()
        if not model._meta.abstract
    }
    assert len(named) == len(set(named))
    assert set(named) <= set(there)
    rest = {name for name in set(there) - set(named) if there[name] not in ("catalogue", "pricing")}
    assert not rest, "which class are these in?"


def test_each_class_says_how_it_is_protected() -> None:
    told = [row[0] for row in rows("What the data are") if len(row) == 4]
    assert told[2:] == ["secrets", "people", "business", "workings"]


def test_a_link_shows_these_fields_and_no_others(workshop: Workshop, owner: User) -> None:
    quote = make_quote(workshop)
    make_line(quote, make_recipe(workshop))
    public = sent_quote(quote, owner).frozen["public"]
    (customer,) = [
        row for row in rows("Who may see and change what") if row[0] == "customer with a link"
    ]
    of_quote, of_line = customer[1].split("; of a line:")
    assert set(re.findall(r"`(\w+)`", of_quote)) == set(public)
    assert set(re.findall(r"`(\w+)`", of_line)) == set(public["lines"][0])


LIMITS: dict[str, tuple[Any, ...]] = {
    "messages to a quote; with what is said of its order": (
        pricing.customer_pages.services.MOST_MESSAGES,
        pricing.customer_pages.services.MOST_SAID,
    ),
    "an amount or a number typed": (maker.calc.amounts.MOST,),
    "a picture or a PDF; pages of a PDF": (
        maker.files.cleaning.MOST_BYTES // MB,
        maker.files.pdf_checking.MOST_PAGES,
    ),
    "a spreadsheet; its rows, columns, cells": (
        maker.documents.grid.MOST_BYTES // MB,
        maker.documents.grid.MOST_ROWS_READ,
        maker.documents.grid.MOST_COLUMNS,
        maker.documents.grid.MOST_CELLS,
    ),
    "rows of an export": (maker.documents.spreadsheet.MOST_ROWS_WRITTEN,),
    "lines of a receipt, lines of a quote": (
        catalogue.purchases.line_forms.MOST_LINES,
        pricing.quotes.services.MOST_LINES,
    ),
    "price tags in one go": (pricing.price_tags.services.MOST_TAGS,),
    "slow work of a workshop under way": (maker.slow_work.services.MOST_UNDER_WAY,),
    "heavy pages waiting at once": (maker.heavy_pages.handing_over.MOST_AT_ONCE,),
    "sent by one person in a minute, to each process": (maker.settings.CHANGES_A_MINUTE,),
}


@pytest.mark.parametrize("what", LIMITS)
def test_the_limits_are_those_of_the_program(what: str) -> None:
    (said,) = [row[1] for row in rows("Limits") if row[0] == what]
    numbers = [int(each.replace(",", "")) for each in re.findall(r"\d+(?:,\d{3})*", said)]
    assert numbers == [int(each) for each in LIMITS[what]]


def test_every_kind_of_activity_and_every_logger_is_named() -> None:
    said = " ".join(PAGE.split("## What is written down", 1)[1].split())
    assert not [kind.label for kind in Event.Kind if kind.label not in said]
    used = set()
    for app in ("maker", "catalogue", "pricing"):
        for path in (ROOT / app).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Call) and ast.unparse(node.func) == "logging.getLogger":
                    own = ".".join(path.relative_to(ROOT).with_suffix("").parts)
                    used.add(ast.unparse(node.args[0]).strip("'").replace("__name__", own))
    # of libraries: told to be quiet, not spoken through
    ours = {name for name in used if name.split(".")[0] in ("maker", "catalogue", "pricing")}
    assert ours
    assert not [name for name in ours if f"`{name}`" not in said]


def test_libraries_have_their_days() -> None:
    assert re.search(r"within 7 days\b.*within 30 days\b", PAGE, re.DOTALL)


OLD = "the old key, which somebody else may know by now"


def test_a_secret_key_is_changed_without_losing_what_it_sealed(owner: User, settings: Any) -> None:
    new = settings.SECRET_KEY
    settings.SECRET_KEY = OLD
    CodeApp.objects.create(
        user=owner, sealed_secret=sealed(b"y" * 20), last_counter=0, added_at="2026-01-01 00:00Z"
    )
    save_mail_server(
        password="tide and time",
        host="mail.example.test",
        port=587,
        username="penny",
        security="starttls",
        from_address="penny@example.test",
    )
    settings.SECRET_KEY = new
    before = CodeApp.objects.get().sealed_secret
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("seal_again")
    assert CodeApp.objects.get().sealed_secret == before

    settings.SECRET_KEY_FALLBACKS = [OLD]
    assert opened(CodeApp.objects.get().sealed_secret) == b"y" * 20
    call_command("seal_again")
    settings.SECRET_KEY_FALLBACKS = []
    assert opened(CodeApp.objects.get().sealed_secret) == b"y" * 20
    assert unseal(MailServer.objects.get().sealed_password, PURPOSE) == "tide and time"
    with pytest.raises(SealBroken):
        unseal(before, "one-time codes")


def test_without_secrets_there_is_nothing_to_seal(db: None, capsys: Any) -> None:
    call_command("seal_again")
    assert "of 0 people, no password" in capsys.readouterr().out


def test_passwords_are_hashed_as_the_page_says() -> None:
    # the tests choose a quick one; the program itself chooses none, so Django's first one is used
    assert "PASSWORD_HASHERS" not in vars(maker.settings)
    first, *_ = map(import_string, global_settings.PASSWORD_HASHERS)
    assert first.algorithm == "pbkdf2_sha256"
    (said,) = [row[3] for row in rows("Keys") if row[0] == "passwords"]
    assert said.startswith("PBKDF2-SHA-256")
