"""Entry of discounts and charges, and of the places a quote is taken to."""

from typing import Any

from django import forms

from maker.web.editing import EditedForm
from maker.web.fields import (
    LongText,
    MoneyField,
    NumberField,
    OneLineField,
    PercentField,
    WholeMinutesField,
    WholeNumberField,
    WorkshopForm,
)
from maker.web.rows import RowsFormSet, rows_of
from pricing.quotes.delivering import DropInput, distance_unit
from pricing.quotes.models import QuoteExtra
from pricing.quotes.services import ExtraInput

MOST_EXTRAS, MOST_DROPS = 12, 30


class ExtrasForm(EditedForm, forms.Form):
    """Which state of the quote the page was opened with."""

    use_required_attribute = False


class ExtraForm(WorkshopForm):
    """A discount or a charge: a reason, and an amount or a share."""

    kind = forms.ChoiceField(
        label="Kind", choices=QuoteExtra.Kind, initial=QuoteExtra.Kind.DISCOUNT
    )
    reason = OneLineField(label="Reason", max_length=120, required=False)
    share = PercentField(label="Share of the lines", required=False)
    amount = MoneyField(label="Or amount", required=False, at_most=10_000_000, in_coins=True)

    def clean(self) -> dict[str, Any]:
        """Ask for a reason, and for an amount or a share."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if self.errors or values.get("DELETE"):
            return values
        if not values["reason"]:
            self.add_error("reason", "Enter the reason. It is printed on the quote.")
        if values["share"] is None and values["amount"] is None:
            self.add_error("share", "Enter a share or an amount.")
        elif values["share"] is not None and values["amount"] is not None:
            self.add_error("amount", "Enter a share or an amount, not both.")
        return values

    def extra(self) -> ExtraInput:
        """Return what was typed."""
        typed = self.cleaned_data
        return ExtraInput(typed["kind"], typed["reason"], typed["amount"], typed["share"])


class ExtraRows(RowsFormSet):
    """The discounts and charges of a quote."""

    def extras(self) -> list[ExtraInput]:
        """Return what was typed, row by row."""
        return [form.extra() for form in self.kept()]


ExtraFormSet = rows_of(ExtraForm, spare=1, at_most=MOST_EXTRAS, base=ExtraRows)


class DeliveryForm(EditedForm, WorkshopForm):
    """What her way costs, and whether delivery earns something."""

    distance_cost = MoneyField(label="Cost per km", required=False, at_most=1000)
    delivery_margin = PercentField(
        label="Margin on delivery",
        required=False,
        at_most=95,
        help_text="Blank: charged at cost.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["distance_cost"].label = f"Cost per {distance_unit(self.workshop)}"


class DropForm(WorkshopForm):
    """A place, and what taking it there costs."""

    address = forms.CharField(
        label="Address", max_length=500, required=False, widget=LongText(attrs={"rows": 2})
    )
    quantity = WholeNumberField(label="Quantity", at_least=1, at_most=1_000_000, required=False)
    carrier = MoneyField(label="Carrier", required=False, at_most=1_000_000)
    minutes = WholeMinutesField(
        label="Your time",
        unit="min",
        required=False,
        at_most=6000,
        help_text="Loading and driving.",
    )
    distance = NumberField(
        label="Distance", at_most=100_000, decimals=2, required=False, help_text="There and back."
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        distance: Any = self.fields["distance"]
        distance.unit = distance_unit(self.workshop)

    def drop(self) -> DropInput:
        """Return what was typed."""
        typed = self.cleaned_data
        return DropInput(
            typed["address"].strip(),
            typed["quantity"],
            typed["carrier"],
            typed["minutes"],
            typed["distance"],
        )


class DropRows(RowsFormSet):
    """The places a quote is taken to."""

    def drops(self) -> list[DropInput]:
        """Return what was typed, row by row."""
        return [form.drop() for form in self.kept()]


DropFormSet = rows_of(DropForm, spare=1, at_most=MOST_DROPS, base=DropRows)
