"""`bench` measures in a database of its own and shows each time beside its baseline."""

import subprocess
import sys

import pytest

from maker.management.commands.bench import HEADING, benchmark_names, missed_line, row_line
from maker.setup.place import ROOT
from tests.benchmarks import Row, measured
from tests.benchmarks.bare_table import ADDRESS, open_bare_table, site_with_bare_table
from tests.maker.setup_scene import clean_env
from tests.patience import PATIENCE_S


def bench(*words: str, **settings: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "bench", *words],
        env=clean_env(**settings),
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )


@pytest.mark.slow
def test_the_user_s_own_database_is_never_opened(tmp_path):
    mine = tmp_path / "pleat.sqlite3"
    mine.write_bytes(b"not even a database")
    answer = bench("--only", "start", "--once", DATA_DIR=str(tmp_path))
    assert answer.returncode == 0, answer.stderr
    assert "manage.py prepare" in answer.stdout
    assert mine.read_bytes() == b"not even a database"


def test_an_unknown_benchmark_is_refused_with_the_known_ones(tmp_path):
    answer = bench("--only", "nothing-like-it", DATA_DIR=str(tmp_path))
    assert answer.returncode == 1
    assert f"Known: {', '.join(benchmark_names())}." in answer.stderr


def test_instances_that_are_not_there_are_refused(tmp_path):
    answer = bench("--instances", str(tmp_path / "none"), DATA_DIR=str(tmp_path))
    assert answer.returncode == 1
    assert "does not exist" in answer.stderr


def test_a_row_shows_time_baseline_and_ratio():
    line = row_line(Row("stock list", 0.012, 0.004, "60 materials"))
    assert line.split() == [
        *("stock", "list", "12.00", "ms", "4.00", "ms", "3.00", "60", "materials")
    ]


def test_a_row_without_a_baseline_shows_no_ratio():
    assert row_line(Row("500 tags", 2)).split() == ["500", "tags", "2000.00", "ms"]


def test_both_calls_are_made_in_turn():
    calls = []
    measured("x", lambda: calls.append("it"), lambda: calls.append("base"), repeats=3, warm_up=1)
    assert calls == ["base", "it"] * 4


def test_what_takes_longer_than_it_may_is_marked_and_counted():
    rows = [
        Row("quick", 0.003, 0.001, at_most=3),
        Row("slow", 0.004, 0.001, at_most=3, note="6 queries"),
        Row("slower", 0.05, 0.001, at_most=10),
        Row("without an aim", 9, 0.001),
    ]
    quick, slow, slower, free = map(row_line, rows)
    assert quick.split() == ["quick", "3.00", "ms", "1.00", "ms", "3.00", "3"]
    assert slow.split() == ["slow", "4.00", "ms", "1.00", "ms", "4.00", "3", "!", "6", "queries"]
    assert slower.endswith("50.00    10 !")
    assert "!" not in free
    assert slow.index("6 queries") == HEADING.index("note")
    said = "2 of 3 take longer than they may (!), most of all slower: 50.00 times, aim 10"
    assert missed_line(rows) == said
    assert missed_line(rows[:1]) == "0 of 1 take longer than they may (!)"


@pytest.mark.django_db
def test_the_baseline_is_a_bare_table_of_25_rows(client):
    with site_with_bare_table():
        open_bare_table(client)
        page = client.get(ADDRESS).content.decode()
    assert page.count("<td") == 25 * 6
    assert "Material 24" in page
    assert "Material 25" not in page
    assert "<nav" not in page
