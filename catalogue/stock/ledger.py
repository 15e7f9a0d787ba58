"""What the ledgers of stock and of offcuts share: what an entry is, undoing it, the second click.

A ledger only grows: a mistake is reversed by a new entry of the same day, and both stay. The same
form sent twice makes one entry. Ask both behind the lock of what moves: a double click sends two
requests at once.
"""

import uuid
from typing import Any, Self, TypeVar

from django.db import models
from django.db.models.lookups import IsNull

from maker.calc.refusal import Refusal

REVERSED = "reversed"

Entry = TypeVar("Entry", bound=models.Model)


class _Read(models.Func):
    """A column that is read in each row, not looked for.

    SQLite takes the index of what is taken back for the best: its values are unique. But nearly
    all are NULL, and looking for those reads every ledger of the database.
    """

    arity = 1
    template = "%(expressions)s"

    def as_sqlite(self, compiler: Any, connection: Any, **options: Any) -> Any:
        """Keep the column from its index, as SQLite's own page on its planner has it."""
        return self.as_sql(compiler, connection, template="+%(expressions)s", **options)


_STANDS = models.Q(IsNull(_Read("takes_back"), True), taken_back_by__isnull=True)


class LedgerQuerySet(models.QuerySet[Entry]):
    """Entries of a ledger."""

    def standing(self) -> Self:
        """Those that count: neither taken back nor taking another back."""
        return self.filter(_STANDS)

    def with_standing(self) -> Self:
        """With `counts`: whether each still moves anything."""
        stands = models.ExpressionWrapper(_STANDS, output_field=models.BooleanField())
        return self.annotate(counts=stands)

    def newest_first(self) -> Self:
        """The last entered first."""
        return self.order_by("-moved_on", "-pk")


class LedgerEntry(models.Model):
    """One movement: when, why, by whom, and the form it came from.

    Each ledger adds `kind`, what moves, and `takes_back`, the entry that this one takes back.
    """

    moved_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True)
    made_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        abstract = True


class CannotBeTakenBack(Refusal):
    """This entry is part of something else, takes another back, or was taken back already."""


class AlreadyEntered(Refusal):
    """The same form was sent before; `entry` is what it made then."""

    def __init__(self, entry: Any) -> None:
        super().__init__("This was already saved.")
        self.entry = entry


def refuse_second_click(entries: LedgerQuerySet[Any], form_key: uuid.UUID | None) -> None:
    """Raise AlreadyEntered if a form of this key made one of the entries."""
    entered = entries.filter(form_key=form_key).first() if form_key else None
    if entered:
        raise AlreadyEntered(entered)


def refuse_reversal(entry: Any) -> None:
    """Raise CannotBeTakenBack if the entry takes another back, or was taken back itself."""
    if entry.kind == REVERSED:
        raise CannotBeTakenBack("This undoes another entry. Enter the movement again instead.")
    if type(entry)._default_manager.filter(takes_back=entry).exists():
        raise CannotBeTakenBack("This entry was already undone.")
