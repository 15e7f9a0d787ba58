"""The list of what a safe program must do is whole, and each claim names a test that exists."""

import re
from collections import Counter
from pathlib import Path

from tests.asvs import CHAPTERS, STATES, Requirement, requirements, told

ROOT = Path(__file__).resolve().parents[1]
# OWASP ASVS 5.0.0, the CSV of its release: 70 requirements of level 1 and 183 of level 2
BY_LEVEL = {1: 70, 2: 183}


def test_it_has_every_requirement_of_levels_one_and_two_once_and_in_order() -> None:
    every = requirements()
    numbers = [each.number for each in every]
    assert numbers == sorted(set(numbers))
    assert Counter(each.level for each in every) == BY_LEVEL
    assert {number[0] for number in numbers} == set(CHAPTERS)


def test_each_state_is_one_of_three_and_has_its_reason_or_test() -> None:
    for each in requirements():
        assert each.state in STATES, each
        assert bool(each.test) is (each.state == "met"), each
        assert each.reason or each.state == "met", each
        assert each.words, each


def missing(each: Requirement) -> bool:
    file, _, function = each.test.partition("::")
    path = ROOT / file
    return not path.is_file() or not re.search(
        rf"^(?:async )?def {re.escape(function)}\(", path.read_text(), re.MULTILINE
    )


def test_each_test_it_names_exists() -> None:
    assert not [each for each in requirements() if each.test and missing(each)]


def test_the_command_counts_them_all() -> None:
    last = told(only_not_met=True).splitlines()[-1].split()
    assert last[:2] == ["All", str(sum(BY_LEVEL.values()))]
    assert sum(map(int, last[2:])) == sum(BY_LEVEL.values())
