"""Both sides of the price benchmarks: our figures, and that a workbook's are the same.

A benchmark whose two sides disagree would say nothing, so every figure of every row is compared:
prices, counts and what is off exactly, costs and shares within what binary numbers can hold.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from pricing.calc.changes.repricing import Repricing, Trigger, is_due, reprice
from pricing.calc.price.ingredients import at_costs
from pricing.calc.quantities.every_quantity import EveryQuantity, QuantityRow
from tests.benchmarks.recost_workbook import Listed, Standing

# far below a cent, far above what is lost in a few hundred binary sums
NEAR = 1e-6


class SidesDisagree(AssertionError):
    """The spreadsheet and Pleat & Penny have different figures."""


def recosted(listed: Sequence[Listed], standing: Standing) -> list[Repricing]:
    """Return every price beside today: the sums alone, nothing asked of the database."""
    return [
        reprice(
            each.kept,
            at_costs(
                each.kept,
                standing.unit_costs,
                rates=standing.rates,
                channel=standing.channel,
            ),
            threshold=standing.threshold,
            is_old=is_due(each.set_on, standing.on, standing.after_months),
        )
        for each in listed
    ]


def recost_figures(why: Repricing) -> dict[str, Decimal | int | None]:
    """Return what both sides say of one price, by the workbook's columns."""
    return {
        "price": why.price_each,
        "needed": why.price_needed,
        "is_off": int(why.is_off),
        "is_off_by_cost": int(Trigger.COST in why.triggers),
        "is_off_by_terms": int(Trigger.TERMS in why.triggers),
        "is_old": int(Trigger.AGE in why.triggers),
        "is_below_floor": int(why.is_below_floor),
        "cost_each_then": why.cost_then,
        "cost_each": why.cost_now,
        "cost_drift": why.cost_drift,
        "price_drift": why.price_drift,
        "margin_left": why.margin_now,
        "profit_each": why.profit_now,
    }


def quantities_figures(every_quantity: EveryQuantity) -> Iterator[dict[str, Decimal | int | None]]:
    """Yield what both sides say of each quantity, by the workbook's columns."""
    before: QuantityRow | None = None
    for quantity_row in every_quantity.rows:
        is_dearer = before is not None and quantity_row.worked_out_each > before.worked_out_each
        yield {
            "quantity": quantity_row.quantity,
            "made": quantity_row.made,
            "sheets": quantity_row.sheets,
            "minutes": quantity_row.minutes,
            "labour": quantity_row.labour_cost,
            "cost": quantity_row.cost,
            "cost_each": quantity_row.cost_each,
            "setup_share": quantity_row.setup_share,
            "floor_each": quantity_row.floor_exact,
            "worked_out": quantity_row.worked_out_each,
            "price_step": quantity_row.step,
            "tier_from": quantity_row.tier_from,
            "published": quantity_row.price_each,
            "margin_left": quantity_row.margin,
            "profit": quantity_row.profit,
            "total": quantity_row.total,
            "is_below_floor": int(quantity_row.is_below_floor),
            "is_dearer": int(is_dearer),
        }
        before = quantity_row


def check_sides(
    ours: Sequence[Mapping[str, Decimal | int | None]], theirs: Sequence[Mapping[str, float]]
) -> int:
    """Compare row by row and return how many figures agree. Errors: SidesDisagree."""
    if len(ours) != len(theirs):
        raise SidesDisagree(f"{len(ours)} rows here, {len(theirs)} in the workbook")
    agreed = 0
    for number, (here, there) in enumerate(zip(ours, theirs, strict=True), 2):
        for name, figure in here.items():
            assert figure is not None, name
            # not "difference > NEAR": an empty cell is no number and must not pass
            if not abs(float(figure) - there[name]) <= NEAR:
                raise SidesDisagree(f"row {number}, {name}: {figure} and {there[name]}")
            agreed += 1
    return agreed
