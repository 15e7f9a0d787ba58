"""Orders: what was accepted, when it goes where, what was paid and invoiced.

What an order is for is in its quote, which is locked; here is what happens after the yes.
"""

import datetime
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from maker.workshop.models import Workshop, money_field, signed_money_field
from pricing.quotes.models import LONG

ZERO = Decimal(0)
QUOTE_LONG = tuple(f"quote__{name}" for name in LONG)


class OrderQuerySet(models.QuerySet["Order"]):
    """Orders of a workshop."""

    def of(self, workshop: Workshop) -> "OrderQuerySet":
        """Those of one workshop."""
        return self.filter(quote__customer__workshop=workshop)

    def open(self) -> "OrderQuerySet":
        """Those something is still to be done or paid for."""
        return self.exclude(state__in=[Order.State.SETTLED, Order.State.CANCELLED])

    def may_owe(self) -> "OrderQuerySet":
        """Those whose invoices may be open: what a cancelled order owes is owed all the same."""
        return self.exclude(state=Order.State.SETTLED)

    def to_make(self) -> "OrderQuerySet":
        """Those whose materials are still to be used: they reserve stock."""
        return self.filter(state__in=[Order.State.PLANNED, Order.State.MAKING])

    def late(self, on: datetime.date) -> "OrderQuerySet":
        """Those whose date has passed and that are not with the customer."""
        undelivered = [Order.State.PLANNED, Order.State.MAKING, Order.State.READY]
        return self.filter(state__in=undelivered, due_on__lt=on)

    def matching(self, text: str) -> "OrderQuerySet":
        """Those whose number, title or customer holds the text."""
        return self.filter(
            models.Q(number__icontains=text)
            | models.Q(quote__title__icontains=text)
            | models.Q(quote__customer__name__icontains=text)
        )

    def for_list(self) -> "OrderQuerySet":
        """With quote and customer, without their long texts."""
        return self.select_related("quote__customer").defer(*QUOTE_LONG)

    def in_short(self) -> "OrderQuerySet":
        """With what one line says: number, state, dates and the customer's name."""
        return self.select_related("quote__customer").only(
            *("number", "state", "due_on", "quote__decided_on", "quote__customer__name")
        )

    def with_buyer(self) -> "OrderQuerySet":
        """With quote, customer and channel."""
        return self.select_related("quote__customer", "quote__channel")

    def with_people(self) -> "OrderQuerySet":
        """With quote, customer and workshop."""
        return self.with_buyer().select_related("quote__customer__workshop")

    def most_urgent_first(self) -> "OrderQuerySet":
        """By due date; those without one last."""
        return self.order_by(models.F("due_on").asc(nulls_last=True), "pk")


class Order(models.Model):
    """An accepted quote that is made, delivered and paid."""

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        MAKING = "making", "in the making"
        READY = "ready", "ready"
        DELIVERED = "delivered", "delivered"
        SETTLED = "settled", "settled"
        CANCELLED = "cancelled", "cancelled"

    class Stage(models.TextChoices):
        BEFORE = "before", "before anything was bought"
        BOUGHT = "bought", "after materials were bought"
        CUT = "cut", "after cutting has begun"

    quote = models.OneToOneField("pricing.Quote", on_delete=models.PROTECT, related_name="order")
    number = models.CharField(max_length=40)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    due_on = models.DateField(null=True, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    cancelled_on = models.DateField(null=True, blank=True)
    cancel_reason = models.CharField(max_length=300, blank=True)
    # how far it was, and what the customer owes for that by the terms of the quote
    cancel_stage = models.CharField(max_length=10, choices=Stage, blank=True)
    cancel_owed = money_field(null=True, blank=True)
    # what is to be paid before the work begins and the minutes at the bench, as its quote says: so
    # that no long figures of hundreds are read for them
    deposit = money_field(default=ZERO)
    quoted_minutes = models.DecimalField(max_digits=18, decimal_places=8, default=ZERO)
    # what its accepted changes add to the quote's total and minutes; below zero they take off
    changes_total = signed_money_field(default=ZERO)
    changes_minutes = models.DecimalField(max_digits=14, decimal_places=4, default=ZERO)
    # names on its items are personal data; from this date on they are gone
    names_deleted_on = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = OrderQuerySet.as_manager()

    def __str__(self) -> str:
        return self.number

    @property
    def workshop(self) -> Workshop:
        """The workshop of its customer; loaded by `with_people()`."""
        return self.quote.workshop

    @property
    def total(self) -> Decimal:
        """Return what it comes to: the quote's total and what its accepted changes add."""
        return (self.quote.total or ZERO) + self.changes_total

    @property
    def is_open(self) -> bool:
        """Whether something is still to be done or paid for."""
        return self.state not in (self.State.SETTLED, self.State.CANCELLED)

    def is_late(self, on: datetime.date) -> bool:
        """Whether its date has passed and it is not with the customer."""
        undelivered = (self.State.PLANNED, self.State.MAKING, self.State.READY)
        return self.state in undelivered and bool(self.due_on and self.due_on < on)


class OrderChangeQuerySet(models.QuerySet["OrderChange"]):
    """Changes of orders."""

    def of(self, workshop: Workshop) -> "OrderChangeQuerySet":
        """Those of one workshop."""
        return self.filter(order__quote__customer__workshop=workshop)

    def open(self) -> "OrderChangeQuerySet":
        """Those neither answered nor withdrawn."""
        return self.filter(state__in=[OrderChange.State.DRAFT, OrderChange.State.OFFERED])

    def in_order(self) -> "OrderChangeQuerySet":
        """As they were numbered."""
        return self.order_by("number")


class OrderChange(models.Model):
    """A numbered change of an accepted order, with its own price and date, accepted by itself.

    More of something, another colour and extra items are lines of its own (`QuoteLine.change`);
    fewer of what was ordered is in `OrderChangeLess`.
    """

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        OFFERED = "offered", "waiting for an answer"
        ACCEPTED = "accepted", "accepted"
        DECLINED = "declined", "declined"
        WITHDRAWN = "withdrawn", "withdrawn"

    class How(models.TextChoices):
        LINK = "link", "by their link"
        EMAIL = "email", "by email"
        PHONE = "phone", "on the phone"
        PERSON = "person", "in person"
        LETTER = "letter", "in writing"

    order = models.ForeignKey("pricing.Order", on_delete=models.CASCADE, related_name="changes")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    # told to the customer
    note = models.CharField(max_length=500, blank=True)
    # the order's new date; empty: it stays
    due_on = models.DateField(null=True, blank=True)
    # charged beside its items, as prices are shown, and what for
    fee = money_field(null=True, blank=True)
    fee_reason = models.CharField(max_length=120, blank=True)
    # the number of the accepted change whose fee this one takes back
    waives_fee_of = models.PositiveSmallIntegerField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    offered_on = models.DateField(null=True, blank=True)
    decided_on = models.DateField(null=True, blank=True)
    decided_by = models.CharField(max_length=120, blank=True)
    decided_how = models.CharField(max_length=10, choices=How, blank=True)
    decline_note = models.CharField(max_length=300, blank=True)
    # written when it is offered: what it says, see pricing.orders.changes
    document = models.JSONField(default=dict, blank=True)
    total_change = signed_money_field(null=True, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = OrderChangeQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["order", "number"], name="order_change_number_once"),
            # one at a time, so that each is counted from what the order is then
            models.UniqueConstraint(
                fields=["order"],
                condition=models.Q(state__in=["draft", "offered"]),
                name="one_open_change_of_an_order",
            ),
        )

    def __str__(self) -> str:
        return f"change {self.number}"

    @property
    def is_open(self) -> bool:
        """Whether it was neither answered nor withdrawn."""
        return self.state in (self.State.DRAFT, self.State.OFFERED)


class OrderChangeLess(models.Model):
    """How many fewer of a line a change takes."""

    change = models.ForeignKey("pricing.OrderChange", on_delete=models.CASCADE, related_name="less")
    line = models.ForeignKey("pricing.QuoteLine", on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["change", "line"], name="line_once_in_a_change"),
        )

    def __str__(self) -> str:
        return f"{self.quantity} fewer of line {self.line_id}"


class OrderApproval(models.Model):
    """The customer's yes to the proof, or to the list of names. Names are locked by theirs."""

    class Kind(models.TextChoices):
        PROOF = "proof", "proof"
        NAMES = "names", "names"

    order = models.ForeignKey("pricing.Order", on_delete=models.CASCADE, related_name="approvals")
    kind = models.CharField(max_length=10, choices=Kind)
    decided_on = models.DateField()
    decided_by = models.CharField(max_length=120)
    decided_how = models.CharField(max_length=10, choices=OrderChange.How)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["order", "kind"], name="order_approval_once"),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} approved by {self.decided_by}"


class OrderDelivery(models.Model):
    """A part of an order that goes out together."""

    order = models.ForeignKey("pricing.Order", on_delete=models.CASCADE, related_name="deliveries")
    position = models.PositiveSmallIntegerField(default=0)
    due_on = models.DateField(null=True, blank=True)
    address = models.TextField(max_length=500, blank=True)
    note = models.CharField(max_length=300, blank=True)
    delivered_on = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return f"delivery {self.position + 1} of {self.order_id}"


class OrderDeliveryLine(models.Model):
    """How many of a line of the quote are in a delivery."""

    delivery = models.ForeignKey(
        "pricing.OrderDelivery", on_delete=models.CASCADE, related_name="lines"
    )
    line = models.ForeignKey("pricing.QuoteLine", on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["delivery", "line"], name="line_once_in_a_delivery"),
        )

    def __str__(self) -> str:
        return f"{self.quantity} of line {self.line_id}"


class OrderNeed(models.Model):
    """What an order needs of a material. Until it is taken from stock it is reserved."""

    order = models.ForeignKey("pricing.Order", on_delete=models.CASCADE, related_name="needs")
    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="order_needs"
    )
    amount = models.DecimalField(max_digits=18, decimal_places=6)
    taken = models.DecimalField(max_digits=18, decimal_places=6, default=ZERO)
    # the lot that is kept for the order, so that its pieces match, and how much of it was
    lot = models.CharField(max_length=60, blank=True)
    lot_amount = models.DecimalField(max_digits=18, decimal_places=6, default=ZERO)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["order", "material"], name="order_need_once"),
            models.CheckConstraint(
                condition=models.Q(lot="", lot_amount=0)
                | (~models.Q(lot="") & models.Q(lot_amount__gte=0)),
                name="only_a_lot_is_kept",
            ),
        )

    def __str__(self) -> str:
        return f"{self.amount} of {self.material_id}"

    @property
    def left(self) -> Decimal:
        """Return what is still to be taken from stock."""
        return max(self.amount - self.taken, ZERO)

    @property
    def kept(self) -> Decimal:
        """Return how much of its lot is kept: no more than is still to be taken."""
        return min(self.lot_amount, self.left)


class OrderExpense(models.Model):
    """An expense that belongs to one order."""

    order = models.ForeignKey("pricing.Order", on_delete=models.CASCADE, related_name="expenses")
    expense = models.OneToOneField(
        "catalogue.Expense", on_delete=models.CASCADE, related_name="of_order"
    )

    def __str__(self) -> str:
        return f"expense {self.expense_id} of order {self.order_id}"


class OrderPayment(models.Model):
    """Money received for an order; below zero it was paid back."""

    class Way(models.TextChoices):
        TRANSFER = "transfer", "bank transfer"
        CARD = "card", "card"
        CASH = "cash", "cash"
        OTHER = "other", "something else"

    order = models.ForeignKey("pricing.Order", on_delete=models.PROTECT, related_name="payments")
    received_on = models.DateField()
    received = models.DecimalField(max_digits=16, decimal_places=6)
    way = models.CharField(max_length=10, choices=Way, default=Way.TRANSFER)
    note = models.CharField(max_length=120, blank=True)
    is_undone = models.BooleanField(default=False)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    def __str__(self) -> str:
        return f"{self.received} on {self.received_on}"


class InvoiceQuerySet(models.QuerySet["Invoice"]):
    """Invoices and credit notes."""

    def of(self, workshop: Workshop) -> "InvoiceQuerySet":
        """Those of one workshop."""
        return self.filter(order__quote__customer__workshop=workshop)

    def in_order(self) -> "InvoiceQuerySet":
        """As they were numbered."""
        return self.order_by("issued_on", "pk")


class Invoice(models.Model):
    """An invoice, or a credit note on one. It stays as it was issued."""

    class Kind(models.TextChoices):
        INVOICE = "invoice", "invoice"
        CREDIT = "credit", "credit note"

    order = models.ForeignKey("pricing.Order", on_delete=models.PROTECT, related_name="invoices")
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.INVOICE)
    # a delivery is invoiced once
    delivery = models.OneToOneField(
        "pricing.OrderDelivery",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="invoice",
    )
    credits = models.ForeignKey(
        "pricing.Invoice",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="credit_notes",
    )
    number = models.CharField(max_length=40)
    issued_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    # everything it says; see pricing.orders.invoicing
    document = models.JSONField(default=dict)
    total = money_field()
    # the total less the deposit that was taken off
    to_pay = money_field()
    # when a reminder was last sent
    reminded_on = models.DateField(null=True, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    objects = InvoiceQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(kind="invoice", delivery__isnull=False)
                | models.Q(kind="credit", delivery__isnull=True),
                name="invoice_is_of_a_delivery",
            ),
        )

    def __str__(self) -> str:
        return self.number
