"""Where she sells, and what that takes from a price."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from maker.workshop.models import ArchivableQuerySet, money_field, share_field
from pricing.calc.price.markup import markup_from_margin

ZERO = Decimal(0)


class ChannelQuerySet(ArchivableQuerySet["Channel"]):
    """Channels of a workshop."""

    def in_order(self) -> "ChannelQuerySet":
        """As she arranged them; the first one is the default."""
        return self.order_by("position", "pk")

    def with_tiers(self) -> "ChannelQuerySet":
        """With what holds from which quantity."""
        return self.prefetch_related(
            models.Prefetch("tiers", ChannelTier.objects.order_by("bought_at_once", "pk"))
        )


class Channel(models.Model):
    """A fair, a web shop, orders at the door, a shop that resells."""

    class Kind(models.TextChoices):
        FAIR = "fair", "Fair or market stall"
        DIRECT = "direct", "Direct, to order"
        ONLINE = "online", "Online"
        WHOLESALE = "wholesale", "Wholesale, to shops"

    # where each buyer takes one and pays apart, unless something else is said
    ONE_BY_ONE = frozenset({Kind.FAIR, Kind.ONLINE})

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="channels"
    )
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.DIRECT)
    # how many one buyer usually takes and pays at once; None: what is ordered
    bought_at_once = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)]
    )
    # added to the price for an order that pushes others aside
    rush_share = share_field(default=ZERO)
    # of the price without tax, kept by whoever sells it for her: a gallery, a shop on commission
    commission_share = share_field(default=ZERO)
    # a shop that buys and sells on keeps this share of its own price: for the price on its shelf
    resale_share = share_field(default=ZERO)
    # paid for each piece put on offer, whether one payment or many
    listing_fee = money_field(default=ZERO)
    notes = models.TextField(max_length=2000, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = ChannelQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="channel_name_once"),
            models.CheckConstraint(
                condition=models.Q(bought_at_once__isnull=True) | models.Q(bought_at_once__gte=1),
                name="channel_buyer_takes_one",
            ),
        )

    def __str__(self) -> str:
        return self.name


class ChannelTier(models.Model):
    """Fees, margin, price step and deposit that hold from a quantity on."""

    channel = models.ForeignKey("pricing.Channel", on_delete=models.CASCADE, related_name="tiers")
    # the terms of a sale of so many and more
    bought_at_once = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    margin = share_field(default=Decimal("0.3"))
    # of the tax-inclusive payment
    fee_share = share_field(default=ZERO)
    # for each payment
    fixed_fee = money_field(default=ZERO)
    payments_per_sale = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1)]
    )
    price_step = money_field(default=Decimal("0.05"))
    deposit_share = share_field(default=ZERO)
    deposit_step = money_field(default=Decimal(1))

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["channel", "bought_at_once"], name="one_tier_per_quantity"
            ),
            models.CheckConstraint(
                condition=models.Q(bought_at_once__gte=1, payments_per_sale__gte=1),
                name="tier_counts_from_one",
            ),
        )

    def __str__(self) -> str:
        return f"from {self.bought_at_once}"

    @property
    def markup(self) -> Decimal | None:
        """The margin said as a share of the cost; None when nothing of the price is left for it."""
        return markup_from_margin(self.margin) if self.margin < 1 else None
