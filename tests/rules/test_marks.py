"""Tests that touch the database are marked by themselves: PostgreSQL runs those and no others."""

from pathlib import Path

import pytest

from maker.setup.place import ROOT
from maker.setup.verify import checks


def is_marked(request):
    return request.node.get_closest_marker("database") is not None


def test_a_fixture_that_asks_for_the_database_marks(workshop, request):
    assert is_marked(request)


def test_a_fixture_behind_a_fixture_marks(anonymous_client, request):
    assert is_marked(request)


@pytest.mark.django_db
def test_the_mark_of_the_database_marks(request):
    assert is_marked(request)


def test_what_asks_for_no_database_is_not_marked_and_cannot_reach_it(request):
    from maker.workshop.models import Workshop

    assert not is_marked(request)
    with pytest.raises(RuntimeError, match="Database access not allowed"):
        Workshop.objects.exists()


def test_verify_leaves_no_folder_out_that_has_what_it_asks_for() -> None:
    left_out = {
        Path(word.partition("=")[2]).name
        for check in checks(ROOT)
        if "office" in check.words
        for word in check.words
        if word.startswith("--ignore=")
    }
    assert left_out == {"calc", "pages"}
    with_office = {
        path.relative_to(ROOT / "tests").parts[0]
        for path in (ROOT / "tests").rglob("test_*.py")
        if "tests.office" in path.read_text(encoding="utf-8")
    } - {"rules"}
    assert with_office == {"catalogue", "maker", "pricing"}


def test_calc_asks_for_no_database() -> None:
    asking = [
        path.name
        for path in (ROOT / "tests" / "calc").rglob("*.py")
        if any(word in path.read_text(encoding="utf-8") for word in ("django_db", "workshop: W"))
    ]
    assert asking == []
