"""What a customer asked for, and where it goes."""

import datetime
from decimal import Decimal
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from maker.workshop.models import Workshop, money_field
from pricing.calc.enquiries.wanted import NoQuantity, quantities_in

ZERO = Decimal(0)


def _length() -> Any:
    return models.DecimalField(
        max_digits=16,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal("0.000001"))],
    )


class EnquiryQuerySet(models.QuerySet["Enquiry"]):
    """Enquiries of a workshop."""

    def of(self, workshop: Workshop) -> "EnquiryQuerySet":
        """Those of one workshop."""
        return self.filter(customer__workshop=workshop)

    def in_use(self) -> "EnquiryQuerySet":
        """Those not archived."""
        return self.filter(retired_on__isnull=True)

    def open(self) -> "EnquiryQuerySet":
        """Those to answer."""
        return self.in_use().filter(state=Enquiry.State.OPEN)

    def matching(self, text: str) -> "EnquiryQuerySet":
        """Those whose subject, contents or customer holds the text."""
        return self.filter(
            models.Q(title__icontains=text)
            | models.Q(contents__icontains=text)
            | models.Q(customer__name__icontains=text)
        )

    def with_people(self) -> "EnquiryQuerySet":
        """With customer, workshop and quote."""
        return self.select_related("customer__workshop", "quote__customer")

    def newest_first(self) -> "EnquiryQuerySet":
        """In the order of a list."""
        return self.order_by("-asked_on", "-pk")


class Enquiry(models.Model):
    """What somebody asked for. Empty is what was not said."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        QUOTED = "quoted", "quoted"
        DECLINED = "declined", "declined"

    class Source(models.TextChoices):
        NONE = "", "not noted"
        EMAIL = "email", "email"
        PHONE = "phone", "phone"
        MESSAGE = "message", "message"
        FAIR = "fair", "at a fair"
        SHOP = "shop", "through a shop"
        TOLD = "told", "recommended"
        AGAIN = "again", "bought before"
        OTHER = "other", "something else"

    customer = models.ForeignKey(
        "pricing.Customer", on_delete=models.PROTECT, related_name="enquiries"
    )
    # the quote it became
    quote = models.OneToOneField(
        "pricing.Quote",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="enquiry",
    )
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    title = models.CharField(max_length=120)
    asked_on = models.DateField(default=timezone.localdate)
    source = models.CharField(max_length=10, choices=Source, default=Source.NONE, blank=True)
    needed_on = models.DateField(null=True, blank=True)
    # as it was said: "120, maybe 100 or 150"; the first number is the one asked for
    quantities = models.CharField(max_length=120, blank=True)
    # as customers see prices
    budget_each = money_field(null=True, blank=True)
    contents = models.CharField(max_length=200, blank=True)
    width_mm = _length()
    depth_mm = _length()
    height_mm = _length()
    weight_g = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(ZERO)],
    )
    is_food = models.BooleanField(default=False)
    youngest = models.PositiveSmallIntegerField(null=True, blank=True)
    colours = models.CharField(max_length=200, blank=True)
    wants_names = models.BooleanField(default=False)
    # one to a line; they move to the quote's line when it becomes one
    names = models.TextField(max_length=40_000, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    declined_on = models.DateField(null=True, blank=True)
    decline_reason = models.CharField(max_length=300, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    edit_number = models.PositiveIntegerField(default=0)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    objects = EnquiryQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(state="open") | models.Q(quote__isnull=True),
                name="open_enquiry_has_no_quote",
            ),
        )

    def __str__(self) -> str:
        return self.title

    @property
    def workshop(self) -> Workshop:
        """The workshop of its customer; loaded by `with_people()`."""
        return self.customer.workshop

    @property
    def wanted(self) -> tuple[int, ...]:
        """Return the quantities asked for, the likeliest first; empty when none was said."""
        try:
            return quantities_in(self.quantities)
        except NoQuantity:
            return ()

    @property
    def contents_mm(self) -> tuple[Decimal, Decimal, Decimal] | None:
        """Return the size of the contents; None while a length is missing."""
        if self.width_mm is None or self.depth_mm is None or self.height_mm is None:
            return None
        return self.width_mm, self.depth_mm, self.height_mm

    def is_late(self, on: datetime.date) -> bool:
        """Whether its date has passed without an answer."""
        is_open = self.state == self.State.OPEN
        return is_open and bool(self.needed_on and self.needed_on < on)


class EnquiryDrop(models.Model):
    """A place it goes to."""

    enquiry = models.ForeignKey("pricing.Enquiry", on_delete=models.CASCADE, related_name="drops")
    position = models.PositiveSmallIntegerField(default=0)
    address = models.TextField(max_length=500, blank=True)
    quantity = models.PositiveIntegerField(null=True, blank=True)
    # there and back, in the workshop's own kilometres or miles
    distance = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(ZERO)],
    )

    def __str__(self) -> str:
        return self.address or f"drop {self.position + 1}"
