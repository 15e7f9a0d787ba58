"""Forms of a new workshop and of each section of its settings."""

import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from maker.calc.currencies import currencies_in_use, locale_names
from maker.calc.money import is_in_coins, minor_digits
from maker.calc.refusal import Refusal
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    HoursField,
    LengthField,
    LongText,
    MinutesField,
    MoneyField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopForm,
    WorkshopModelForm,
)
from maker.web.rows import RowsFormSet, rows_of
from maker.workshop.inputs import read_steps
from maker.workshop.models import WEEKDAY_MINUTES, CalendarDate, OverheadItem, Workshop

HOURS_OF_A_YEAR = 366 * 24
HOURS_OF_A_MONTH = 31 * 24
LONGEST = datetime.timedelta(days=366)  # of dates in one row
WEEKDAYS = (
    ("1", "Monday"),
    ("2", "Tuesday"),
    ("3", "Wednesday"),
    ("4", "Thursday"),
    ("5", "Friday"),
    ("6", "Saturday"),
    ("7", "Sunday"),
)


def currency_choices(on: datetime.date, kept: str = "") -> list[tuple[str, str]]:
    """Return every currency in use, and the kept one even if it is none any more."""
    named = dict(currencies_in_use(on))
    if kept and kept not in named:
        named[kept] = kept
    return [(code, f"{name} ({code}, {_decimals(code)})") for code, name in named.items()]


def _decimals(code: str) -> str:
    digits = minor_digits(code)
    return {0: "no decimals", 1: "1 decimal"}.get(digits, f"{digits} decimals")


class NewWorkshopForm(forms.Form):
    """The few things without which nothing can be worked out."""

    use_required_attribute = False
    name = OneLineField(
        label="Name of the workshop",
        max_length=120,
        help_text="It stands on documents; you can change it later.",
    )
    currency = forms.ChoiceField(
        label="Currency", help_text="It stays once the first receipt or pack price is in."
    )
    unit = forms.ChoiceField(
        label="You measure in", choices=Workshop.Unit, widget=forms.RadioSelect
    )
    wage_per_hour = MoneyField(
        label="What you pay yourself for an hour",
        help_text="Your wage at the bench, before tax. It is part of every cost.",
        at_most=100_000_000,
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        choices = currency_choices(timezone.localdate())
        self.fields["currency"].choices = choices  # type: ignore[attr-defined] # it is a ChoiceField
        if self.is_bound and self["currency"].data in dict(choices):
            self.fields["wage_per_hour"].unit = self["currency"].data  # type: ignore[attr-defined]


class SettingsForm(EditedForm, WorkshopModelForm):
    """One section of the settings, which knows the state it was opened with."""

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        initial = {"edit_number": workshop.edit_number, **options.pop("initial", {})}
        super().__init__(*args, workshop=workshop, instance=workshop, initial=initial, **options)


class ProfileForm(SettingsForm):
    """Who she is, for tags and documents."""

    name = OneLineField(label="Name of the workshop", max_length=120)
    maker_name = OneLineField(label="Your name", max_length=120, required=False)
    phone = OneLineField(label="Phone", max_length=40, required=False)
    website = OneLineField(
        label="Website", max_length=200, required=False, help_text="As it should be printed."
    )
    care_line = OneLineField(
        label="Care line",
        max_length=120,
        required=False,
        help_text="One line on price tags, for example “Keep dry, do not overfill”.",
    )

    class Meta:
        model = Workshop
        fields = ("name", "maker_name", "address", "email", "phone", "website", "care_line")
        labels = {"address": "Address", "email": "E-mail address for customers"}
        widgets = {"address": LongText({"rows": 4})}


class CountingForm(SettingsForm):
    """How she counts: money, numbers, lengths, stock."""

    currency = forms.ChoiceField(label="Currency")
    locale = forms.ChoiceField(
        label="Numbers and money are written as in",
        help_text="This changes how figures look, not the language of the pages.",
    )
    unit = forms.ChoiceField(
        label="You measure in",
        choices=Workshop.Unit,
        widget=forms.RadioSelect,
        help_text="Either can be typed anywhere with its unit; nothing stored is changed.",
    )
    valuation = forms.ChoiceField(
        label="Stock is valued by",
        choices=Workshop.Valuation,
        widget=forms.RadioSelect,
        help_text=(
            "What a material costs when it was bought at different prices: the average of what is "
            "on the shelf, the oldest on the shelf, or the last that was bought."
        ),
    )

    offcut_value = forms.ChoiceField(
        label="In a price, what is left of a sheet is worth",
        choices=Workshop.OffcutValue,
        widget=forms.RadioSelect,
    )
    offcut_least_mm = LengthField(
        label="Offcuts are kept from",
        allow_zero=True,
        help_text="The shorter side; what is narrower is waste.",
    )

    class Meta:
        model = Workshop
        fields = (
            "currency",
            "locale",
            "unit",
            "valuation",
            "offcut_value",
            "offcut_least_mm",
        )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        fields: Any = self.fields
        fields["currency"].choices = currency_choices(timezone.localdate(), self.workshop.currency)
        names = dict(locale_names())
        names.setdefault(self.workshop.locale, self.workshop.locale)
        fields["locale"].choices = list(names.items())


class HourForm(SettingsForm):
    """What an hour costs: the wage, and how overhead is shared over hours."""

    wage_per_hour = MoneyField(
        label="What you pay yourself for an hour", at_most=100_000_000, help_text="Before tax."
    )
    overhead_basis = forms.ChoiceField(
        label="Overhead is counted as",
        choices=Workshop.OverheadBasis,
        widget=forms.RadioSelect,
    )
    hours_per_year = MinutesField(
        label="Hands-on hours in a year",
        unit="h",
        decimals=2,
        at_most=HOURS_OF_A_YEAR,
        help_text=(
            "Hours in which something is made: no fairs, post, photos or bookkeeping. "
            "Counting too many makes every price too low."
        ),
    )
    planned_hours_per_month = MinutesField(
        label="Planned hours in a month",
        unit="h",
        decimals=2,
        at_most=HOURS_OF_A_MONTH,
        help_text="Used when overhead is counted by the month.",
    )
    overhead_per_hour_stated = MoneyField(
        label="The rate I state myself",
        at_most=100_000_000,
        help_text="An hour. Used only when you state the rate yourself.",
    )

    class Meta:
        model = Workshop
        fields = (
            "wage_per_hour",
            "overhead_basis",
            "hours_per_year",
            "planned_hours_per_month",
            "overhead_per_hour_stated",
        )


class OverheadForm(forms.Form):
    """One thing that is paid whether or not anything is made."""

    use_required_attribute = False
    name = OneLineField(label="What for", max_length=80)
    amount = MoneyField(label="Amount", at_most=1_000_000_000)
    period = forms.ChoiceField(
        label="Paid", choices=OverheadItem.Period, initial=OverheadItem.Period.MONTH
    )


OverheadRows = rows_of(OverheadForm, base=RowsFormSet, spare=2, at_most=40)


class TaxForm(SettingsForm):
    """Whether tax is on her prices, which, and how it is rounded."""

    tax_registered = forms.BooleanField(
        label="I am registered for this tax",
        required=False,
        help_text=(
            "Not registered: no tax is added to prices, and tax on receipts is part of the cost. "
            "Whether you must register is a question for a licensed adviser."
        ),
    )
    tax_name = OneLineField(
        label="Name of the tax", max_length=20, required=False, help_text="As documents call it."
    )
    tax_rate = PercentField(label="Rate")
    prices_include_tax = forms.TypedChoiceField(
        label="My prices are",
        choices=[("yes", "with tax"), ("no", "without tax, it is added")],
        coerce=lambda answer: answer == "yes",
        widget=forms.RadioSelect,
    )
    tax_rounding = forms.ChoiceField(
        label="Tax is rounded", choices=Workshop.TaxRounding, widget=forms.RadioSelect
    )

    class Meta:
        model = Workshop
        fields = (
            "tax_registered",
            "tax_name",
            "tax_rate",
            "prices_include_tax",
            "tax_rounding",
        )

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        answer = "yes" if workshop.prices_include_tax else "no"
        super().__init__(
            *args, workshop=workshop, initial={"prices_include_tax": answer}, **options
        )

    def clean(self) -> dict[str, Any]:
        """Ask for the tax's name where it will be printed."""
        values = super().clean() or self.cleaned_data
        if values.get("tax_registered") and not values.get("tax_name"):
            self.add_error("tax_name", "Type the name your documents call the tax by.")
        return values


class PricesForm(SettingsForm):
    """How totals are rounded and covered, and when a price is looked at again."""

    cash_step = MoneyField(
        label="Totals paid in coins go to the nearest",
        required=False,
        at_most=1_000_000,
        help_text=(
            "The smallest amount you can give change for, 0.05 where smaller coins are gone: "
            "12.33 is then paid as 12.35. Empty: not rounded. Prices, tax and what is paid by "
            "card or transfer stay as they are. Local rules come first."
        ),
    )
    deposit_rule = forms.ChoiceField(
        label="Where a channel asks for a deposit, it is",
        choices=Workshop.DepositRule,
        widget=forms.RadioSelect,
        help_text=(
            "What cannot come back: packs bought for this job alone, of materials no other "
            "design uses, and work on names; with tax. A total of 60.00 at 40 % gives 24.00; "
            "if packs for 35.00 serve nothing else, the second rule asks for 35.00. When a "
            "deposit may be kept is for local law and licensed advisers."
        ),
    )
    reprice_share = PercentField(
        label="Look at a price again when its cost is off by more than",
        help_text="At 5 %, a thing that cost 4.00 is told from 4.21 on, and below 3.80.",
    )
    timing_share = PercentField(
        label="Or when timed minutes are off by more than",
        help_text="At 10 %, a step of 10 minutes that takes 11.5 at the bench.",
    )
    reprice_after_months = WholeNumberField(
        label="Or after",
        unit="months",
        at_least=1,
        at_most=120,
        help_text="Counted from the day it was set.",
    )

    class Meta:
        model = Workshop
        fields = (
            "cash_step",
            "deposit_rule",
            "reprice_share",
            "timing_share",
            "reprice_after_months",
        )

    def clean_cash_step(self) -> Any:
        """Count an amount left empty as none; refuse what no coin of the currency can pay."""
        step = self.cleaned_data["cash_step"] or Decimal(0)
        if not is_in_coins(step, self.workshop.currency):
            raise forms.ValidationError("No coin of your currency is as small as that.")
        return step


class DatesForm(SettingsForm):
    """When she works, and how long others take."""

    # common practice, no source: three to five hours beside a household, a day to spare
    monday_minutes = HoursField(label="Monday")
    tuesday_minutes = HoursField(label="Tuesday")
    wednesday_minutes = HoursField(label="Wednesday")
    thursday_minutes = HoursField(label="Thursday")
    friday_minutes = HoursField(label="Friday")
    saturday_minutes = HoursField(label="Saturday")
    sunday_minutes = HoursField(label="Sunday")
    buffer_days = WholeNumberField(
        label="Spare workshop days",
        unit="workshop days",
        at_most=60,
        help_text="Kept free before each hand-over, in case something goes wrong.",
    )
    proof_days = WholeNumberField(
        label="Answer to a proof of names",
        unit="weekdays",
        at_most=60,
        help_text="How long a customer has. 0: you send none.",
    )
    transit_days = WholeNumberField(
        label="Days in transit",
        unit="carrier’s days",
        at_most=60,
        help_text="From hand-over to the customer.",
    )
    carrier_weekdays = forms.MultipleChoiceField(
        label="Carrier’s days",
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one day."},
    )
    purchase_lead_days = WholeNumberField(
        label="Delivery time of a new supplier",
        unit="weekdays",
        at_most=365,
        help_text="Each supplier has its own; this is where one starts.",
    )

    class Meta:
        model = Workshop
        fields = (
            *WEEKDAY_MINUTES,
            "buffer_days",
            "proof_days",
            "transit_days",
            "carrier_weekdays",
            "purchase_lead_days",
        )

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        super().__init__(
            *args,
            workshop=workshop,
            initial={"carrier_weekdays": list(workshop.carrier_weekdays)},
            **options,
        )

    @property
    def weekday_fields(self) -> list[Any]:
        """Return the hours, Monday first."""
        return [self[name] for name in WEEKDAY_MINUTES]

    def clean(self) -> Any:
        """Refuse a week without work."""
        cleaned = super().clean()
        if all(self.cleaned_data.get(name) == 0 for name in WEEKDAY_MINUTES):
            self.add_error(
                WEEKDAY_MINUTES[0], "Enter hours on at least one day, or no date can be promised."
            )
        return cleaned

    def clean_carrier_weekdays(self) -> str:
        """Store the days as one text, Monday first."""
        return "".join(sorted(self.cleaned_data["carrier_weekdays"]))


class CalendarDateForm(WorkshopForm):
    """Dates on which somebody does not do what they do on that weekday."""

    kind = forms.ChoiceField(label="What", choices=CalendarDate.Kind, initial=CalendarDate.Kind.OFF)
    first_on = DayField(label="From", required_text="Enter a date.")
    last_on = DayField(label="To", required=False)
    minutes = HoursField(label="Hours", required=False)
    note = OneLineField(label="Note", max_length=80, required=False)

    def clean(self) -> dict[str, Any]:
        """Take one date where no end is entered; hours belong to other hours only."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        first, kind = values.get("first_on"), values.get("kind")
        if first and not values.get("last_on") and "last_on" not in self.errors:
            values["last_on"] = first
        last = values.get("last_on")
        if first and last and last < first:
            self.add_error("last_on", "Enter a date that is not before the first.")
        elif first and last and last - first > LONGEST:
            self.add_error("last_on", "Enter a date within a year of the first.")
        if kind == CalendarDate.Kind.HOURS:
            if values.get("minutes") is None and "minutes" not in self.errors:
                self.add_error("minutes", "Enter the hours of each date, like 2.")
        else:
            values["minutes"] = None
        return values


CalendarDateRows = rows_of(CalendarDateForm, base=RowsFormSet, spare=2, at_most=200)


class QuotesForm(SettingsForm):
    """What quotes say, and her terms."""

    quantity_steps = OneLineField(
        label="Quantities shown side by side",
        max_length=80,
        help_text="Beside each cost and each line of a quote, for example 1, 12, 60, 250.",
    )
    quote_valid_days = WholeNumberField(
        label="A quote is valid for",
        unit="days",
        at_most=365,
        help_text="Not longer than your suppliers keep their prices; each quote can differ.",
    )
    quote_prefix = OneLineField(
        label="Quote numbers begin with",
        max_length=10,
        required=False,
        help_text="Before year and running number, as in Q-2026-0007. May be empty.",
    )

    class Meta:
        model = Workshop
        fields = (
            "quantity_steps",
            "quote_valid_days",
            "quote_prefix",
            "terms",
        )
        labels = {"terms": "Terms"}
        help_texts = {
            "terms": (
                "Printed on documents. What they may say is up to local consumer law; "
                "have them read by a licensed adviser."
            )
        }
        widgets = {"terms": LongText({"rows": 10})}

    def clean_quantity_steps(self) -> str:
        """Read the quantities and store them in order."""
        try:
            steps = read_steps(self.cleaned_data["quantity_steps"])
        except Refusal as refusal:
            raise forms.ValidationError(refusal.message) from refusal
        return ", ".join(str(step) for step in steps)

    def clean_quote_prefix(self) -> str:
        """Keep to what can stand in a file name and be read out on the phone."""
        prefix: str = self.cleaned_data["quote_prefix"]
        if not all(letter.isalnum() or letter in "-_/ " for letter in prefix):
            raise forms.ValidationError("Use letters, digits, spaces and - _ / only.")
        return prefix
