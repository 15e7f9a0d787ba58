"""The items of an order, and what is open of its invoices, as pages and papers show them."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from maker.calc.money import format_money
from pricing.calc.papers.choices import tells_something
from pricing.orders.inputs import every_line, lines_now, price_of
from pricing.orders.models import Order
from pricing.orders.overdue import OpenInvoice
from pricing.quotes.inputs import names_of


def item_rows(order: Order) -> list[dict[str, Any]]:
    """Return what is ordered now, with names as they are now; no figure of the maker's own.

    `order` comes from `with_people()` (four queries).
    """
    frozen, shop = order.quote.frozen, order.workshop
    said = frozen["public"]["lines"]
    quoted = [line for line in every_line(order) if line.change_id is None]
    choices = {
        line.pk: list(filter(tells_something, row["choices"]))
        for line, row in zip(quoted, said, strict=False)
    }

    def money(amount: Any) -> str:
        return format_money(amount, frozen["currency"], shop.locale)

    rows = []
    for line in lines_now(order):
        names = names_of(line.names)
        each = price_of(line)
        rows.append(
            {
                "line": line,
                "design": line.design.name,
                "colourway": line.colourway_name,
                "choices": choices.get(
                    line.pk, list(filter(tells_something, line.frozen.get("choices", [])))
                ),
                "description": line.description,
                "change": line.change.number if line.change else None,
                "names": names,
                "names_count": len(names),
                "quantity": line.quantity,
                "quantity_text": str(line.quantity),
                "each_text": money(each),
                "amount_text": money(each * line.quantity),
            }
        )
    return rows


def open_words(found: OpenInvoice | None, money: Callable[[Decimal], str]) -> list[str]:
    """Say what is open of an invoice, and why that is more than its paper says."""
    if found is None:
        return []
    words = [f"{money(found.left)} to pay" if found.left else "nothing to pay"]
    if found.gone:
        words.append(f"It counted {money(found.gone)} as paid that is not there any more.")
    return words
