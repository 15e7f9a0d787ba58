"""A database that is damaged, gone, locked or replaced is named, and comes back by itself."""

from pathlib import Path

import pytest

from tests.small_disk import on_small_disk

pytestmark = pytest.mark.slow
DAMAGED = "The database is damaged"
AWAY = "The database does not answer"
LOCKED = "The data folder can't be written, nothing was saved"


def test_sixty_overwritten_pages_are_seen_by_health_and_named_by_pages(tmp_path: Path) -> None:
    told = on_small_disk("damaged", tmp_path)
    assert told["of pages"] > 200
    status, (wrong,) = told["health"]
    assert status == 503
    assert wrong.startswith(f"{DAMAGED}: stop the program and restore a backup.")
    assert {status for status, _ in told["answers"]} <= {200, 302, 404, 503}
    assert [503, DAMAGED] in told["answers"]
    code, (line,) = told["start"]
    assert code == 1
    assert "cannot be used" in line
    assert "restore a backup" in line


def test_a_file_that_is_no_database_any_more(tmp_path: Path) -> None:
    told = on_small_disk("damaged_head", tmp_path)
    assert told["page"] == [503, DAMAGED]
    assert told["health"][0] == 503
    assert told["start"][0] == 1


def test_a_disk_that_only_lets_itself_be_read(tmp_path: Path) -> None:
    told = on_small_disk("read_only", tmp_path)
    assert told["page"][0] == 200
    assert told["post"] == [503, LOCKED]
    assert told["name"] == "Before"
    assert told["post after"][0] == 302
    assert told["name after"] == "After"
    assert told["closed"] == [503, LOCKED]
    assert told["start"][0] == 1
    assert told["open again"][0] == 200


def test_a_file_that_is_gone_is_not_made_anew_and_a_replaced_one_is_opened(tmp_path: Path) -> None:
    told = on_small_disk("file_away", tmp_path)
    assert told["page"] == told["anonymous"] == [503, AWAY]
    assert told["health"][0] == 503
    assert not told["made anew"]
    code, (line,) = told["start"]
    assert code == 1
    assert "put it back or restore a backup" in line
    assert told["back"][0] == 200
    assert told["name"] == "Before"
    assert told["name in the copy"] == "Before"
    assert told["post"] == [503, AWAY]
    assert told["post to it"][0] == 302
