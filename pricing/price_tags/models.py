"""Sheets of labels she prints tags on: their geometry in millimetres, exact to 1/64 in."""

from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from maker.workshop.models import Workshop


def _mm(smallest: str, largest: str = "1200", **options: Any) -> Any:
    return models.DecimalField(
        max_digits=12,
        decimal_places=6,
        validators=[MinValueValidator(Decimal(smallest)), MaxValueValidator(Decimal(largest))],
        **options,
    )


class LabelSheetQuerySet(models.QuerySet["LabelSheet"]):
    """Label sheets of a workshop."""

    def of(self, workshop: Workshop) -> "LabelSheetQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def by_name(self) -> "LabelSheetQuerySet":
        """In the order of a list: capitals make no difference, whatever the database."""
        return self.order_by(Lower("name"), "pk")


class LabelSheet(models.Model):
    """A sheet of equal labels in rows and columns."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="label_sheets"
    )
    name = models.CharField(max_length=80)
    page_width_mm = _mm("20")
    page_height_mm = _mm("20")
    columns = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(40)]
    )
    rows = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    label_width_mm = _mm("10")
    label_height_mm = _mm("8")
    left_mm = _mm("0")
    top_mm = _mm("0")
    # from one label's left (top) edge to the next one's
    pitch_x_mm = _mm("10")
    pitch_y_mm = _mm("8")
    retired_on = models.DateField(null=True, blank=True)

    objects = LabelSheetQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="label_sheet_name_once"),
        )

    def __str__(self) -> str:
        return self.name


class TagPrintQuerySet(models.QuerySet["TagPrint"]):
    """Tags that were printed."""

    def of(self, workshop: Workshop) -> "TagPrintQuerySet":
        """Those of one workshop."""
        return self.filter(entry__design__workshop=workshop)

    def newest_first(self) -> "TagPrintQuerySet":
        """The last printed first."""
        return self.order_by("-printed_at", "-pk")


class TagPrint(models.Model):
    """Tags printed for a price: once it is replaced, they say the wrong thing."""

    entry = models.ForeignKey(
        "pricing.PriceListEntry", on_delete=models.CASCADE, related_name="tag_prints"
    )
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    printed_at = models.DateTimeField(auto_now_add=True)
    printed_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # tags with an old price that were thrown away, or left on purpose
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = TagPrintQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.count} tags"
