"""Entry of what a cutting plan is for, where its sheets come from, and what is kept of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from django import forms

from catalogue.cutting_plans.asks import SheetSupply
from catalogue.designs.models import Design
from catalogue.materials.lots import lots_in
from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from catalogue.stock.forms import LotChoice, lot_field
from catalogue.stock.models import StockEntry
from maker.web.fields import (
    DayField,
    LengthField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    tell_fields,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, RowsFormSet, rows_of
from maker.web.words import amount_text
from maker.workshop.models import Workshop

MOST_QUANTITY = 1_000_000
MOST_DESIGNS, MOST_PIECES, MOST_KEPT = 40, 500, 60
OPTION_PREFIX = "option_"
SECONDS = [
    ("10", "10 seconds"),
    ("30", "half a minute"),
    ("120", "2 minutes"),
    ("600", "10 minutes"),
]
ROUNDS = [
    ("2", "2: strips, then pieces"),
    ("3", "3: strips, pieces, then pieces again"),
    ("any", "as many as it takes"),
]
TURNING = [("", "as the sheet allows"), ("free", "may be turned"), ("fixed", "stays upright")]


class PlanForm(WorkshopForm):
    """What holds for the whole plan; everything has a default."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    name = OneLineField(
        label="Plan name",
        max_length=120,
        required=False,
        help_text="Leave blank to use the contents.",
    )
    gap = LengthField(
        label="Blade width",
        allow_zero=True,
        required=False,
        help_text="Lost at each cut. 0 for a trimmer.",
    )
    rounds = forms.ChoiceField(
        label="Cutting stages",
        choices=ROUNDS,
        help_text="How often you change direction. More stages waste less.",
    )
    seconds = forms.ChoiceField(
        label="Search time",
        choices=SECONDS,
        help_text="Usually a second. Long searches run in the background.",
    )
    with_spares = forms.BooleanField(label="Include spares", required=False)

    def rounds_asked(self) -> int | None:
        """Return the number of rounds, None for any."""
        said = self.cleaned_data["rounds"]
        return None if said == "any" else int(said)


class DesignRowForm(forms.Form):
    """So many of a design."""

    use_required_attribute = False
    design = ChosenRowField(label="Design", empty_label="Choose")
    quantity = WholeNumberField(label="How many", at_least=1, at_most=MOST_QUANTITY)


class PieceRowForm(forms.Form):
    """Pieces typed in: of a sheet with width and height, of a reel with a length."""

    use_required_attribute = False
    name = OneLineField(label="Name", max_length=80)
    material = ChosenRowField(label="Cut from", empty_label="Choose")
    width = LengthField(label="Width or length")
    height = LengthField(label="Height", required=False)
    count = WholeNumberField(label="How many", at_least=1, at_most=MOST_QUANTITY)
    turning = forms.ChoiceField(label="Turning", choices=TURNING, required=False)

    def clean(self) -> dict[str, Any]:
        """Ask a piece of a sheet for its height; a ribbon has none."""
        cleaned = super().clean() or self.cleaned_data
        material = cleaned.get("material")
        if material is None or "height" in self.errors:
            return cleaned
        if material.is_sheet and cleaned.get("height") is None:
            self.add_error("height", "Enter the height too.")
        if not material.is_sheet and cleaned.get("height") is not None:
            self.add_error("height", "Reels are cut to length: leave this blank.")
        return cleaned


class _Rows(RowsFormSet):
    """Rows whose choices and units are those of one workshop."""

    def __init__(
        self,
        *args: Any,
        workshop: Any,
        rows: Mapping[str, Any],
        chosen: str,
        labels: Mapping[str, str] | None = None,
        **options: Any,
    ) -> None:
        self.workshop, self.rows, self.chosen, self.labels = workshop, rows, chosen, labels
        super().__init__(*args, **options)

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        """Offer the rows that were loaded once, and read lengths in her unit."""
        super().add_fields(form, index)
        cast(ChosenRowField, form.fields[self.chosen]).use_rows(self.rows, self.labels)
        tell_fields(form, self.workshop)


DesignRows = rows_of(DesignRowForm, base=_Rows, spare=1, at_most=MOST_DESIGNS)
PieceRows = rows_of(PieceRowForm, base=_Rows, spare=1, at_most=MOST_PIECES)


class DetailForm(forms.Form):
    """How one design of the plan is made: version, colourway, options."""

    use_required_attribute = False
    design = forms.CharField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        design: Design,
        version: DesignVersion,
        numbers: Iterable[int],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.of_design, self.of_version = design, version
        self.fields["design"].initial = str(design.pk)
        numbers = list(numbers)
        if len(numbers) > 1:
            self.fields["version"] = forms.ChoiceField(
                label="Version",
                choices=[(str(number), f"version {number}") for number in numbers],
                initial=str(version.number),
            )
        self.ways = {str(way.pk): way for way in version.colourways.all()}
        if self.ways:
            self.fields["colourway"] = forms.ChoiceField(
                label="Colourway",
                choices=[
                    ("", "As in the recipe"),
                    *((key, way.name) for key, way in self.ways.items()),
                ],
                required=False,
            )
        for option in version.options.all():
            choices = list(option.choices.all())
            if not choices:
                continue
            default = next((one.key for one in choices if one.is_default), choices[0].key)
            self.fields[OPTION_PREFIX + option.key] = forms.ChoiceField(
                label=option.name,
                choices=[(one.key, one.name) for one in choices],
                initial=default,
            )

    @property
    def has_choices(self) -> bool:
        """Whether there is anything to choose."""
        return len(self.fields) > 1

    def choices(self) -> tuple[tuple[str, str], ...]:
        """Return the options that were answered."""
        given = getattr(self, "cleaned_data", {})
        return tuple(
            (name.removeprefix(OPTION_PREFIX), given.get(name) or str(field.initial))
            for name, field in self.fields.items()
            if name.startswith(OPTION_PREFIX)
        )

    def colourway(self) -> Any:
        """Return the colourway that was chosen."""
        return self.ways.get(str(getattr(self, "cleaned_data", {}).get("colourway") or ""))


class SupplyForm(forms.Form):
    """Where the sheets for one material's pieces may come from."""

    use_required_attribute = False
    supply = forms.ChoiceField(label="Sheets", widget=forms.RadioSelect)
    also = ChosenRowField(label="Also allow", empty_label="nothing else", required=False)
    also_2 = ChosenRowField(label="or from", empty_label="nothing else", required=False)
    use_offcuts = forms.BooleanField(required=False)

    def __init__(
        self,
        *args: Any,
        sheets: Mapping[str, Material],
        material: Any,
        shelf_text: str,
        offcut_text: str,
        is_reel: bool,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        fields["supply"].choices = [
            ("buy", "buy as many as needed"),
            ("shelf", f"use only what I have: {shelf_text}"),
        ]
        fields["supply"].initial = "buy"
        others = {key: row for key, row in sheets.items() if key != str(material.id)}
        if is_reel or not others:
            del fields["also"], fields["also_2"]
        else:
            fields["also"].use_rows(others)
            fields["also_2"].use_rows(others)
        if offcut_text:
            fields["use_offcuts"].label = f"Use offcuts first: {offcut_text}"
            fields["use_offcuts"].initial = True
        else:
            del fields["use_offcuts"]
        if is_reel:
            fields["supply"].label = "Reels"

    def supply_asked(self) -> SheetSupply:
        """Return the choice as a value; what was not asked yet has its default."""
        given = getattr(self, "cleaned_data", None)
        if not self.is_bound or given is None:
            return SheetSupply()
        also = [given.get("also"), given.get("also_2")]
        return SheetSupply(
            only_shelf=given.get("supply") == "shelf",
            also=tuple(dict.fromkeys(row for row in also if row is not None)),
            use_offcuts=bool(given.get("use_offcuts")),
        )


class CutForm(forms.Form):
    """The day the sheets were cut, and the lots they are of; `kept`: material -> its lot."""

    use_required_attribute = False
    form_key = forms.UUIDField(widget=forms.HiddenInput)
    cut_on = DayField(label="Date")

    def __init__(
        self,
        *args: Any,
        materials: Sequence[Material],
        kept: Mapping[str, str],
        workshop: Workshop,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        entries = StockEntry.objects.filter(material__in=[one.pk for one in materials])
        found = lots_in(entries)
        self.lot_keys: dict[str, int] = {}
        for one in materials:
            there = found[one.pk].there if one.pk in found else ()
            if there:
                lots = [
                    (lot.name, f"Lot {lot.name}: {amount_text(lot.left, one.unit, workshop)}")
                    for lot in there
                ]
                choice = LotChoice(lots, kept.get(one.name, ""))
                self.lot_keys[f"lot{one.pk}"] = one.pk
                self.fields[f"lot{one.pk}"] = lot_field(one.name, choice)

    def lot_fields(self) -> list[forms.BoundField]:
        """Return the entries of the lots, for the template."""
        return [self[name] for name in self.lot_keys]

    def lots(self) -> dict[int, str]:
        """Return material -> the lot it is taken from, where one was named."""
        return {
            key: self.cleaned_data[name]
            for name, key in self.lot_keys.items()
            if self.cleaned_data.get(name)
        }


class LongerForm(forms.Form):
    """More time for a plan that is not proven."""

    use_required_attribute = False
    seconds = forms.ChoiceField(label="Time", choices=SECONDS, initial="120")


class KeepRowForm(forms.Form):
    """Offcuts of one size: kept or not, with the size as it really is."""

    use_required_attribute = False
    keep = forms.BooleanField(label="Keep", required=False)
    material = forms.CharField(widget=forms.HiddenInput)
    width = LengthField(label="Width")
    height = LengthField(label="Height")
    count = WholeNumberField(label="How many", at_least=1, at_most=100_000)


class PlanFilter(FilterForm):
    """Narrows the list of plans."""

    state = forms.ChoiceField(
        required=False,
        choices=[
            ("", "All"),
            ("working", "Working"),
            ("open", "Not cut yet"),
            ("cut", "Cut"),
        ],
    )

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Keep plans by name and by how far they are."""
        if words := values.get("search"):
            queryset = queryset.filter(name__icontains=words)
        state = values.get("state")
        if state == "working":
            return queryset.under_way()
        if state == "open":
            return queryset.filter(cut_on__isnull=True)
        return queryset.filter(cut_on__isnull=False) if state == "cut" else queryset
