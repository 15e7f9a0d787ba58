"""Two people editing one row: the second is told, sees both values, and loses nothing typed.

The row has `edit_number`, the form sends the number it was opened with (`EditedForm`), the
service calls `take_turn` inside its transaction, and the view answers `ChangedMeanwhile` with
`show_both`, which puts the current values beside the typed ones.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import F, Model

from maker.calc.refusal import Refusal


class ChangedMeanwhile(Refusal):
    """Somebody saved this row after the form was opened."""


class EditedForm(forms.Form):
    """Mixed into a form: sends along which state of the row it was opened with."""

    edit_number = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        instance = getattr(self, "instance", None)
        if instance is not None:
            self.initial.setdefault("edit_number", instance.edit_number)


@dataclass(frozen=True, slots=True)
class BothValues:
    """One entry on which the typed and the stored value differ."""

    label: str
    yours: str
    theirs: str


def take_turn(row: Model, edit_number: int | None) -> None:
    """Count one more edit of the row, or raise ChangedMeanwhile if it is not the expected one.

    Call it first in the transaction of the save: it also locks the row until the end of it.
    """
    rows = type(row)._default_manager.filter(pk=row.pk, edit_number=edit_number)
    if not rows.update(edit_number=F("edit_number") + 1):
        raise ChangedMeanwhile(
            "Somebody else saved this while you had it open. Your entries are kept below, next "
            "to what is stored now. Save again to keep yours."
        )
    row.edit_number = (edit_number or 0) + 1  # type: ignore[attr-defined]


def show_both(
    form: Any, stored: Any, edit_number: int, *, rows: tuple[Any, Any] | None = None
) -> list[BothValues]:
    """Return where the typed form differs from `stored`, a fresh form of the row as it is now.

    The typed form then carries the current edit number, so that saving it again keeps her
    values knowingly. `rows` is a pair of formsets, typed and stored.
    """
    form.data = form.data.copy()
    form.data[form.add_prefix("edit_number")] = str(edit_number)
    differences = list(_differences(form, stored))
    if rows:
        yours, theirs = (_rows_in_words(formset) for formset in rows)
        if yours != theirs:
            label = "Rows"
            differences.append(
                BothValues(label, "; ".join(yours) or "none", "; ".join(theirs) or "none")
            )
    return differences


def _differences(form: Any, stored: Any) -> Iterable[BothValues]:
    for field in form.visible_fields():
        if field.name not in stored.fields:
            continue
        typed, kept = field.value(), stored[field.name].value()
        if field.field.has_changed(stored.get_initial_for_field(field.field, field.name), typed):
            yield BothValues(
                str(field.label), _in_words(field.field, typed), _in_words(field.field, kept)
            )


def _in_words(field: forms.Field, value: Any) -> str:
    """Write a form value as the page shows it: the words of a choice, yes or no for a tick."""
    if isinstance(field, forms.BooleanField):
        return "yes" if field.to_python(value) else "no"
    choices: Iterable[tuple[Any, Any]] = getattr(field.widget, "choices", ())
    words = next((words for key, words in choices if str(key) == str(value)), value)
    return str(words) if words not in (None, "") else "empty"


def _rows_in_words(formset: Any) -> list[str]:
    rows = []
    for form in formset:
        # a spare row is not a row yet, though its choices show their first word
        if form in formset.extra_forms and not (formset.is_bound and form.has_changed()):
            continue
        words = [
            f"{field.label} {_in_words(field.field, field.value())}"
            for field in form.visible_fields()
            if field.name not in ("DELETE", "ORDER") and field.value() not in (None, "", False)
        ]
        if words and not (formset.is_bound and formset.is_removed(form)):
            rows.append(", ".join(words))
    return rows
