"""Shops that sell her items for a share: what was agreed, and each settlement."""

import datetime
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from maker.calc.money import with_working_precision
from maker.workshop.models import Workshop, money_field, share_field

ZERO = Decimal(0)


class ShopQuerySet(models.QuerySet["Shop"]):
    """Shops of a workshop."""

    def of(self, workshop: Workshop) -> "ShopQuerySet":
        """Those of one workshop."""
        return self.filter(place__workshop=workshop)

    def by_name(self) -> "ShopQuerySet":
        """By name, with the place their items are at."""
        return self.select_related("place__workshop").order_by("place__name", "pk")


class Shop(models.Model):
    """A shop with items of hers: a place of the finished stock, and the share it keeps."""

    place = models.OneToOneField("pricing.Place", on_delete=models.PROTECT, related_name="shop")
    # of the price on its shelf
    kept_share = share_field(default=Decimal("0.3"))
    notes = models.TextField(max_length=2000, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = ShopQuerySet.as_manager()

    def __str__(self) -> str:
        return self.place.name


class SettlementQuerySet(models.QuerySet["Settlement"]):
    """Settlements of a workshop's shops."""

    def of(self, workshop: Workshop) -> "SettlementQuerySet":
        """Those of one workshop."""
        return self.filter(shop__place__workshop=workshop)

    def standing(self) -> "SettlementQuerySet":
        """Those that were not undone."""
        return self.filter(undone_at__isnull=True)

    def between(self, first: datetime.date, last: datetime.date) -> "SettlementQuerySet":
        """Those from one date to another, both included."""
        return self.filter(settled_on__gte=first, settled_on__lte=last)

    def in_order(self) -> "SettlementQuerySet":
        """By date, with shop and items."""
        rows = self.select_related("shop__place").prefetch_related("items")
        return rows.order_by("settled_on", "pk")


class Settlement(models.Model):
    """What a shop says it sold, at the share of the day."""

    shop = models.ForeignKey("pricing.Shop", on_delete=models.PROTECT, related_name="settlements")
    settled_on = models.DateField()
    kept_share = share_field(default=ZERO)
    note = models.CharField(max_length=120, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    objects = SettlementQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.shop_id} on {self.settled_on}"


class SettledItem(models.Model):
    """So many of an item that a shop sold, at its price there with tax."""

    settlement = models.ForeignKey(
        "pricing.Settlement", on_delete=models.CASCADE, related_name="items"
    )
    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.PROTECT, related_name="settled"
    )
    colourway_name = models.CharField(max_length=80, blank=True)
    # option key -> choice key, keys in order
    choices = models.JSONField(default=dict, blank=True)
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    price_each = money_field()

    def __str__(self) -> str:
        return f"{self.count} of version {self.version_id}"

    @property
    @with_working_precision
    def taken(self) -> Decimal:
        """What the shop took for them."""
        return self.count * self.price_each
