"""Entry of a channel and what holds from which quantity."""

from typing import Any

from django import forms

from maker.web.editing import EditedForm
from maker.web.fields import (
    LongText,
    MoneyField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopForm,
    WorkshopModelForm,
)
from maker.web.rows import RowsFormSet, rows_of
from pricing.channels.models import Channel


class ChannelForm(EditedForm, WorkshopModelForm):
    """Name, kind, rush surcharge and listing fee of a channel."""

    name = OneLineField(max_length=80, label="Name")
    bought_at_once = WholeNumberField(
        label="Bought at once",
        required=False,
        at_least=1,
        at_most=1_000_000,
        help_text="By one buyer. Leave blank for 1, or the whole order.",
    )
    rush_share = PercentField(
        label="Rush surcharge", at_most=300, required=False, help_text="Added to the price."
    )
    listing_fee = MoneyField(label="Listing fee", required=False, at_most=100_000)

    commission_share = PercentField(
        label="Commission",
        at_most=99,
        required=False,
        help_text="Share of the price before tax, kept by the seller.",
    )
    resale_share = PercentField(
        label="Shop's margin",
        at_most=99,
        required=False,
        help_text="To calculate its shelf price.",
    )

    class Meta:
        model = Channel
        fields = (
            "name", "kind", "bought_at_once", "rush_share", "listing_fee", "commission_share",
            "resale_share", "notes",
        )  # fmt: skip
        widgets = {"notes": LongText(attrs={"rows": 3})}

    def clean(self) -> dict[str, Any]:
        """Count an amount left empty as none; at a stall and online one is bought at once."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("kind") in Channel.ONE_BY_ONE and cleaned.get("bought_at_once") is None:
            cleaned["bought_at_once"] = 1
        for field in ("rush_share", "listing_fee", "commission_share", "resale_share"):
            if field in cleaned and cleaned[field] is None:
                cleaned[field] = 0
        return cleaned


class TierForm(WorkshopForm):
    """Fees, margin, price step and deposit from one quantity on."""

    bought_at_once = WholeNumberField(label="Bought at once, from", at_least=1, at_most=1_000_000)
    margin = PercentField(label="Margin", at_most=99)
    fee_share = PercentField(label="Fee", required=False, at_most=99)
    fixed_fee = MoneyField(label="Fee per payment", required=False, at_most=100_000)
    payments_per_sale = WholeNumberField(label="Payments per sale", at_least=1, at_most=100)
    price_step = MoneyField(label="Round prices to", required=False, at_most=100_000, in_coins=True)
    deposit_share = PercentField(label="Deposit", required=False)
    deposit_step = MoneyField(
        label="Round deposit up to", required=False, at_most=100_000, in_coins=True
    )

    def clean(self) -> dict[str, Any]:
        """Count an amount left empty as none."""
        cleaned = super().clean() or self.cleaned_data
        for field in ("fee_share", "fixed_fee", "price_step", "deposit_share", "deposit_step"):
            if field in cleaned and cleaned[field] is None:
                cleaned[field] = 0
        return cleaned


class TierRows(RowsFormSet):
    """The tiers of a channel: the first one holds from 1, no quantity twice."""

    def clean(self) -> None:
        """Refuse tiers that leave a quantity without one, or say two things of one."""
        super().clean()
        if any(self.errors):
            return
        starts = [form.cleaned_data["bought_at_once"] for form in self.kept()]
        if 1 not in starts:
            raise forms.ValidationError("One row must start at quantity 1.")
        if len(set(starts)) != len(starts):
            raise forms.ValidationError("Two rows start at the same quantity.")

    def tiers(self) -> list[dict[str, Any]]:
        """Return what the rows say, without the ones left empty or removed."""
        return [
            {key: value for key, value in form.cleaned_data.items() if key != "DELETE"}
            for form in self.kept()
        ]


TierFormSet = rows_of(TierForm, base=TierRows, at_most=40)
