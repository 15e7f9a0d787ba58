"""Money and shares as a workshop writes them; an en dash where there is none."""

from decimal import Decimal
from typing import TYPE_CHECKING

from maker.calc.amounts import M_PER_YARD, format_amount, stock_unit, unit_cost_in, unit_word
from maker.calc.money import format_money, minor_digits, minor_unit, up_to_step
from maker.calc.sums import How, Write, told
from maker.calc.units import format_number, format_percent

if TYPE_CHECKING:
    from maker.workshop.models import Workshop

NOTHING = "–"


def money(
    amount: Decimal | None, workshop: "Workshop", extra_digits: int = 0, *, in_column: bool = False
) -> str:
    """Write an amount in the workshop's currency, with more decimals if wanted."""
    if amount is None:
        return NOTHING
    return format_money(
        amount, workshop.currency, workshop.locale, extra_digits, in_column=in_column
    )


def lowest_price(amount: Decimal | None, workshop: "Workshop") -> str:
    """Write a lowest price, up to the next coin: asking what is written is not below it."""
    if amount is None:
        return NOTHING
    return money(in_coins(amount, workshop), workshop)


def in_coins(amount: Decimal, workshop: "Workshop") -> Decimal:
    """Return an amount up to the next coin of the workshop's currency."""
    return up_to_step(amount, minor_unit(minor_digits(workshop.currency)))


def sum_writer(currency: str, locale: str, lengths: str = "mm") -> Write:
    """Return what writes the numbers of a sum for people.

    Money in whole coins (finer where it is less than one), small units with two decimals more,
    shares in percent, factors and what is below one with up to four decimals. Where `lengths` are
    measured in inches, metres are told in inches or yards, and their unit costs by the yard.
    """

    def write(number: Decimal | int, unit: str) -> str:
        value = Decimal(number)
        unit, _, typed_in = unit.partition(" m in ")
        if typed_in:
            text = format_amount(value, "m", locale, lengths, typed_in)
            return text.replace("-", "−")
        kind, _, of = unit.partition(" ")
        if kind == "told":
            return stock_unit(of, lengths)
        if lengths == "in" and unit.endswith(" m"):
            return in_inches(value, unit.removesuffix(" m"))
        if kind == "amount":
            return f"{write(value, '')} {unit_word(of, value)}"
        if unit.startswith("unit cost"):
            unit = "unit cost"
        is_small = bool(value) and abs(value) < 1
        if unit in ("money", "unit cost"):
            fine = 2 if is_small or unit == "unit cost" else 0
            text = format_money(value, currency, locale, fine)
        elif unit == "share":
            text = format_percent(value, locale, 2)
        else:
            text = format_number(value, locale, 4 if is_small or unit == "factor" else 2)
        return text.replace("-", "−")

    def in_inches(value: Decimal, kind: str) -> str:
        if kind == "unit cost":
            return write(unit_cost_in(value, "m", "in")[0], kind)
        if kind == "stock":
            return f"{write(value / M_PER_YARD, '')} yd"
        return format_amount(value, "m", locale, "in").replace("-", "−")

    return write


def amount_text(value: Decimal, unit: str, workshop: "Workshop", typed_in: str = "") -> str:
    """Write an amount of material with its unit, lengths as the workshop measures them.

    A length that was `typed_in` a unit is written in that.
    """
    return format_amount(value, unit, workshop.locale, workshop.unit, typed_in)


def unit_cost_text(value: Decimal, unit: str, workshop: "Workshop") -> str:
    """Write what one unit costs in a column: `€0.2500 / m`, `$0.2286 / yd` in an inch workshop."""
    cost, told_in = unit_cost_in(value, unit, workshop.unit)
    return f"{money(cost, workshop, extra_digits=2, in_column=True)} / {told_in}"


def said(how: How | str, workshop: "Workshop") -> str:
    """Write how a figure came about, for people."""
    return told(how, sum_writer(workshop.currency, workshop.locale, workshop.unit))


def percent(share: Decimal | None, workshop: "Workshop", decimals: int = 1) -> str:
    """Write a share from 0 to 1 as a percentage."""
    if share is None:
        return NOTHING
    return format_percent(share, workshop.locale, decimals)
