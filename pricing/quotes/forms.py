"""Entry of a quote, of one of its lines, of the answer to it, and the filter of the list."""

import datetime
from decimal import Decimal
from typing import Any

from django import forms

from catalogue.designs.models import Design
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
from pricing.customers.models import Customer
from pricing.quotes.inputs import names_of
from pricing.quotes.models import Quote, QuoteLine, QuoteQuerySet
from pricing.quotes.services import Head, QuoteLineInput

ZERO = Decimal(0)
OPTION_PREFIX = "option_"
STATES = [
    ("", "All that count"),
    ("draft", "Drafts"),
    ("waiting", "Waiting for an answer"),
    ("expired", "Expired"),
    ("accepted", "Accepted"),
    ("declined", "Declined"),
    ("replaced", "Replaced"),
    ("discarded", "Thrown away"),
    ("all", "All"),
]


class QuoteFilter(FilterForm):
    """Narrows the list of quotes by state and customer."""

    state = forms.ChoiceField(label="Which", choices=STATES, required=False)
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


class NewQuoteForm(WorkshopForm):
    """For whom, and what it is about; the rest follows."""

    customer = ChosenRowField(
        label="Customer", empty_label="A new one, named below", required=False
    )
    new_name = OneLineField(
        label="Name of a new customer",
        max_length=120,
        required=False,
        help_text="The address can be added later.",
    )
    title = OneLineField(
        label="What it is about",
        max_length=120,
        required=False,
        help_text="For example: favour bags for the wedding of 12 June.",
    )
    channel = ChosenRowField(label="Sold through", required=False)
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, channels: list[Channel], **options: Any) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        customers = Customer.objects.of(self.workshop).in_use().by_name()
        fields["customer"].use_rows(rows_by_key(customers))
        offer_channels(fields["channel"], channels)

    def clean(self) -> dict[str, Any]:
        """Ask for one customer, chosen or named."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors:
            if values["customer"] and values["new_name"]:
                self.add_error("new_name", "Choose a customer or type a new one, not both.")
            elif not values["customer"] and not values["new_name"]:
                self.add_error("customer", "Choose a customer, or type the name of a new one.")
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
    channel = ChosenRowField(label="Sold through", required=False)
    title = OneLineField(label="What it is about", max_length=120, required=False)
    needed_on = DayField(label="Needed on", required=False)
    valid_until = DayField(
        label="Valid until",
        required_text="Type the last day on which it can be accepted.",
    )
    delivery = MoneyField(
        label="Delivery, what it costs you",
        required=False,
        at_most=1_000_000,
        help_text="Without tax; passed on without margin.",
    )
    deposit_share = PercentField(
        label="Deposit", required=False, help_text="Empty: as the channel has it. 0: none."
    )
    is_rush = forms.BooleanField(
        label="Rush order", required=False, help_text="Adds the channel's surcharge to each price."
    )
    intro = forms.CharField(
        label="Opening words",
        max_length=4000,
        required=False,
        widget=LongText(attrs={"rows": 3}),
    )
    terms = forms.CharField(
        max_length=20_000,
        required=False,
        widget=LongText(attrs={"rows": 6}),
        help_text=(
            "Printed on the quote and kept with it. What they may say is up to local consumer "
            "law; have them read by a licensed adviser."
        ),
    )
    own_notes = forms.CharField(
        label="Notes for yourself",
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

    def clean_valid_until(self) -> datetime.date:
        """Refuse a day that is over."""
        day: datetime.date = self.cleaned_data["valid_until"]
        if day < self.today:
            raise forms.ValidationError("This day is over. Choose today or a later one.")
        return day

    def head(self) -> Head:
        """Return what was typed as a value."""
        values = {name: self.cleaned_data[name] for name in Head.__dataclass_fields__}
        return Head(**values | {"delivery": values["delivery"] or ZERO})


class QuotedDesignForm(forms.Form):
    """Which design a new line is of; sent by GET, so that the address keeps it."""

    use_required_attribute = False
    design = ChosenRowField(label="Design", empty_label="Choose a design")

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        super().__init__(*args, **options)
        designs = Design.objects.of(workshop).in_use().filter(versions__isnull=False)
        field: Any = self.fields["design"]
        field.use_rows(rows_by_key(designs.distinct().by_name()))


class QuoteLineForm(WorkshopForm):
    """One line: options and colourway of the design, how many, names, and a price of her own."""

    edit_number = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    version = ChosenRowField(widget=forms.HiddenInput)
    quantity = WholeNumberField(label="How many", at_least=1, at_most=1_000_000)
    colourway = ChosenRowField(label="Colourway", empty_label="As in the recipe", required=False)
    price_asked = MoneyField(
        label="Your own price for one",
        required=False,
        at_most=10_000_000,
        help_text="Empty: the price of your list, else the one worked out.",
    )
    names = forms.CharField(
        label="Names",
        max_length=40_000,
        required=False,
        widget=LongText(attrs={"rows": 4, "autocomplete": "off"}),
        help_text="One to a row; paste a list. Names of people are personal data.",
    )
    description = forms.CharField(
        label="Words about it",
        max_length=2000,
        required=False,
        widget=LongText(attrs={"rows": 3}),
        help_text="Printed under the design's name.",
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
        for name in ("quantity", "names", "description", "price_asked"):
            self.initial.setdefault(name, getattr(row, name))
        ways = self.chosen_version.colourways.all()
        same = [way for way in ways if way.name == row.colourway_name]
        if same:
            self.initial.setdefault("colourway", same[0])
        for name in self.option_names:
            chosen = row.choices.get(name.removeprefix(OPTION_PREFIX))
            if chosen in dict(self.fields[name].choices):  # type: ignore[attr-defined]
                self.initial.setdefault(name, chosen)

    def clean_names(self) -> str:
        """Keep one name to a row, without empty rows."""
        return "\n".join(names_of(self.cleaned_data["names"]))

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
        )


class AcceptForm(forms.Form):
    """Who said yes, and on which day."""

    use_required_attribute = False
    decided_by = OneLineField(
        label="Who said yes",
        max_length=120,
        error_messages={"required": "Type who accepted it, so that it can be told later."},
    )
    decided_on = DayField(label="On which day", required_text="Type the day of the answer.")


class DeclineForm(forms.Form):
    """Why it was declined."""

    use_required_attribute = False
    reason = forms.ChoiceField(
        label="Why",
        choices=Quote.Reason,
        required=False,
        widget=forms.RadioSelect,
        help_text="So that you learn what to change: price, date or style.",
    )
    reason_note = OneLineField(label="In the customer's words", max_length=300, required=False)
    decided_on = DayField(label="On which day", required_text="Type the day of the answer.")
