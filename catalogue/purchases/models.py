"""Receipts: what was bought, with postage, discount and tax shared over the lines."""

import datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models.functions import Coalesce

from catalogue.expenses.models import Expense
from catalogue.materials.models import quantity_field, typed_in_field
from maker.workshop.models import Workshop, money_field

ZERO = Decimal(0)


class PurchaseQuerySet(models.QuerySet["Purchase"]):
    """Receipts of a workshop."""

    def of(self, workshop: Workshop) -> "PurchaseQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def recorded(self) -> "PurchaseQuerySet":
        """Those whose goods are in stock."""
        return self.filter(state=Purchase.State.RECORDED)

    def drafts(self) -> "PurchaseQuerySet":
        """Those not finished yet."""
        return self.filter(state=Purchase.State.DRAFT)

    def not_taken_back(self) -> "PurchaseQuerySet":
        """Those that count or may still count."""
        return self.exclude(state=Purchase.State.REVERSED)

    def between(
        self, first: datetime.date | None, last: datetime.date | None
    ) -> "PurchaseQuerySet":
        """Those from one day to another, both included; either end may be open."""
        queryset = self.filter(bought_on__gte=first) if first else self
        return queryset.filter(bought_on__lte=last) if last else queryset

    def with_people(self) -> "PurchaseQuerySet":
        """With the supplier, the workshop and who recorded it."""
        return self.select_related("supplier", "workshop", "recorded_by")

    def with_totals(self) -> "PurchaseQuerySet":
        """With `goods` (sum of the lines), `paid` and `line_count`, for lists.

        SQLite adds decimals as floats: good for showing and sorting cents, not for sums that
        must reconcile.
        """
        decimal, whole = models.DecimalField(max_digits=20, decimal_places=6), models.IntegerField()
        # added up for each receipt that is shown: a list counts and pages without them
        found: dict[str, Any] = {"line_count": models.Value(0), "goods": models.Value(ZERO)}
        for rows in (PurchaseLine.objects.all(), Expense.objects.all()):
            of_receipt = rows.filter(purchase=models.OuterRef("pk")).order_by().values("purchase")
            count = models.Subquery(of_receipt.annotate(n=models.Count("pk")).values("n"), whole)
            amount = models.Subquery(of_receipt.annotate(n=models.Sum("amount")).values("n"))
            found["line_count"] += Coalesce(count, 0, output_field=whole)
            found["goods"] += Coalesce(amount, ZERO, output_field=decimal)
        return self.annotate(
            line_count=models.ExpressionWrapper(found["line_count"], whole),
            goods=models.ExpressionWrapper(found["goods"], decimal),
        ).annotate(
            paid=models.ExpressionWrapper(
                models.F("goods") + models.F("postage") - models.F("discount") + models.F("tax"),
                output_field=decimal,
            )
        )

    def matching(self, text: str) -> "PurchaseQuerySet":
        """Those whose reference or supplier, or a material on them, holds the text."""
        lines = PurchaseLine.objects.filter(
            purchase=models.OuterRef("pk"), material__name__icontains=text
        )
        expenses = Expense.objects.filter(purchase=models.OuterRef("pk"), what__icontains=text)
        return self.filter(
            models.Q(reference__icontains=text)
            | models.Q(supplier__name__icontains=text)
            | models.Exists(lines)
            | models.Exists(expenses)
        )

    def newest_first(self) -> "PurchaseQuerySet":
        """In the order of a list."""
        return self.order_by("-bought_on", "-pk")


class Purchase(models.Model):
    """One receipt. A draft can be changed; a recorded one is corrected by a reversal."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        RECORDED = "recorded", "in stock"
        REVERSED = "reversed", "undone"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="purchases"
    )
    supplier = models.ForeignKey(
        "catalogue.Supplier", on_delete=models.PROTECT, related_name="purchases"
    )
    bought_on = models.DateField()
    reference = models.CharField(max_length=80, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    postage = money_field(default=ZERO)
    discount = money_field(default=ZERO)
    tax = money_field(default=ZERO)
    # a receipt in another currency: its three letters, what one unit of it costs at home, what the
    # bank charged in all, and the amounts as the receipt says them
    currency = models.CharField(max_length=3, blank=True)
    rate = models.DecimalField(max_digits=18, decimal_places=8, null=True, blank=True)
    charged = money_field(null=True, blank=True)
    foreign_postage = money_field(null=True, blank=True)
    foreign_discount = money_field(null=True, blank=True)
    foreign_tax = money_field(null=True, blank=True)
    # a registered workshop gets the tax back, so it is not part of the cost; frozen on recording
    tax_is_recoverable = models.BooleanField(default=False)
    notes = models.TextField(max_length=4000, blank=True)
    edit_number = models.PositiveIntegerField(default=0)
    # sent by the form, so that the second click on "Record" finds the first one's receipt
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    # what was imported together is undone together
    import_key = models.UUIDField(null=True, blank=True, db_index=True)
    recorded_at = models.DateTimeField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, related_name="+"
    )

    objects = PurchaseQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(postage__gte=0, discount__gte=0, tax__gte=0),
                name="purchase_amounts_not_negative",
            ),
            models.CheckConstraint(
                condition=models.Q(currency="", rate__isnull=True)
                | (~models.Q(currency="") & models.Q(rate__gt=0)),
                name="another_currency_has_a_rate",
            ),
        )
        indexes = (models.Index(fields=["workshop", "bought_on", "id"], name="receipts_by_day"),)

    def __str__(self) -> str:
        return self.reference or f"receipt of {self.bought_on.isoformat()}"


class PurchaseLineQuerySet(models.QuerySet["PurchaseLine"]):
    """Lines of receipts."""

    def of(self, workshop: Workshop) -> "PurchaseLineQuerySet":
        """Those of one workshop."""
        return self.filter(purchase__workshop=workshop)

    def recorded(self) -> "PurchaseLineQuerySet":
        """Lines whose goods are in stock."""
        return self.filter(purchase__state=Purchase.State.RECORDED)

    def between(self, first: datetime.date, last: datetime.date) -> "PurchaseLineQuerySet":
        """Lines bought from one day to another, both included."""
        return self.filter(purchase__bought_on__gte=first, purchase__bought_on__lte=last)


class PurchaseLine(models.Model):
    """One material on a receipt; the shares and unit cost are written when it is recorded."""

    purchase = models.ForeignKey(
        "catalogue.Purchase", on_delete=models.CASCADE, related_name="lines"
    )
    position = models.PositiveSmallIntegerField(default=0)
    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="purchase_lines"
    )
    pack = models.ForeignKey(
        "catalogue.Pack", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    packs_bought = quantity_field(default=Decimal(1))
    # recipe units in all, copied from packs x factor so that a later change of the pack is harmless
    quantity = quantity_field()
    typed_in = typed_in_field()
    amount = money_field()
    foreign_amount = money_field(null=True, blank=True)
    # arrived damaged: what the supplier credits never came in, and `amount` is without it; what
    # he does not credit came in and is scrapped the same day
    damaged_credited = quantity_field(default=ZERO)
    damaged_kept = quantity_field(default=ZERO)
    amount_credited = money_field(default=ZERO)
    lot = models.CharField(max_length=60, blank=True)
    postage_share = money_field(default=ZERO)
    discount_share = money_field(default=ZERO)
    tax_share = money_field(default=ZERO)
    landed = money_field(default=ZERO)
    unit_cost = money_field(null=True, blank=True)

    objects = PurchaseLineQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(quantity__gt=0, packs_bought__gt=0),
                name="purchase_line_buys_something",
            ),
            models.CheckConstraint(
                condition=models.Q(amount__gte=0), name="purchase_line_amount_not_negative"
            ),
            models.CheckConstraint(
                condition=models.Q(
                    damaged_credited__gte=0,
                    damaged_kept__gte=0,
                    damaged_kept__lte=models.F("quantity"),
                ),
                name="no_more_damaged_than_came",
            ),
        )

    def __str__(self) -> str:
        return f"{self.quantity} of {self.material_id}"

    @property
    def came(self) -> Decimal:
        """Return what the line says in all, with what is credited as damaged."""
        return self.quantity + self.damaged_credited

    @property
    def comes_in_whole_packs(self) -> bool:
        """Whether packs say what was bought; 12 m of a reel of 25 m is said as 12 m."""
        packs = self.packs_bought
        if self.pack is None or packs != packs.to_integral_value():
            return False
        return packs * self.pack.quantity == self.came
