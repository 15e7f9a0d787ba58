"""Prices of a day at a fair, fixed when it is opened."""

from decimal import Decimal

from django.db import models

from maker.workshop.models import money_field

ZERO = Decimal(0)


class TablePrice(models.Model):
    """What an item or a bundle costs on one day, with tax; of a bundle also its lowest price."""

    day = models.ForeignKey("pricing.FairDay", on_delete=models.CASCADE, related_name="prices")
    item = models.ForeignKey(
        "pricing.FairDesign",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="day_prices",
    )
    bundle = models.ForeignKey(
        "pricing.FairBundle",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="day_prices",
    )
    price = money_field()
    lowest = money_field(default=ZERO)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["day", "item"], name="table_price_of_item_once"),
            models.UniqueConstraint(fields=["day", "bundle"], name="table_price_of_bundle_once"),
            models.CheckConstraint(
                condition=models.Q(item__isnull=True, bundle__isnull=False)
                | models.Q(item__isnull=False, bundle__isnull=True),
                name="table_price_is_of_one_thing",
            ),
        )

    def __str__(self) -> str:
        return f"{self.price} on day {self.day_id}"
