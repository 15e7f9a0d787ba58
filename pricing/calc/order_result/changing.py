"""The same order made smaller, simpler, or with more of it delivered later."""

from dataclasses import replace

from pricing.calc.order_result.order import Items, Order


def taken_off(items: Items, count: int) -> Items:
    """Return what is left when so many are left out, first colourway first."""
    left = []
    for colourway, there in items:
        off = min(count, there)
        count -= off
        left.append((colourway, there - off))
    return tuple(left)


def with_fewer(order: Order, count: int) -> Order:
    """Return the order with fewer items in its first delivery, plain ones before named ones."""
    first, *others = order.parts
    items = taken_off(first.items, count)
    smaller = replace(first, items=items)
    smaller = replace(smaller, named=min(first.named, smaller.count))
    return replace(order, parts=(smaller, *others))


def with_moved(order: Order, count: int) -> Order:
    """Return the order with items moved from its first to its second delivery."""
    first, second, *others = order.parts
    smaller = with_fewer(order, count).parts[0]
    there = dict(second.items)
    for (colourway, before), (_, after) in zip(first.items, smaller.items, strict=True):
        there[colourway] = there.get(colourway, 0) + before - after
    larger = replace(
        second,
        items=tuple(there.items()),
        named=second.named + first.named - smaller.named,
    )
    return replace(order, parts=(smaller, larger, *others))


def simpler(order: Order) -> Order:
    """Return the order without names and with a ready-cut closing."""
    minutes = order.minutes
    finish = max(0, minutes.finish - minutes.simple_saves)
    return replace(
        order,
        minutes=replace(minutes, finish=finish),
        parts=tuple(replace(part, named=0) for part in order.parts),
    )


def with_evenings(order: Order) -> Order:
    """Return the order with some minutes more every evening of a working weekday."""
    longer = tuple(
        minutes + order.evening_minutes if minutes else 0
        for minutes in order.calendar.weekday_minutes
    )
    return replace(order, calendar=replace(order.calendar, weekday_minutes=longer))
