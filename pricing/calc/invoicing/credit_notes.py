"""Credit notes: goods of an invoice taken back, at its prices less their share of its discount."""

from collections.abc import Sequence
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.invoicing.invoices import (
    SaleTerms,
    discount_of,
    over_rates,
    totals_of,
)
from pricing.calc.price.tax import DocumentLine, DocumentTotals, line_amount

ZERO = Decimal(0)


@with_working_precision
def credit_note(
    goods: Sequence[DocumentLine], discount_share: Decimal, terms: SaleTerms
) -> DocumentTotals:
    """Return what is owed back for goods: amounts above zero, tax as on the invoice.

    `goods` have the invoice's own prices; `discount_share` is its discount over its goods. The
    delivery charge is not owed back: the delivery took place.
    """
    value = sum((line_amount(line, terms.digits) for line in goods), ZERO)
    discount = discount_of(value, discount_share, terms.digits)
    return totals_of([*goods, *over_rates(goods, -discount, terms.digits)], terms)
