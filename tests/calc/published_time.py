"""How the printed examples on break-even, labour, learning and statistics are worked out."""

from decimal import Decimal

from pricing.calc.certainty.pert import expected, spread, three_points
from pricing.calc.times.timings import Run, time_step
from pricing.calc.times.variances import variance_of
from pricing.calc.what_if.break_even import break_even, leverage


def number(value):
    return Decimal(str(value))


def a08(given):
    gain = number(given["price"]) - number(given["variable"])
    found = break_even(number(given["fixed"]), gain, number(given["target"]))
    return {"units": found.count, "sales": found.exact * number(given["price"])}


def a34(given):
    return {
        f"dol_{place}": leverage(
            number(case["sales"]) - number(case["variable"]), number(case["fixed"])
        )
        for place, case in enumerate(given["cases"], 1)
    }


def a25(given):
    found = variance_of(
        "labour",
        planned_amount=number(given["std_qty"]),
        planned_price=number(given["std_price"]),
        actual_amount=number(given["act_qty"]),
        actual_price=number(given["act_price"]),
    )
    return {"rate": found.by_price, "quantity": found.by_amount}


def a35(given):
    return {
        f"price_{place}": variance_of(
            "material",
            planned_amount=number(used),
            planned_price=number(standard),
            actual_amount=number(used),
            actual_price=number(actual),
        ).by_price
        for place, (actual, standard, used) in enumerate(given["rows"], 1)
    }


def a36(given):
    found = variance_of(
        "material",
        planned_amount=number(given["std_qty"]),
        planned_price=number(given["std_price"]),
        actual_amount=number(given["act_qty"]),
        actual_price=number(given["act_price"]),
    )
    return {"price": found.by_price, "usage": found.by_amount, "total": found.total}


def g07(given):
    points = three_points(number(given["m"]), number(given["o"]), number(given["p"]))
    return {"te": expected(points), "sigma": spread(points)}


def g12(given):
    runs = [Run(10, number(value) * 10) for value in given["values"]]
    timing = time_step("values", Decimal(300), runs)
    return {"mean": timing.average, "sd": timing.spread}


WORKED_BY = {
    "A08": a08,
    "A34": a34,
    "A25": a25,
    "A35": a35,
    "A36": a36,
    "A37": a36,
    "G07": g07,
    "G12": g12,
}
