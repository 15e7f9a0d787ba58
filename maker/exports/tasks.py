"""A long list as a file, made by a worker, who asks the page of the list once more.

So the file holds what the page's own filter finds, and whoever may not see the list any more by
then gets none; and no feature has anything to write for it.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, QueryDict
from django.urls import resolve

from maker.calc.refusal import Refusal
from maker.documents.spreadsheet import MOST_ROWS_WRITTEN, Column
from maker.exports.files import written
from maker.slow_work.doing import Ending, File, Outcome, Watch
from maker.slow_work.models import Work


class MayNotSee(Refusal):
    """Who asked has no right to this list any more."""


class Writing:
    """What a worker puts on the request, and the file it finds there afterwards."""

    def __init__(self, watch: Watch) -> None:
        self.watch = watch
        self.file: File | None = None

    def write(
        self, form: str, *, name: str, title: str, columns: Sequence[Column], rows: Iterable[Any]
    ) -> None:
        """Write the file and say how far it is. Errors: TooManyRows."""
        found: list[Any] = []
        # one more than a file takes, which is then refused in its words
        for row in islice(rows, MOST_ROWS_WRITTEN + 1):
            if not len(found) % 100:
                self.watch.look(0, 0, f"Reading rows: {len(found):,}")
            found.append(row)
        looked_at = self._looking(found)
        self.file = written(form, name=name, title=title, columns=columns, rows=looked_at)

    def _looking(self, rows: Sequence[Any]) -> Iterator[Any]:
        for number, row in enumerate(rows):
            if not number % 100:
                self.watch.look(number, len(rows), "Writing rows")
            yield row


def make_export(work: Work, watch: Watch) -> Ending:
    """Make the file of a list; `given` holds the `path` of its page and the `query`."""
    request = HttpRequest()
    request.method = request.META["REQUEST_METHOD"] = "GET"
    request.path = request.path_info = work.given["path"]
    request.GET = QueryDict(work.given["query"])
    if work.asked_by is None or not work.asked_by.is_active:
        raise MayNotSee("The account that asked for this file is gone.")
    request.user = work.asked_by
    writing = request.writing = Writing(watch)  # type: ignore[attr-defined] # read by `answers`
    view, args, kwargs = resolve(request.path)
    try:
        view(request, *args, **kwargs)
    except (PermissionDenied, Http404) as error:
        raise MayNotSee("This list can't be seen any more by whoever asked for it.") from error
    if writing.file is None:
        raise ValueError(f"{request.path} answered with no file.")
    file = writing.file
    return lambda: Outcome(says=[("success", "The file is ready.")], file=file)
