"""Entry of one movement of stock."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, cast

from django import forms

from catalogue.calc.supplies.lots import LotsLeft
from catalogue.materials.models import Material
from catalogue.materials.swatches import swatch
from catalogue.stock.models import StockEntry
from catalogue.stock.services import OUTGOING
from maker.web.amounts import AmountField, typed_in
from maker.web.fields import MoneyField, OneLineField, WorkshopForm, tell_fields
from maker.web.words import amount_text

Kind = StockEntry.Kind
MATERIAL_ENTRY = re.compile(r"m[0-9]{1,18}")


# why something was counted, where nothing is said
COUNT = "stock count"


@dataclass(frozen=True, slots=True)
class LotChoice:
    """Lots something may be taken from, each with its words, and the one taken first."""

    lots: Sequence[tuple[str, str]]
    first: str


def lot_field(material: str, choice: LotChoice) -> forms.ChoiceField:
    """Return the entry of the lot that leaves stock; blank is none by name."""
    return forms.ChoiceField(
        label=f"Lot of {material}",
        choices=[("", "No lot"), *choice.lots],
        required=False,
        initial=choice.first,
    )


class StockMoveForm(WorkshopForm):
    """What left the shelf, what a count found, or what was there at the start.

    Amounts are typed above zero; the kind says which way they go.
    """

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    kind = forms.ChoiceField(
        label="Reason",
        choices=[
            ("Taken out", [(kind.value, kind.label) for kind in OUTGOING]),
            (
                "Correction",
                [
                    (Kind.COUNTED.value, "stock count: this is what I have"),
                    (Kind.OPENING.value, "opening stock, from before the first receipt"),
                ],
            ),
        ],
    )
    amount = AmountField(
        label="Amount",
        allow_zero=True,
        error_messages={"required": "Enter an amount."},
        help_text="For a stock count: all you have.",
    )
    cost = MoneyField(
        label="Total cost",
        required=False,
        at_most=1_000_000,
        help_text="Only for opening stock.",
    )
    moved_on = forms.DateField(
        label="Date", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    lot = OneLineField(
        label="Lot",
        required=False,
        max_length=60,
        help_text="Card or twine of one lot matches in colour.",
        widget=forms.TextInput(attrs={"list": "lots", "autocomplete": "off"}),
    )
    reason = OneLineField(label="Why", required=False, max_length=200)

    def __init__(self, *args: Any, material: Material, lots: LotsLeft, **options: Any) -> None:
        super().__init__(*args, **options)
        self.unit, self.lots = material.unit, lots
        cast(AmountField, self.fields["amount"]).use_measure(self.unit)

    def clean(self) -> dict[str, Any]:
        """Allow nothing only in a count, and ask old goods for a cost."""
        cleaned = super().clean() or self.cleaned_data
        kind, amount = cleaned.get("kind"), cleaned.get("amount")
        if amount:
            cleaned["typed_in"] = typed_in(self, "amount", self.unit, amount)
        if amount == 0 and kind != Kind.COUNTED:
            self.add_error("amount", "Enter an amount above 0.")
        if kind == Kind.COUNTED and not cleaned.get("reason"):
            cleaned["reason"] = COUNT
        if kind == Kind.OPENING and cleaned.get("cost") is None and "cost" not in self.errors:
            self.add_error("cost", "Enter the total cost; 0 if it was free.")
        self._name_lot(cleaned)
        return cleaned

    def _name_lot(self, cleaned: dict[str, Any]) -> None:
        """Take the lot as it is written already; only opening stock may bring a new one."""
        typed = cleaned.get("lot")
        known = self.lots.named(typed) if typed else None
        if known:
            cleaned["lot"] = known.name
        elif typed and cleaned.get("kind") != Kind.OPENING:
            names = ", ".join(lot.name for lot in self.lots.lots)
            told = f" Its lots: {names}." if names else " It has no lots."
            self.add_error("lot", f"There is no lot “{typed}” of this material.{told}")


class ShelfCountForm(WorkshopForm):
    """What a count found of many materials; one left empty was not counted."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    counted_on = forms.DateField(
        label="Date", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    reason = OneLineField(
        label="Why", required=False, max_length=200, help_text="Like “year-end count”."
    )

    def __init__(self, *args: Any, materials: Sequence[Material], **options: Any) -> None:
        super().__init__(*args, **options)
        self.names = {self.name_of(material.pk): material.pk for material in materials}
        self.units = {material.pk: material.unit for material in materials}
        for name, material in zip(self.names, materials, strict=True):
            held = amount_text(material.on_hand, material.unit, self.workshop)
            self.fields[name] = AmountField(
                label=material.name,
                required=False,
                allow_zero=True,
                measure=material.unit,
                help_text=f"Expected: {held}.",
            )
            # the page says once that each may be left blank
            self.fields[name].is_one_of = True  # type: ignore[attr-defined]
            # components/field.html shows it before the label
            self.fields[name].swatch = swatch(material, self.workshop)  # type: ignore[attr-defined]
        tell_fields(self, self.workshop)

    @staticmethod
    def name_of(material_id: int) -> str:
        """Return the name of the entry of what a count found of a material."""
        return f"m{material_id}"

    @staticmethod
    def sent(data: Mapping[str, Any]) -> dict[int, str]:
        """Return material -> its entry as sent; one left blank is sent too."""
        return {int(name[1:]): data[name] for name in data if MATERIAL_ENTRY.fullmatch(name)}

    def amounts(self) -> list[forms.BoundField]:
        """Return the entries of the materials."""
        return [self[name] for name in self.names]

    def counted(self) -> dict[int, Decimal]:
        """Return material -> what was counted of it."""
        return {
            key: self.cleaned_data[name]
            for name, key in self.names.items()
            if self.cleaned_data.get(name) is not None
        }

    def typed_in(self) -> dict[int, str]:
        """Return material -> the unit its count was typed in, where that is kept."""
        return {
            key: typed_in(self, self.name_of(key), self.units[key], counted)
            for key, counted in self.counted().items()
        }

    def clean_reason(self) -> str:
        """Call it a stock count where nothing is said."""
        return self.cleaned_data["reason"] or COUNT

    def clean(self) -> dict[str, Any]:
        """Ask for one count at least."""
        cleaned = super().clean() or self.cleaned_data
        if not any(name in self.errors for name in self.names) and not self.counted():
            raise forms.ValidationError("Nothing counted yet. Enter at least one amount.")
        return cleaned
