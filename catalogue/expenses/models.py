"""What was paid for that never comes into stock."""

import datetime
from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from maker.workshop.models import Workshop

ZERO = Decimal(0)
MOST_YEARS = 50


def _amount_field() -> models.DecimalField:
    """Return a field for an amount; what was paid back is below zero."""
    return models.DecimalField(max_digits=16, decimal_places=6, default=ZERO)


class ExpenseQuerySet(models.QuerySet["Expense"]):
    """Expenses of a workshop."""

    def of(self, workshop: Workshop) -> "ExpenseQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def standing(self) -> "ExpenseQuerySet":
        """Those not deleted, with those on drafts of receipts."""
        return self.filter(deleted_at__isnull=True)

    def counted(self) -> "ExpenseQuerySet":
        """Those that count: not deleted, and not on a receipt that doesn't count (yet)."""
        on_none = models.Q(purchase__isnull=True)
        return self.standing().filter(on_none | models.Q(purchase__state="recorded"))

    def between(self, first: datetime.date | None, last: datetime.date | None) -> "ExpenseQuerySet":
        """Those from one date to another, both included; either end may be open."""
        queryset = self.filter(paid_on__gte=first) if first else self
        return queryset.filter(paid_on__lte=last) if last else queryset

    def overhead(self) -> "ExpenseQuerySet":
        """Those that the overhead in her prices is for."""
        return self.filter(purpose=Expense.Purpose.OVERHEAD)

    def repeating(self) -> "ExpenseQuerySet":
        """Those that come again by themselves."""
        return self.standing().exclude(repeats="")

    def matching(self, text: str) -> "ExpenseQuerySet":
        """Those whose name, number, supplier or notes hold the text."""
        return self.filter(
            models.Q(what__icontains=text)
            | models.Q(reference__icontains=text)
            | models.Q(supplier__name__icontains=text)
            | models.Q(notes__icontains=text)
        )

    def newest_first(self) -> "ExpenseQuerySet":
        """In the order of a list."""
        return self.order_by("-paid_on", "-pk")


class Expense(models.Model):
    """One thing paid for. Money paid back is an expense below zero.

    On a receipt, `amount` is what its line says and the rest follows when the receipt is recorded;
    typed by itself it has none. `cost` is what counts: without the tax that is paid back.
    An order's or a fair's expense is spoken of from their side.
    """

    class Category(models.TextChoices):
        RENT = "rent", "Rent and power"
        INSURANCE = "insurance", "Insurance"
        SOFTWARE = "software", "Software and phone"
        TRAVEL = "travel", "Travel and van hire"
        STALL = "stall", "Stall fees"
        ADVERTS = "adverts", "Advertising"
        TOOLS = "tools", "Tools and machines"
        REPAIRS = "repairs", "Repairs"
        OFFICE = "office", "Office and post"
        FEES = "fees", "Fees and training"
        OTHER = "other", "Other"

    class Purpose(models.TextChoices):
        OVERHEAD = "overhead", "Overhead"
        SHARED = "shared", "Several orders or fairs"
        ORDER = "order", "One order"
        FAIR = "fair", "One fair"

    class Repeats(models.TextChoices):
        MONTH = "month", "Every month"
        YEAR = "year", "Every year"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="expenses"
    )
    paid_on = models.DateField()
    what = models.CharField(max_length=120)
    category = models.CharField(max_length=10, choices=Category, default=Category.OTHER)
    purpose = models.CharField(max_length=10, choices=Purpose, default=Purpose.OVERHEAD)
    supplier = models.ForeignKey(
        "catalogue.Supplier",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="expenses",
    )
    purchase = models.ForeignKey(
        "catalogue.Purchase",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="expenses",
    )
    position = models.PositiveSmallIntegerField(default=0)
    amount = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    foreign_amount = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    net = _amount_field()
    tax_paid = _amount_field()
    tax_is_recoverable = models.BooleanField(default=False)
    cost = _amount_field()
    # a tool that is used for years counts as a share of each of them in the overhead
    lasts_years = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MOST_YEARS)]
    )
    repeats = models.CharField(max_length=5, choices=Repeats, blank=True)
    repeats_until = models.DateField(null=True, blank=True)
    # the one it repeats, when it was added by itself
    repeat_of = models.ForeignKey(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="repeated"
    )
    # the date it was added for, which stays when she says it was paid on another
    due_on = models.DateField(null=True, blank=True)
    reference = models.CharField(max_length=80, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    edit_number = models.PositiveIntegerField(default=0)
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    added_at = models.DateTimeField(auto_now_add=True)
    added_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    deleted_at = models.DateTimeField(null=True, blank=True)

    objects = ExpenseQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["repeat_of", "due_on"], name="repeated_once_a_date"),
            models.CheckConstraint(
                condition=models.Q(lasts_years__isnull=True)
                | models.Q(lasts_years__gte=1, lasts_years__lte=MOST_YEARS),
                name="expense_lasts_some_years",
            ),
            models.CheckConstraint(
                condition=models.Q(repeat_of__isnull=True) | models.Q(repeats=""),
                name="what_is_repeated_repeats_nothing",
            ),
        )
        indexes = (models.Index(fields=["workshop", "paid_on", "id"], name="expenses_by_day"),)

    def __str__(self) -> str:
        return self.what
