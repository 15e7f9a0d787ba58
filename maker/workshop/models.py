"""The business profile: one row per workshop, with what its overhead is made of."""

from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from typing import Any, Self, TypeVar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from maker.calc.bank_numbers import BadBankNumber, read_bic, read_iban

ZERO = Decimal(0)
MINUTES_OF_A_DAY = 24 * 60
# columns of the workshop, Monday first
WEEKDAY_MINUTES = (
    "monday_minutes",
    "tuesday_minutes",
    "wednesday_minutes",
    "thursday_minutes",
    "friday_minutes",
    "saturday_minutes",
    "sunday_minutes",
)


def share_field(**options: Any) -> Any:
    """Return a field for a share from 0 to 1; forms show it as a percentage."""
    return models.DecimalField(
        max_digits=9,
        decimal_places=6,
        validators=[MinValueValidator(ZERO), MaxValueValidator(Decimal(1))],
        **options,
    )


def money_field(**options: Any) -> Any:
    """Return a field for an amount of the workshop's currency, never below zero."""
    return models.DecimalField(
        max_digits=16, decimal_places=6, validators=[MinValueValidator(ZERO)], **options
    )


def signed_money_field(**options: Any) -> Any:
    """Return a field for an amount that may be below zero, as what a change takes off."""
    return models.DecimalField(max_digits=16, decimal_places=6, **options)


def minutes_field(**options: Any) -> Any:
    """Return a field for the whole minutes of a day."""
    return models.PositiveSmallIntegerField(
        validators=[MaxValueValidator(MINUTES_OF_A_DAY)], **options
    )


def _checked(text: str, read: Callable[[str], str]) -> None:
    """Raise what a form tells where a value isn't written as it is stored."""
    try:
        kept = read(text)
    except BadBankNumber as refusal:
        raise ValidationError(refusal.message) from refusal
    if kept != text:
        raise ValidationError("Write it in capitals and without spaces.")


def check_iban(text: str) -> None:
    """Refuse an IBAN whose check digits do not fit."""
    _checked(text, read_iban)


def check_bic(text: str) -> None:
    """Refuse what cannot be a BIC."""
    _checked(text, read_bic)


def check_country(text: str) -> None:
    """Refuse what is not the code of a country (ISO 3166-1, as Babel lists them)."""
    if text not in country_codes():
        raise ValidationError("Enter a country’s two letters, like IE.")


@lru_cache(maxsize=1)
def country_codes() -> frozenset[str]:
    """Return the codes of countries; read once, when the first is checked."""
    from babel import Locale

    known = [str(code) for code in Locale("en").territories]
    # of people's own use, of no country, of groups of countries
    none = ("EU", "EZ", "UN", "ZZ", "XA", "XB", "QO")
    return frozenset(code for code in known if len(code) == 2 and code not in none)


class WorkshopQuerySet(models.QuerySet["Workshop"]):
    """Workshops of this installation."""

    def demo(self) -> "WorkshopQuerySet":
        """Example workshops, which can be removed whole."""
        return self.filter(is_demo=True)


class Workshop(models.Model):
    """Owner of every other row: who she is, how she counts, what an hour of hers costs."""

    class Unit(models.TextChoices):
        INCH = "in", "inches, with fractions"
        MM = "mm", "millimetres"

    class OverheadBasis(models.TextChoices):
        HOURLY = "hour", "yearly overhead ÷ yearly hands-on hours"
        MONTHLY = "month", "monthly overhead ÷ planned hours per month"
        STATED = "stated", "my own rate per hour"

    class TaxRounding(models.TextChoices):
        DOCUMENT = "document", "once per document"
        LINE = "line", "line by line"

    class DepositRule(models.TextChoices):
        SHARE = "share", "the sales channel's share of the total"
        COVER = "cover", "that share, but at least special materials and personalised work"

    class OffcutValue(models.TextChoices):
        NOTHING = "nothing", "free: charge whole sheets"
        AREA = "area", "credited by area when large enough to keep"

    class Valuation(models.TextChoices):
        AVERAGE = "average", "moving average"
        FIFO = "fifo", "first in, first out"
        LATEST = "latest", "latest cost"

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=60, unique=True)
    is_demo = models.BooleanField(default=False)
    created_at = models.DateTimeField(auto_now_add=True)
    # everybody here signs in with a second step, asked for from this moment
    second_step_since = models.DateTimeField(null=True, blank=True)
    # asked for by an owner: it goes with all that is in it at the first look after this moment
    delete_after = models.DateTimeField(null=True, blank=True)

    # who she is, for tags and documents
    maker_name = models.CharField(max_length=120, blank=True)
    address = models.TextField(max_length=500, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    website = models.CharField(max_length=200, blank=True)

    # how she counts
    currency = models.CharField(max_length=3, default="EUR")
    locale = models.CharField(max_length=20, default="en_GB")
    unit = models.CharField(max_length=2, choices=Unit, default=Unit.MM)
    valuation = models.CharField(max_length=10, choices=Valuation, default=Valuation.AVERAGE)

    # offcuts: what a price says of them, and how small one may be and still be kept
    offcut_value = models.CharField(max_length=7, choices=OffcutValue, default=OffcutValue.NOTHING)
    offcut_least_mm = models.DecimalField(
        max_digits=12, decimal_places=6, default=Decimal(50), validators=[MinValueValidator(ZERO)]
    )

    # an hour
    wage_per_hour = money_field(default=Decimal("12"))
    overhead_basis = models.CharField(
        max_length=10, choices=OverheadBasis, default=OverheadBasis.HOURLY
    )
    overhead_per_hour_stated = money_field(default=ZERO)
    hours_per_year = models.DecimalField(
        max_digits=7, decimal_places=2, default=Decimal(600), validators=[MinValueValidator(ZERO)]
    )
    planned_hours_per_month = models.DecimalField(
        max_digits=6, decimal_places=2, default=Decimal(50), validators=[MinValueValidator(ZERO)]
    )

    # tax
    tax_registered = models.BooleanField(default=False)
    tax_name = models.CharField(max_length=20, default="VAT", blank=True)
    tax_rate = share_field(default=ZERO)
    prices_include_tax = models.BooleanField(default=True)
    tax_rounding = models.CharField(
        max_length=10, choices=TaxRounding, default=TaxRounding.DOCUMENT
    )

    # keeping prices true: a price is looked at again when its cost is off by more than this share,
    # when timed minutes are, or when it is this old
    reprice_share = share_field(default=Decimal("0.05"))
    timing_share = share_field(default=Decimal("0.1"))
    reprice_after_months = models.PositiveSmallIntegerField(
        default=6, validators=[MinValueValidator(1), MaxValueValidator(120)]
    )
    # a total paid in coins goes to the nearest of these; zero: not rounded
    cash_step = money_field(default=ZERO)
    # where a channel asks for a deposit, how large it is
    deposit_rule = models.CharField(max_length=10, choices=DepositRule, default=DepositRule.SHARE)

    # dates: hands-on minutes of each weekday; 3.5 hours is common practice, no source
    monday_minutes = minutes_field(default=210)
    tuesday_minutes = minutes_field(default=210)
    wednesday_minutes = minutes_field(default=210)
    thursday_minutes = minutes_field(default=210)
    friday_minutes = minutes_field(default=210)
    saturday_minutes = minutes_field(default=0)
    sunday_minutes = minutes_field(default=0)
    # workshop days kept empty before something is handed over
    buffer_days = models.PositiveSmallIntegerField(default=1)
    # weekdays a customer has to answer a proof; zero: none is sent
    proof_days = models.PositiveSmallIntegerField(default=3)
    # days in transit, counted in the weekdays the carrier works, Monday = 1, as text
    transit_days = models.PositiveSmallIntegerField(default=2)
    carrier_weekdays = models.CharField(max_length=7, default="123456")
    # of a new supplier, and of what is bought from nobody in particular
    purchase_lead_days = models.PositiveSmallIntegerField(default=4)

    # buying: the chance that stock lasts until an order comes, what ordering a material costs her,
    # and what holding stock costs as a share of its value a year
    buying_chance = share_field(default=Decimal("0.95"))
    order_cost = money_field(default=Decimal(2))
    holding_share = share_field(default=Decimal("0.2"))
    # stock is slow after so many days without use, or when it lasts longer than so many weeks
    slow_days = models.PositiveSmallIntegerField(default=180)
    slow_weeks = models.PositiveSmallIntegerField(default=52)
    # the day her tax year starts on; months that are shorter count their last day
    tax_year_month = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    tax_year_day = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(31)]
    )

    # where invoices are paid, and who issues them: as documents and e-invoices say it
    account_name = models.CharField(max_length=70, blank=True)
    iban = models.CharField(max_length=34, blank=True, validators=[check_iban])
    bic = models.CharField(max_length=11, blank=True, validators=[check_bic])
    country = models.CharField(max_length=2, blank=True, validators=[check_country])
    tax_number = models.CharField(max_length=30, blank=True)
    company_number = models.CharField(max_length=30, blank=True)

    terms = models.TextField(max_length=20_000, blank=True)
    # numbers of quotes: prefix, year, running number
    quote_prefix = models.CharField(max_length=10, default="Q", blank=True)
    quote_valid_days = models.PositiveSmallIntegerField(default=21)
    # what is owed of an order that is cancelled, as a share of its price: before anything was
    # bought for it, after that, and once cutting has begun (common practice, no source)
    cancel_share_before = share_field(default=ZERO)
    cancel_share_bought = share_field(default=Decimal("0.3"))
    cancel_share_cut = share_field(default=Decimal("0.75"))
    # days after the last delivery until names on items are deleted
    names_kept_days = models.PositiveSmallIntegerField(default=60)
    # quantities shown side by side
    quantity_steps = models.CharField(max_length=80, default="1, 12, 60, 250")
    care_line = models.CharField(max_length=120, blank=True)
    # grows with each save, so that the second of two people is told
    edit_number = models.PositiveIntegerField(default=0)

    objects = WorkshopQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(tax_rate__gte=0) & models.Q(tax_rate__lte=1),
                name="workshop_tax_rate_is_a_share",
            ),
            models.CheckConstraint(
                condition=models.Q(wage_per_hour__gte=0), name="workshop_wage_not_negative"
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def weekday_minutes(self) -> tuple[int, ...]:
        """Hands-on minutes of the weekdays, Monday first."""
        return tuple(getattr(self, name) for name in WEEKDAY_MINUTES)


Row = TypeVar("Row", bound=models.Model)


class ArchivableQuerySet(models.QuerySet[Row]):
    """Rows with a name that belong to a workshop and can be archived (`retired_on`)."""

    def of(self, workshop: Workshop) -> Self:
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def in_use(self) -> Self:
        """Those not archived."""
        return self.filter(retired_on__isnull=True)

    def archived(self) -> Self:
        """Those archived."""
        return self.filter(retired_on__isnull=False)

    def in_state(self, state: str | None) -> Self:
        """Those a filter asks for: `away`, `all`, else those in use."""
        if state == "away":
            return self.archived()
        return self if state == "all" else self.in_use()

    def by_name(self) -> Self:
        """In the order of a list: capitals make no difference, whatever the database."""
        return self.order_by(Lower("name"), "pk")


class OverheadItemQuerySet(models.QuerySet["OverheadItem"]):
    """What overhead is made of."""

    def of(self, workshop: Workshop) -> "OverheadItemQuerySet":
        """Items of one workshop, in entry order."""
        return self.filter(workshop=workshop).order_by("position", "pk")


class OverheadItem(models.Model):
    """Rent, insurance, electricity: paid whether or not anything is made."""

    class Period(models.TextChoices):
        MONTH = "month", "per month"
        YEAR = "year", "per year"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="overhead_items"
    )
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=80)
    amount = money_field()
    period = models.CharField(max_length=5, choices=Period, default=Period.MONTH)

    objects = OverheadItemQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(amount__gte=0), name="overhead_amount_not_negative"
            ),
        )

    def __str__(self) -> str:
        return self.name


class CalendarDateQuerySet(models.QuerySet["CalendarDate"]):
    """Dates that are not like their weekday."""

    def of(self, workshop: Workshop) -> "CalendarDateQuerySet":
        """Those of one workshop, by date."""
        return self.filter(workshop=workshop).order_by("first_on", "last_on", "pk")


class CalendarDate(models.Model):
    """Dates, both ends included, on which somebody does not do what they do on that weekday."""

    class Kind(models.TextChoices):
        OFF = "off", "I don’t work"
        HOURS = "hours", "I work other hours"
        HOLIDAY = "holiday", "Holiday for everybody"
        CARRIER = "carrier", "Carrier doesn’t come"
        SUPPLIERS = "suppliers", "Suppliers don’t deliver"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="calendar_dates"
    )
    kind = models.CharField(max_length=9, choices=Kind, default=Kind.OFF)
    first_on = models.DateField()
    last_on = models.DateField()
    # of each date, for other hours only
    minutes = minutes_field(null=True, blank=True)
    note = models.CharField(max_length=80, blank=True)

    objects = CalendarDateQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(last_on__gte=models.F("first_on")),
                name="calendar_date_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="hours", minutes__isnull=False)
                | (~models.Q(kind="hours") & models.Q(minutes__isnull=True)),
                name="calendar_date_minutes_for_other_hours",
            ),
        )

    def __str__(self) -> str:
        return f"{self.first_on} to {self.last_on}: {self.get_kind_display()}"
