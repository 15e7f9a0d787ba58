"""The quick start of a design, its details, and the filter of the list."""

from typing import Any

from django import forms

from catalogue.designs.models import Design
from maker.web.editing import EditedForm
from maker.web.fields import (
    LongText,
    OneLineField,
    WholeNumberField,
    WorkshopModelForm,
)
from maker.web.lists import ArchivableFilter
from maker.web.rows import ChosenRowField, rows_by_key
from maker.workshop.models import Workshop


class DesignForm(EditedForm, WorkshopModelForm):
    """What is said about a design; what it is made of is in its recipe."""

    name = OneLineField(max_length=120)
    code = OneLineField(max_length=40, required=False, help_text="Short, for tags and lists.")
    made_at_once = WholeNumberField(
        label="Usual batch",
        required=False,
        at_least=1,
        at_most=1_000_000,
        help_text="How many you usually make at once. Leave blank for 1.",
    )
    care_line = OneLineField(
        max_length=120, required=False, help_text="Printed on tags, like “Keep dry”."
    )
    caution = OneLineField(
        max_length=200,
        required=False,
        help_text="Printed with it. Ask an adviser about toy and food rules.",
    )

    class Meta:
        model = Design
        fields = ("name", "code", "made_at_once", "description", "care_line", "caution")
        widgets = {"description": LongText(attrs={"rows": 4})}

    def clean_made_at_once(self) -> int:
        """Count a batch left empty as one of 1; one that was not asked about stays."""
        typed: int | None = self.cleaned_data.get("made_at_once")
        return typed or (1 if "made_at_once" in self.data else self.instance.made_at_once)


class DesignFilter(ArchivableFilter):
    """Narrows the list of designs, and says whether it is pictures or a table."""

    view = forms.ChoiceField(
        required=False, choices=[("", "pictures"), ("table", "table")], widget=forms.HiddenInput
    )

    @property
    def is_table(self) -> bool:
        """Whether a table was asked for."""
        return self.is_valid() and self.cleaned_data.get("view") == "table"


class ChosenDesignForm(forms.Form):
    """Which design with a recipe something is of; sent by GET, so that the address keeps it."""

    use_required_attribute = False
    design = ChosenRowField(label="Design", empty_label="Choose a design")

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        super().__init__(*args, **options)
        offer_designs(self.fields["design"], workshop)


def offer_designs(field: Any, workshop: Workshop) -> None:
    """Offer the designs in use that have a recipe."""
    designs = Design.objects.of(workshop).in_use().filter(versions__isnull=False)
    field.use_rows(rows_by_key(designs.distinct().by_name()))
