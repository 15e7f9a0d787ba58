"""What a customer does with her order by the link: changes, the proof, names."""

import datetime
from collections.abc import Mapping

from django.db import transaction

from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.customer_pages.services import NotAnswerable, TooManyMessages, say
from pricing.orders.approvals import approve, save_names
from pricing.orders.change_answers import accept_change, decline_change
from pricing.orders.models import Order, OrderChange

Kind = QuoteMessage.Kind
BY_LINK = OrderChange.How.LINK


def order_of(link: QuoteLink) -> Order | None:
    """Return the order of a link's quote."""
    return Order.objects.with_people().filter(quote=link.quote_id).first()


def _order(link: QuoteLink) -> Order:
    order = order_of(link)
    if order is None:
        raise NotAnswerable("There is no order yet.")
    return order


def _change(link: QuoteLink, key: int) -> OrderChange:
    rows = OrderChange.objects.filter(order__quote=link.quote_id, pk=key)
    found = rows.select_related("order__quote__customer__workshop").first()
    # a draft is the maker's own
    if found is None or found.state == OrderChange.State.DRAFT:
        raise NotAnswerable("This change isn’t there any more.")
    return found


@transaction.atomic
def answer_change(
    *, link: QuoteLink, change: int, is_yes: bool, name: str, note: str, today: datetime.date
) -> QuoteMessage:
    """Accept or decline an offered change. Refusals: LinkClosed, NotAnswerable and the change's."""
    row = _change(link, change)
    if is_yes:
        accept_change(change=row, who=name, how=BY_LINK, on=today, today=today)
    else:
        decline_change(change=row, who=name, how=BY_LINK, note=note, on=today, today=today)
    text = f"Change {row.number}" + (f": {note}" if note and not is_yes else "")
    return say(link, Kind.CHANGE_YES if is_yes else Kind.CHANGE_NO, name, text, today)


@transaction.atomic
def approve_by_link(*, link: QuoteLink, kind: str, name: str, today: datetime.date) -> QuoteMessage:
    """Approve the proof or the names. Refusals: LinkClosed, NotAnswerable and the approval's."""
    approve(order=_order(link), kind=kind, who=name, how=BY_LINK, on=today, today=today)
    return say(link, Kind.PROOF if kind == "proof" else Kind.NAMES, name, "", today)


@transaction.atomic
def names_by_link(
    *, link: QuoteLink, names: Mapping[int, str], name: str, today: datetime.date
) -> QuoteMessage | None:
    """Store names as the customer writes them; one unread message says so.

    Refusals: LinkClosed, NotAnswerable and those of the names.
    """
    save_names(order=_order(link), names=names)
    said = QuoteMessage.objects.filter(quote=link.quote_id, kind=Kind.NAMED, read_at=None)
    if said.exists():
        return None
    try:
        return say(link, Kind.NAMED, name, "", today)
    except TooManyMessages:
        # the names count, not that it is told again
        return None
