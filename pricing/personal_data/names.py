"""Names on items, deleted a stated time after they are no longer needed, in every copy."""

import datetime

from django.db import transaction
from django.db.models import Max, Q, TextField
from django.db.models.functions import Cast

from maker.workshop.models import Workshop
from pricing.enquiries.models import Enquiry
from pricing.orders.models import Order
from pricing.quotes.models import Quote, QuoteLine

AT_ONCE = 200  # quotes of one round; the next hour sees to the rest
# a revision that was thrown away replaces nothing: the quote before it goes on
_REPLACED = Q(replaces__state=Quote.State.REPLACED)


def delete_due_names(today: datetime.date) -> int:
    """Delete names whose time is over, in all workshops; return of how many quotes.

    It goes by dates, so what a restore or an import brings back is deleted again.
    """
    found = 0
    for workshop in Workshop.objects.all().order_by("pk"):
        until = today - datetime.timedelta(days=workshop.names_kept_days)
        for key in _due(workshop, until)[:AT_ONCE]:
            _delete(key, today)
            found += 1
        enquiries = Enquiry.objects.filter(customer__workshop=workshop).exclude(names="")
        ended = Q(declined_on__lte=until) | Q(retired_on__lte=until)
        enquiries.filter(ended).update(names="")
    return found


def _due(workshop: Workshop, until: datetime.date) -> list[int]:
    """Return quotes over since a date or longer that hold names, or replace one that does."""
    quotes = Quote.objects.of(workshop)
    orders = Order.objects.of(workshop).annotate(left_on=Max("deliveries__delivered_on"))
    done = [Order.State.DELIVERED, Order.State.SETTLED]
    delivered = Q(state__in=done, left_on__lte=until) | Q(cancelled_on__lte=until)
    over = quotes.filter(
        Q(pk__in=orders.filter(delivered).values("quote"))
        | Q(state=Quote.State.DECLINED, decided_on__lte=until)
        | Q(state=Quote.State.DISCARDED, created_at__date__lte=until)
        | Q(state=Quote.State.SENT, valid_until__lte=until)
    )
    lines = QuoteLine.objects.of(workshop).exclude(names="")
    # what was sent holds names that may be gone from its lines since
    said = quotes.annotate(said=Cast("frozen", TextField())).filter(said__contains='"names": ["')
    holding = {
        *lines.values_list("quote", flat=True),
        *said.values_list("pk", flat=True),
        *quotes.filter(enquiry__names__gt="").values_list("pk", flat=True),
    }
    before = dict(quotes.filter(_REPLACED).values_list("pk", "replaces"))
    found = []
    for key in over.order_by("pk").values_list("pk", flat=True):
        at: int | None = key
        while at is not None and at not in holding:
            at = before.get(at)
        if at is not None:
            found.append(key)
    return found


@transaction.atomic
def _delete(key: int, today: datetime.date) -> None:
    """Take names out of a quote, its earlier revisions, its lines and its enquiry."""
    quote: Quote | None = Quote.objects.select_for_update(of=("self",)).get(pk=key)
    Order.objects.filter(quote=key, names_deleted_on=None).update(names_deleted_on=today)
    while quote is not None:
        clear_names(quote)
        quote = Quote.objects.filter(replaced_by=quote, state=Quote.State.REPLACED).first()


def clear_names(quote: Quote) -> None:
    """Take the names out of one quote, the caller holds it."""
    QuoteLine.objects.filter(quote=quote).exclude(names="").update(names="")
    Enquiry.objects.filter(quote=quote).exclude(names="").update(names="")
    if quote.frozen:
        for line in quote.frozen["public"]["lines"]:
            line["names"] = []
        quote.save(update_fields=["frozen"])
