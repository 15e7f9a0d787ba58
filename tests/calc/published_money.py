"""How the printed examples on money, tax, units and paper are worked out."""

from decimal import Decimal

from catalogue.calc.flat_patterns.tiles import PAPERS_MM
from catalogue.calc.sheets.paper import sheet_weight_g
from maker.calc.amounts import read_amount
from maker.calc.money import cash_step, minor_digits, minor_unit, share_out, to_minor, up_to_step
from maker.calc.units import parse_length
from pricing.calc.price.tax import DocumentLine, document_totals, tax_inside, tax_on


def number(value):
    return Decimal(str(value))


def d01(given):
    return {code: minor_digits(code) for code in given["codes"]}


def d03(given):
    (row,) = given["rows"]
    return {"r_2": up_to_step(Decimal(row["x"]), Decimal(row["q"]))}


def document(given, *, per_line=False):
    def line(quantity, price, base, allowance, charge, _, rate):
        return DocumentLine(
            price=Decimal(price),
            quantity=Decimal(quantity),
            base_quantity=Decimal(base),
            allowance=Decimal(allowance),
            charge=Decimal(charge),
            tax_rate=Decimal(rate) / 100,
        )

    lines = [line(*row) for row in given["lines"]]
    whole = [
        DocumentLine(price=sign * Decimal(amount), tax_rate=Decimal(rate) / 100)
        for sign, rows in ((-1, given.get("allowances", [])), (1, given.get("charges", [])))
        for amount, _, rate in rows
    ]
    totals = document_totals([*lines, *whole], prices_include_tax=False, per_line=per_line)
    found = {
        "sum_lines": sum(totals.line_amounts[: len(lines)]),
        "vat": totals.tax,
        "without_vat": totals.net,
        "with_vat": totals.gross,
        "due": totals.due(Decimal(given.get("paid", 0))),
    }
    for place, amount in enumerate(totals.line_amounts, 1):
        found[f"line_{place}"] = amount
    for rate in totals.rates:
        name = f"S_{rate.rate * 100:.0f}"
        found[f"base_{name}"], found[f"vat_{name}"] = rate.base, rate.tax
    return found


def d20(given):
    return document(given) | {"vat_if_per_line": document(given, per_line=True)["vat"]}


def d10(given):
    return {
        f"vat_{place}": tax_inside(Decimal(row["gross"]), Decimal(row["rate"]) / 100)
        for place, row in enumerate(given["rows"], 1)
    }


def d12(given):
    found = {}
    for place, row in enumerate(given["rows"], 1):
        rate = Decimal(row["rate"]) / 100
        if "price" in row:
            tax = tax_on(Decimal(row["price"]), rate)
            found[f"tax_{place}"], found[f"total_{place}"] = tax, Decimal(row["price"]) + tax
        else:
            total = Decimal(row["total"])
            found[f"price_{place}"] = total - tax_inside(total, rate)
    return found


def d15(given):
    weights = [Decimal(weight) for weight in given["weights"]]
    shares = share_out(Decimal(given["total"]), weights, 0)
    assert sum(shares) == given["total"]
    # each share is the quota or the next whole number
    fine = share_out(Decimal(given["total"]), weights, 6)
    assert all(abs(share - quota) < 1 for share, quota in zip(shares, fine, strict=True))
    naive = [to_minor(quota, 0) for quota in fine]
    return {"naive": naive, "naive_sum": sum(naive), "quotas": fine}


def d17(given):
    weights = [Decimal(percent) for percent in given["percents"]]
    shares = share_out(Decimal(given["amount"]), weights)
    cents = [share / minor_unit(2) for share in shares]
    return {"shares_cents": cents, "sum_cents": sum(cents)}


def d19(given):
    found = {}
    for code in given["codes"]:
        step = cash_step(code)
        digits = max(-step.as_tuple().exponent, 0)
        # the source writes 0 where every smallest unit can be paid
        units = step.scaleb(digits)
        found[code] = [digits, units if units > 1 else 0]
    return found


def e01(given):
    # the sizes that patterns are printed on
    return {name[1:]: list(PAPERS_MM[name]) for name in PAPERS_MM if name.startswith("A")}


def e03(given):
    found = {}
    for row in given["rows"]:
        unit, _, into = row["u"].partition(">")
        if into == "mm":
            value = parse_length(f"{row['x']} {unit}", "mm")
        else:
            measured = read_amount(f"{row['x']} {unit}")
            value = measured.in_unit({"kg": "g"}.get(into, into))
            value = value / 1000 if into == "kg" else value
        found[f"{row['x']} {row['u']}"] = value
    return found


def e11(given):
    width, height = Decimal(given["w_mm"]), Decimal(given["h_mm"])
    return {"g": sheet_weight_g(width, height, Decimal(given["gsm"]))}


WORKED_BY = {
    "D01": d01, "D03": d03, "D04": document, "D06": document, "D07": document, "D09": document,
    "D10": d10, "D12": d12, "D15": d15, "D17": d17, "D19": d19, "D20": d20,
    "E01": e01, "E03": e03, "E11": e11,
}  # fmt: skip
