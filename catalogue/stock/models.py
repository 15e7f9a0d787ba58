"""The stock ledger: it only grows; a mistake is corrected by a new entry."""

from collections.abc import Sequence
from typing import Any

from django.db import models

from catalogue.materials.models import quantity_field, typed_in_field
from catalogue.stock.ledger import LedgerEntry, LedgerQuerySet
from maker.workshop.models import Workshop


class StockEntryQuerySet(LedgerQuerySet["StockEntry"]):
    """Movements of stock."""

    def of(self, workshop: Workshop) -> "StockEntryQuerySet":
        """Those of one workshop."""
        return self.filter(material__workshop=workshop)

    def for_ledger(self) -> "StockEntryQuerySet":
        """With the receipt behind each, and `counts`: whether it still moves anything."""
        return self.select_related("purchase_line").with_standing()

    def of_receipt(self, purchase: Any) -> "StockEntryQuerySet":
        """Those that a receipt brought in or that take it back."""
        return self.filter(purchase_line__purchase=purchase).order_by("pk")

    def of_receipts(self, purchases: Sequence[Any]) -> "StockEntryQuerySet":
        """Those that receipts brought in or that take them back."""
        return self.filter(purchase_line__purchase__in=purchases).order_by("pk")

    def counts(self) -> "StockEntryQuerySet":
        """Those that say what was there."""
        # the kind is in an index
        return self.filter(kind=StockEntry.Kind.COUNTED, counted__isnull=False)

    def in_ledger_order(self) -> "StockEntryQuerySet":
        """By day, then as they were entered: the order in which averages move."""
        return self.order_by("moved_on", "pk")


class StockEntry(LedgerEntry):
    """One movement of one material; `change` is positive for goods coming in."""

    class Kind(models.TextChoices):
        BOUGHT = "bought", "bought"
        OPENING = "opening", "opening stock"
        USED = "used", "used in making"
        SCRAP = "scrap", "scrapped"
        OWN_USE = "own_use", "personal use"
        GIFT = "gift", "given away"
        SAMPLE = "sample", "sample"
        SOLD = "sold", "sold as supplies"
        RETURNED = "returned", "returned to the supplier"
        COUNTED = "counted", "count correction"
        REVERSED = "reversed", "entry undone"

    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="stock_entries"
    )
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
    # goods sent back take what their own receipt line cost with them; what the supplier pays back
    cost_out = models.DecimalField(max_digits=20, decimal_places=6, null=True, blank=True)
    refund = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    purchase_line = models.ForeignKey(
        "catalogue.PurchaseLine",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_entries",
    )
    # the lot it moves; what has a receipt line moves the lot of that line
    lot = models.CharField(max_length=60, blank=True)
    # valuation by the workshop's ledger replay, kept with each entry: unit cost, and what is
    # on the shelf after it
    unit_cost = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    balance = quantity_field(default=0)
    balance_value = models.DecimalField(max_digits=20, decimal_places=6, default=0)
    # the entry this one takes back
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_back_by"
    )

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
            models.CheckConstraint(
                condition=models.Q(cost_out__isnull=True, refund__isnull=True)
                | models.Q(kind="returned", cost_out__gte=0, refund__gte=0),
                name="only_returns_are_refunded",
            ),
            models.CheckConstraint(
                condition=models.Q(lot="") | models.Q(purchase_line__isnull=True),
                name="lot_of_the_receipt_line",
            ),
        )
        indexes = (
            models.Index(fields=["material", "moved_on", "id"], name="stock_ledger_order"),
            # what was used or sent back is a small part of a ledger
            models.Index(fields=["material", "kind", "moved_on"], name="stock_by_kind"),
        )

    def __str__(self) -> str:
        return f"{self.change} ({self.kind})"

    @property
    def of_lot(self) -> str:
        """Return the lot it moves; its receipt line is loaded by `for_ledger()`."""
        return self.purchase_line.lot if self.purchase_line else self.lot
