"""What is ordered at the table becomes an enquiry, so that it is found at home and quoted.

Its deposit becomes a payment when the quote becomes an order: `pricing.orders.services`.
"""

from django.utils import timezone

from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.customers.models import Customer
from pricing.customers.services import customer_named
from pricing.enquiries.models import Enquiry
from pricing.enquiries.services import save_enquiry
from pricing.fair_sales.reading import SentSale
from pricing.fairs.models import Fair, FairSale


class AlreadyOrdered(Refusal):
    """The deposit is a payment of an order."""


def keep_enquiry(row: FairSale, sale: SentSale, fair: Fair) -> None:
    """Make the enquiry of an order taken at the table; archived where it was undone before."""
    name, what = _who_and_what(sale, fair)
    enquiry = Enquiry(
        customer=_customer(fair.workshop, name),
        title=what[:120],
        source=Enquiry.Source.FAIR,
        asked_on=min(row.day.held_on, timezone.localdate()),
        needed_on=sale.needed_on,
        notes=what if len(what) > 120 else "",
        retired_on=timezone.localdate() if row.undone_at else None,
    )
    row.enquiry = save_enquiry(enquiry=enquiry, drops=())
    row.note = f"{name}: {what}"[:300]
    row.save(update_fields=["enquiry", "note"])


def _who_and_what(sale: SentSale, fair: Fair) -> tuple[str, str]:
    """Return both; a page kept from before asks for them in one line: “Ottoline: 40 bags”."""
    if sale.customer:
        return sale.customer, sale.note
    name, colon, what = sale.note.partition(":")
    if colon and 0 < len(name.strip()) <= 120 and what.strip():
        return name.strip(), what.strip()
    return f"Customer at {fair}"[:120], sale.note


def _customer(workshop: Workshop, name: str) -> Customer:
    # also one that was archived: what was ordered is not lost by it
    found = Customer.objects.of(workshop).filter(name__iexact=name).first()
    return found or customer_named(workshop=workshop, name=name)


def take_back_enquiry(row: FairSale) -> None:
    """Archive the enquiry of an order that is undone. Refusals: AlreadyOrdered."""
    if row.order_id is not None:
        raise AlreadyOrdered("This became an order. Cancel the order instead.")
    Enquiry.objects.filter(fair_sale=row, quote__isnull=True).update(
        retired_on=timezone.localdate()
    )


def restore_enquiry(row: FairSale) -> None:
    """Bring the enquiry of an order back."""
    Enquiry.objects.filter(fair_sale=row).update(retired_on=None)
