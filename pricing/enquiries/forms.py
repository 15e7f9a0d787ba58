"""Entry of an enquiry, of the answer no, and the filter of the list."""

import datetime
from typing import Any

from django import forms

from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LengthField,
    LongText,
    MoneyField,
    NumberField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    WorkshopModelForm,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, RowsFormSet, rows_of
from pricing.customers.forms import CustomerOrNewForm
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry, EnquiryQuerySet
from pricing.enquiries.services import DropInput
from pricing.quotes.delivering import distance_unit
from pricing.quotes.fields import NamesField, QuantitiesField

MOST_DROPS = 30
STATES = [
    ("", "Not archived"),
    ("open", "Open"),
    ("quoted", "Quoted"),
    ("declined", "Declined"),
    ("away", "Archived"),
    ("all", "All"),
]


class EnquiryFilter(FilterForm):
    """Narrows the list of enquiries."""

    state = forms.ChoiceField(label="Status", choices=STATES, required=False)

    def narrow_by(self, queryset: EnquiryQuerySet, values: dict[str, Any]) -> EnquiryQuerySet:
        """Return the enquiries that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        state = values.get("state", "")
        if state == "all":
            return queryset
        if state == "away":
            return queryset.filter(retired_on__isnull=False)
        queryset = queryset.in_use()
        return queryset.filter(state=state) if state else queryset


class EnquiryForm(CustomerOrNewForm, EditedForm, WorkshopModelForm):
    """What was asked. A customer and a subject are enough."""

    title = OneLineField(
        label="Subject",
        max_length=120,
        help_text="For example: favours for the wedding on 12 June.",
        error_messages={"required": "Enter a subject."},
    )
    asked_on = DayField(label="Date received", required_text="Enter when it came.")
    needed_on = DayField(label="Date needed", required=False)
    quantities = QuantitiesField(
        label="Quantity",
        help_text="As they said it: 120, maybe 100 or 150.",
    )
    budget_each = MoneyField(
        label="Budget each",
        required=False,
        at_most=10_000_000,
        help_text="As your customers see prices.",
    )
    contents = OneLineField(
        label="Contents",
        max_length=200,
        required=False,
        help_text="What goes in: a candle, five sugared almonds.",
    )
    width_mm = LengthField(label="Width of contents", required=False)
    depth_mm = LengthField(label="Depth of contents", required=False)
    height_mm = LengthField(label="Height of contents", required=False)
    weight_g = NumberField(
        label="Weight of contents", unit="g", required=False, at_most=1_000_000, decimals=3
    )
    is_food = forms.BooleanField(label="The contents are food", required=False)
    youngest = WholeNumberField(
        label="Age of the youngest recipient",
        unit="years",
        required=False,
        at_most=120,
        help_text="Leave blank if no children.",
    )
    colours = OneLineField(
        label="Colours",
        max_length=200,
        required=False,
        help_text="With quantities if you know them: 60 moss, 60 plum.",
    )
    names = NamesField()
    wants_names = forms.BooleanField(label="A name on each item", required=False)
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = Enquiry
        fields = (
            *("title", "asked_on", "source", "needed_on", "quantities", "budget_each"),
            *("contents", "width_mm", "depth_mm", "height_mm", "weight_g", "is_food"),
            *("youngest", "colours", "wants_names", "names", "notes"),
        )
        widgets = {
            "notes": LongText(attrs={"rows": 3}),
        }
        labels = {"source": "Source", "notes": "Private notes"}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        customers = list(Customer.objects.of(self.workshop).in_use().by_name())
        kept = self.instance.customer if self.instance.customer_id else None
        if kept is not None and kept not in customers:
            customers.append(kept)
        self.offer_customers(customers)
        if kept is not None:
            self.initial["customer"] = kept

    def clean(self) -> dict[str, Any]:
        """Ask for all lengths of the contents or none."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        lengths = ("width_mm", "depth_mm", "height_mm")
        typed = [name for name in lengths if values.get(name)]
        if typed and len(typed) < len(lengths) and not set(lengths) & set(self.errors):
            missing = next(name for name in lengths if not values.get(name))
            self.add_error(missing, "Enter all three lengths, or none.")
        return values


class DropForm(WorkshopForm):
    """A place it goes to."""

    address = forms.CharField(
        label="Address", max_length=500, required=False, widget=LongText(attrs={"rows": 2})
    )
    quantity = WholeNumberField(label="Quantity", at_least=1, at_most=1_000_000, required=False)
    distance = NumberField(
        label="Distance",
        at_most=100_000,
        decimals=2,
        required=False,
        help_text="There and back.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        distance: Any = self.fields["distance"]
        distance.unit = distance_unit(self.workshop)

    def drop(self) -> DropInput:
        """Return what was typed."""
        typed = self.cleaned_data
        return DropInput(typed["address"].strip(), typed["quantity"], typed["distance"])


class DropRows(RowsFormSet):
    """The places an enquiry goes to."""

    def drops(self) -> list[DropInput]:
        """Return what was typed, row by row."""
        return [form.drop() for form in self.kept()]


DropFormSet = rows_of(DropForm, spare=1, at_most=MOST_DROPS, base=DropRows)


class DeclineForm(forms.Form):
    """Why nothing comes of it."""

    use_required_attribute = False
    reason = OneLineField(
        label="Reason", max_length=300, required=False, help_text="Helps you learn."
    )
    on = DayField(label="Date", required_text="Enter the date.")

    def __init__(self, *args: Any, today: datetime.date, **options: Any) -> None:
        super().__init__(*args, **options)
        self.today = today

    def clean_on(self) -> datetime.date:
        """Refuse a date to come."""
        on: datetime.date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError("That date is in the future.")
        return on


class TakeForm(forms.Form):
    """Which design a quote is made of, if any; the key makes a second click find the first."""

    use_required_attribute = False
    version = ChosenRowField(required=False)
    form_key = forms.UUIDField(required=False)
