"""Makes many orders from one: rows are copied, so that hundreds take no time to plan."""

from copy import copy

from pricing.orders.models import Order, OrderDelivery, OrderDeliveryLine, OrderNeed
from pricing.quotes.models import Quote, QuoteLine


def copy_order(order, count, days):
    """Make so many more orders like one, due `days(place)` days after it; return all of them."""
    quote = Quote.objects.get(pk=order.quote_id)
    line = quote.lines.kept().get()
    quotes = _copies(Quote, quote, count, lambda row, place: {"number": f"{row.number}-{place}"})
    lines = _copies(QuoteLine, line, count, lambda row, place: {"quote": quotes[place]})

    def of_order(row, place):
        return {"quote": quotes[place], "number": f"{row.number}-{place}", "due_on": days(place)}

    orders = _copies(Order, order, count, of_order)
    delivery = order.deliveries.get()
    deliveries = _copies(
        OrderDelivery, delivery, count,
        lambda row, place: {"order": orders[place], "due_on": days(place)},
    )  # fmt: skip
    _copies(
        OrderDeliveryLine, delivery.lines.get(), count,
        lambda row, place: {"delivery": deliveries[place], "line": lines[place]},
    )  # fmt: skip
    for need in order.needs.all():
        _copies(OrderNeed, need, count, lambda row, place: {"order": orders[place]})
    return orders


def _copies(model, row, count, values):
    made = []
    for place in range(count):
        new = copy(row)
        new.pk, new._state = None, copy(row._state)
        new._state.adding, new._state.fields_cache = True, {}
        if hasattr(new, "form_key"):
            new.form_key = None
        for name, value in values(row, place).items():
            setattr(new, name, value)
        made.append(new)
    return model.objects.bulk_create(made, batch_size=100)
