"""Settlements of shops -> what each took, what it keeps and what is hers."""

from maker.calc.money import minor_digits
from maker.workshop.models import Workshop
from pricing.calc.fairs.settling import Settled, settle
from pricing.consignment.models import Settlement


def settled(row: Settlement, workshop: Workshop) -> Settled:
    """Return what a settlement comes to; its items are loaded."""
    sold = [(each.count, each.price_each) for each in row.items.all()]
    return settle(sold, row.kept_share, minor_digits(workshop.currency))
