"""Entry of batches, movements and counts of finished items."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django import forms

from catalogue.materials.models import Material
from catalogue.recipes.models import DesignVersion
from catalogue.stock.forms import LotChoice, lot_field
from maker.web.amounts import AmountField
from maker.web.fields import (
    DayField,
    MinutesField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    tell_fields,
)
from maker.web.rows import ChosenRowField, rows_by_key
from pricing.costs.forms import OPTION_PREFIX
from pricing.finished_stock.asked import BatchEstimate
from pricing.finished_stock.inputs import OnHand
from pricing.finished_stock.models import BatchSpoiled, FinishedBatch, FinishedMove, Place

Kind = FinishedMove.Kind
MOST_ITEMS = 1_000_000
# 10,000 hours: more is a slip
MOST_MINUTES = 600_000
SPOILED = "spoiled_"
BACK, AWAY = Kind.CAME_BACK.value, Kind.MOVED.value


class WhichForm(WorkshopForm):
    """Which item of a design, and how many; sent by GET, the answer is what the recipe needs."""

    quantity = WholeNumberField(label="Good items", at_least=1, at_most=MOST_ITEMS)
    colourway = forms.ChoiceField(label="Colourway", required=False)

    def __init__(self, *args: Any, version: DesignVersion, **options: Any) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        ways = [way.name for way in version.colourways.all()]
        fields["colourway"].choices = [("", "As in the recipe"), *((way, way) for way in ways)]
        if not ways:
            del self.fields["colourway"]
        self.option_names = []
        for option in version.options.all():
            choices = list(option.choices.all())
            if not choices:
                continue
            name = OPTION_PREFIX + option.key
            default = next((each.key for each in choices if each.is_default), choices[0].key)
            fields[name] = forms.ChoiceField(
                label=option.name,
                choices=[(choice.key, choice.name) for choice in choices],
                required=False,
                initial=default,
            )
            self.option_names.append(name)

    def choices(self) -> dict[str, str]:
        """Return option -> what was chosen."""
        return {
            name.removeprefix(OPTION_PREFIX): self.cleaned_data[name]
            for name in self.option_names
            if self.cleaned_data.get(name)
        }


class MadeForm(WorkshopForm):
    """What came out of a batch: good ones, spoiled ones by cause, minutes, when."""

    good = WholeNumberField(
        label="Good items", at_most=MOST_ITEMS, help_text="These go into finished stock."
    )
    made_on = DayField(label="Date", required_text="Enter the date.")
    minutes = MinutesField(
        label="Minutes worked",
        at_most=MOST_MINUTES,
        decimals=2,
        help_text="By the recipe. Change it if it took longer.",
    )
    note = OneLineField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for cause in BatchSpoiled.Cause:
            self.fields[SPOILED + cause.value] = WholeNumberField(
                label=cause.label.capitalize(), required=False, at_most=MOST_ITEMS
            )
        tell_fields(self, self.workshop)

    def spoiled_fields(self) -> list[forms.BoundField]:
        """Return the entries of spoiled ones, for the template."""
        return [self[SPOILED + cause.value] for cause in BatchSpoiled.Cause]

    @property
    def is_spoiled_asked(self) -> bool:
        """Whether one of them is filled in or wrong, so that it must be seen."""
        return any(field.value() or field.errors for field in self.spoiled_fields())

    def spoiled(self) -> dict[str, int]:
        """Return cause -> how many."""
        return {
            cause.value: int(self.cleaned_data.get(SPOILED + cause.value) or 0)
            for cause in BatchSpoiled.Cause
        }


class BatchForm(MadeForm):
    """A whole batch: what came out, and what left stock for it, by recipe or corrected."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        materials: Sequence[Material],
        estimate: BatchEstimate,
        lots: Mapping[int, LotChoice] = MappingProxyType({}),
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.keys = {f"m{material.pk}": material.pk for material in materials}
        self.lot_keys: dict[str, int] = {}
        for name, material in zip(self.keys, materials, strict=True):
            self.fields[name] = AmountField(
                label=material.name,
                required=False,
                allow_zero=True,
                measure=material.unit,
                initial=estimate.amounts[material.pk],
            )
            if material.pk in lots:
                self.lot_keys[f"lot{material.pk}"] = material.pk
                self.fields[f"lot{material.pk}"] = lot_field(material.name, lots[material.pk])
        tell_fields(self, self.workshop)

    def material_fields(self) -> list[forms.BoundField]:
        """Return the entries of the materials, each with that of its lot, for the template."""
        return [self[name] for name in self.fields if name in self.keys or name in self.lot_keys]

    def lots(self) -> dict[int, str]:
        """Return material -> the lot it is taken from, where one was named."""
        return {
            key: self.cleaned_data[name]
            for name, key in self.lot_keys.items()
            if self.cleaned_data.get(name)
        }

    def amounts(self) -> dict[int, Decimal]:
        """Return material -> what was used of it."""
        return {key: self.cleaned_data.get(name) or Decimal(0) for name, key in self.keys.items()}


class FinishedMoveForm(WorkshopForm):
    """What happened to some of an item: they left, came back or went to another place."""

    KINDS = (
        (Kind.SOLD.value, "Sold"),
        (Kind.GIVEN.value, "Given away"),
        (Kind.SAMPLE.value, "Used as a sample"),
        (Kind.SPOILED.value, "Spoiled"),
        (Kind.UNMADE.value, "Taken apart"),
        (BACK, "Came back"),
        (AWAY, "Moved to another place"),
    )

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(label="What happened", choices=KINDS)
    quantity = WholeNumberField(label="Quantity", at_least=1, at_most=MOST_ITEMS)
    place = ChosenRowField(label="Place")
    to_place = ChosenRowField(
        label="Moved to", empty_label="–", required=False, help_text="Only if they were moved."
    )
    on = DayField(label="Date", required_text="Enter the date.")
    reason = OneLineField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, places: Sequence[Place], **options: Any) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        fields["place"].use_rows(rows_by_key(places))
        fields["place"].choices = fields["place"].choices[1:]
        fields["to_place"].use_rows(rows_by_key(places))
        if len(places) < 2:
            del self.fields["to_place"]
            fields["kind"].choices = [each for each in self.KINDS if each[0] != AWAY]

    def clean(self) -> dict[str, Any]:
        """Ask where to, of what was moved."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("kind") == AWAY and not cleaned.get("to_place"):
            self.add_error("to_place", "Choose where they went.")
        return cleaned


class PlaceForm(forms.Form):
    """Which place is shown; sent by GET."""

    use_required_attribute = False
    place = ChosenRowField(label="Place", empty_label="All places", required=False)

    def __init__(self, *args: Any, places: Sequence[Place], **options: Any) -> None:
        super().__init__(*args, **options)
        field: Any = self.fields["place"]
        field.use_rows(rows_by_key(places))


class FinishedCountForm(WorkshopForm):
    """What a count found at a place; an item left blank was not counted."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    on = DayField(label="Date", required_text="Enter the date.")
    reason = OneLineField(label="Note", required=False, max_length=200)

    def __init__(
        self, *args: Any, rows: Sequence[OnHand], names: Mapping[int, str], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.items = {f"i{row.item.pk}": row.item for row in rows}
        for row in rows:
            self.fields[f"i{row.item.pk}"] = WholeNumberField(
                label=names[row.item.pk],
                required=False,
                at_most=MOST_ITEMS,
                help_text=f"Expected: {row.quantity}.",
            )
        tell_fields(self, self.workshop)

    def item_fields(self) -> list[forms.BoundField]:
        """Return the entries of the items, for the template."""
        return [self[name] for name in self.items]

    def counted(self) -> dict[int, int]:
        """Return item -> what was counted of it."""
        return {
            item.pk: int(self.cleaned_data[name])
            for name, item in self.items.items()
            if self.cleaned_data.get(name) is not None
        }

    def clean(self) -> dict[str, Any]:
        """Ask for one count at least."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not any(name in self.errors for name in self.items) and not self.counted():
            raise forms.ValidationError("Nothing counted yet. Enter at least one quantity.")
        return cleaned


def made_initial(batch: FinishedBatch, minutes: Decimal | None) -> dict[str, Any]:
    """Return what finishing an open batch starts with."""
    return {"good": batch.planned, "minutes": minutes, "note": batch.note}
