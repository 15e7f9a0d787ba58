"""What the person who runs the app says in environment variables; a wrong one stops the start."""

import logging
import os
from collections.abc import Callable, Sequence
from typing import TypeVar

from maker.setup.place import MachineNotReady

Value = TypeVar("Value")
YES = ("1", "true", "yes", "on", "y", "t")
NO = ("0", "false", "no", "off", "n", "f")


class WrongSetting(MachineNotReady):
    """A variable says something that cannot be meant."""


def text(name: str, default: str) -> str:
    """Return the words as they stand."""
    return os.environ.get(name, default)


def switch(name: str, default: bool) -> bool:
    """Return whether something is on."""
    said = os.environ.get(name)
    if said is None:
        return default
    if said.lower() in YES:
        return True
    if said.lower() in NO:
        return False
    raise WrongSetting(f"{name} is {said!r}: use 1 for on or 0 for off.", where=name)


def words(name: str, default: Sequence[str]) -> list[str]:
    """Return what is between commas."""
    said = os.environ.get(name)
    if said is None:
        return list(default)
    return [word.strip() for word in said.split(",")] if said else []


def one_of(name: str, default: str, choices: Sequence[str]) -> str:
    """Return a word that is one of the choices."""
    said = os.environ.get(name, default)
    if said not in choices:
        known = f"{', '.join(choices[:-1])} or {choices[-1]}"
        raise WrongSetting(f"{name} is {said!r}: use {known}.", where=name)
    return said


def whole_number(name: str, default: int, least: int, most: int) -> int:
    """Return a whole number within bounds."""
    said = os.environ.get(name, str(default))
    is_number = said.isascii() and said.isdecimal() and len(said) <= len(str(most))
    if not (is_number and least <= int(said) <= most):
        raise WrongSetting(f"{name} is {said!r}: use a number from {least} to {most}.", where=name)
    return int(said)


def days(name: str, default: int) -> int:
    """Return a number of days, from one to ten years."""
    return whole_number(name, default, 1, 3650)


def log_level(name: str, default: int) -> int:
    """Return how much is logged, said by a level's name or number."""
    said = os.environ.get(name)
    if said is None:
        return default
    if said.isdecimal():
        return int(said)
    level = logging.getLevelNamesMapping().get(said.upper())
    if level is None:
        raise WrongSetting(
            f"{name} is {said!r}: use DEBUG, INFO, WARNING, ERROR or CRITICAL.", where=name
        )
    return level


def read(name: str, default: str, parse: Callable[[str], Value], remedy: str) -> Value:
    """Return what `parse` makes of the words; the refusal keeps them, for they may hold a password.

    `parse` says no with a ValueError.
    """
    try:
        return parse(os.environ.get(name, default))
    except ValueError:
        # not the words of the error either: the address is in some of them
        raise WrongSetting(f"{name} cannot be used: {remedy}", where=name) from None
