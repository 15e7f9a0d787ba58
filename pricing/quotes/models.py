"""Quotes and their lines. What a sent quote says is copied into it and never worked out again."""

import datetime
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from maker.workshop.models import Workshop, money_field, share_field
from pricing.channels.models import ChannelTier

ZERO = Decimal(0)
LONG = ("frozen", "intro", "terms", "own_notes")


class DocumentSeries(models.Model):
    """The last number given in a series of documents and a year: numbers without gaps."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="document_series"
    )
    name = models.CharField(max_length=20)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name", "year"], name="one_series_a_year"),
        )

    def __str__(self) -> str:
        return f"{self.name} {self.year}"


class QuoteQuerySet(models.QuerySet["Quote"]):
    """Quotes of a workshop."""

    def of(self, workshop: Workshop) -> "QuoteQuerySet":
        """Those of one workshop."""
        return self.filter(customer__workshop=workshop)

    def drafts(self) -> "QuoteQuerySet":
        """Those not sent yet."""
        return self.filter(state=Quote.State.DRAFT)

    def that_count(self) -> "QuoteQuerySet":
        """Those neither replaced by a revision nor thrown away."""
        return self.exclude(state__in=[Quote.State.REPLACED, Quote.State.DISCARDED])

    def waiting(self, on: datetime.date) -> "QuoteQuerySet":
        """Sent ones that can still be accepted on a day."""
        return self.filter(state=Quote.State.SENT, valid_until__gte=on)

    def expired(self, on: datetime.date) -> "QuoteQuerySet":
        """Sent ones whose day has passed without an answer."""
        return self.filter(state=Quote.State.SENT, valid_until__lt=on)

    def running_out(self, on: datetime.date, until: datetime.date) -> "QuoteQuerySet":
        """Those waiting whose last day comes by `until`."""
        return self.waiting(on).filter(valid_until__lte=until)

    def matching(self, text: str) -> "QuoteQuerySet":
        """Those whose number, title or customer holds the text."""
        return self.filter(
            models.Q(number__icontains=text)
            | models.Q(title__icontains=text)
            | models.Q(customer__name__icontains=text)
        )

    def for_list(self) -> "QuoteQuerySet":
        """With the customer and without long texts: what was frozen may be a megabyte."""
        return self.select_related("customer").defer(*LONG)

    def in_short(self) -> "QuoteQuerySet":
        """With what one line says: number, title, dates and the customer's name."""
        return self.select_related("customer").only(
            *("number", "revision", "title", "valid_until", "created_at", "customer__name")
        )

    def with_people(self) -> "QuoteQuerySet":
        """With the workshop, and all that is beside a quote."""
        return self.with_what_is_beside().select_related("customer__workshop")

    def with_what_is_beside(self) -> "QuoteQuerySet":
        """With customer, channel with its tiers, order, and neighbours in revision."""
        neighbours = [f"{name}__{long}" for name in ("replaces", "replaced_by") for long in LONG]
        return (
            self.select_related(
                "customer", "channel", "replaces", "replaced_by", "order", "enquiry"
            )
            .defer(*neighbours)
            .prefetch_related(
                models.Prefetch(
                    "channel__tiers", ChannelTier.objects.order_by("bought_at_once", "pk")
                )
            )
        )

    def newest_first(self) -> "QuoteQuerySet":
        """In the order of a list."""
        return self.order_by("-created_at", "-pk")


class Quote(models.Model):
    """One revision of a quote. A draft follows today's costs; a sent one keeps its figures."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        SENT = "sent", "sent"
        REPLACED = "replaced", "replaced by a revision"
        ACCEPTED = "accepted", "accepted"
        DECLINED = "declined", "declined"
        DISCARDED = "discarded", "deleted draft"

    class Reason(models.TextChoices):
        NONE = "", "not given"
        PRICE = "price", "price"
        DATE = "date", "date"
        STYLE = "style", "style"
        OTHER = "other", "something else"

    customer = models.ForeignKey(
        "pricing.Customer", on_delete=models.PROTECT, related_name="quotes"
    )
    channel = models.ForeignKey(
        "pricing.Channel", on_delete=models.PROTECT, null=True, blank=True, related_name="quotes"
    )
    # given when it is first sent, so that no number is lost to a draft
    number = models.CharField(max_length=40, blank=True)
    revision = models.PositiveSmallIntegerField(default=1)
    replaces = models.OneToOneField(
        "pricing.Quote",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="replaced_by",
    )
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    title = models.CharField(max_length=120, blank=True)
    needed_on = models.DateField(null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    is_rush = models.BooleanField(default=False)
    # what it costs to take it there, net; the sum of its drops where there are any
    delivery = money_field(default=ZERO)
    # of what is charged for it; empty: passed on at cost
    delivery_margin = share_field(null=True, blank=True)
    # what a kilometre or mile of her own way costs
    distance_cost = money_field(null=True, blank=True)
    # empty: the channel's
    deposit_share = share_field(null=True, blank=True)
    intro = models.TextField(max_length=4000, blank=True)
    terms = models.TextField(max_length=20_000, blank=True)
    own_notes = models.TextField(max_length=4000, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    edit_number = models.PositiveIntegerField(default=0)
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    # a draft's total when it was last looked at, and which edit of it that was: so that it can say
    # when it has moved by itself
    seen_total = money_field(null=True, blank=True)
    seen_edit = models.PositiveIntegerField(null=True, blank=True)

    # written when it is sent
    sent_on = models.DateField(null=True, blank=True)
    sent_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # rates, names and addresses, tax, totals, deposit; figures for her apart from those
    # for the customer, see services.send_quote
    frozen = models.JSONField(default=dict, blank=True)
    total = money_field(null=True, blank=True)

    decided_on = models.DateField(null=True, blank=True)
    decided_by = models.CharField(max_length=120, blank=True)
    reason = models.CharField(max_length=10, choices=Reason, default=Reason.NONE, blank=True)
    reason_note = models.CharField(max_length=300, blank=True)

    objects = QuoteQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["number", "revision", "customer"],
                condition=~models.Q(number=""),
                name="quote_number_and_revision_once",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=["draft", "discarded"])
                | (models.Q(sent_on__isnull=False) & ~models.Q(number="")),
                name="sent_quote_has_a_number_and_a_day",
            ),
        )

    def __str__(self) -> str:
        if not self.number:
            return self.title or "new quote"
        return f"{self.number}, revision {self.revision}" if self.revision > 1 else self.number

    @property
    def workshop(self) -> Workshop:
        """The workshop of its customer; loaded by `with_people()`."""
        return self.customer.workshop

    @property
    def is_draft(self) -> bool:
        """Whether it can still be changed."""
        return self.state == self.State.DRAFT

    def is_expired(self, on: datetime.date) -> bool:
        """Whether a sent quote's day has passed without an answer."""
        return self.state == self.State.SENT and bool(self.valid_until and self.valid_until < on)


class QuoteLineQuerySet(models.QuerySet["QuoteLine"]):
    """Lines of quotes."""

    def of(self, workshop: Workshop) -> "QuoteLineQuerySet":
        """Those of one workshop."""
        return self.filter(quote__customer__workshop=workshop)

    def kept(self) -> "QuoteLineQuerySet":
        """Those of the quote itself that were not taken off, in their order."""
        return self.filter(is_removed=False, change=None).order_by("position", "pk")


class QuoteLine(models.Model):
    """One design on a quote. Price and figures of a sent one are in `frozen`."""

    quote = models.ForeignKey("pricing.Quote", on_delete=models.CASCADE, related_name="lines")
    # the change of the order that brings it; the quote itself doesn't have it
    change = models.ForeignKey(
        "pricing.OrderChange",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="lines",
    )
    position = models.PositiveSmallIntegerField(default=0)
    design = models.ForeignKey(
        "catalogue.Design", on_delete=models.PROTECT, related_name="quote_lines"
    )
    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.PROTECT, related_name="quote_lines"
    )
    # a recipe nothing was promised from may lose the colourway; its name stays, to be told
    colourway = models.ForeignKey(
        "catalogue.Colourway",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="quote_lines",
    )
    colourway_name = models.CharField(max_length=80, blank=True)
    # option key -> choice key
    choices = models.JSONField(default=dict, blank=True)
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    # one to a line; children's names are personal data: clear them after delivery
    names = models.TextField(max_length=40_000, blank=True)
    description = models.TextField(max_length=2000, blank=True)
    # told beside the quantity, as they were typed: "100, 150"
    other_quantities = models.CharField(max_length=120, blank=True)
    # a price she names herself; empty: the one worked out
    price_asked = money_field(null=True, blank=True)
    frozen = models.JSONField(default=dict, blank=True)
    # taken off a draft, until it is sent: so that it can be put back
    is_removed = models.BooleanField(default=False)

    objects = QuoteLineQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(quantity__gte=1), name="quote_line_asks_for_something"
            ),
        )

    def __str__(self) -> str:
        return f"{self.quantity} of {self.design_id}"


class QuoteExtra(models.Model):
    """A discount or a charge on the whole quote, with its reason: an amount or a share."""

    class Kind(models.TextChoices):
        DISCOUNT = "discount", "discount"
        CHARGE = "charge", "charge"

    quote = models.ForeignKey("pricing.Quote", on_delete=models.CASCADE, related_name="extras")
    position = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.DISCOUNT)
    reason = models.CharField(max_length=120)
    # as prices are shown
    amount = money_field(null=True, blank=True)
    share = share_field(null=True, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(amount__isnull=False, share__isnull=True)
                | models.Q(amount__isnull=True, share__isnull=False),
                name="quote_extra_is_an_amount_or_a_share",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind}: {self.reason}"


class QuoteDrop(models.Model):
    """A place it is taken to, and what that costs: a carrier, or her own time and way."""

    quote = models.ForeignKey("pricing.Quote", on_delete=models.CASCADE, related_name="drops")
    position = models.PositiveSmallIntegerField(default=0)
    address = models.TextField(max_length=500, blank=True)
    quantity = models.PositiveIntegerField(null=True, blank=True)
    carrier = money_field(null=True, blank=True)
    minutes = models.PositiveIntegerField(null=True, blank=True)
    # there and back, in km or miles
    distance = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(ZERO)],
    )

    def __str__(self) -> str:
        return self.address or f"drop {self.position + 1}"
