"""What is owed for an order that is cancelled: by the terms of its quote and how far it is."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.money import minor_digits
from pricing.calc.invoicing.cancelling import owed_when_cancelled
from pricing.orders.invoicing import delivered_asks
from pricing.orders.models import Invoice, Order

ZERO = Decimal(0)
Stage = Order.Stage


@dataclass(frozen=True, slots=True)
class StageOwed:
    """A stage, the share of the price that is owed then, and the amount."""

    stage: Order.Stage
    share: Decimal
    owed: Decimal


def owed_by_stage(order: Order) -> tuple[StageOwed, ...]:
    """Return what would be owed at each stage (five queries).

    The shares are those the quote said; a quote of before there were any takes today's. What was
    credited is owed at no stage.
    """
    frozen, shop = order.quote.frozen, order.workshop
    said = frozen.get("cancel") or {}
    notes = order.invoices.filter(kind=Invoice.Kind.CREDIT)
    credited = sum(notes.values_list("total", flat=True), ZERO)
    total = max(order.total - credited, ZERO)
    left = min(_delivered(order), total)
    found = []
    for stage in Stage:
        share = Decimal(said.get(stage.value, getattr(shop, f"cancel_share_{stage.value}")))
        owed = owed_when_cancelled(total, left, share, minor_digits(frozen["currency"]))
        found.append(StageOwed(stage, share, owed))
    return tuple(found)


def _delivered(order: Order) -> Decimal:
    """Return what has left comes to: as its invoices say or will say, less what was credited."""
    invoices = Invoice.objects.filter(delivery__order=order, delivery__delivered_on__isnull=False)
    found = delivered_asks(order)
    for row in invoices.prefetch_related("credit_notes"):
        found += row.total - sum((note.total for note in row.credit_notes.all()), ZERO)
    return found


def stage_reached(order: Order) -> Order.Stage:
    """Return how far an order seems to be: cut once it is made or has used stock (two queries).

    Bought where a receipt since the yes holds a material it needs; she knows better and may choose.
    """
    if order.state != Order.State.PLANNED or order.needs.filter(taken__gt=0).exists():
        return Stage.CUT
    bought = PurchaseLine.objects.filter(
        purchase__state=Purchase.State.RECORDED,
        purchase__bought_on__gte=order.quote.decided_on or timezone.localdate(order.created_at),
        material__in=order.needs.values("material"),
    )
    return Stage.BOUGHT if bought.exists() else Stage.BEFORE
