"""How the printed examples on break-even, labour, learning and statistics are worked out."""

from decimal import Decimal

from pricing.calc.certainty.pert import expected, spread, three_points
from pricing.calc.costing.learning import middle_piece, pieces_until
from pricing.calc.times.timings import Run, sample_size_for_share, standard_time, time_step
from pricing.calc.times.variances import variance_of
from pricing.calc.what_if.break_even import Product, break_even, break_even_of_mix, leverage


def number(value):
    return Decimal(str(value))


def a08(given):
    gain = number(given["price"]) - number(given["variable"])
    found = break_even(number(given["fixed"]), gain, number(given["target"]))
    return {"units": found.count, "sales": found.exact * number(given["price"])}


def a10(given):
    products = [
        Product(each["name"], each["mix"], number(each["price"]) - number(each["variable"]))
        for each in given["products"]
    ]
    mixes, units = break_even_of_mix(number(given["fixed"]), products)
    prices = (each["mix"] * number(each["price"]) for each in given["products"])
    return {
        "price_composite": sum(prices),
        "cm_composite": mixes.gain_each,
        "composite_units": mixes.exact,
        "composite_units_up": mixes.count,
        **{f"units_{name}": count for name, count in units.items()},
    }


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


def b04(given):
    return {"n": pieces_until(number(given["goal"]) / number(given["first"]), number(given["r"]))}


def b07(given):
    return {"midpoint": middle_piece(given["m"], given["n"], number(given["r"]))}


def b14(given):
    observed = [number(minutes) for minutes in given["observed"]]
    rating, even, none = number(given["rating"]), Decimal(1), Decimal(0)
    return {
        "observed": standard_time(observed, rating=even, allowance=none),
        "normal": standard_time(observed, rating=rating, allowance=none),
        "standard": standard_time(observed, rating=rating, allowance=number(given["allowance"])),
    }


def b16(given):
    found = {}
    for place, row in enumerate(given["rows"], 1):
        size = sample_size_for_share(number(row["p"]), number(row["e"]), z=number(row["z"]))
        assert 0 <= size.count - size.exact < 1
        found[f"n_{place}"] = size.exact
    return found


def g07(given):
    points = three_points(number(given["m"]), number(given["o"]), number(given["p"]))
    return {"te": expected(points), "sigma": spread(points)}


def g12(given):
    runs = [Run(10, number(value) * 10) for value in given["values"]]
    timing = time_step("values", Decimal(300), runs)
    return {"mean": timing.average, "sd": timing.spread}


WORKED_BY = {
    "A08": a08,
    "A10": a10,
    "A34": a34,
    "A25": a25,
    "B04": b04,
    "B07": b07,
    "B14": b14,
    "B16": b16,
    "G07": g07,
    "G12": g12,
}
