"""Tax on sales: inside a price or on top of it, by line or once for each rate of a document.

Rounded halves up to the currency's decimals. How tax is rounded differs by country; both ways are
here and the workshop's setting chooses. The default, once for each rate, is that of EN 16931
(rules BR-CO-17 and BR-S-08).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
ONE = Decimal(1)


class BadDocumentLine(Refusal):
    """A line of a document that cannot be added up."""


@dataclass(frozen=True, slots=True)
class DocumentLine:
    """A line: quantity x price / base quantity + charge - allowance, rounded once to `amount`.

    A line below zero is a credit. `tax_rate` is a share; zero when not registered.
    """

    price: Decimal
    quantity: Decimal = ONE
    tax_rate: Decimal = ZERO
    base_quantity: Decimal = ONE
    charge: Decimal = ZERO
    allowance: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class TaxOfRate:
    """What one rate is due on, without tax, and the tax."""

    rate: Decimal
    base: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True)
class DocumentTotals:
    """Totals of a document; `line_amounts` are as priced (with tax when prices include it)."""

    line_amounts: tuple[Decimal, ...]
    rates: tuple[TaxOfRate, ...]
    net: Decimal
    tax: Decimal
    gross: Decimal

    def due(self, paid: Decimal) -> Decimal:
        """Return what is still to pay."""
        return self.gross - paid


@with_working_precision
def tax_inside(gross: Decimal, rate: Decimal, digits: int = 2) -> Decimal:
    """Return the tax in an amount that includes it: gross x rate / (1 + rate)."""
    return to_minor(gross * rate / (1 + rate), digits)


@with_working_precision
def tax_on(net: Decimal, rate: Decimal, digits: int = 2) -> Decimal:
    """Return the tax on top of an amount without it."""
    return to_minor(net * rate, digits)


def line_amount(line: DocumentLine, digits: int = 2) -> Decimal:
    """Return the amount of a line; the price itself may be finer than the currency."""
    if line.base_quantity <= 0:
        raise BadDocumentLine("A price must be above zero.", where="base_quantity")
    amount = line.quantity * line.price / line.base_quantity + line.charge - line.allowance
    return to_minor(amount, digits)


@with_working_precision
def document_totals(
    lines: Sequence[DocumentLine],
    *,
    prices_include_tax: bool,
    per_line: bool = False,
    digits: int = 2,
) -> DocumentTotals:
    """Add up a document. `per_line` rounds the tax of each line instead of each rate's sum.

    An allowance or a charge on the whole document is a line of its own rate, below zero for an
    allowance.
    """
    amounts = tuple(line_amount(line, digits) for line in lines)
    tax_of = tax_inside if prices_include_tax else tax_on
    rates = []
    for rate in dict.fromkeys(line.tax_rate for line in lines):
        those = [a for a, line in zip(amounts, lines, strict=True) if line.tax_rate == rate]
        summed = sum(those, ZERO)
        if per_line:
            tax = sum((tax_of(amount, rate, digits) for amount in those), ZERO)
        else:
            tax = tax_of(summed, rate, digits)
        rates.append(TaxOfRate(rate, summed - tax if prices_include_tax else summed, tax))
    net = sum((each.base for each in rates), ZERO)
    tax = sum((each.tax for each in rates), ZERO)
    return DocumentTotals(amounts, tuple(rates), net, tax, net + tax)
