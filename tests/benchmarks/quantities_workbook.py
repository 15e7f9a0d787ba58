"""The workbook a spreadsheet would build the list of the order costed by hand with.

A row for each quantity. Sheets are formulas, because for this order the fewest are known by
argument: a body crosses the middle of its sheet, so two go on one; pockets, squares and foam lie in
rows and columns; and the striped card is filled by rows of two heights. Those arguments, with a
solver's word for them, came with the order; no spreadsheet would find them by itself.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from openpyxl import Workbook

from pricing.calc.costing.rates import ChannelRates, WorkshopRates
from tests.benchmarks.price_workbook import (
    Inputs,
    add_rates,
    left_columns,
    tier_columns,
    workbook_of,
)
from tests.calc.worked_case import INPUTS, MINUTES, landed

_SHEETS = {
    "sheets_P": "=ROUNDUP([made]/2,0)",
    "sheets_Q": "=ROUNDUP([made]/6,0)",
    # two handles of 0.75 in a row each, tags of 2.5 eight in a row, 12 in of height
    "sheets_R": "=ROUNDUP((2*[made]*0.75+ROUNDUP([made]/8,0)*2.5)/12,0)",
    "sheets_S": "=ROUNDUP(2*[made]/36,0)",
    "sheets_T": "=ROUNDUP([made]/15,0)",
}
_ROLES = "PQRST"
_USED = {"dot": "dot", "brad": "brad", "gem": "gem", "glue": "glue_ml", "stick": "stick"} | {
    "twine": "twine_m"
}
_LEARNING_STEPS = ("score", "body", "pocket", "finish")
_SETUPS = ("job_setup", "score_setup", "die_setup", "finish_setup")


def quantities_workbook(
    up_to: int, channel: ChannelRates, rates: WorkshopRates
) -> tuple[Workbook, Inputs]:
    """Return the workbook of 1 to `up_to` and where its inputs stand."""
    inputs = _inputs(channel, rates)
    sums = _sums()
    first = {**sums, "lowest": "=[worked_out]", "is_dearer": 0}
    last = {**sums, "published": "=[lowest]"}

    def row(quantity: int) -> Mapping[str, Any]:
        if quantity == up_to:
            return {"quantity": quantity, **last}
        return {"quantity": quantity, **(first if quantity == 1 else sums)}

    assert up_to > 1
    columns = ["quantity", *sums]
    return workbook_of("Quantities", inputs, columns, map(row, range(1, up_to + 1))), inputs


def formula_count(up_to: int) -> int:
    """Return how many cells of the workbook hold a formula."""
    return up_to * len(_sums()) - 1


def _inputs(channel: ChannelRates, rates: WorkshopRates) -> Inputs:
    inputs = Inputs()
    add_rates(inputs, rates, channel)
    for line in landed().lines:
        inputs.add(f"cost_{line.name}", line.unit_cost)
    for name, amount in INPUTS["per_bag"].items():
        inputs.add(f"use_{name}", Decimal(amount))
    for name in ("glue", "twine"):
        inputs.add(f"waste_{name}", Decimal(INPUTS["consumable_waste"][name]))
    for name, minutes in MINUTES.items():
        inputs.add(f"min_{name}", Decimal(minutes))
    for name in ("blade_per_sheet", "plates_per_pass"):
        inputs.add(name, Decimal(INPUTS["wear"][name]))
    for name in ("single_sleeve", "carton"):
        inputs.add(name, Decimal(INPUTS["packing"][name]))
    inputs.add("reject_rate", Decimal(INPUTS["reject_rate"]))
    inputs.add("rate", Decimal(INPUTS["learning"]["rate"]))
    inputs.add("floor", Decimal(INPUTS["learning"]["floor"]))
    return inputs


def _used(name: str, column: str) -> str:
    waste = f"*(1+{{waste_{name}}})" if name in INPUTS["consumable_waste"] else ""
    return f"=[made]*{{use_{column}}}{waste}*{{cost_{name}}}"


def _sums() -> dict[str, str]:
    """Return the formulas of a row in order."""
    cut = "+".join(f"[sheets_{role}]*{{min_cut_{role}}}" for role in _ROLES)
    learnt = "+".join(f"{{min_{step}}}" for step in _LEARNING_STEPS)
    larger = "ROUND([quantity+1]*[published+1]-0.01,2)"
    return {
        # rounded first: 175 x 0.04 is a little more than 7 in binary
        "spares": "=IF([quantity]>=10,ROUNDUP(ROUND([quantity]*{reject_rate},6),0),0)",
        "made": "=[quantity]+[spares]",
        **_SHEETS,
        "sheets": "=SUM([sheets_P:sheets_T])",
        **{f"cost_{role}": f"=[sheets_{role}]*{{cost_{role}}}" for role in _ROLES},
        **{f"cost_{name}": _used(name, column) for name, column in _USED.items()},
        "passes": "=ROUNDUP(2*[made]/{min_shapes_per_pass},0)"
        "+ROUNDUP([made]/{min_shapes_per_pass},0)",
        "wear": "=[sheets]*{blade_per_sheet}+[passes]*{plates_per_pass}",
        "cartons": "=IF([quantity]>=12,ROUNDUP([quantity]/{min_bags_per_carton},0),0)",
        "packing": "=IF([quantity]=1,{single_sleeve},[cartons]*{carton})",
        "factor": "=MAX(ROUND(EXP(LN([made])*LN({rate})/LN(2)),4),{floor})",
        "setup": "=" + "+".join(f"{{min_{name}}}" for name in _SETUPS),
        "cutting": f"={cut}",
        "die": "=[passes]*{min_die_pass}",
        "by_hand": f"=[made]*({learnt})*[factor]",
        "to_pack": "=[quantity]*{min_check}+[cartons]*{min_carton}",
        "minutes": "=SUM([setup:to_pack])",
        "labour": "=[minutes]*{wage}/60",
        "overhead": "=[minutes]*{overhead}/60",
        "cost": "=SUM([cost_P:cost_twine])+[wear]+[packing]+[labour]+[overhead]",
        "cost_each": "=[cost]/[quantity]",
        "setup_share": "=([labour]+[overhead])*[setup]/[minutes]/[cost]",
        "tier_from": "=VLOOKUP([quantity],{tiers},1,TRUE)",
        **tier_columns(),
        "kept": "=1-[margin]-[fee_share]*(1+{tax})",
        "kept_at_floor": "=1-[fee_share]*(1+{tax})",
        "fixed_fees": "=[payments_per_sale]*[fixed_fee]",
        "exact": "=([cost]+[fixed_fees])/[kept]*(1+{tax})/[quantity]",
        "worked_out": "=CEILING([exact],[price_step])",
        "floor_each": "=([cost]+[fixed_fees])/[kept_at_floor]*(1+{tax})/[quantity]",
        "is_dearer": "=IF([worked_out]>[worked_out-1],1,0)",
        # never dearer each than a smaller quantity, always dearer in all
        "lowest": "=MIN([lowest-1],[worked_out])",
        "published": f"=IF(ROUND([quantity]*[lowest],2)<={larger},[lowest],"
        f"MAX(FLOOR({larger}/[quantity],[price_step]),[published+1]))",
        **left_columns("[published]"),
        "is_below_floor": "=IF([published]<[floor_each],1,0)",
    }
