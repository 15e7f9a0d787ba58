"""What she means to spend on supplies in a month, by category; sums of months that are over."""

from django.core.validators import MinValueValidator
from django.db import models

from catalogue.materials.models import Material
from maker.workshop.models import Workshop


class BudgetQuerySet(models.QuerySet["Budget"]):
    """Budgets of a workshop."""

    def of(self, workshop: Workshop) -> "BudgetQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def in_order(self) -> "BudgetQuerySet":
        """By the month they begin in."""
        return self.order_by("starts_on", "category", "pk")


class Budget(models.Model):
    """What a category may cost a month, from the month of a day on until a later row.

    `starts_on` is the first day of that month. Without an amount there is no budget from then on.
    """

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="budgets")
    category = models.CharField(max_length=10, choices=Material.Category)
    starts_on = models.DateField()
    amount = models.DecimalField(
        max_digits=16, decimal_places=6, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    # what a month leaves is there in the next: at most one month's, an overspend in full
    carries_over = models.BooleanField(default=False)

    objects = BudgetQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["workshop", "category", "starts_on"], name="one_budget_per_month"
            ),
            models.CheckConstraint(
                condition=models.Q(amount__isnull=True) | models.Q(amount__gte=0),
                name="budget_not_negative",
            ),
        )

    def __str__(self) -> str:
        return f"{self.category} from {self.starts_on:%Y-%m}"


class KeptSpending(models.Model):
    """What months before one came to, added up once; `pricing.spending.kept` says if it holds.

    `spent` are rows of month, category and millionths; `moved` of month, category, kind, and
    millionths of value and of cost.
    """

    workshop = models.OneToOneField(
        "maker.Workshop", on_delete=models.CASCADE, related_name="kept_spending"
    )
    until = models.DateField()
    version = models.CharField(max_length=64)
    spent = models.JSONField()
    moved = models.JSONField()

    def __str__(self) -> str:
        return f"until {self.until:%Y-%m}"
