"""The workbook a spreadsheet would keep prices true with: a row for each design on the list.

Beside each price stand the amounts and minutes it was set against with the costs and terms of that
day; formulas look up what each material costs now, and say what the design costs, by how much it
drifted, what is left of the price, which price restores the margin and whether it is off. Amounts
and minutes are values, as in what is kept with a price: no cutting plan is made on either side.
"""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from openpyxl import Workbook

from pricing.calc.costing.rates import ChannelRates, WorkshopRates
from pricing.calc.price.ingredients import OF_STOCK, Ingredients, Item
from tests.benchmarks.price_workbook import (
    Inputs,
    add_rates,
    left_columns,
    tier_columns,
    workbook_of,
)

_THEN = ("wage", "overhead", "tax", "margin", "fee", "fixed", "payments")


@dataclass(frozen=True, slots=True)
class Listed:
    """A price of the list: what it was set against, and when."""

    kept: Ingredients
    set_on: datetime.date


@dataclass(frozen=True, slots=True)
class Standing:
    """What holds on a day: costs by material, rates, terms and when a price counts as off."""

    unit_costs: Mapping[str, Decimal]
    rates: WorkshopRates
    channel: ChannelRates
    threshold: Decimal
    after_months: int
    on: datetime.date


def recost_workbook(listed: Sequence[Listed], standing: Standing) -> tuple[Workbook, Inputs]:
    """Return the workbook and where its inputs stand."""
    inputs = Inputs()
    add_rates(inputs, standing.rates, standing.channel)
    inputs.add("threshold", standing.threshold)
    inputs.add("months", standing.after_months)
    inputs.add("today", standing.on)
    inputs.add_table(
        "costs", ([cost_key(identity), cost] for identity, cost in standing.unit_costs.items())
    )
    items = max(len(each.kept.items) for each in listed)
    steps = max(len(each.kept.work) for each in listed)
    sums = _sums(items, steps)
    columns = [
        *("quantity", "price", "set_on"),
        *(f"{name}_then" for name in _THEN),
        *(f"minutes{place}" for place in range(steps)),
        *(
            f"{name}{place}"
            for name in ("item", "amount", "then", "now", "bought", "buys")
            for place in range(items)
        ),
        *sums,
    ]
    rows = (_row(each, sums) for each in listed)
    return workbook_of("Designs", inputs, columns, rows), inputs


def cost_key(identity: str) -> str:
    """Return what a material is called in the table of costs."""
    return f"material {identity}"


def _row(listed: Listed, sums: Mapping[str, str]) -> dict[str, Any]:
    kept = listed.kept
    tier = kept.tier
    assert not kept.is_rush
    assert not kept.delivery
    row: dict[str, Any] = {
        "quantity": kept.quantity,
        "price": kept.price_each,
        "set_on": listed.set_on,
        "wage_then": kept.rates.wage_per_hour,
        "overhead_then": kept.rates.overhead_per_hour,
        "tax_then": kept.rates.tax_rate,
        "margin_then": tier.margin,
        "fee_then": tier.fee_share,
        "fixed_then": tier.fixed_fee,
        "payments_then": tier.payments_per_sale,
        **{f"minutes{place}": each.minutes for place, each in enumerate(kept.work)},
        **sums,
    }
    for place, item in enumerate(kept.items):
        row |= _item(place, item)
    return row


def _item(place: int, item: Item) -> dict[str, object]:
    now = f"=[then{place}]"
    if item.kind in OF_STOCK:
        now = f"=IFERROR(VLOOKUP([item{place}],{{costs}},2,FALSE),[then{place}])"
    return {
        f"item{place}": cost_key(item.identity) if item.kind in OF_STOCK else item.name,
        f"amount{place}": item.amount,
        f"then{place}": item.unit_cost,
        f"now{place}": now,
        f"bought{place}": f"=[amount{place}]*[then{place}]",
        f"buys{place}": f"=[amount{place}]*[now{place}]",
    }


def _sums(items: int, steps: int) -> dict[str, str]:
    """Return the formulas of every row behind the items, in order."""
    return {
        "minutes": f"=SUM([minutes0:minutes{steps - 1}])",
        "cost_then": f"=SUM([bought0:bought{items - 1}])"
        "+[minutes]*([wage_then]+[overhead_then])/60",
        "labour": "=[minutes]*{wage}/60",
        "overhead": "=[minutes]*{overhead}/60",
        "cost": f"=SUM([buys0:buys{items - 1}])+[labour]+[overhead]",
        "cost_each_then": "=[cost_then]/[quantity]",
        "cost_each": "=[cost]/[quantity]",
        "cost_drift": "=IF([cost_then]=0,IF([cost]=0,0,1),[cost_each]/[cost_each_then]-1)",
        **tier_columns(),
        "kept_then": "=1-[margin_then]-[fee_then]*(1+[tax_then])",
        "exact_then": "=([cost_then]+[payments_then]*[fixed_then])/[kept_then]"
        "*(1+[tax_then])/[quantity]",
        "kept": "=1-[margin]-[fee_share]*(1+{tax})",
        "kept_at_floor": "=1-[fee_share]*(1+{tax})",
        "fixed_fees": "=[payments_per_sale]*[fixed_fee]",
        "exact": "=([cost]+[fixed_fees])/[kept]*(1+{tax})/[quantity]",
        "price_drift": "=[exact]/[exact_then]-1",
        "needed": "=CEILING([exact],[price_step])",
        "floor_each": "=([cost]+[fixed_fees])/[kept_at_floor]*(1+{tax})/[quantity]",
        **left_columns("[price]"),
        "profit_each": "=[profit]/[quantity]",
        "is_below_floor": "=IF([price]<[floor_each],1,0)",
        "is_off_by_cost": "=IF(ABS([cost_drift])>{threshold},1,0)",
        "is_off_by_terms": "=IF([is_off_by_cost]=1,0,IF(ABS([price_drift])>{threshold},1,0))",
        "is_old": "=IF(EDATE([set_on],{months})<={today},1,0)",
        "is_off": "=IF([is_off_by_cost]+[is_off_by_terms]+[is_old]>0,1,0)",
    }


def formula_count(listed: Iterable[Listed]) -> int:
    """Return how many cells of the workbook hold a formula."""
    rows = [each.kept for each in listed]
    return sum(3 * len(kept.items) + len(_sums(1, 1)) for kept in rows)
