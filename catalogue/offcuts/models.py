"""Offcuts worth keeping: a size of a material, and a ledger of how many came and went."""

from django.db import models

from catalogue.materials.models import length_field
from catalogue.stock.ledger import LedgerEntry, LedgerQuerySet
from maker.workshop.models import Workshop


class OffcutQuerySet(models.QuerySet["Offcut"]):
    """Sizes of offcuts."""

    def of(self, workshop: Workshop) -> "OffcutQuerySet":
        """Those of one workshop's materials."""
        return self.filter(material__workshop=workshop)

    def on_hand(self) -> "OffcutQuerySet":
        """Those of which at least one is in stock."""
        return self.filter(count__gt=0)

    def largest_first(self) -> "OffcutQuerySet":
        """By material, the largest first."""
        return self.order_by(
            "material__name",
            "material_id",
            (models.F("width_mm") * models.F("height_mm")).desc(),
            "pk",
        )


class Offcut(models.Model):
    """One size of one material. It lies as on the sheet: a pattern that stood up still does."""

    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="offcuts"
    )
    width_mm = length_field()
    height_mm = length_field()
    # kept from the ledger
    count = models.PositiveIntegerField(default=0, editable=False)

    objects = OffcutQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["material", "width_mm", "height_mm"], name="offcut_size_once"
            ),
            models.CheckConstraint(
                condition=models.Q(width_mm__gt=0, height_mm__gt=0), name="offcut_has_a_size"
            ),
        )

    def __str__(self) -> str:
        return f"{self.width_mm} x {self.height_mm} mm"


class OffcutEntryQuerySet(LedgerQuerySet["OffcutEntry"]):
    """Movements of offcuts."""

    def of(self, workshop: Workshop) -> "OffcutEntryQuerySet":
        """Those of one workshop."""
        return self.filter(offcut__material__workshop=workshop)

    def for_ledger(self) -> "OffcutEntryQuerySet":
        """With the plan behind each, and `counts`: whether it still moves anything."""
        with_plan = self.select_related("plan").defer("plan__jobs", "plan__plans")
        return with_plan.with_standing()


class OffcutEntry(LedgerEntry):
    """Offcuts put into the box or taken out of it; the ledger only grows."""

    class Kind(models.TextChoices):
        KEPT = "kept", "kept"
        USED = "used", "used"
        THROWN = "thrown", "thrown away"
        COUNTED = "counted", "count correction"
        REVERSED = "reversed", "entry undone"

    offcut = models.ForeignKey("catalogue.Offcut", on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=Kind)
    change = models.IntegerField()
    # what a count found in the box: that stays, and `change` follows from it; and what it found
    # missing or more on the day it was entered
    counted = models.PositiveIntegerField(null=True, blank=True)
    change_at_count = models.IntegerField(null=True, blank=True)
    # the plan it was left over from, or cut by
    plan = models.ForeignKey(
        "catalogue.CuttingPlan",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="offcut_entries",
    )
    # the entry this one takes back
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_back_by"
    )

    objects = OffcutEntryQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(change=0) | models.Q(kind__in=("counted", "reversed")),
                name="offcut_entry_moves_something",
            ),
            models.CheckConstraint(
                condition=models.Q(counted__isnull=True)
                | models.Q(kind="counted", change_at_count__isnull=False),
                name="only_offcut_counts_are_counted",
            ),
        )

    def __str__(self) -> str:
        return f"{self.change} ({self.kind})"
