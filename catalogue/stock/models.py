"""The stock ledger: it only grows; a mistake is corrected by a new entry."""

from collections.abc import Sequence
from typing import Any

from django.db import models

from catalogue.materials.models import quantity_field, typed_in_field
from maker.workshop.models import Workshop


class StockEntryQuerySet(models.QuerySet["StockEntry"]):
    """Movements of stock."""

    def of(self, workshop: Workshop) -> "StockEntryQuerySet":
        """Those of one workshop."""
        return self.filter(material__workshop=workshop)

    def standing(self) -> "StockEntryQuerySet":
        """Those that count: neither taken back nor taking another back."""
        return self.filter(takes_back__isnull=True, taken_back_by__isnull=True)

    def for_ledger(self) -> "StockEntryQuerySet":
        """With the receipt behind each, and `counts`: whether it still moves anything."""
        undone = StockEntry.objects.filter(takes_back=models.OuterRef("pk"))
        return self.select_related("purchase_line").annotate(
            counts=models.Case(
                models.When(takes_back__isnull=False, then=False),
                models.When(models.Exists(undone), then=False),
                default=True,
                output_field=models.BooleanField(),
            )
        )

    def of_receipt(self, purchase: Any) -> "StockEntryQuerySet":
        """Those that a receipt brought in or that take it back."""
        return self.filter(purchase_line__purchase=purchase).order_by("pk")

    def of_receipts(self, purchases: Sequence[Any]) -> "StockEntryQuerySet":
        """Those that receipts brought in or that take them back."""
        return self.filter(purchase_line__purchase__in=purchases).order_by("pk")

    def counts(self) -> "StockEntryQuerySet":
        """Those that say what was there."""
        return self.filter(counted__isnull=False)

    def in_ledger_order(self) -> "StockEntryQuerySet":
        """By day, then as they were entered: the order in which averages move."""
        return self.order_by("moved_on", "pk")


class StockEntry(models.Model):
    """One movement of one material; `change` is positive for goods coming in."""

    class Kind(models.TextChoices):
        BOUGHT = "bought", "bought"
        OPENING = "opening", "on the shelf at the start"
        USED = "used", "used in making"
        SCRAP = "scrap", "scrapped"
        OWN_USE = "own_use", "own use"
        GIFT = "gift", "given away"
        SAMPLE = "sample", "sample"
        SOLD = "sold", "sold as material"
        RETURNED = "returned", "returned to the supplier"
        COUNTED = "counted", "count correction"
        REVERSED = "reversed", "entry taken back"

    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="stock_entries"
    )
    moved_on = models.DateField()
    kind = models.CharField(max_length=10, choices=Kind)
    change = quantity_field()
    # what a count found on the shelf: that stays, and `change` follows from it at every replay;
    # and what it found missing or more on the day it was entered
    counted = quantity_field(null=True, blank=True)
    change_at_count = quantity_field(null=True, blank=True)
    # what was typed of a length: the change, or what was counted
    typed_in = typed_in_field()
    # what came in cost this much in all (landed, unrounded); outgoing entries are valued by replay
    cost_in = models.DecimalField(max_digits=20, decimal_places=6, null=True, blank=True)
    purchase_line = models.ForeignKey(
        "catalogue.PurchaseLine",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_entries",
    )
    # the entry this one takes back
    takes_back = models.OneToOneField(
        "catalogue.StockEntry",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="taken_back_by",
    )
    reason = models.CharField(max_length=200, blank=True)
    made_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    # valuation by the workshop's ledger replay, kept with each entry: unit cost, and what is
    # on the shelf after it
    unit_cost = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    balance = quantity_field(default=0)
    balance_value = models.DecimalField(max_digits=20, decimal_places=6, default=0)

    objects = StockEntryQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(change=0) | models.Q(kind__in=("counted", "reversed")),
                name="stock_entry_moves_something",
            ),
            models.CheckConstraint(
                condition=models.Q(counted__isnull=True)
                | models.Q(kind="counted", counted__gte=0, change_at_count__isnull=False),
                name="only_counts_are_counted",
            ),
        )
        indexes = (models.Index(fields=["material", "moved_on", "id"], name="stock_ledger_order"),)

    def __str__(self) -> str:
        return f"{self.change} ({self.kind})"
