"""The prices she asks, when each was set and against which cost."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models.functions import Coalesce

from maker.workshop.models import Workshop, money_field


class PriceListQuerySet(models.QuerySet["PriceListEntry"]):
    """Asked prices of a workshop."""

    def of(self, workshop: Workshop) -> "PriceListQuerySet":
        """Those of one workshop."""
        return self.filter(design__workshop=workshop)

    def current(self) -> "PriceListQuerySet":
        """Those no newer price has replaced."""
        return self.filter(replaced_at__isnull=True)

    def in_use(self) -> "PriceListQuerySet":
        """Those of designs and channels that are not put away."""
        return self.filter(design__retired_on__isnull=True, channel__retired_on__isnull=True)

    def below_floor(self) -> "PriceListQuerySet":
        """Those that were set below the lowest price of their day."""
        return self.filter(price__lt=models.F("floor_each"))

    def with_items(self) -> "PriceListQuerySet":
        """With what each price is for: design, channel, colourway, options with their choices."""
        return self.select_related("design", "channel", "version", "colourway").prefetch_related(
            "version__options__choices"
        )

    def in_order(self) -> "PriceListQuerySet":
        """By channel, design, colourway, options and quantity."""
        return self.order_by(
            "channel__position",
            "channel_id",
            "design__name",
            models.F("colourway__name").asc(nulls_first=True),
            "choices",
            "bought_at_once",
            "pk",
        )


class PriceListEntry(models.Model):
    """A price of a design with its options and colourway in a channel, from a quantity on.

    The newest one holds, the older ones tell the story.
    """

    design = models.ForeignKey("catalogue.Design", on_delete=models.PROTECT, related_name="prices")
    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.PROTECT, related_name="prices"
    )
    channel = models.ForeignKey("pricing.Channel", on_delete=models.PROTECT, related_name="prices")
    colourway = models.ForeignKey(
        "catalogue.Colourway",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="prices",
    )
    # option key -> choice key of every option, as chosen when the price was set; keys in order
    choices = models.JSONField(default=dict, blank=True)
    # the batch the cost was worked out for; the price holds for who buys so many and more
    made_at_once = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    bought_at_once = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    price = money_field()
    includes_tax = models.BooleanField(default=True)
    tax_rate = models.DecimalField(max_digits=9, decimal_places=6, default=0)
    # what it was set against
    cost_each = money_field()
    floor_each = money_field()
    target_each = money_field()
    # everything that cost was worked out from, so that a later one can be compared with it;
    # None for prices from before that was kept
    basis = models.JSONField(null=True, blank=True)
    set_at = models.DateTimeField(auto_now_add=True)
    set_by = models.ForeignKey("maker.User", on_delete=models.SET_NULL, null=True, related_name="+")
    replaced_at = models.DateTimeField(null=True, blank=True)

    objects = PriceListQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                "design",
                "channel",
                Coalesce("colourway", 0),
                "choices",
                "bought_at_once",
                condition=models.Q(replaced_at__isnull=True),
                name="one_current_price",
            ),
            models.CheckConstraint(
                condition=models.Q(price__gte=0), name="asked_price_not_negative"
            ),
        )

    def __str__(self) -> str:
        return f"{self.design_id} at {self.price}"
