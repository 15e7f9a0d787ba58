"""Removes a workshop whole, in the order the database allows."""

from typing import Any

from django.db import models, transaction
from django.utils import timezone

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.designs.models import Design
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.purchases.models import Purchase
from catalogue.recipes.models import (
    Colourway,
    DesignVersion,
    Fixing,
    Option,
    Packing,
    Piece,
    Role,
    Step,
    Wear,
)
from catalogue.stock.models import StockEntry
from catalogue.suppliers.models import Supplier
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.consignment.models import Settlement, Shop
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry
from pricing.fairs.models import Fair, FairSale
from pricing.finished_stock.models import FinishedBatch, FinishedItem, FinishedMove
from pricing.orders.models import (
    Invoice,
    Order,
    OrderChangeLess,
    OrderDeliveryLine,
    OrderPayment,
)
from pricing.price_tags.models import LabelSheet
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote
from pricing.spending.models import Budget
from pricing.times.models import TimedRun


class NotToBeRemoved(Refusal):
    """A real workshop goes only when its owner asked for it and a week went by."""


@transaction.atomic
def remove_workshop(*, workshop: Workshop) -> None:
    """Delete an example workshop, or one whose week is over, and everything in it.

    Refused for any other, whoever asks: NotToBeRemoved.
    """
    locked = Workshop.objects.select_for_update().filter(pk=workshop.pk).first()
    if locked is None:
        return  # the second of two clicks
    is_due = locked.delete_after is not None and locked.delete_after <= timezone.now()
    if not (locked.is_demo or is_due):
        raise NotToBeRemoved(f"{locked} is a real workshop. It is not removed.", where="workshop")
    versions = DesignVersion.objects.of(locked)
    entries = StockEntry.objects.of(locked)
    offcuts = OffcutEntry.objects.of(locked)
    quotes = Quote.objects.of(locked)
    # a quote is protected by its revision
    quotes.update(replaces=None)
    orders = Order.objects.of(locked)
    rows: list[models.QuerySet[Any]] = [
        Settlement.objects.filter(shop__place__workshop=locked),
        Shop.objects.of(locked),
        FairSale.objects.of(locked),
        Fair.objects.of(locked),
        Enquiry.objects.of(locked),
        Invoice.objects.of(locked).filter(credits__isnull=False),
        Invoice.objects.of(locked),
        OrderPayment.objects.filter(order__in=orders),
        # lines of changes go with their order, and what speaks of them before
        OrderDeliveryLine.objects.filter(delivery__order__in=orders),
        OrderChangeLess.objects.filter(change__order__in=orders),
        FinishedMove.objects.of(locked).filter(takes_back__isnull=False),
        FinishedMove.objects.of(locked),
        FinishedBatch.objects.of(locked),
        FinishedItem.objects.of(locked),
        orders,
        quotes,
        Customer.objects.of(locked),
        PriceListEntry.objects.of(locked),
        TimedRun.objects.of(locked),
        offcuts.filter(takes_back__isnull=False),
        offcuts,
        Offcut.objects.of(locked),
        CuttingPlan.objects.of(locked),
        entries.filter(takes_back__isnull=False),
        entries,
        Expense.objects.of(locked),
        Purchase.objects.of(locked),
        *(row.objects.filter(version__in=versions) for row in (Piece, Fixing, Wear, Packing, Step)),
        Colourway.objects.filter(version__in=versions),
        Option.objects.filter(version__in=versions),
        Role.objects.filter(version__in=versions),
        Design.objects.of(locked),
        Material.objects.of(locked),
        Supplier.objects.of(locked),
        Channel.objects.of(locked),
        LabelSheet.objects.of(locked),
        Budget.objects.of(locked),
    ]
    for queryset in rows:
        queryset.delete()
    locked.delete()
