"""Which design, in which colours, and what a mixed pad holds; sent by GET."""

import re
from typing import Any

from django import forms
from django.db.models import Exists, OuterRef

from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from maker.web.rows import ChosenRowField, rows_by_key
from maker.workshop.models import Workshop

_SPLIT = re.compile(r"[\s,;+]+")
_TIMES = re.compile(r"(\d{1,4})\s*[x×]\s*(\d{1,4})", re.ASCII)
MOST_PRINTS = 200
MOST_SHEETS = 1_000


class CanMakeForm(forms.Form):
    """Which design."""

    use_required_attribute = False
    design = ChosenRowField(label="Design", empty_label="Choose a design", required=False)

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        super().__init__(*args, **options)
        newest = DesignVersion.objects.filter(design=OuterRef("pk"))
        designs = Design.objects.of(workshop).in_use().filter(Exists(newest)).by_name()
        self.designs = list(designs.only("name", "made_at_once"))
        field: Any = self.fields["design"]
        field.use_rows(rows_by_key(self.designs))


class ColoursForm(forms.Form):
    """In which colourway, and what a pad holds: `12 x 2`, or the sheets of each print."""

    use_required_attribute = False
    colourway = forms.ChoiceField(label="Colourway", required=False)
    pad = ChosenRowField(label="Mixed pad", empty_label="None", required=False)
    prints = forms.CharField(
        label="Sheets of each print",
        required=False,
        max_length=400,
        help_text="Like 12 x 2, or 2, 2, 1, 3.",
    )

    def __init__(
        self, *args: Any, version: DesignVersion, sheets: dict[str, Material], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        names = [way.name for way in version.colourways.all()]
        fields["colourway"].choices = [("", "As in the recipe"), *((way, way) for way in names)]
        if not names:
            del self.fields["colourway"]
        fields["pad"].use_rows(sheets)

    def clean_prints(self) -> list[int]:
        """Read how many sheets there are of each print."""
        text = self.cleaned_data["prints"].strip()
        if not text:
            return []
        times = _TIMES.fullmatch(text)
        if times:
            sheets = [int(times[2])] * min(int(times[1]), MOST_PRINTS + 1)
        else:
            parts = [part for part in _SPLIT.split(text) if part]
            if not all(part.isascii() and part.isdecimal() and len(part) < 6 for part in parts):
                raise forms.ValidationError("Enter numbers, like 12 x 2 or 2, 2, 1.")
            sheets = [int(part) for part in parts]
        if len(sheets) > MOST_PRINTS or max(sheets) > MOST_SHEETS:
            raise forms.ValidationError(
                f"Up to {MOST_PRINTS} prints with up to {MOST_SHEETS} sheets each."
            )
        return sheets

    def clean(self) -> dict[str, Any]:
        """Ask for the sheets where a pad is chosen."""
        values = super().clean() or self.cleaned_data
        if values.get("pad") and not values.get("prints") and "prints" not in self.errors:
            self.add_error("prints", "Enter how many sheets of each print there are.")
        return values
