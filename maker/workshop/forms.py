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
    LengthField,
    LongText,
    MinutesField,
    MoneyField,
    NumberField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopModelForm,
)
from maker.web.rows import RowsFormSet, rows_of
from maker.workshop.inputs import read_steps
from maker.workshop.models import OverheadItem, Workshop

HOURS_OF_A_YEAR = 366 * 24
HOURS_OF_A_MONTH = 31 * 24
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
    hours_per_year = NumberField(
        label="Hands-on hours in a year",
        unit="h",
        decimals=2,
        at_most=HOURS_OF_A_YEAR,
        help_text=(
            "Hours in which something is made: no fairs, post, photos or bookkeeping. "
            "Counting too many makes every price too low."
        ),
    )
    planned_hours_per_month = NumberField(
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


class DaysForm(SettingsForm):
    """When she works, how long things take to arrive, and her terms."""

    # three to five: common practice, no source
    hours_per_day = MinutesField(
        label="Hands-on hours in a working day",
        unit="h",
        decimals=2,
        at_most=24,
        help_text="They say when an order can be ready. Beside a household 3 to 5 are common.",
    )
    working_weekdays = forms.MultipleChoiceField(
        label="Days you work",
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one day, or no date can be promised."},
    )
    purchase_lead_days = WholeNumberField(
        label="Days until ordered materials arrive",
        unit="days",
        at_most=365,
        help_text="Waited for before the work begins.",
    )
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
            "hours_per_day",
            "working_weekdays",
            "purchase_lead_days",
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

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        super().__init__(
            *args,
            workshop=workshop,
            initial={"working_weekdays": list(workshop.working_weekdays)},
            **options,
        )

    def clean_hours_per_day(self) -> Any:
        """Refuse a day too short to plan with."""
        hours = self.cleaned_data["hours_per_day"]
        if hours is not None and hours * 4 < 1:
            raise forms.ValidationError("A working day has at least a quarter of an hour.")
        return hours

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

    def clean_working_weekdays(self) -> str:
        """Store the days as one text, Monday first."""
        return "".join(sorted(self.cleaned_data["working_weekdays"]))
