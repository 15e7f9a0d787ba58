"""Entry of what was counted of one material: as an amount, in packs, or on the scales."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from catalogue.calc.supplies.part_packs import PARTS, Weighed, in_packs, on_the_scales
from catalogue.materials.models import Material
from maker.calc.refusal import Refusal
from maker.web.amounts import AmountField, typed_in
from maker.web.fields import NumberField, WholeNumberField, WorkshopForm, tell_fields

# by weight only what has one for each unit: grams, or millilitres of about as many
WEIGHED = {"volume", "mass"}
MOST_GRAMS = 1_000_000


class OneCountForm(WorkshopForm):
    """One way of three; which is known by what is filled in."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    material = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        material: Material,
        packs: Sequence[tuple[int, str, Decimal]],
        lots: Sequence[str] = (),
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.row, self.sizes = material, {str(key): quantity for key, _, quantity in packs}
        self.fields["amount"] = AmountField(
            label="Counted", required=False, allow_zero=True, measure=material.unit
        )
        if lots:
            self.fields["lot"] = forms.ChoiceField(
                label="Lot",
                choices=[("", "No lot"), *((name, f"Lot {name}") for name in lots)],
                required=False,
                help_text="The one that has more or less than expected.",
            )
        if packs:
            self.fields["pack"] = forms.ChoiceField(
                label="Pack", choices=[(str(key), name) for key, name, _ in packs], required=False
            )
            self.fields["full"] = WholeNumberField(
                label="Full packs", required=False, at_most=100_000
            )
            self.fields["part"] = forms.ChoiceField(
                label="Opened pack",
                choices=[("0", "none"), *((name, f"about {name}") for name in list(PARTS)[1:])],
                required=False,
            )
        if material.kind in WEIGHED:
            self.fields["grams"] = NumberField(
                label="Weighs now", unit="g", required=False, at_most=MOST_GRAMS
            )
            self.fields["empty_grams"] = NumberField(
                label="Weighs empty", unit="g", required=False, at_most=MOST_GRAMS
            )
            if material.kind == "volume":
                self.fields["grams_per_unit"] = NumberField(
                    label="1 ml weighs",
                    unit="g",
                    required=False,
                    at_most=100,
                    help_text="Blank means 1, as of water.",
                )
        tell_fields(self, self.workshop)

    def pack_fields(self) -> list[forms.BoundField]:
        """Return the entries of packs."""
        return [self[name] for name in ("pack", "full", "part") if name in self.fields]

    def scale_fields(self) -> list[forms.BoundField]:
        """Return the entries of the scales."""
        names = ("grams", "empty_grams", "grams_per_unit")
        return [self[name] for name in names if name in self.fields]

    def clean(self) -> dict[str, Any]:
        """Work out what was counted, by the one way that is filled in."""
        values = super().clean() or self.cleaned_data
        if self.errors:
            return values
        in_pack = values.get("full") is not None or values.get("part", "0") not in ("", "0")
        weighed = values.get("grams") is not None
        ways = (values["amount"] is not None, in_pack, weighed)
        if sum(ways) != 1:
            message = "Use one way only." if any(ways) else "Enter what you counted; 0 if none."
            raise forms.ValidationError(message)
        try:
            values["counted"] = self._counted(values, in_pack=in_pack, weighed=weighed)
        except Refusal as refusal:
            self.add_error(refusal.where or None, refusal.message)
        values["typed_in"] = ""
        if values["amount"]:
            values["typed_in"] = typed_in(self, "amount", self.row.unit, values["amount"])
        return values

    def _counted(self, values: dict[str, Any], *, in_pack: bool, weighed: bool) -> Decimal:
        if in_pack:
            pack = self.sizes[values.get("pack") or next(iter(self.sizes))]
            return in_packs(values.get("full") or 0, PARTS[values.get("part") or "0"], pack)
        if weighed:
            per_unit = values.get("grams_per_unit")
            return on_the_scales(
                Weighed(
                    values["grams"],
                    values.get("empty_grams") or Decimal(0),
                    Decimal(1) if per_unit is None else per_unit,
                )
            )
        counted: Decimal = values["amount"]
        return counted
