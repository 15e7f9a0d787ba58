"""What came with each version of the program."""

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

FIRST = "0.1.0"


@dataclass(frozen=True, slots=True)
class Version:
    """One version and what was new in it."""

    number: str
    on: date
    changes: tuple[str, ...]


@cache
def versions() -> tuple[Version, ...]:
    """Return all versions, newest first."""
    with (Path(__file__).parent / "changes.toml").open("rb") as file:
        rows = tomllib.load(file)["version"]
    return tuple(Version(row["number"], row["on"], tuple(row["changes"])) for row in rows)


def rank(number: str) -> tuple[int, ...]:
    """Return what versions are put in order by: 0.10.0 comes after 0.9.0."""
    return tuple(int(part) for part in number.split("."))


def newer_than(number: str) -> list[Version]:
    """Return the versions after this one, newest first."""
    return [version for version in versions() if rank(version.number) > rank(number)]
