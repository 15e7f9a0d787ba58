"""Entry of a fair: its days, costs, items, float, a day's evening and bundles."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q

from maker.calc.dates import say_date
from maker.calc.money import minor_digits
from maker.web.editing import EditedForm
from maker.web.fields import (
    DayField,
    DecimalText,
    LongText,
    MinutesField,
    MoneyField,
    NumberField,
    OneLineField,
    PercentField,
    WholeNumberField,
    WorkshopForm,
    WorkshopModelForm,
    tell_fields,
)
from maker.web.lists import FilterForm
from maker.web.rows import ChosenRowField, RowsFormSet, rows_by_key, rows_of
from maker.workshop.models import Workshop
from pricing.calc.fairs.choosing import Limits
from pricing.calc.fairs.guess import spread_around
from pricing.channels.models import Channel
from pricing.fairs.models import Fair, FairCost, FairDay
from pricing.orders.models import Order

ZERO = Decimal(0)
MOST = 1_000_000
MOST_ASKED = 2000
# coins and notes of most currencies go by one, two and five; she adds what is missing
WITH_PARTS = ("0.05", "0.10", "0.20", "0.50", "1", "2", "5", "10", "20", "50")
WITHOUT_PARTS = ("1", "5", "10", "50", "100", "500", "1000", "5000", "10000")


class TimeOfDayField(forms.TimeField):
    """A time on the clock."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
            input_formats=["%H:%M", "%H.%M", "%H:%M:%S"],
            error_messages={"invalid": "Enter a time, like 9:30."},
            **options,
        )


class FairForm(EditedForm, WorkshopModelForm):
    """What is said of a fair as a whole."""

    name = OneLineField(max_length=120, error_messages={"required": "Enter the name of the fair."})
    place = OneLineField(max_length=200, required=False)
    helper = OneLineField(max_length=120, required=False, label="Help at the table")
    table_metres = NumberField(
        label="Table length", unit="m", required=False, at_most=100, decimals=2
    )
    prepare_hours = MinutesField(
        label="Preparing", unit="h", required=False, at_most=10_000, decimals=2,
        help_text="Hours for the whole fair, making not counted.",
    )  # fmt: skip
    drive_hours = MinutesField(
        label="Driving per day", unit="h", required=False, at_most=24, decimals=2
    )
    pack_hours = MinutesField(
        label="Packing down per day", unit="h", required=False, at_most=24, decimals=2
    )
    distance = NumberField(
        label="Distance per day", required=False, at_most=100_000, decimals=2,
        help_text="There and back, in km or miles.",
    )  # fmt: skip
    rate_per_distance = MoneyField(
        label="Travel rate", required=False, at_most=10_000, help_text="Per km or mile."
    )
    stall_fee = MoneyField(
        label="Stall fee", required=False, at_most=MOST, help_text="Other costs come next."
    )
    orders_gain = MoneyField(
        label="Profit of orders won", required=False, at_most=MOST,
        help_text="Only of orders not kept here.",
    )  # fmt: skip
    orders_share = PercentField(
        label="Share counted", required=False, help_text="Of the profit of orders won here."
    )

    class Meta:
        model = Fair
        fields = (
            "name", "place", "state", "channel", "repeats_yearly", "last_year", "helper",
            "table_metres", "prepare_hours", "drive_hours", "pack_hours", "distance",
            "rate_per_distance", "orders_gain", "orders_share", "notes",
        )  # fmt: skip
        widgets = {"notes": LongText(attrs={"rows": 3})}
        labels = {
            "state": "Status",
            "channel": "Sales channel",
            "repeats_yearly": "Repeats yearly",
            "last_year": "Same fair last time",
        }

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        super().__init__(*args, workshop=workshop, **options)
        channels: Any = self.fields["channel"]
        channels.queryset = Channel.objects.of(workshop).in_use().in_order()
        channels.empty_label = "None"
        before: Any = self.fields["last_year"]
        before.queryset = Fair.objects.of(workshop).exclude(pk=self.instance.pk).order_by("-pk")
        before.empty_label = "None"
        if self.instance.pk:
            # it has a page for its costs
            del self.fields["stall_fee"]
        else:
            usual = channels.queryset.filter(kind=Channel.Kind.FAIR).first()
            self.initial["channel"] = usual.pk if usual else None
        if not before.queryset.exists():
            del self.fields["last_year"]

    def clean(self) -> dict[str, Any]:
        """Count what is left empty as none; half of orders won."""
        cleaned = super().clean() or self.cleaned_data
        for name in (
            "table_metres", "prepare_hours", "drive_hours", "pack_hours", "distance",
            "rate_per_distance", "orders_gain",
        ):  # fmt: skip
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = ZERO
        if "orders_share" in cleaned and cleaned["orders_share"] is None:
            cleaned["orders_share"] = Decimal("0.5")
        return cleaned


class DayRow(WorkshopForm):
    """A day of a fair."""

    row = forms.IntegerField(required=False, widget=forms.HiddenInput)
    held_on = DayField(label="Date")
    opens = TimeOfDayField(label="Opens")
    closes = TimeOfDayField(label="Closes")

    def clean(self) -> dict[str, Any]:
        """Refuse a day that closes before it opens."""
        cleaned = super().clean() or self.cleaned_data
        opens, closes = cleaned.get("opens"), cleaned.get("closes")
        if opens and closes and closes <= opens:
            self.add_error("closes", "Enter a time after it opens.")
        return cleaned


class CostForm(EditedForm, WorkshopModelForm):
    """Holds a fair's turn while its rows are typed."""

    class Meta:
        model = Fair
        fields = ()


class CostRow(WorkshopForm):
    """A cost of a fair."""

    row = forms.IntegerField(required=False, widget=forms.HiddenInput)
    # chosen already in the spare row, which counts as empty with it
    kind = forms.ChoiceField(label="Kind", choices=FairCost.Kind, initial=FairCost.Kind.STALL)
    what = OneLineField(label="Note", max_length=120, required=False)
    amount = MoneyField(label="Amount", at_most=MOST, in_coins=True)
    day = ChosenRowField(label="Day", required=False, empty_label="Whole fair")
    from_till = forms.BooleanField(label="From the till", required=False)
    paid_on = DayField(label="Paid on", required=False)

    def __init__(self, *args: Any, days: Sequence[FairDay], **options: Any) -> None:
        super().__init__(*args, **options)
        labels = {str(day.pk): say_date(day.held_on, year=False) for day in days}
        field: Any = self.fields["day"]
        field.use_rows(rows_by_key(days), labels)


class CoinRow(WorkshopForm):
    """So many coins or notes of a value."""

    value = MoneyField(label="Coin or note", at_most=MOST, above_zero=True, in_coins=True)
    count = WholeNumberField(label="Count", at_most=100_000, required=False)


class CoinRows(RowsFormSet):
    """Coins, each value once."""

    def clean(self) -> None:
        """Refuse a value that is there twice."""
        super().clean()
        if any(self.errors):
            return
        values = [form.cleaned_data["value"] for form in self.kept()]
        if len(set(values)) < len(values):
            raise forms.ValidationError("Two rows are of the same coin.")

    def coins(self) -> dict[Decimal, int]:
        """Return counts by value."""
        return {form.cleaned_data["value"]: form.cleaned_data["count"] or 0 for form in self.kept()}


DayRows: type[RowsFormSet] = rows_of(DayRow, at_most=31)
CostRows: type[RowsFormSet] = rows_of(CostRow, at_most=60)
CoinRowsOf = rows_of(CoinRow, base=CoinRows, at_most=30)


def coins_shown(stored: Mapping[Decimal, int], workshop: Workshop) -> list[dict[str, Any]]:
    """Return the rows of a count: what is stored, and the usual coins without a count."""
    usual = WITH_PARTS if minor_digits(workshop.currency) else WITHOUT_PARTS
    values = sorted({*stored, *(Decimal(value) for value in usual)})
    return [{"value": value, "count": stored.get(value)} for value in values]


class ItemForm(WorkshopForm):
    """What is said of one item on the table."""

    price = MoneyField(label="Price", at_most=MOST, in_coins=True)
    bag_each = MoneyField(label="Bag each", required=False, at_most=MOST)
    table_mm = NumberField(
        label="Table width each", unit="mm", required=False, at_most=100_000, decimals=2,
        help_text="Ten stacked on 20 cm: 20 mm each.",
    )  # fmt: skip
    least_for_show = WholeNumberField(label="Least to show", required=False, at_most=10_000)
    is_dated = forms.BooleanField(
        label="Dated", required=False, help_text="A year or a name on it."
    )
    worth_after = MoneyField(
        label="Worth after the season", required=False, at_most=MOST,
        help_text="Leave blank for its cost; dated items: nothing.",
    )  # fmt: skip
    handling_each = MoneyField(label="Cost of bringing one home", required=False, at_most=MOST)
    low = WholeNumberField(label="Low", required=False, at_most=MOST_ASKED)
    likely = WholeNumberField(
        label="Likely", required=False, at_most=MOST_ASKED,
        help_text="Enough alone: low is then half of it, high twice.",
    )  # fmt: skip
    high = WholeNumberField(label="High", required=False, at_most=MOST_ASKED)
    minutes_each = NumberField(
        label="Minutes each", unit="min", required=False, at_most=100_000, decimals=2
    )
    sheets_each = NumberField(label="Sheets each", required=False, at_most=10_000, decimals=4)
    planned = WholeNumberField(label="To take", required=False, at_most=MOST)
    remove = forms.BooleanField(label="Remove item", required=False)

    def clean(self) -> dict[str, Any]:
        """Count empty amounts as none, and refuse a guess that is not in order."""
        cleaned = super().clean() or self.cleaned_data
        for name in ("bag_each", "table_mm", "handling_each", "minutes_each", "sheets_each"):
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = ZERO
        if "least_for_show" in cleaned and cleaned["least_for_show"] is None:
            cleaned["least_for_show"] = 0
        if not {"low", "likely", "high"} & set(self.errors):
            self._complete_guess(cleaned)
        return cleaned

    def _complete_guess(self, cleaned: dict[str, Any]) -> None:
        """Put in what a guess lacks beside the likely number."""
        low, likely, high = (cleaned.get(name) for name in ("low", "likely", "high"))
        if likely is None:
            if low is not None or high is not None:
                self.add_error("likely", "Enter the likely number too, or leave all three empty.")
            return
        usual_low, usual_high = spread_around(likely)
        cleaned["low"] = low = usual_low if low is None else low
        cleaned["high"] = high = min(usual_high, MOST_ASKED) if high is None else high
        if not low <= likely <= high:
            self.add_error("likely", "Enter them in order: low, likely, high.")


class ItemSearch(FilterForm):
    """Finds prices of items to put on the table."""

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Return those whose design or colourway holds the text."""
        text = values.get("search", "")
        by_name = Q(design__name__icontains=text) | Q(colourway__name__icontains=text)
        return queryset.filter(by_name) if text else queryset


class CountsForm(WorkshopForm):
    """How many of each item were taken and came home."""

    def __init__(self, *args: Any, items: Iterable[tuple[int, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.names = list(items)
        for key, name in self.names:
            for kind, label in (("taken", "taken"), ("home", "brought home")):
                said = f"{name}, {label}"
                self.fields[f"{kind}_{key}"] = WholeNumberField(
                    label=said, required=False, at_most=MOST,
                    widget=DecimalText(
                        {"inputmode": "numeric", "class": "few", "aria-label": said}
                    ),
                )  # fmt: skip
        tell_fields(self, self.workshop)

    def rows(self) -> list[tuple[str, Any, Any]]:
        """Return name and both fields of each item, for the template."""
        return [(name, self[f"taken_{key}"], self[f"home_{key}"]) for key, name in self.names]


class LimitsForm(WorkshopForm):
    """What there is to take within; empty is without a limit."""

    table = NumberField(label="Table length", unit="m", required=False, at_most=100, decimals=2)
    hours = NumberField(
        label="Hours left to make", unit="h", required=False, at_most=10_000, decimals=2
    )
    sheets = NumberField(label="Sheets of card", required=False, at_most=100_000, decimals=2)

    def limits(self) -> Limits:
        """Return what was typed, in mm and minutes."""
        table, hours = self.cleaned_data["table"], self.cleaned_data["hours"]
        return Limits(
            table=None if table is None else table * 1000,
            minutes=None if hours is None else hours * 60,
            sheets=self.cleaned_data["sheets"],
        )


class PlannedForm(WorkshopForm):
    """How many of each item to take."""

    def __init__(self, *args: Any, items: Iterable[int], **options: Any) -> None:
        super().__init__(*args, **options)
        for key in items:
            self.fields[f"plan_{key}"] = WholeNumberField(required=False, at_most=MOST)
        tell_fields(self, self.workshop)


class BundleForm(WorkshopForm):
    """A bundle: its name, price, and how many of each item."""

    name = OneLineField(max_length=80)
    price = MoneyField(label="Price", at_most=MOST, in_coins=True)

    def __init__(self, *args: Any, items: Iterable[tuple[int, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.keys = []
        for key, name in items:
            self.keys.append(key)
            self.fields[f"count_{key}"] = WholeNumberField(label=name, required=False, at_most=100)
        tell_fields(self, self.workshop)

    def count_fields(self) -> list[Any]:
        """Return the fields of the items, for the template."""
        return [self[f"count_{key}"] for key in self.keys]

    def counts(self) -> dict[int, int]:
        """Return how many of each item."""
        return {key: self.cleaned_data[f"count_{key}"] or 0 for key in self.keys}


class OrdersWonForm(forms.Form):
    """Orders a fair won."""

    use_required_attribute = False
    orders = forms.MultipleChoiceField(
        label="Orders", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, orders: Iterable[Order], **options: Any) -> None:
        super().__init__(*args, **options)
        field: Any = self.fields["orders"]
        field.choices = [(str(row.pk), f"{row}, {row.quote.customer}") for row in orders]


class DayForm(EditedForm, WorkshopModelForm):
    """The evening of a day: what the reader says, the weather, who came when."""

    weather = OneLineField(max_length=120, required=False)
    card_statement = MoneyField(
        label="Card reader’s statement", required=False, at_most=MOST, in_coins=True,
        help_text="Payments of the day before fees.",
    )  # fmt: skip
    till_reason = OneLineField(
        label="Reason for over or short", required=False, max_length=120,
        help_text="Booked with the difference when the day is closed.",
    )  # fmt: skip
    card_fees_charged = MoneyField(
        label="Card fees charged", required=False, at_most=MOST, in_coins=True
    )
    distance = NumberField(
        label="Distance", required=False, at_most=100_000, decimals=2,
        help_text="Leave blank if as usual.",
    )  # fmt: skip
    drive_hours = MinutesField(label="Driving", unit="h", required=False, at_most=24, decimals=2)
    pack_hours = MinutesField(
        label="Packing down", unit="h", required=False, at_most=24, decimals=2
    )

    class Meta:
        model = FairDay
        fields = (
            "till_reason", "card_statement", "card_fees_charged", "weather", "distance",
            "drive_hours", "pack_hours", "notes",
        )  # fmt: skip
        widgets = {"notes": LongText(attrs={"rows": 3})}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        stored = {hour.hour: hour.visitors for hour in self.instance.hours.all()}
        last = self.instance.closes.hour - (0 if self.instance.closes.minute else 1)
        self.open_hours = range(self.instance.opens.hour, last + 1)
        for hour in self.open_hours:
            self.fields[f"hour_{hour}"] = WholeNumberField(
                label=f"{hour}:00", required=False, at_most=MOST
            )
            self.initial[f"hour_{hour}"] = stored.get(hour)
        tell_fields(self, self.workshop)

    def visitor_fields(self) -> list[Any]:
        """Return the fields of the hours, for the template."""
        return [self[f"hour_{hour}"] for hour in self.open_hours]

    def visitors(self) -> dict[int, int]:
        """Return visitors by hour."""
        return {hour: self.cleaned_data[f"hour_{hour}"] or 0 for hour in self.open_hours}


class FairFilter(FilterForm):
    """Narrows the list of fairs."""

    def narrow_by(self, queryset: Any, values: dict[str, Any]) -> Any:
        """Return the rows that match."""
        return queryset.matching(values["search"]) if "search" in values else queryset


def day_initial(days: Iterable[FairDay]) -> list[dict[str, Any]]:
    """Return days as the rows of the form show them."""
    return [
        {"row": day.pk, "held_on": day.held_on, "opens": day.opens, "closes": day.closes}
        for day in days
    ]


def usual_day(on: datetime.date) -> dict[str, Any]:
    """Return a first row for a new fair."""
    return {"held_on": on, "opens": datetime.time(10), "closes": datetime.time(16)}
