"""Rows of a form that are added in place: a formset with our limits and words."""

from collections.abc import Iterator, Mapping
from typing import Any, TypeVar, cast

from django import forms
from django.db.models import Model
from django.forms.formsets import BaseFormSet, formset_factory

from maker.web.widgets import LongSelect


class ChosenRowField(forms.ChoiceField):
    """A choice among rows that are loaded already; gives the row, or None.

    The rows are handed over once for a whole page (`use_rows`), so that any number of these
    fields costs no further query, and a row of another workshop can't be chosen.
    """

    widget = LongSelect

    def __init__(self, *, empty_label: str = "", **options: Any) -> None:
        super().__init__(**options)
        self.empty_label = empty_label
        self.rows: Mapping[str, Model] = {}

    def use_rows(self, rows: Mapping[str, Model], labels: Mapping[str, str] | None = None) -> None:
        """Offer these rows, by primary key as text."""
        self.rows = rows
        self.choices = [
            ("", self.empty_label),
            *((key, labels[key] if labels else str(row)) for key, row in rows.items()),
        ]

    def clean(self, value: Any) -> Any:
        """Return the chosen row."""
        return self.rows.get(super().clean(value))

    def valid_value(self, value: Any) -> bool:
        """Return whether it is the key of one of the rows."""
        return str(value) in self.rows

    def prepare_value(self, value: Any) -> Any:
        """Show a row by its key."""
        return str(value.pk) if isinstance(value, Model) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare keys."""
        return str(self.prepare_value(initial) or "") != str(data or "")


def rows_by_key(rows: Any) -> dict[str, Any]:
    """Return rows by primary key as text, in their order, as `use_rows` takes them."""
    return {str(row.pk): row for row in rows}


class RowsFormSet(BaseFormSet):
    """Rows added, removed and left empty as she likes; too many are refused with words."""

    default_error_messages = {
        "missing_management_form": (
            "Part of this page didn't arrive, so nothing was saved. Check the rows and send it "
            "again."
        ),
        "too_many_forms": "No more than %(num)d rows fit. Split them over two.",
    }

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        """Call the tick that takes a row away what it does."""
        super().add_fields(form, index)
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = "Remove"

    def initial_form_count(self) -> int:
        """Let every sent row be empty: rows are known by their own key, not by their place.

        Somebody else may have added or removed rows since the page was opened.
        """
        return 0 if self.is_bound else super().initial_form_count()

    def _construct_form(self, i: int, **kwargs: Any) -> forms.Form:
        # for the same reason a sent row is not compared with what is stored at its place
        if self.is_bound:
            kwargs.setdefault("initial", None)
        form: forms.Form = super()._construct_form(i, **kwargs)  # type: ignore[misc]  # not in stubs
        return form

    def is_removed(self, form: forms.Form) -> bool:
        """Whether her tick says that this row goes."""
        return bool(form.cleaned_data.get("DELETE"))

    def kept(self) -> Iterator[Any]:
        """Yield the forms of rows that hold something and are not to be removed."""
        for form in self.forms:
            if form.has_changed() and not self.is_removed(form):
                yield form

    def removed(self) -> Iterator[Any]:
        """Yield the forms of rows to be removed."""
        for form in self.forms:
            if form.has_changed() and self.is_removed(form):
                yield form


Rows = TypeVar("Rows", bound=RowsFormSet)


def rows_of(
    form: type[forms.Form],
    *,
    spare: int = 1,
    at_most: int = 60,
    base: type[Rows] = RowsFormSet,  # type: ignore[assignment]  # the plain one will do
) -> type[Rows]:
    """Return the class of a group of rows with `spare` empty ones, and a limit."""
    rows = formset_factory(
        form,
        formset=base,
        extra=spare,
        can_delete=True,
        max_num=at_most,
        absolute_max=at_most + 20,
        validate_max=True,
    )
    return cast(type[Rows], rows)
