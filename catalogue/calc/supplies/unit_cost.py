"""What a unit of each line of a receipt costs, with postage, discount and tax shared in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from maker.calc import sums
from maker.calc.explanation import Line, sum_line
from maker.calc.money import minor_unit, share_out, to_minor, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
UNIT_COST_PLACES = Decimal("0.000001")


class BadReceipt(Refusal):
    """The amounts of a receipt cannot be meant."""


@dataclass(frozen=True, slots=True)
class ReceiptLine:
    """Goods on a receipt: recipe units in all, and what the line says they cost, without tax
    when the receipt shows tax by itself. `id` is the row the landed cost is traced to.
    """

    name: str
    quantity: Decimal
    amount: Decimal
    unit: str = ""
    id: int | None = None


@dataclass(frozen=True, slots=True)
class LandedLine:
    """One line with its shares; `landed` is what stock gets, `tax_share` is in it or not."""

    name: str
    quantity: Decimal
    amount: Decimal
    postage_share: Decimal
    discount_share: Decimal
    tax_share: Decimal
    landed: Decimal
    unit_cost: Decimal
    explanation: Line
    unit_explanation: Line


@dataclass(frozen=True, slots=True)
class LandedReceipt:
    """A receipt shared out. `paid` is what left the purse, `landed` what came onto the shelf."""

    lines: tuple[LandedLine, ...]
    goods: Decimal
    postage: Decimal
    discount: Decimal
    tax: Decimal
    landed: Decimal
    paid: Decimal
    explanation: Line


def rounded_unit_cost(cost: Decimal, quantity: Decimal) -> Decimal:
    """Return the cost of one recipe unit with six decimals, halves up."""
    return (cost / quantity).quantize(UNIT_COST_PLACES, rounding=ROUND_HALF_UP)


@with_working_precision
def land_receipt(
    lines: Sequence[ReceiptLine],
    *,
    postage: Decimal = ZERO,
    discount: Decimal = ZERO,
    tax: Decimal = ZERO,
    tax_is_recoverable: bool = False,
    digits: int = 2,
) -> LandedReceipt:
    """Share postage, discount and tax over the lines by value and return what each unit costs.

    Shares are whole minor units, largest remainder first, ties to the earlier line. Tax that is
    paid back is not a cost. Refuses a receipt without lines, a quantity of zero or less, an amount
    below zero or finer than the currency, and a discount larger than the goods.
    """
    _check(lines, postage=postage, discount=discount, tax=tax, digits=digits)
    values = [line.amount for line in lines]
    goods = sum(values, ZERO)
    postages = share_out(postage, values, digits)
    discounts = share_out(discount, values, digits)
    taxes = share_out(tax, values, digits)
    tax_in_cost = ZERO if tax_is_recoverable else tax
    landed_lines = tuple(
        _land(
            line,
            [
                Line("postage share", post, "money", _how(postage, line, goods, digits)),
                Line("discount share", -less, "money", _how(discount, line, goods, digits)),
                Line("tax share", duty, "money", _how(tax, line, goods, digits)),
            ],
            tax_is_recoverable=tax_is_recoverable,
        )
        for line, post, less, duty in zip(lines, postages, discounts, taxes, strict=True)
    )
    landed = goods + postage - discount + tax_in_cost
    explanation = sum_line(
        "landed cost of the receipt",
        [line.explanation for line in landed_lines],
        unit="money",
        key="RC.landed",
        how="goods + postage - discount" + (" + tax" if tax_in_cost else ""),
    )
    return LandedReceipt(
        lines=landed_lines,
        goods=goods,
        postage=postage,
        discount=discount,
        tax=tax,
        landed=landed,
        paid=goods + postage - discount + tax,
        explanation=Line(
            "receipt",
            goods + postage - discount + tax,
            "money",
            "goods + postage - discount + tax",
            "RC",
            (
                Line("goods on the receipt", goods, "money", "sum of the lines", "RC.total"),
                Line("postage to share out", postage, "money", "given", "RC.post"),
                Line("discount to share out", discount, "money", "given", "RC.discount"),
                Line("tax on the receipt", tax, "money", _say_tax(tax_is_recoverable), "RC.tax"),
                explanation,
                *(line.unit_explanation for line in landed_lines),
                Line(
                    "shares add up to the postage",
                    sum(postages, ZERO),
                    "money",
                    key="RC.check",
                ),
            ),
        ),
    )


def _say_tax(tax_is_recoverable: bool) -> str:
    return "reclaimed, so not part of the cost" if tax_is_recoverable else "part of the cost"


def _how(total: Decimal, line: ReceiptLine, goods: Decimal, digits: int) -> sums.How:
    by_value = sums.money(total) * sums.money(line.amount) / sums.money(goods)
    return by_value.then(f"in whole {minor_unit(digits)}, largest remainder")


def _land(line: ReceiptLine, shares: Sequence[Line], *, tax_is_recoverable: bool) -> LandedLine:
    key = f"RC.{line.name}"
    postage, discount, tax = (
        replace(share, key=f"{key}.{name}")
        for share, name in zip(shares, ("share", "discount", "tax"), strict=True)
    )
    parts = [Line("price on the receipt", line.amount, "money", key=f"{key}.amount"), postage]
    if discount.value:
        parts.append(discount)
    if tax.value and not tax_is_recoverable:
        parts.append(tax)
    landed = sum_line(f"{line.name}: landed cost", parts, unit="money", key=f"{key}.landed")
    unit_cost = rounded_unit_cost(landed.number, line.quantity)
    return LandedLine(
        name=line.name,
        quantity=line.quantity,
        amount=line.amount,
        postage_share=postage.number,
        discount_share=-discount.number,
        tax_share=tax.number,
        landed=landed.number,
        unit_cost=unit_cost,
        explanation=landed,
        unit_explanation=Line(
            f"{line.name}: landed cost per {line.unit or 'unit'}",
            unit_cost,
            "money",
            (sums.money(landed.number) / sums.number(line.quantity)).then("6 decimals"),
            f"{key}.unit",
            (landed,),
            source=("purchase_line", line.id) if line.id is not None else None,
        ),
    )


def _check(
    lines: Sequence[ReceiptLine],
    *,
    postage: Decimal,
    discount: Decimal,
    tax: Decimal,
    digits: int,
) -> None:
    if not lines:
        raise BadReceipt("A receipt needs at least one line.", where="lines")
    amounts = {"postage": postage, "discount": discount, "tax": tax}
    amounts |= {line.name: line.amount for line in lines}
    for where, amount in amounts.items():
        if not amount.is_finite() or amount < 0:
            raise BadReceipt(f"The amount for {where} must be zero or more.", where=where)
        if amount != to_minor(amount, digits):
            raise BadReceipt(
                f"The amount {amount} for {where} has more than {digits} decimals.", where=where
            )
    for line in lines:
        if not line.quantity.is_finite() or line.quantity <= 0:
            raise BadReceipt(
                f"The quantity of {line.name} must be more than zero.", where=line.name
            )
    if discount > sum((line.amount for line in lines), ZERO):
        raise BadReceipt(
            "The discount is larger than the goods. If it covers the postage too, lower the "
            "postage instead.",
            where="discount",
        )
