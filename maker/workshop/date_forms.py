"""Forms of the workshop's calendar: its week, how long others take, dates that differ."""

import datetime
from typing import Any

from django import forms

from maker.web.fields import DayField, HoursField, OneLineField, WholeNumberField, WorkshopForm
from maker.web.rows import RowsFormSet, rows_of
from maker.workshop.forms import SettingsForm
from maker.workshop.models import WEEKDAY_MINUTES, CalendarDate, Workshop

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
        help_text="Kept free before each hand-over, in case.",
    )
    proof_days = WholeNumberField(
        label="Name proof",
        unit="weekdays",
        at_most=60,
        help_text="Time a customer has to check names. 0 for none.",
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
        label="Delivery time for a new supplier",
        unit="weekdays",
        at_most=365,
        help_text="Used when you add a supplier.",
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

    kind = forms.ChoiceField(label="Kind", choices=CalendarDate.Kind, initial=CalendarDate.Kind.OFF)
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
