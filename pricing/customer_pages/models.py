"""Links that open a quote for its customer, and what the customer said by them."""

import datetime

from django.db import models
from django.utils import timezone

from maker.workshop.models import Workshop
from pricing.quotes.models import LONG


class QuoteLink(models.Model):
    """A way in for a customer. Whoever has its key may read one quote and answer it."""

    quote = models.ForeignKey("pricing.Quote", on_delete=models.CASCADE, related_name="links")
    # SHA-256 of the key: the key itself is shown once and kept nowhere
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # the last day on which it opens
    ends_on = models.DateField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    sent_to = models.EmailField(max_length=254, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    def __str__(self) -> str:
        return f"link of {self.made_at:%d %b %Y}"

    def is_over(self, on: datetime.date) -> bool:
        """Whether its last day has passed."""
        return self.ends_on < on

    @property
    def opens(self) -> bool:
        """Whether it works today."""
        return self.revoked_at is None and not self.is_over(timezone.localdate())


class QuoteMessageQuerySet(models.QuerySet["QuoteMessage"]):
    """What customers said."""

    def of(self, workshop: Workshop) -> "QuoteMessageQuerySet":
        """Those of one workshop."""
        return self.filter(quote__customer__workshop=workshop)

    def unread(self) -> "QuoteMessageQuerySet":
        """Those nobody has marked as read."""
        return self.filter(read_at__isnull=True)

    def for_list(self) -> "QuoteMessageQuerySet":
        """With quote and customer, without their long texts, oldest first."""
        rows = self.select_related("quote__customer").defer(*(f"quote__{each}" for each in LONG))
        return rows.order_by("said_at", "pk")


class QuoteMessage(models.Model):
    """A question or an answer of a customer, with name, moment and revision."""

    class Kind(models.TextChoices):
        QUESTION = "question", "question"
        ACCEPTED = "accepted", "accepted"
        DECLINED = "declined", "declined"
        CHANGE_YES = "change_yes", "accepted a change"
        CHANGE_NO = "change_no", "declined a change"
        PROOF = "proof", "approved the proof"
        NAMED = "named", "entered names"
        NAMES = "names", "approved the names"

    quote = models.ForeignKey("pricing.Quote", on_delete=models.CASCADE, related_name="messages")
    link = models.ForeignKey(
        "pricing.QuoteLink", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=120)
    text = models.TextField(max_length=2000, blank=True)
    revision = models.PositiveSmallIntegerField()
    said_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)

    objects = QuoteMessageQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.get_kind_display()} by {self.name}"
