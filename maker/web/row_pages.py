"""The pages every kind of row has: its list, its entry, out of use and back.

A feature's views say what is particular: which table, which form, which service stores it and
where to go then. What they share is said here, so that every list and every entry behaves alike.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db.models import Model, QuerySet
from django.forms.utils import ErrorDict, ErrorList
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from maker.calc.refusal import Refusal
from maker.web.access import View, WorkshopRequest, may_change, row_or_404
from maker.web.editing import BothValues, ChangedMeanwhile, show_both
from maker.web.lists import FilterForm, ListTable, count_text
from maker.web.messages import undo_message
from maker.web.refusals import show_refusal


def list_page(
    request: WorkshopRequest,
    template: str,
    table: ListTable,
    filter_form: FilterForm,
    *,
    one: str,
    unfiltered: QuerySet[Any],
    **more: Any,
) -> HttpResponse:
    """Answer with a table that `show_list` has sorted and paged, and the filter above it.

    `one` is the word for a row; `unfiltered` says whether there is nothing at all yet. The
    template extends components/list_page.html.
    """
    count = table.paginator.count
    context = {
        "table": table,
        "filter_form": filter_form,
        "count_text": count_text(count, one),
        "is_empty": not count and not unfiltered.exists(),
    }
    return render(request, template, context | more)


@dataclass(frozen=True, slots=True)
class Entry:
    """What is typed on one page: a form, and perhaps a group of rows below it."""

    form: Any
    rows: Any = None

    @property
    def edit_number(self) -> int | None:
        """Which state of the row the page was opened with."""
        number: int | None = self.form.cleaned_data["edit_number"]
        return number

    def leave_unchecked(self) -> None:
        """Let what is typed so far be shown without a word about what is missing."""
        forms = [self.form, *(self.rows.forms if self.rows is not None else ())]
        for form in forms:
            form._errors, form.cleaned_data = ErrorDict(), {}
        if self.rows is not None:
            self.rows._errors, self.rows._non_form_errors = [], ErrorList()

    def is_valid(self) -> bool:
        """Check both, so that everything wrong is told at once."""
        return all([self.form.is_valid(), self.rows is None or self.rows.is_valid()])


def entry_page(
    request: WorkshopRequest,
    template: str,
    row: Any,
    entry_of: Callable[[Any, Any], Entry],
    save: Callable[[Entry], HttpResponse],
    beside: Callable[[Entry], Mapping[str, Any]] = lambda entry: {},
    is_only_shown: bool = False,
    **more: Any,
) -> HttpResponse:
    """Show what can be typed about a row; when it was sent and is good, answer what `save` does.

    `entry_of(row, data)` returns the entry as typed or, with None for data, as stored. `save`
    stores it, says so and leads on; what it refuses is told in the form, and the second of two
    people sees both values. The page keeps its name while another one is typed. `more` and what
    `beside` works out, which only a page that is shown needs, go to the template. With
    `is_only_shown` what was sent is shown again and neither checked nor stored: another button of
    the page was pressed.
    """
    is_sent = request.method == "POST"
    name_before = str(row) if row.pk else ""
    entry = entry_of(row, request.POST if is_sent else None)
    both: list[BothValues] = []
    if is_sent and is_only_shown:
        entry.leave_unchecked()
    elif is_sent and entry.is_valid():
        try:
            return save(entry)
        except ChangedMeanwhile as changed:
            both = _both_values(row, entry, entry_of)
            show_refusal(entry.form, changed)
        except Refusal as refusal:
            show_refusal(entry.form, refusal)
    context = {
        "form": entry.form,
        "formset": entry.rows,
        "name_before": name_before,
        "both": both,
    }
    context |= more | dict(beside(entry))
    is_refused = is_sent and not is_only_shown
    return render(request, template, context, status=422 if is_refused else 200)


def _both_values(row: Any, entry: Entry, entry_of: Callable[[Any, Any], Entry]) -> list[BothValues]:
    stored = type(row)._default_manager.get(pk=row.pk)
    now = entry_of(stored, None)
    rows = None if entry.rows is None else (entry.rows, now.rows)
    return show_both(entry.form, now.form, stored.edit_number, rows=rows)


def archive_views(
    model: type[Model], *, restore: str, list_page: str, page: str = ""
) -> tuple[View, View]:
    """Return the views that put a row out of use and bring it back: both posts, each an answer.

    Nothing that money or stock rests on is deleted: it leaves lists and choices, keeps its
    history, and the message offers the way back. `restore`, `list_page` and `page` are names of
    addresses: of the second view, of the list, and of the row's own page if it has one.
    """
    rows: Any = model._default_manager

    @require_POST
    @may_change
    def archive(request: WorkshopRequest, pk: int) -> HttpResponse:
        """Put a row out of use from today, with a way back."""
        row = row_or_404(rows.of(request.workshop), pk)
        row.retired_on = timezone.localdate()
        row.save(update_fields=["retired_on"])
        way_back = reverse(restore, args=[request.workshop.slug, pk])
        undo_message(request, f"Archived “{row}”.", way_back)
        return redirect(list_page, request.workshop.slug)

    @require_POST
    @may_change
    def bring_back(request: WorkshopRequest, pk: int) -> HttpResponse:
        """Bring a row back into use."""
        row = row_or_404(rows.of(request.workshop), pk)
        row.retired_on = None
        row.save(update_fields=["retired_on"])
        messages.success(request, f"Restored “{row}”.")
        if page:
            return redirect(page, request.workshop.slug, pk)
        return redirect(list_page, request.workshop.slug)

    return archive, bring_back
