"""Finished items: what they are, the batches they were made in, where they are, each movement.

The ledger only grows; layers and the values of movements follow from it (see `services`).
"""

import datetime
from decimal import Decimal
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models

from catalogue.stock.ledger import LedgerEntry, LedgerQuerySet
from maker.workshop.models import Workshop
from pricing.calc.finished_stock.worth import Worth

ZERO = Decimal(0)
# orders whose items are still here: what was made for them is theirs
CLAIMING = ("planned", "making", "ready")


def worth_field(**more: Any) -> Any:
    """Return a column for a part of what items cost; below zero where they leave."""
    return models.DecimalField(max_digits=20, decimal_places=6, default=ZERO, **more)


class WithWorth(models.Model):
    """What something cost: materials, wage and overhead kept apart."""

    material_value = worth_field()
    wage_value = worth_field()
    overhead_value = worth_field()

    class Meta:
        abstract = True

    @property
    def worth(self) -> Worth:
        """The three parts as one value."""
        return Worth(self.material_value, self.wage_value, self.overhead_value)

    @worth.setter
    def worth(self, worth: Worth) -> None:
        self.material_value, self.wage_value = worth.material, worth.wage
        self.overhead_value = worth.overhead


class FinishedItemQuerySet(models.QuerySet["FinishedItem"]):
    """Finished items of a workshop."""

    def of(self, workshop: Workshop) -> "FinishedItemQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def with_names(self) -> "FinishedItemQuerySet":
        """With everything their names are made of."""
        return self.select_related("design", "version").prefetch_related(
            "version__options__choices"
        )

    def in_order(self) -> "FinishedItemQuerySet":
        """By name."""
        return self.order_by("design__name", "version__number", "colourway_name", "pk")


class FinishedItem(models.Model):
    """One thing that can lie finished on the shelf: a design's version, colourway and choices."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="finished_items"
    )
    design = models.ForeignKey(
        "catalogue.Design", on_delete=models.PROTECT, related_name="finished_items"
    )
    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.PROTECT, related_name="finished_items"
    )
    # empty: none. By name, as across versions and in a recipe that lost it
    colourway_name = models.CharField(max_length=80, blank=True)
    # option key -> choice key of every option; keys in order
    choices = models.JSONField(default=dict, blank=True)

    objects = FinishedItemQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["version", "colourway_name", "choices"], name="finished_item_once"
            ),
        )

    def __str__(self) -> str:
        return item_name(self)


def item_name(item: FinishedItem) -> str:
    """Return the design with what sets an item apart: “Meadow bag (blue, Name: yes)”.

    The item comes from `with_names()`.
    """
    words = [item.colourway_name] if item.colourway_name else []
    for option in item.version.options.all():
        answers = sorted(option.choices.all(), key=lambda each: (each.position, each.pk))
        usual = next((each.key for each in answers if each.is_default), None)
        usual = usual or (answers[0].key if answers else None)
        chosen = item.choices.get(option.key)
        if chosen is not None and chosen != usual:
            name = next((each.name for each in answers if each.key == chosen), chosen)
            words.append(f"{option.name}: {name}")
    return f"{item.design.name} ({', '.join(words)})" if words else item.design.name


class PlaceQuerySet(models.QuerySet["Place"]):
    """Places of a workshop."""

    def of(self, workshop: Workshop) -> "PlaceQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def in_order(self) -> "PlaceQuerySet":
        """Home first, then by name."""
        home = models.Case(models.When(kind="home", then=0), default=1)
        return self.order_by(home, "name", "pk")


class Place(models.Model):
    """Where finished items can be. A workshop has one home; see `services.home_of`."""

    class Kind(models.TextChoices):
        HOME = "home", "home"
        FAIR = "fair", "fair"
        SHOP = "shop", "shop"

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="places")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind)

    objects = PlaceQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["workshop"], condition=models.Q(kind="home"), name="one_home"
            ),
        )

    def __str__(self) -> str:
        return self.name


class FinishedBatchQuerySet(models.QuerySet["FinishedBatch"]):
    """Batches of a workshop."""

    def of(self, workshop: Workshop) -> "FinishedBatchQuerySet":
        """Those of one workshop."""
        return self.filter(item__workshop=workshop)

    def open(self) -> "FinishedBatchQuerySet":
        """Those begun and not finished: materials are taken, nothing is on the shelf."""
        return self.filter(made_on__isnull=True, undone_at__isnull=True)

    def made(self) -> "FinishedBatchQuerySet":
        """Those that were finished."""
        return self.filter(made_on__isnull=False, undone_at__isnull=True)

    def standing(self) -> "FinishedBatchQuerySet":
        """Those that were not undone."""
        return self.filter(undone_at__isnull=True)


class FinishedBatch(WithWorth):
    """Items of one kind made together, for stock or for an order.

    `quantity` are the good ones; None while the batch is open. The values are what they cost in
    all: spoiled ones are paid by the good ones.
    """

    class Kind(models.TextChoices):
        MADE = "made", "made"
        OPENING = "opening", "there before"
        FOUND = "found", "found at a count"

    item = models.ForeignKey(
        "pricing.FinishedItem", on_delete=models.PROTECT, related_name="batches"
    )
    order = models.ForeignKey(
        "pricing.Order",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="batches",
    )
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.MADE)
    started_on = models.DateField()
    planned = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    made_on = models.DateField(null=True, blank=True)
    quantity = models.PositiveIntegerField(null=True, blank=True)
    minutes = models.DecimalField(max_digits=14, decimal_places=6, default=ZERO)
    note = models.CharField(max_length=200, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    made_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    objects = FinishedBatchQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(made_on__isnull=True, quantity__isnull=True)
                | models.Q(made_on__isnull=False, quantity__isnull=False),
                name="finished_batch_has_a_quantity",
            ),
        )

    def __str__(self) -> str:
        return f"batch {self.pk}"

    @property
    def is_open(self) -> bool:
        """Whether it is still being made."""
        return self.made_on is None and self.undone_at is None


class BatchMaterial(models.Model):
    """A material that left stock for a batch."""

    batch = models.ForeignKey(
        "pricing.FinishedBatch", on_delete=models.CASCADE, related_name="materials"
    )
    entry = models.OneToOneField(
        "catalogue.StockEntry", on_delete=models.PROTECT, related_name="of_batch"
    )

    def __str__(self) -> str:
        return f"entry {self.entry_id} of batch {self.batch_id}"


class BatchSpoiled(models.Model):
    """How many of a batch were spoiled, and by what."""

    class Cause(models.TextChoices):
        CUT = "cut", "cut wrong"
        GLUE = "glue", "glue"
        PRINT = "print", "print or name"
        DAMAGE = "damage", "damaged"
        MATERIAL = "material", "bad material"
        OTHER = "other", "something else"

    batch = models.ForeignKey(
        "pricing.FinishedBatch", on_delete=models.CASCADE, related_name="spoiled"
    )
    cause = models.CharField(max_length=10, choices=Cause)
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["batch", "cause"], name="spoiled_cause_once"),
        )

    def __str__(self) -> str:
        return f"{self.count} {self.cause}"


class FinishedMoveQuerySet(LedgerQuerySet["FinishedMove"]):
    """Movements of finished items."""

    def of(self, workshop: Workshop) -> "FinishedMoveQuerySet":
        """Those of one workshop."""
        return self.filter(item__workshop=workshop)

    def in_ledger_order(self) -> "FinishedMoveQuerySet":
        """By date, then as they were entered: the order in which batches leave."""
        return self.order_by("moved_on", "pk")

    def until(self, last: datetime.date) -> "FinishedMoveQuerySet":
        """Those up to a date, itself included."""
        return self.filter(moved_on__lte=last)


class FinishedMove(WithWorth, LedgerEntry):
    """One movement of one item at `place`; `change` is above zero for what comes in.

    One that goes to `to_place` leaves `place` and arrives there. The values are what moved cost,
    with the sign of the change; of a revaluation, the part of those that are gone.
    """

    class Kind(models.TextChoices):
        MADE = "made", "made"
        FOUND = "found", "found at a count"
        CAME_BACK = "came_back", "came back"
        DELIVERED = "delivered", "delivered"
        SOLD = "sold", "sold"
        GIVEN = "given", "given away"
        SAMPLE = "sample", "sample"
        SPOILED = "spoiled", "spoiled"
        MISSING = "missing", "missing at a count"
        UNMADE = "unmade", "taken apart"
        MOVED = "moved", "moved"
        REVALUED = "revalued", "revalued"
        REVERSED = "reversed", "undone"

    item = models.ForeignKey("pricing.FinishedItem", on_delete=models.PROTECT, related_name="moves")
    place = models.ForeignKey("pricing.Place", on_delete=models.PROTECT, related_name="moves")
    to_place = models.ForeignKey(
        "pricing.Place", on_delete=models.PROTECT, null=True, blank=True, related_name="arrivals"
    )
    # what was made, found or revalued
    batch = models.ForeignKey(
        "pricing.FinishedBatch",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="moves",
    )
    # the order it was delivered for, or came back from
    order = models.ForeignKey(
        "pricing.Order",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="finished_moves",
    )
    # the part of it that left with them
    delivery = models.ForeignKey(
        "pricing.OrderDelivery",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="finished_moves",
    )
    # what was sold, given away, broken or handed back at a fair
    fair_line = models.ForeignKey(
        "pricing.FairSaleLine",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="moves",
    )
    # what a shop said it sold
    settled = models.ForeignKey(
        "pricing.SettledItem",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="moves",
    )
    kind = models.CharField(max_length=10, choices=Kind)
    change = models.IntegerField()
    # what a revaluation adds to its batch in all
    added_material = worth_field()
    added_wage = worth_field()
    added_overhead = worth_field()
    # the entry this one takes back
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_back_by"
    )

    objects = FinishedMoveQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(change=0) | models.Q(kind__in=("revalued", "reversed")),
                name="finished_move_moves_something",
            ),
            models.CheckConstraint(
                condition=models.Q(to_place__isnull=True)
                | models.Q(kind__in=("moved", "reversed"), change__lt=0)
                | models.Q(kind="reversed"),
                name="only_moved_items_arrive",
            ),
        )
        indexes = (models.Index(fields=["item", "moved_on", "id"], name="finished_ledger_order"),)

    def __str__(self) -> str:
        return f"{self.change} ({self.kind})"


class FinishedLayer(WithWorth):
    """What is left of a batch at a place: a cache of the ledger, made anew with each movement."""

    batch = models.ForeignKey(
        "pricing.FinishedBatch", on_delete=models.CASCADE, related_name="layers"
    )
    place = models.ForeignKey("pricing.Place", on_delete=models.CASCADE, related_name="layers")
    quantity = models.PositiveIntegerField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["batch", "place"], name="finished_layer_once"),
        )

    def __str__(self) -> str:
        return f"{self.quantity} of batch {self.batch_id}"
