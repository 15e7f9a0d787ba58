"""What she decided about prices that were off: change, leave until a day, leave."""

from django.db import models

from maker.workshop.models import Workshop, money_field
from pricing.quotes.models import LONG


class PriceDecisionQuerySet(models.QuerySet["PriceDecision"]):
    """Decisions about prices."""

    def of(self, workshop: Workshop) -> "PriceDecisionQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def holding(self) -> "PriceDecisionQuerySet":
        """Those not taken back."""
        return self.filter(taken_back_at__isnull=True)

    def for_list(self) -> "PriceDecisionQuerySet":
        """With what each is about, without long texts and all a price was worked out from."""
        long = (f"quote__{name}" for name in LONG)
        return self.select_related("entry__design", "quote").defer("entry__basis", *long)

    def newest_first(self) -> "PriceDecisionQuerySet":
        """The last one first."""
        return self.order_by("-decided_at", "-pk")


class PriceDecision(models.Model):
    """One decision, with the figures it was made on: about a price of the list or a quote."""

    class Kind(models.TextChoices):
        CHANGE = "change", "changed"
        UNTIL = "until", "reminder set"
        LEAVE = "leave", "ignored unless costs change"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="price_decisions"
    )
    entry = models.ForeignKey(
        "pricing.PriceListEntry",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="decisions",
    )
    quote = models.ForeignKey(
        "pricing.Quote", on_delete=models.CASCADE, null=True, blank=True, related_name="decisions"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    # of one, as it was seen then
    cost_each = money_field()
    price_each = money_field()
    price_needed = money_field(null=True, blank=True)
    decided_at = models.DateTimeField(auto_now_add=True)
    decided_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)

    objects = PriceDecisionQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(entry__isnull=False, quote__isnull=True)
                | models.Q(entry__isnull=True, quote__isnull=False),
                name="decision_is_about_one_thing",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="until") | models.Q(until__isnull=False),
                name="left_until_a_day",
            ),
        )

    def __str__(self) -> str:
        return self.get_kind_display()
