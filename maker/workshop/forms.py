"""Forms of a new workshop and of the sections of its settings about itself and its money."""

import calendar
import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from maker.calc.currencies import currencies_in_use, locale_names
from maker.calc.money import minor_digits
from maker.web.editing import EditedForm
from maker.web.fields import (
    LengthField,
    LongText,
    MinutesField,
    MoneyField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopModelForm,
)
from maker.web.rows import RowsFormSet, rows_of
from maker.workshop.models import OverheadItem, Workshop

HOURS_OF_A_YEAR = 366 * 24
HOURS_OF_A_MONTH = 31 * 24


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
        label="Workshop name",
        max_length=120,
        help_text="Printed on quotes. You can change it later.",
    )
    currency = forms.ChoiceField(
        label="Currency", help_text="Can't be changed after your first amount in it."
    )
    unit = forms.ChoiceField(label="Units", choices=Workshop.Unit, widget=forms.RadioSelect)
    wage_per_hour = MoneyField(
        label="Hourly wage",
        help_text="What you pay yourself, before tax. Part of every cost.",
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

    name = OneLineField(label="Workshop name", max_length=120)
    maker_name = OneLineField(label="Your name", max_length=120, required=False)
    phone = OneLineField(label="Phone", max_length=40, required=False)
    website = OneLineField(label="Website", max_length=200, required=False, help_text="As printed.")
    care_line = OneLineField(
        label="Care note",
        max_length=120,
        required=False,
        help_text="Printed on price tags, like “Keep dry, do not overfill”.",
    )

    class Meta:
        model = Workshop
        fields = ("name", "maker_name", "address", "email", "phone", "website", "care_line")
        labels = {"address": "Address", "email": "Email for customers"}
        widgets = {"address": LongText({"rows": 4})}


class CountingForm(SettingsForm):
    """How she counts: money, numbers, lengths, stock."""

    currency = forms.ChoiceField(label="Currency")
    locale = forms.ChoiceField(
        label="Number format",
        help_text="Changes how figures look, not the language.",
    )
    unit = forms.ChoiceField(
        label="Units",
        choices=Workshop.Unit,
        widget=forms.RadioSelect,
        help_text="You can enter either anywhere, with its unit.",
    )
    valuation = forms.ChoiceField(
        label="Stock value",
        choices=Workshop.Valuation,
        widget=forms.RadioSelect,
        help_text=("Which price counts when you bought at several."),
    )

    offcut_value = forms.ChoiceField(
        label="Offcuts in prices",
        choices=Workshop.OffcutValue,
        widget=forms.RadioSelect,
    )
    offcut_least_mm = LengthField(
        label="Offcuts are kept from",
        allow_zero=True,
        help_text="Shorter side. Anything narrower is waste.",
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
    """Hourly cost: the wage, and how overhead is shared over hours."""

    wage_per_hour = MoneyField(label="Hourly wage", at_most=100_000_000, help_text="Before tax.")
    overhead_basis = forms.ChoiceField(
        label="Overhead",
        choices=Workshop.OverheadBasis,
        widget=forms.RadioSelect,
    )
    hours_per_year = MinutesField(
        label="Hands-on hours per year",
        unit="h",
        decimals=2,
        at_most=HOURS_OF_A_YEAR,
        help_text=("Making only, no fairs, post or bookkeeping. Too many lowers every price."),
    )
    planned_hours_per_month = MinutesField(
        label="Planned hours per month",
        unit="h",
        decimals=2,
        at_most=HOURS_OF_A_MONTH,
        help_text="Used for monthly overhead.",
    )
    overhead_per_hour_stated = MoneyField(
        label="Own overhead rate",
        at_most=100_000_000,
        help_text="Per hour. Used only if you enter your own rate.",
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
    name = OneLineField(label="Cost", max_length=80)
    amount = MoneyField(label="Amount", at_most=1_000_000_000)
    period = forms.ChoiceField(
        label="Paid", choices=OverheadItem.Period, initial=OverheadItem.Period.MONTH
    )


OverheadRows = rows_of(OverheadForm, base=RowsFormSet, spare=2, at_most=40)


class TaxForm(SettingsForm):
    """Whether tax is on her prices, which, and how it is rounded."""

    tax_registered = forms.BooleanField(
        label="I am registered for tax",
        required=False,
        help_text=("Not registered: prices have no tax, tax you pay is a cost."),
    )
    tax_name = OneLineField(label="Tax name", max_length=20, required=False, help_text="Like VAT.")
    tax_rate = PercentField(label="Rate")
    prices_include_tax = forms.TypedChoiceField(
        label="Prices",
        choices=[("yes", "with tax"), ("no", "without tax (added at the end)")],
        coerce=lambda answer: answer == "yes",
        widget=forms.RadioSelect,
    )
    tax_rounding = forms.ChoiceField(
        label="Tax rounding", choices=Workshop.TaxRounding, widget=forms.RadioSelect
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
            self.add_error("tax_name", "Enter the name printed on documents, like VAT.")
        return values


MONTHS = (
    (1, "January"), (2, "February"), (3, "March"), (4, "April"), (5, "May"), (6, "June"),
    (7, "July"), (8, "August"), (9, "September"), (10, "October"), (11, "November"),
    (12, "December"),
)  # fmt: skip
CHANCES = ("0.8", "0.9", "0.95", "0.98", "0.99")


class SuppliesForm(SettingsForm):
    """When to buy and how much, what counts as slow stock, when the tax year starts."""

    buying_chance = forms.TypedChoiceField(
        label="Chance that stock lasts",
        choices=[(chance, f"{Decimal(chance) * 100:.0f}%") for chance in CHANCES],
        coerce=Decimal,
        help_text="Until a delivery comes. A higher chance keeps more in stock.",
    )
    order_cost = MoneyField(
        label="Cost of ordering a material",
        at_most=1_000_000,
        help_text="Your time to order, unpack and enter it.",
    )
    holding_share = PercentField(
        label="Cost of keeping stock per year",
        help_text="Money tied up, space, damage. 20% is common.",
    )
    slow_days = WholeNumberField(
        label="Slow after", unit="days", at_least=1, at_most=3650, help_text="Without any use."
    )
    slow_weeks = WholeNumberField(label="Or when it lasts", unit="weeks", at_least=1, at_most=1000)
    tax_year_month = forms.TypedChoiceField(label="Tax year starts in", choices=MONTHS, coerce=int)
    tax_year_day = WholeNumberField(
        label="On the", at_least=1, at_most=31, help_text="Date in that month, like 6."
    )

    class Meta:
        model = Workshop
        fields = (
            "buying_chance",
            "order_cost",
            "holding_share",
            "slow_days",
            "slow_weeks",
            "tax_year_month",
            "tax_year_day",
        )

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        chance = f"{workshop.buying_chance.normalize():f}"
        initial = {"buying_chance": chance} | options.pop("initial", {})
        super().__init__(*args, workshop=workshop, initial=initial, **options)
        field: Any = self.fields["buying_chance"]
        if chance not in CHANCES:
            words = f"{workshop.buying_chance * 100:.1f}%"
            field.choices = [*field.choices, (chance, words)]

    def clean(self) -> dict[str, Any]:
        """Refuse a day that its month never has."""
        values = super().clean() or self.cleaned_data
        month, day = values.get("tax_year_month"), values.get("tax_year_day")
        if month and day and day > calendar.monthrange(2023, month)[1]:
            self.add_error("tax_year_day", "That month is shorter. Enter a date it has.")
        return values


class PricesForm(SettingsForm):
    """How totals are rounded and covered, and when a price is looked at again."""

    cash_step = MoneyField(
        label="Round cash totals to",
        required=False,
        at_most=1_000_000,
        in_coins=True,
        help_text=("Like 0.05: 12.33 is paid as 12.35. Leave blank for none."),
    )
    deposit_rule = forms.ChoiceField(
        label="Deposit rule",
        choices=Workshop.DepositRule,
        widget=forms.RadioSelect,
        help_text=("Local law says when you may keep a deposit: ask an adviser."),
    )
    reprice_share = PercentField(
        label="Flag a price when its cost moves by",
        help_text="At 5%, a cost of 4.00 counts from 4.21 and below 3.80.",
    )
    timing_share = PercentField(
        label="Or when timed minutes differ by",
        help_text="At 10%, a step of 10 minutes that took 11.5.",
    )
    reprice_after_months = WholeNumberField(
        label="Or after",
        unit="months",
        at_least=1,
        at_most=120,
        help_text="Counted from the date it was set.",
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
        """Count an amount left empty as none."""
        return self.cleaned_data["cash_step"] or Decimal(0)
