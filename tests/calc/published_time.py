"""How the printed examples on hands that learn, time studies and statistics are worked out."""

from decimal import Decimal

from pricing.calc.learning import middle_piece, pieces_until


def number(value):
    return Decimal(str(value))


def b04(given):
    return {"n": pieces_until(number(given["goal"]) / number(given["first"]), number(given["r"]))}


def b07(given):
    return {"midpoint": middle_piece(given["m"], given["n"], number(given["r"]))}


WORKED_BY = {"B04": b04, "B07": b07}
