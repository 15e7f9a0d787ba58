"""Entry of offcuts by hand, of what becomes of them, and the filter of the list."""

from typing import Any, cast

from django import forms

from catalogue.materials.models import Material
from catalogue.offcuts.models import OffcutEntry
from catalogue.offcuts.services import MOST
from maker.web.fields import DayField, LengthField, OneLineField, WholeNumberField, WorkshopForm
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, rows_by_key

Kind = OffcutEntry.Kind


class OffcutForm(WorkshopForm):
    """Offcuts that are put into the box by hand."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    material = ChosenRowField(label="Cut from", empty_label="Choose")
    width = LengthField(label="Width", help_text="As it lay on the sheet.")
    height = LengthField(label="Height", help_text="Along the pattern.")
    count = WholeNumberField(label="How many", at_least=1, at_most=MOST)
    moved_on = DayField(label="Date")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        sheets = Material.objects.of(self.workshop).in_use().filter(kind=Material.Kind.SHEET)
        self.sheets = rows_by_key(sheets.by_name())
        cast(ChosenRowField, self.fields["material"]).use_rows(self.sheets)


class OffcutMoveForm(WorkshopForm):
    """What became of offcuts of one size."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(
        label="Reason",
        choices=[
            (Kind.USED.value, "used"),
            (Kind.THROWN.value, "thrown away"),
            (Kind.KEPT.value, "added"),
            (Kind.COUNTED.value, "stock count: this is what I have"),
        ],
    )
    count = WholeNumberField(label="How many", at_least=0, at_most=MOST)
    moved_on = DayField(label="Date")
    reason = OneLineField(label="Why", required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        """Allow nothing only in a count."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("count") == 0 and cleaned.get("kind") != Kind.COUNTED:
            self.add_error("count", "Enter 1 or more.")
        return cleaned


class OffcutFilter(FilterForm):
    """Narrows the list by the material's name, and shows sizes that are gone."""

    gone = forms.BooleanField(label="Show empty sizes", required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["search"].label = "Material"

    def narrow(self, queryset: Any) -> Any:
        """Leave out what is used up, unless it is asked for."""
        found = super().narrow(queryset)
        is_asked = bool(getattr(self, "cleaned_data", {}).get("gone"))
        return found if is_asked else found.filter(count__gt=0)

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Keep those whose material's name holds the words."""
        if words := values.get("search"):
            return queryset.filter(material__name__icontains=words)
        return queryset
