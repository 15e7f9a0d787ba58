"""Expenses of one order, for the entry of expenses."""

from collections.abc import Sequence

from django.urls import reverse

from catalogue.expenses.belonging import BelongsTo
from catalogue.expenses.models import Expense
from maker.workshop.models import Workshop
from pricing.orders.models import Order, OrderExpense

MOST_OFFERED = 200
DONE = (Order.State.SETTLED, Order.State.CANCELLED)


def _pk(key: str) -> int:
    number = key.removeprefix("order:")
    return int(number) if number.isascii() and number.isdigit() and len(number) < 19 else 0


class OrderOwners:
    """Orders: the open ones first."""

    kind = "order"
    label = "Orders"
    purpose = Expense.Purpose.ORDER

    def choices(self, workshop: Workshop, current: str) -> Sequence[tuple[str, str]]:
        """Return open orders, then the last of the others and the current one (three queries)."""
        rows = Order.objects.of(workshop).with_people().order_by("-pk")
        found = [
            *rows.exclude(state__in=DONE),
            *rows.filter(state__in=DONE)[:MOST_OFFERED],
            *rows.filter(pk=_pk(current)),
        ]
        unique = {row.pk: row for row in found}
        return [
            (f"order:{row.pk}", f"{row.number}, {row.quote.customer.name}")
            for row in unique.values()
        ]

    def of(self, expense: Expense) -> BelongsTo | None:
        """Return the order of an expense (one query)."""
        row = OrderExpense.objects.filter(expense=expense).select_related("order").first()
        if row is None:
            return None
        slug = expense.workshop.slug
        address = reverse("pricing:order", args=[slug, row.order_id])
        return BelongsTo(f"order:{row.order_id}", f"Order {row.order.number}", address)

    def give(self, workshop: Workshop, expense: Expense, key: str) -> None:
        """Record which order an expense belongs to; an empty key means none."""
        order = Order.objects.of(workshop).filter(pk=_pk(key)).first() if key else None
        if order is None:
            OrderExpense.objects.filter(expense=expense).delete()
        else:
            OrderExpense.objects.update_or_create(expense=expense, defaults={"order": order})

    def move(self, old: Expense, new: Expense) -> None:
        """Give the order of an expense to the one that replaces it."""
        OrderExpense.objects.filter(expense=old).update(expense=new)
