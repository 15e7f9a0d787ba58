"""The order or fair an expense belongs to, told by who knows those; light, loaded at each start."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from catalogue.expenses.models import Expense
from maker.workshop.models import Workshop


@dataclass(frozen=True, slots=True)
class BelongsTo:
    """The order or fair of an expense: its key in a form, its name, where its page is."""

    key: str
    name: str
    address: str


class Owners(Protocol):
    """A kind of thing expenses belong to; its keys begin with `kind` and a colon."""

    kind: str
    label: str
    purpose: Expense.Purpose

    def choices(self, workshop: Workshop, current: str) -> Sequence[tuple[str, str]]:
        """Return key and name of what can be chosen, with the current one."""

    def of(self, expense: Expense) -> BelongsTo | None:
        """Return what an expense belongs to."""

    def give(self, workshop: Workshop, expense: Expense, key: str) -> None:
        """Let an expense belong to the row of a key, or with "" to none."""

    def move(self, old: Expense, new: Expense) -> None:
        """Let an expense that stands for another belong to what that belonged to."""


# who knows orders or fairs adds them here when the program starts
OWNERS: list[Owners] = []


def choices_of(workshop: Workshop, current: str) -> list[Any]:
    """Return what a form offers, kind by kind."""
    groups = [(kind.label, list(kind.choices(workshop, current))) for kind in OWNERS]
    return [("", "None"), *(group for group in groups if group[1])]


def belongs_to(expense: Expense) -> BelongsTo | None:
    """Return the order or fair of an expense (a query for each kind)."""
    if not expense.pk:
        return None
    return next((found for kind in OWNERS if (found := kind.of(expense))), None)


def purpose_of(key: str) -> Expense.Purpose | None:
    """Return what an expense is for that belongs to the row of a key."""
    return next((one.purpose for one in OWNERS if key.startswith(f"{one.kind}:")), None)


def give(workshop: Workshop, expense: Expense, key: str) -> None:
    """Let an expense belong to one order or fair, or to none."""
    for one in OWNERS:
        one.give(workshop, expense, key if key.startswith(f"{one.kind}:") else "")


def move(old: Expense, new: Expense) -> None:
    """Let a row that stands for another belong to what that belonged to."""
    for one in OWNERS:
        one.move(old, new)
