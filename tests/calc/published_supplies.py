"""How the printed examples on ordering and on price indices are worked out."""

from decimal import Decimal

from catalogue.calc.supplies.reorder import (
    OrderCosts,
    best_without_packs,
    order_size,
    reorder_point,
)
from pricing.calc.spending.price_index import Bought, indices_of, periods_of

ONE = Decimal(1)


def number(value):
    return Decimal(str(value))


def c01(given):
    # at a unit price of 1 holding is h for each; the goods themselves are no part of the cost
    costs = OrderCosts(
        number(given["D"]), number(given["K"]), number(given["h"]), ((Decimal(0), ONE),), ONE, 1
    )
    best = best_without_packs(costs, ONE)
    return {
        "Q": best,
        "cost": costs.year_cost(best) - costs.year_use,
        "cost_at_Q": costs.year_cost(number(given["Q"])) - costs.year_use,
    }


def c04(given):
    breaks = tuple(zip(map(number, given["breaks"]), map(number, given["prices"]), strict=True))
    costs = OrderCosts(
        number(given["D"]), number(given["K"]), number(given["i"]), breaks, ONE, 1300
    )
    found = order_size(costs)
    region = max(place for place, (start, _) in enumerate(breaks) if found.quantity >= start)
    return {"Q": found.quantity, "region": region, "cost": found.year_cost}


def c35(given):
    # two weeks one spread above and below the mean times the root of a half have that spread
    away = number(given["sd"]) / Decimal(2).sqrt()
    mean = number(given["d"])
    found = reorder_point([mean - away, mean + away], number(given["L"]), number(given["z"]))
    return {"safety": found.cushion, "reorder": found.mean * number(given["L"]) + found.cushion}


def indices(given):
    bought = [
        {
            place: Bought(number(quantity), number(quantity) * number(price))
            for place, (price, quantity) in enumerate(zip(prices, quantities, strict=True))
        }
        for prices, quantities in zip(given["p"], given["q"], strict=True)
    ]
    found = indices_of(periods_of(bought, {}))
    names = (
        "laspeyres",
        "paasche",
        "fisher",
        "chained_laspeyres",
        "chained_paasche",
        "chained_fisher",
    )
    return {
        name.replace("chained", "chain"): [1, *(getattr(each, name) / 100 for each in found)]
        for name in names
    }


WORKED_BY = {"C01": c01, "C04": c04, "C35": c35, "H01": indices, "H02": indices, "H05": indices}
