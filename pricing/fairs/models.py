"""Fairs: the place, its days, what is on the table, what sold, and what it cost.

Figures are never kept here: `pricing.calc.fairs` works them out from these rows.
"""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from catalogue.materials.models import length_field
from maker.workshop.models import Workshop, money_field, share_field

ZERO = Decimal(0)


def _hours_field(**options: Any) -> Any:
    return models.DecimalField(
        max_digits=7, decimal_places=2, validators=[MinValueValidator(ZERO)], **options
    )


def _distance_field(**options: Any) -> Any:
    return models.DecimalField(
        max_digits=9, decimal_places=2, validators=[MinValueValidator(ZERO)], **options
    )


class FairQuerySet(models.QuerySet["Fair"]):
    """Fairs of a workshop."""

    def of(self, workshop: Workshop) -> "FairQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def with_dates(self) -> "FairQuerySet":
        """With `first_on` and `last_on` of their days."""
        return self.annotate(
            first_on=models.Min("days__held_on"), last_on=models.Max("days__held_on")
        )

    def newest_first(self) -> "FairQuerySet":
        """By first day; those without a day first. After `with_dates()`."""
        return self.order_by(models.F("first_on").desc(nulls_first=True), "-pk")

    def matching(self, text: str) -> "FairQuerySet":
        """Those whose name, place or notes hold the text."""
        return self.filter(
            models.Q(name__icontains=text)
            | models.Q(place__icontains=text)
            | models.Q(notes__icontains=text)
        )


class Fair(models.Model):
    """A craft fair or market of one year."""

    class State(models.TextChoices):
        MAYBE = "maybe", "thinking about it"
        GOING = "going", "going"
        OVER = "over", "over"
        NOT_GOING = "not_going", "not going"

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="fairs")
    name = models.CharField(max_length=120)
    place = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.MAYBE)
    channel = models.ForeignKey(
        "pricing.Channel", on_delete=models.PROTECT, null=True, blank=True, related_name="fairs"
    )
    repeats_yearly = models.BooleanField(default=False)
    # the same fair a year before
    last_year = models.ForeignKey(
        "pricing.Fair", on_delete=models.SET_NULL, null=True, blank=True, related_name="next_years"
    )
    helper = models.CharField(max_length=120, blank=True)
    # where finished stock has what was taken; None until something was
    stock_place = models.OneToOneField(
        "pricing.Place", on_delete=models.SET_NULL, null=True, blank=True, related_name="fair"
    )
    # of each day there and back, in the unit the rate is for: km or miles
    distance = _distance_field(default=ZERO)
    rate_per_distance = money_field(default=ZERO)
    # shared over the days equally
    prepare_hours = _hours_field(default=ZERO)
    # of each day, unless the day says something else
    drive_hours = _hours_field(default=ZERO)
    pack_hours = _hours_field(default=ZERO)
    table_metres = models.DecimalField(
        max_digits=6, decimal_places=2, default=ZERO, validators=[MinValueValidator(ZERO)]
    )
    # gain of orders won here that are not in the program, and the part of all such gain that counts
    orders_gain = money_field(default=ZERO)
    orders_share = share_field(default=Decimal("0.5"))
    notes = models.TextField(max_length=4000, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = FairQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name


class FairDayQuerySet(models.QuerySet["FairDay"]):
    """Days of fairs."""

    def of(self, workshop: Workshop) -> "FairDayQuerySet":
        """Those of one workshop."""
        return self.filter(fair__workshop=workshop)

    def in_order(self) -> "FairDayQuerySet":
        """By date."""
        return self.order_by("held_on", "pk")

    def with_fair(self) -> "FairDayQuerySet":
        """With the fair."""
        return self.select_related("fair")

    def not_closed(self, until: datetime.date) -> "FairDayQuerySet":
        """Those held until a date, of fairs she goes to or may go to, whose till isn't counted."""
        return self.filter(
            fair__state__in=[Fair.State.MAYBE, Fair.State.GOING],
            closed_at__isnull=True,
            held_on__lte=until,
        )


class FairDay(models.Model):
    """A day at a fair. Prices are fixed from `opened_at` until it is closed."""

    fair = models.ForeignKey("pricing.Fair", on_delete=models.CASCADE, related_name="days")
    held_on = models.DateField()
    opens = models.TimeField()
    closes = models.TimeField()
    weather = models.CharField(max_length=120, blank=True)
    notes = models.TextField(max_length=2000, blank=True)
    # None: as the fair says
    distance = _distance_field(null=True, blank=True)
    drive_hours = _hours_field(null=True, blank=True)
    pack_hours = _hours_field(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    # what the card reader's statement says of the day
    card_statement = money_field(null=True, blank=True)
    card_fees_charged = money_field(null=True, blank=True)
    # booked when the day was closed with its till counted; below zero it was short
    till_difference = models.DecimalField(
        max_digits=16, decimal_places=6, null=True, blank=True, editable=False
    )
    till_reason = models.CharField(max_length=120, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = FairDayQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["fair", "held_on"], name="fair_day_once"),
            models.CheckConstraint(
                condition=models.Q(closes__gt=models.F("opens")), name="fair_day_opens_first"
            ),
        )

    def __str__(self) -> str:
        return f"{self.fair_id} on {self.held_on}"

    @property
    def is_open(self) -> bool:
        """Whether it was opened for selling and is not closed."""
        return self.opened_at is not None and self.closed_at is None

    def is_to_come(self, today: datetime.date) -> bool:
        """Whether it is today or later and not closed yet."""
        return self.held_on >= today and self.closed_at is None

    def is_on(self, today: datetime.date) -> bool:
        """Whether it is today and not closed yet."""
        return self.held_on == today and self.closed_at is None


class FairHour(models.Model):
    """How many visitors came in an hour of a day; only the shares count."""

    day = models.ForeignKey("pricing.FairDay", on_delete=models.CASCADE, related_name="hours")
    hour = models.PositiveSmallIntegerField(validators=[MaxValueValidator(23)])
    visitors = models.PositiveIntegerField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=["day", "hour"], name="fair_hour_once"),)

    def __str__(self) -> str:
        return f"{self.visitors} from {self.hour}"


class FairDesignQuerySet(models.QuerySet["FairDesign"]):
    """What is taken to fairs."""

    def of(self, workshop: Workshop) -> "FairDesignQuerySet":
        """Those of one workshop."""
        return self.filter(fair__workshop=workshop)

    def in_order(self) -> "FairDesignQuerySet":
        """As they lie on the table."""
        return self.order_by("position", "pk")

    def with_items(self) -> "FairDesignQuerySet":
        """With what each is: design, colourway, options with their choices."""
        return self.select_related("version__design", "colourway").prefetch_related(
            "version__options__choices"
        )


class FairDesign(models.Model):
    """An item on the table: a version of a design in a colourway, with its options."""

    fair = models.ForeignKey("pricing.Fair", on_delete=models.CASCADE, related_name="designs")
    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.PROTECT, related_name="at_fairs"
    )
    colourway = models.ForeignKey(
        "catalogue.Colourway",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="at_fairs",
    )
    # option key -> choice key, keys in order, as a price of the list has them
    choices = models.JSONField(default=dict, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    # with tax, as on its tag
    price = money_field()
    # what one costs with wage and overhead when it was put on the list, and its bag
    cost_each = money_field(default=ZERO)
    bag_each = money_field(default=ZERO)
    minutes_each = models.DecimalField(
        max_digits=9, decimal_places=2, default=ZERO, validators=[MinValueValidator(ZERO)]
    )
    sheets_each = models.DecimalField(
        max_digits=9, decimal_places=4, default=ZERO, validators=[MinValueValidator(ZERO)]
    )
    # table width one takes; at least so many are wanted to show
    table_mm = length_field(default=ZERO)
    least_for_show = models.PositiveIntegerField(default=0)
    # a year or a name on it: worth little after the season
    is_dated = models.BooleanField(default=False)
    # None: everyday stock keeps its cost, dated stock is worth nothing
    worth_after = money_field(null=True, blank=True)
    handling_each = money_field(default=ZERO)
    # a first guess for one day, used until there are days of her own
    low = models.PositiveIntegerField(null=True, blank=True)
    likely = models.PositiveIntegerField(null=True, blank=True)
    high = models.PositiveIntegerField(null=True, blank=True)
    planned = models.PositiveIntegerField(null=True, blank=True)
    taken = models.PositiveIntegerField(null=True, blank=True)
    brought_home = models.PositiveIntegerField(null=True, blank=True)

    objects = FairDesignQuerySet.as_manager()

    def __str__(self) -> str:
        return f"version {self.version_id} at {self.price}"


class FairBundle(models.Model):
    """Items sold together for less than they cost apart."""

    fair = models.ForeignKey("pricing.Fair", on_delete=models.CASCADE, related_name="bundles")
    name = models.CharField(max_length=80)
    price = money_field()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["fair", "name"], name="fair_bundle_name_once"),
        )

    def __str__(self) -> str:
        return self.name


class FairBundleItem(models.Model):
    """How many of an item are in a bundle."""

    bundle = models.ForeignKey("pricing.FairBundle", on_delete=models.CASCADE, related_name="items")
    item = models.ForeignKey("pricing.FairDesign", on_delete=models.CASCADE, related_name="bundled")
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["bundle", "item"], name="fair_bundle_item_once"),
        )

    def __str__(self) -> str:
        return f"{self.count} of {self.item_id}"


class FairSaleQuerySet(models.QuerySet["FairSale"]):
    """What happened at the table."""

    def of(self, workshop: Workshop) -> "FairSaleQuerySet":
        """Those of one workshop."""
        return self.filter(day__fair__workshop=workshop)

    def that_count(self) -> "FairSaleQuerySet":
        """Those that were not undone."""
        return self.filter(undone_at__isnull=True)

    def with_problems(self) -> "FairSaleQuerySet":
        """Those that could not be booked as they were sent."""
        return self.that_count().exclude(problem="")

    def in_order(self) -> "FairSaleQuerySet":
        """As they happened."""
        return self.order_by("happened_at", "pk")


class FairSale(models.Model):
    """One thing that happened at the table: a payment, a refund, a gift, something sold out.

    It is stored once however often it is sent (`uuid`). What cannot be booked is kept with its
    reason in `problem`: its money counts, and nothing is taken from stock for it.
    """

    class Kind(models.TextChoices):
        SALE = "sale", "sale"
        REFUND = "refund", "refund"
        SWAP = "swap", "swap"
        GIVEN = "given", "given away"
        BROKEN = "broken", "broken"
        ORDER = "order", "order with deposit"
        SOLD_OUT = "sold_out", "sold out"

    class Way(models.TextChoices):
        CARD = "card", "card"
        CASH = "cash", "cash"
        NONE = "none", "nothing paid"

    class Source(models.TextChoices):
        TABLE = "table", "at the table"
        PAPER = "paper", "from paper"
        COUNT = "count", "by counting back"

    day = models.ForeignKey("pricing.FairDay", on_delete=models.PROTECT, related_name="sales")
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    happened_at = models.DateTimeField()
    # what the phone's clock said, right or wrong; None: no phone
    phone_at = models.DateTimeField(null=True, blank=True)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.SALE)
    way = models.CharField(max_length=10, choices=Way, default=Way.CASH)
    source = models.CharField(max_length=10, choices=Source, default=Source.TABLE)
    # so many equal payments; the lines and the money are those of one of them
    payments = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    # of one payment, after bundles and discount; below zero it was paid back
    received = models.DecimalField(max_digits=16, decimal_places=6, default=ZERO)
    # what bundles took off the prices of the lines, and what she took off
    bundle_off = money_field(default=ZERO)
    discount = money_field(default=ZERO)
    discount_reason = models.CharField(max_length=120, blank=True)
    # who ordered what; why it came back
    note = models.CharField(max_length=300, blank=True)
    order = models.ForeignKey(
        "pricing.Order", on_delete=models.SET_NULL, null=True, blank=True, related_name="from_fairs"
    )
    # what an order with a deposit is kept as until it becomes an order
    enquiry = models.OneToOneField(
        "pricing.Enquiry",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="fair_sale",
    )
    phone = models.CharField(max_length=40, blank=True)
    problem = models.CharField(max_length=300, blank=True)
    # what was sent, where it could not be booked
    sent_text = models.TextField(max_length=8000, blank=True)
    stored_at = models.DateTimeField(auto_now_add=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    # undone before it arrived: nothing is known of it yet
    is_awaited = models.BooleanField(default=False)

    objects = FairSaleQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(payments__gte=1), name="fair_sale_is_paid_once"
            ),
        )
        indexes = (models.Index(fields=["day", "happened_at"], name="fair_sale_in_order"),)

    def __str__(self) -> str:
        return f"{self.kind} at {self.happened_at}"


class FairSaleLine(models.Model):
    """How many of an item went over the table in one payment; bundles are opened into items."""

    sale = models.ForeignKey("pricing.FairSale", on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey("pricing.FairDesign", on_delete=models.PROTECT, related_name="sold")
    # nothing for an item that is sold out
    quantity = models.PositiveIntegerField(default=1)
    # of the day, before bundles and discount
    price_each = money_field(default=ZERO)
    bundle = models.ForeignKey(
        "pricing.FairBundle", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # handed back by the customer, and whether it can be sold again
    came_back = models.BooleanField(default=False)
    is_spoiled = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"{self.quantity} of {self.item_id}"


class FairCoin(models.Model):
    """So many coins or notes of a value: in the float of every day, or counted in the evening."""

    fair = models.ForeignKey("pricing.Fair", on_delete=models.CASCADE, related_name="coins")
    # None: the float
    day = models.ForeignKey(
        "pricing.FairDay", on_delete=models.CASCADE, null=True, blank=True, related_name="counted"
    )
    value = money_field()
    count = models.PositiveIntegerField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["day", "value"], name="fair_coin_counted_once"),
            models.UniqueConstraint(
                fields=["fair", "value"],
                condition=models.Q(day__isnull=True),
                name="fair_coin_in_float_once",
            ),
        )

    def __str__(self) -> str:
        return f"{self.count} of {self.value}"


class FairCost(models.Model):
    """What a fair costs whatever sells, or what was only taken out of the till."""

    class Kind(models.TextChoices):
        STALL = "stall", "Stall fee"
        TRAVEL = "travel", "Fares and tolls"
        PARKING = "parking", "Parking"
        FOOD = "food", "Food and drink"
        OVERNIGHT = "overnight", "Overnight"
        HELPER = "helper", "Help paid for"
        OTHER = "other", "Other"
        # moves money and costs nothing
        DRAWING = "drawing", "Taken out, not a cost"

    fair = models.ForeignKey("pricing.Fair", on_delete=models.CASCADE, related_name="costs")
    # None: of the whole fair, shared over its days
    day = models.ForeignKey(
        "pricing.FairDay", on_delete=models.CASCADE, null=True, blank=True, related_name="costs"
    )
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.STALL)
    what = models.CharField(max_length=120, blank=True)
    # None: what its expense says
    amount = money_field(null=True, blank=True)
    expense = models.OneToOneField(
        "catalogue.Expense",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="fair_cost",
    )
    # paid in cash out of the till of its day
    from_till = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(amount__isnull=True, expense__isnull=False)
                | models.Q(amount__isnull=False, expense__isnull=True),
                name="fair_cost_is_said_once",
            ),
            models.CheckConstraint(
                condition=models.Q(from_till=False) | models.Q(day__isnull=False),
                name="fair_till_is_of_a_day",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.counted}"

    @property
    def counted(self) -> Decimal:
        """What it comes to, as its expense says where it has one; a deleted one costs nothing."""
        if self.expense is None:
            return self.amount or ZERO
        return ZERO if self.expense.deleted_at else self.expense.cost


class FairOrder(models.Model):
    """An order that the fair won, whenever it came in."""

    fair = models.ForeignKey("pricing.Fair", on_delete=models.CASCADE, related_name="orders")
    order = models.OneToOneField("pricing.Order", on_delete=models.CASCADE, related_name="won_at")

    def __str__(self) -> str:
        return f"order {self.order_id}"
