"""Results kept from one page to the next, by everything they were worked out from; never by time.

What a page says of thousands of rows is mostly what it said the last time. Reading those rows as
the database holds them takes a small part of the work, and one value that is another one makes
another key.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any, Generic, TypeVar

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import QuerySet

Result = TypeVar("Result")


def as_stored(rows: QuerySet[Any, tuple[Any, ...]]) -> tuple[tuple[Any, ...], ...]:
    """Return the rows of `values_list(...)` as the database holds them (one query).

    Made into dates and decimals of Python they take several times as long.
    """
    try:
        asked = rows.query.sql_with_params()
    except EmptyResultSet:  # nothing can match, so nothing is asked
        return ()
    with connection.cursor() as cursor:
        cursor.execute(*asked)
        return tuple(cursor.fetchall())


class Kept(Generic[Result]):
    """Results by content; those unused longest are let go."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Result] = OrderedDict()
        self._lock = Lock()

    def result_of(
        self,
        content: Callable[[], Hashable | None],
        work_out: Callable[[], Result],
        is_final: Callable[[Result], bool] = lambda result: True,
    ) -> Result:
        """Return what is kept under a content, else work it out.

        That is kept if the content is still the same: somebody may have written meanwhile. Nothing
        is kept without a content, nor what may be better the next time.
        """
        key = content()
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        result = work_out()
        if key is not None and is_final(result) and content() == key:
            with self._lock:
                self._kept[key] = result
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        return result
