"""Entry of a quote, of one of its lines, of the answer to it, and the filter of the list."""

import datetime
from decimal import Decimal
from typing import Any

from django import forms

from catalogue.designs.forms import offer_designs
from catalogue.recipes.models import Colourway, DesignVersion
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    LongText,
    MoneyField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopForm,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, rows_by_key
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.customers.forms import CustomerOrNewForm
from pricing.customers.models import Customer
from pricing.quotes.fields import NamesField, QuantitiesField
from pricing.quotes.models import Quote, QuoteLine, QuoteQuerySet
from pricing.quotes.services import Head, QuoteLineInput

ZERO = Decimal(0)
OPTION_PREFIX = "option_"
STATES = [
    ("", "Active"),
    ("draft", "Drafts"),
    ("waiting", "Sent"),
    ("expired", "Expired"),
    ("accepted", "Accepted"),
    ("declined", "Declined"),
    ("replaced", "Replaced"),
    ("discarded", "Deleted drafts"),
    ("all", "All"),
]


class QuoteFilter(FilterForm):
    """Narrows the list of quotes by state and customer."""

    state = forms.ChoiceField(label="Status", choices=STATES, required=False)
    customer = ChosenRowField(label="Customer", empty_label="All", required=False)

    def __init__(self, *args: Any, workshop: Workshop, today: datetime.date, **rest: Any) -> None:
        super().__init__(*args, **rest)
        self.today = today
        customers: Any = self.fields["customer"]
        customers.use_rows(rows_by_key(Customer.objects.of(workshop).by_name()))

    def narrow_by(self, queryset: QuoteQuerySet, values: dict[str, Any]) -> QuoteQuerySet:
        """Return the quotes that match."""
        if "search" in values:
            queryset = queryset.matching(values["search"])
        if "customer" in values:
            queryset = queryset.filter(customer=values["customer"])
        state = values.get("state", "")
        if state == "all":
            return queryset
        if state == "waiting":
            return queryset.waiting(self.today)
        if state == "expired":
            return queryset.expired(self.today)
        return queryset.filter(state=state) if state else queryset.that_count()


class NewQuoteForm(CustomerOrNewForm, WorkshopForm):
    """For whom, what it is about and, if known, its first line; the rest follows."""

    title = OneLineField(
        label="Subject",
        max_length=120,
        required=False,
        help_text="For example: favour bags for the wedding on 12 June.",
    )
    needed_on = DayField(label="Date needed", required=False)
    design = ChosenRowField(label="Design", empty_label="Choose later", required=False)
    quantity = WholeNumberField(label="Quantity", at_least=1, at_most=1_000_000, required=False)
    channel = ChosenRowField(label="Sales channel", required=False)
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, channels: list[Channel], **options: Any) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        self.offer_customers(Customer.objects.of(self.workshop).in_use().by_name())
        offer_designs(fields["design"], self.workshop)
        offer_channels(fields["channel"], channels)

    def clean(self) -> dict[str, Any]:
        """Ask what a quantity is of."""
        values = super().clean()
        if values.get("quantity") and "design" in values and not values["design"]:
            self.add_error("design", "Choose a design for this quantity.")
        return values


def offer_channels(field: Any, channels: list[Channel]) -> None:
    """Offer the channels; without any a quote is worked out without fees."""
    field.use_rows(rows_by_key(channels))
    if channels:
        field.choices = field.choices[1:]
        # an order is rarely taken at the terms of a stall: no deposit, small steps
        field.initial = next(
            (row for row in channels if row.kind == Channel.Kind.DIRECT), channels[0]
        )
    else:
        field.widget = forms.HiddenInput()


class QuoteForm(EditedForm, WorkshopForm):
    """What a draft says beside its lines."""

    customer = ChosenRowField(label="Customer")
    channel = ChosenRowField(label="Sales channel", required=False)
    title = OneLineField(label="Subject", max_length=120, required=False)
    needed_on = DayField(label="Date needed", required=False)
    valid_until = DayField(
        label="Valid until",
        required_text="Enter the last date it can be accepted.",
    )
    delivery = MoneyField(
        label="Delivery cost",
        required=False,
        at_most=1_000_000,
        help_text="Before tax. Charged at cost.",
    )
    deposit_share = PercentField(
        label="Deposit",
        required=False,
        help_text="Leave blank for the channel's deposit; 0 for none.",
    )
    is_rush = forms.BooleanField(
        label="Rush order", required=False, help_text="Adds the channel's rush surcharge."
    )
    intro = forms.CharField(
        label="Introduction",
        max_length=4000,
        required=False,
        widget=LongText(attrs={"rows": 3}),
    )
    terms = forms.CharField(
        max_length=20_000,
        required=False,
        widget=LongText(attrs={"rows": 6}),
        help_text="Printed on the quote. Ask a licensed adviser what they may say.",
    )
    own_notes = forms.CharField(
        label="Private notes",
        max_length=4000,
        required=False,
        widget=LongText(attrs={"rows": 3}),
        help_text="Never printed.",
    )

    def __init__(
        self, *args: Any, quote: Quote, today: datetime.date, channels: list[Channel], **rest: Any
    ) -> None:
        self.instance = quote
        self.today = today
        initial = {name: getattr(quote, name) for name in Head.__dataclass_fields__}
        super().__init__(*args, workshop=quote.workshop, initial=initial, **rest)
        fields: Any = self.fields
        customers = list(Customer.objects.of(quote.workshop).in_use().by_name())
        if quote.customer not in customers:
            customers.append(quote.customer)
        if quote.replaces_id:
            customers = [quote.customer]
            fields["customer"].help_text = "A revision stays with its customer."
        fields["customer"].use_rows(rows_by_key(customers))
        fields["customer"].choices = fields["customer"].choices[1:]
        if quote.channel and quote.channel not in channels:
            channels = [*channels, quote.channel]
        offer_channels(fields["channel"], channels)
        if quote.pk and quote.drops.exists():
            # worked out from where it goes, on a page of its own
            del fields["delivery"]

    def clean_valid_until(self) -> datetime.date:
        """Refuse a day that is over."""
        day: datetime.date = self.cleaned_data["valid_until"]
        if day < self.today:
            raise forms.ValidationError("That date has passed. Choose today or later.")
        return day

    def head(self) -> Head:
        """Return what was typed as a value."""
        typed = {"delivery": self.instance.delivery} | self.cleaned_data
        values = {name: typed[name] for name in Head.__dataclass_fields__}
        return Head(**values | {"delivery": values["delivery"] or ZERO})


class QuoteLineForm(WorkshopForm):
    """One line: options and colourway of the design, how many, names, and a price of her own."""

    edit_number = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    version = ChosenRowField(widget=forms.HiddenInput)
    quantity = WholeNumberField(label="Quantity", at_least=1, at_most=1_000_000)
    colourway = ChosenRowField(label="Colourway", empty_label="As in the recipe", required=False)
    price_asked = MoneyField(
        label="Your price each",
        required=False,
        at_most=10_000_000,
        help_text="Leave blank for your list price or the suggested price.",
    )
    other_quantities = QuantitiesField(
        label="Also show the price for",
        help_text="Other quantities on the quote: 100, 150.",
    )
    names = NamesField()
    description = forms.CharField(
        label="Description",
        max_length=2000,
        required=False,
        widget=LongText(attrs={"rows": 3}),
        help_text="Printed under the item's name.",
    )

    def __init__(
        self,
        *args: Any,
        version: DesignVersion,
        versions: list[DesignVersion],
        row: QuoteLine | None = None,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.chosen_version = version
        fields: Any = self.fields
        fields["version"].use_rows(rows_by_key(versions))
        self.initial.setdefault("version", version)
        ways = list(version.colourways.all())
        fields["colourway"].use_rows(rows_by_key(ways))
        if not ways:
            del fields["colourway"]
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
                initial=default,
            )
            self.option_names.append(name)
        if row is not None:
            self._show(row)
        self.order_fields(["quantity", *self.option_names, "colourway", "price_asked"])

    def _show(self, row: QuoteLine) -> None:
        """Start with what a line says, as far as this version still knows it."""
        for name in ("quantity", "names", "description", "other_quantities", "price_asked"):
            self.initial.setdefault(name, getattr(row, name))
        ways = self.chosen_version.colourways.all()
        same = [way for way in ways if way.name == row.colourway_name]
        if same:
            self.initial.setdefault("colourway", same[0])
        for name in self.option_names:
            chosen = row.choices.get(name.removeprefix(OPTION_PREFIX))
            if chosen in dict(self.fields[name].choices):  # type: ignore[attr-defined]
                self.initial.setdefault(name, chosen)

    def line(self) -> QuoteLineInput:
        """Return what was typed as a value."""
        typed = self.cleaned_data
        colourway: Colourway | None = typed.get("colourway")
        return QuoteLineInput(
            version=self.chosen_version,
            quantity=typed["quantity"],
            colourway=colourway,
            choices={name.removeprefix(OPTION_PREFIX): typed[name] for name in self.option_names},
            names=typed["names"],
            description=typed["description"],
            price_asked=typed["price_asked"],
            other_quantities=typed["other_quantities"],
        )


class AcceptForm(forms.Form):
    """Who said yes, and on which day."""

    use_required_attribute = False
    decided_by = OneLineField(
        label="Accepted by",
        max_length=120,
        error_messages={"required": "Enter who accepted it."},
    )
    decided_on = DayField(label="Date", required_text="Enter the date of the answer.")


class DeclineForm(forms.Form):
    """Why it was declined."""

    use_required_attribute = False
    reason = forms.ChoiceField(
        label="Reason",
        choices=Quote.Reason,
        required=False,
        widget=forms.RadioSelect,
        help_text="Helps you learn.",
    )
    reason_note = OneLineField(label="Customer's words", max_length=300, required=False)
    decided_on = DayField(label="Date", required_text="Enter the date of the answer.")


class KeyForm(forms.Form):
    """The key of a button, so that a second click finds what the first one made."""

    form_key = forms.UUIDField()
