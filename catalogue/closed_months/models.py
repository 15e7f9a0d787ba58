"""A row each time a month was closed, with what it came to then."""

from typing import Any

from django.db import models

from maker.workshop.models import Workshop


class ClosedMonthQuerySet(models.QuerySet["ClosedMonth"]):
    """Closings of a workshop."""

    def of(self, workshop: Workshop) -> "ClosedMonthQuerySet":
        """Those of one workshop, reopened ones too, by month and time."""
        return self.filter(workshop=workshop).order_by("month", "closed_at", "pk")

    def standing(self) -> "ClosedMonthQuerySet":
        """Those not reopened."""
        return self.filter(reopened_at__isnull=True)


class ClosedMonth(models.Model):
    """A month closed, and perhaps reopened on purpose: `month` is its first day.

    `figures` is what it came to when it was closed (`pricing.closed_months`), never changed.
    """

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="closed_months"
    )
    month = models.DateField()
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    figures: "models.JSONField[dict[str, Any]]" = models.JSONField(default=dict)
    reopened_at = models.DateTimeField(null=True, blank=True)
    reopened_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    reason = models.CharField(max_length=200, blank=True)

    objects = ClosedMonthQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["workshop", "month"],
                condition=models.Q(reopened_at__isnull=True),
                name="closed_once",
            ),
        )

    def __str__(self) -> str:
        return f"{self.month:%B %Y}"
