"""Entry of a shop, of what goes there and back, and of what it sold."""

import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LongText,
    MoneyField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopForm,
    WorkshopModelForm,
    tell_fields,
)
from pricing.consignment.models import Shop
from pricing.finished_stock.inputs import OnHand
from pricing.finished_stock.models import FinishedItem

MOST = 1_000_000


class ShopForm(EditedForm, WorkshopModelForm):
    """Name and share of a shop."""

    name = OneLineField(max_length=120, error_messages={"required": "Enter the name of the shop."})
    kept_share = PercentField(
        label="Share it keeps", at_most=99, help_text="Of the price on its shelf, with tax."
    )

    class Meta:
        model = Shop
        fields = ("kept_share", "notes")
        widgets = {"notes": LongText(attrs={"rows": 3})}

    field_order = ("name", "kept_share", "notes")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk:
            self.initial.setdefault("name", self.instance.place.name)


class CountsForm(WorkshopForm):
    """How many of each item, on which date; with prices where they were sold.

    `what` is what happens to them, as the head of their column says it; `prices` what each cost at
    the shop the last time, by the key of the item.
    """

    on = DayField(label="Date")
    note = OneLineField(label="Note", max_length=120, required=False)
    form_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        there: Sequence[OnHand],
        what: str,
        prices: Mapping[int, Decimal] | None = None,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.there, self.what, self.with_prices = there, what, prices is not None
        for each in there:
            name, key = str(each.item), each.item.pk
            self.fields[f"count_{key}"] = WholeNumberField(
                label=f"{name}, {what.lower()}", required=False, at_most=MOST
            )
            if prices is not None:
                self.fields[f"price_{key}"] = MoneyField(
                    label=f"{name}, price each there", required=False, at_most=MOST, in_coins=True
                )
                self.initial.setdefault(f"price_{key}", prices.get(key))
        tell_fields(self, self.workshop)
        self.initial.setdefault("form_key", uuid.uuid4())

    def rows(self) -> list[tuple[OnHand, forms.BoundField, forms.BoundField | None]]:
        """Return each item with the entry of how many and the one of its price."""
        return [
            (
                each,
                self[f"count_{each.item.pk}"],
                self[f"price_{each.item.pk}"] if self.with_prices else None,
            )
            for each in self.there
        ]

    def clean(self) -> dict[str, Any]:
        """Ask for the price of what was sold."""
        cleaned = super().clean() or self.cleaned_data
        for each in self.there if self.with_prices else ():
            key = each.item.pk
            if cleaned.get(f"count_{key}") and cleaned.get(f"price_{key}") is None:
                self.add_error(f"price_{key}", "Enter its price at the shop.")
        return cleaned

    def counts(self) -> dict[FinishedItem, int]:
        """Return how many of each item."""
        return {each.item: self.cleaned_data[f"count_{each.item.pk}"] or 0 for each in self.there}

    def sold(self) -> dict[FinishedItem, tuple[int, Decimal]]:
        """Return how many of each item at which price."""
        return {
            item: (count, self.cleaned_data[f"price_{item.pk}"] or Decimal(0))
            for item, count in self.counts().items()
        }
