"""The least order worth accepting: by what the market bears, or by how much of it is set-up."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from maker.calc import sums
from maker.calc.explanation import Line, shown
from maker.calc.refusal import Refusal
from pricing.calc.quantities.every_quantity import EveryQuantity, QuantityRow

# common practice, no source: a quarter of the cost may go into getting ready
SETUP_LIMIT = Decimal("0.25")


class NoMinimumOrder(Refusal):
    """No quantity of the list is good enough."""


@dataclass(frozen=True, slots=True)
class MinimumOrder:
    """The smallest quantity from which on every one of the list is good enough."""

    quantity: int
    line: Line


def minimum_by_price(every_quantity: EveryQuantity, bears_each: Decimal) -> MinimumOrder:
    """Return the least order whose published price of one is not above what the market bears.

    The published price never rises with the quantity, so all larger orders do too.
    Errors: NoMinimumOrder.
    """
    found = _smallest(every_quantity, lambda row: row.price_each <= bears_each)
    last = every_quantity.rows[-1]
    if found is None:
        raise NoMinimumOrder(
            f"Even {last.quantity} cost {last.price_each} each, above {bears_each}.",
            where="bears_each",
        )
    how = sums.say("{} each, at most {}", sums.money(found.price_each), sums.money(bears_each))
    return MinimumOrder(found.quantity, _line(found, how, _say_price(every_quantity, found)))


def minimum_by_setup(every_quantity: EveryQuantity, limit: Decimal = SETUP_LIMIT) -> MinimumOrder:
    """Return the least order with less than this share of its cost in set-up work.

    A larger order may start one more set-up; the least order is the one after which none is over
    the limit again. Errors: NoMinimumOrder.
    """
    found = _smallest(every_quantity, lambda row: row.setup_share < limit)
    if found is None:
        share = every_quantity.rows[-1].setup_share
        raise NoMinimumOrder(
            f"Even for {every_quantity.rows[-1].quantity}, set-up is {_percent(share)} of the "
            f"cost, not under {_percent(limit)}.",
            where="limit",
        )
    how = f"set-up is {_percent(found.setup_share)} of the cost, under {_percent(limit)}"
    return MinimumOrder(found.quantity, _line(found, how, _say_setup(every_quantity, found)))


def _smallest(
    every_quantity: EveryQuantity, is_good: Callable[[QuantityRow], bool]
) -> QuantityRow | None:
    found = None
    for row in reversed(every_quantity.rows):
        if not is_good(row):
            break
        found = row
    return found


def _line(row: QuantityRow, how: sums.How | str, lines: tuple[Line, ...]) -> Line:
    return Line("minimum order", row.quantity, "piece", how, "minimum", lines)


def _neighbours(every_quantity: EveryQuantity, found: QuantityRow) -> list[QuantityRow]:
    return [
        row for row in every_quantity.rows if found.quantity - 1 <= row.quantity <= found.quantity
    ]


def _say_price(every_quantity: EveryQuantity, found: QuantityRow) -> tuple[Line, ...]:
    return tuple(row.line for row in _neighbours(every_quantity, found))


def _say_setup(every_quantity: EveryQuantity, found: QuantityRow) -> tuple[Line, ...]:
    return tuple(
        Line(f"set-up share of the cost for {row.quantity}", row.setup_share, "share")
        for row in _neighbours(every_quantity, found)
    )


def _percent(share: Decimal) -> str:
    return f"{shown((share * 100).quantize(Decimal('0.1')))}%"
