"""What maker/accounts/README.md says of the ways in is what the program does."""

import re
from datetime import timedelta

from django.conf import settings

from maker.accounts.guessing import password_counters

PAGE = (settings.BASE_DIR / "maker/accounts/README.md").read_text(encoding="utf-8")
WITHIN = {"15 minutes": timedelta(minutes=15), "a day": timedelta(days=1)}


def test_the_limits_of_guessing_are_written_down_as_they_are() -> None:
    rows = re.findall(r"^\| [^|]+ \| (\d+) \| (15 minutes|a day) \|$", PAGE, re.MULTILINE)
    written = sorted((int(most), WITHIN[within]) for most, within in rows)
    known = password_counters("a@b.test", "192.0.2.1", "browser")
    unknown = password_counters("a@b.test", "192.0.2.1", "")
    assert written == sorted((each.most, each.within) for each in known + unknown)


def test_every_way_in_is_written_down_with_what_protects_it() -> None:
    table = PAGE.partition("| way in | protected by |")[2].partition("\n\n")[0]
    for way in ("password", "passkey alone", "first link", "link by letter", "create_owner"):
        assert way in table
    for module in re.findall(r"`(\w+\.py)`", table):
        assert (settings.BASE_DIR / "maker/accounts" / module).is_file(), module


def test_how_many_visits_at_once_are_allowed_is_written_down() -> None:
    assert "signed in with any number of browsers; each is listed" in " ".join(PAGE.split())
