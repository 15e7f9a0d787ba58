"""What the list page shows: its chart, the list, the cliffs and the offer."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.documents.quantity_chart import Mark, Series, quantity_chart
from maker.web.words import lowest_price, money, percent, said
from maker.workshop.models import Workshop
from pricing.calc.quantities.every_quantity import EveryQuantity, PriceBreak, QuantityRow
from pricing.calc.quantities.minimum_order import MinimumOrder, minimum_by_price, minimum_by_setup
from pricing.costs.drawing import CostFigure
from pricing.prices.inputs import price_at_quantity
from pricing.prices.models import PriceListEntry
from pricing.quantities.services import WorkedQuantities

MOST_CLIFFS = 25
MOST_RUNS = 3


@dataclass(frozen=True, slots=True)
class ListRow:
    """A row of the price list, ready to be shown."""

    quantity: int
    price_each: Decimal
    worked_out_each: Decimal
    is_held_down: bool
    why: str
    total: Decimal
    cost_each: Decimal
    floor_each: Decimal
    margin: str
    below_lowest: str
    is_asked: bool
    better_from: int | None
    on_list: Decimal | None


def list_rows(
    quantity_rows: Sequence[QuantityRow],
    every_quantity: EveryQuantity,
    workshop: Workshop,
    asked: int,
    listed: Sequence[PriceListEntry],
) -> list[ListRow]:
    """Return the rows; `better_from` is from which smaller quantity on this one costs less.

    `on_list` is what the list says for the quantity, where that is another price. `below_lowest`
    says for which quantities of the row its price is below their lowest price.
    """
    rows = []
    for place, (quantity_row, held) in enumerate(
        zip(quantity_rows, every_quantity.short_list(quantity_rows), strict=True)
    ):
        before = quantity_rows[place - 1] if place else None
        better = None
        if before is not None:
            better = better_from(
                (before.quantity, before.price_each),
                (quantity_row.quantity, quantity_row.price_each),
            )
        entry = price_at_quantity(listed, quantity_row.quantity)
        rows.append(
            ListRow(
                quantity=quantity_row.quantity,
                price_each=quantity_row.price_each,
                worked_out_each=quantity_row.worked_out_each,
                is_held_down=quantity_row.held_down_by is not None,
                why=said(quantity_row.line.how, workshop),
                total=quantity_row.total,
                cost_each=quantity_row.cost_each,
                floor_each=quantity_row.floor_each,
                margin=percent(quantity_row.margin, workshop),
                below_lowest=below_lowest(held, workshop),
                is_asked=quantity_row.quantity == asked,
                better_from=better,
                on_list=entry.price if entry and entry.price != quantity_row.price_each else None,
            )
        )
    return rows


def better_from(before: tuple[int, Decimal], row: tuple[int, Decimal]) -> int | None:
    """Return from which quantity below a row's own its total is less; None when from none.

    With only these rows on the list, n items cost n times the price of the row before.
    """
    (smaller, price_before), (quantity, price_each) = before, row
    if price_before <= price_each:
        return None
    least = int(quantity * price_each / price_before) + 1
    return least if smaller <= least < quantity else None


def below_lowest(held: PriceBreak, workshop: Workshop) -> str:
    """Say for which quantities a price is below their lowest price; nothing when for none."""
    if held.highest_floor is None:
        return ""
    lowest = lowest_price(held.highest_floor, workshop)
    if held.below_floor == (held.from_quantity,):
        return f"Below the lowest price, {lowest}."
    up_to = "of" if len(held.below_floor) == 1 else "of up to"
    return f"Below the lowest price {up_to} {lowest} for {_in_runs(held.below_floor)}."


def _in_runs(quantities: Sequence[int]) -> str:
    """Write quantities as runs, the first ones by name: “13–30, 34 and 6 more”."""
    runs: list[list[int]] = []
    for quantity in quantities:
        if runs and runs[-1][-1] == quantity - 1:
            runs[-1].append(quantity)
        else:
            runs.append([quantity])
    named = [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs[:MOST_RUNS]]
    left = sum(len(run) for run in runs[MOST_RUNS:])
    if left:
        named.append(f"{left} more")
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"


def _too_low(quantity_row: QuantityRow, workshop: Workshop) -> str:
    if not quantity_row.is_below_floor:
        return ""
    return f", below its lowest price, {lowest_price(quantity_row.floor_each, workshop)}"


def below_anywhere(every_quantity: EveryQuantity, workshop: Workshop) -> str:
    """Say for which quantities the list is below their lowest price, for the head of the page."""
    below = [quantity_row for quantity_row in every_quantity.rows if quantity_row.is_below_floor]
    if not below:
        return ""
    highest = lowest_price(max(quantity_row.floor_each for quantity_row in below), workshop)
    quantities = _in_runs([quantity_row.quantity for quantity_row in below])
    return (
        f"For {quantities} the list is below the lowest price of "
        f"up to {highest}: you'd be working for less than your wage."
    )


def below_lowest_notice(
    every_quantity: EveryQuantity, quantity_rows: Sequence[QuantityRow], workshop: Workshop
) -> str:
    """Say before prices are kept which of them some quantity is sold below its lowest price at."""
    below = [held for held in every_quantity.short_list(quantity_rows) if held.below_floor]
    rows = " ".join(
        f"From {held.from_quantity} at {money(held.price_each, workshop)}: "
        f"{below_lowest(held, workshop)}"
        for held in below
    )
    return f"{rows} You'd be working for less than your wage." if rows else ""


def _least(
    find: Callable[[], MinimumOrder], label: str, note: str
) -> tuple[CostFigure | None, str]:
    """Return the figure of a least order, or the words why there is none."""
    try:
        found = find()
    except Refusal as refusal:
        return None, refusal.message
    return CostFigure(label, str(found.quantity), note=note), ""


def quantities_figures(
    worked: WorkedQuantities, given: dict[str, Any], limit: Decimal, workshop: Workshop
) -> tuple[list[CostFigure], list[str]]:
    """Return the figures that stand first, and why one is missing."""
    every_quantity, figures, missing = worked.every_quantity, [], []
    asked = every_quantity.row(given["quantity"])
    figures.append(
        CostFigure(
            f"Price each for {asked.quantity}",
            format_money(asked.price_each, workshop.currency, workshop.locale),
            note=said(asked.line.how, workshop) + _too_low(asked, workshop),
            main=True,
        )
    )
    tries = [
        (
            lambda: minimum_by_setup(every_quantity, limit),
            "Minimum order, by set-up",
            f"set-up is under {percent(limit, workshop, 2)} of the cost",
        )
    ]
    bears = given.get("bears_each")
    if bears:
        text = format_money(bears, workshop.currency, workshop.locale)
        tries.append(
            (
                lambda: minimum_by_price(every_quantity, bears),
                "Minimum order, by price",
                f"at most {text} each",
            )
        )
    for find, label, note in tries:
        figure, why = _least(find, label, note)
        figures += [figure] if figure else []
        missing += [why] if why else []
    return figures, missing


def quantities_chart(every_quantity: EveryQuantity, workshop: Workshop, asked: int) -> str:
    """Return the picture: published and worked-out price of one, and the floor, by quantity."""

    def tick(value: float) -> str:
        return money(Decimal(repr(value)), workshop)

    quantity_rows = every_quantity.rows
    published = [
        (quantity_row.quantity, float(quantity_row.price_each)) for quantity_row in quantity_rows
    ]
    worked_out = [
        (quantity_row.quantity, float(quantity_row.worked_out_each))
        for quantity_row in quantity_rows
    ]
    floor = [
        (quantity_row.quantity, float(quantity_row.floor_each)) for quantity_row in quantity_rows
    ]
    quantity_row = every_quantity.row(asked)
    first, last = quantity_rows[0], quantity_rows[-1]
    return quantity_chart(
        [
            Series("lowest price: wage and bills paid, no profit", "dotted", floor),
            Series("calculated for each quantity on its own", "thin", worked_out),
            Series("on the list", "main", published),
        ],
        title="Price each, by quantity",
        description=(
            f"From {tick(float(first.price_each))} for {first.quantity} down to "
            f"{tick(float(last.price_each))} for {last.quantity}. The table below has the same "
            "figures."
        ),
        tick_text=tick,
        marks=[
            Mark(
                asked,
                float(quantity_row.price_each),
                f"{asked}: {tick(float(quantity_row.price_each))} each",
            )
        ],
    )


def cliff_rows(every_quantity: EveryQuantity) -> tuple[list[dict[str, Any]], int]:
    """Return the largest cliffs in the order of quantities, and how many more there are."""
    largest = sorted(every_quantity.cliffs, key=lambda cliff: -abs(cliff.change_each))[:MOST_CLIFFS]
    rows = []
    for cliff in sorted(largest, key=lambda cliff: cliff.quantity):
        quantity_row, before = (
            every_quantity.row(cliff.quantity),
            every_quantity.row(cliff.quantity_before),
        )
        rows.append(
            {
                "words": f"{cliff.quantity} cost "
                f"{'more each' if cliff.is_dearer_each else 'no more in total'} "
                f"than {cliff.quantity_before}",
                "price": quantity_row.worked_out_each,
                "price_before": before.worked_out_each,
                "why": cliff.why,
            }
        )
    return rows, len(every_quantity.cliffs) - len(rows)


def break_rows(every_quantity: EveryQuantity, workshop: Workshop) -> list[dict[str, Any]]:
    """Return the whole published list in runs of quantities with one price."""
    rows = []
    for run in every_quantity.breaks:
        quantity_row = every_quantity.row(run.from_quantity)
        rows.append(
            {
                "quantities": str(run.from_quantity)
                if run.from_quantity == run.to_quantity
                else f"{run.from_quantity}–{run.to_quantity}",
                "price_each": run.price_each,
                "total": quantity_row.total,
                "total_to": run.price_each * run.to_quantity,
                "is_run": run.from_quantity != run.to_quantity,
                "sheets": quantity_row.sheets,
                "below_lowest": below_lowest(run, workshop),
            }
        )
    return rows
