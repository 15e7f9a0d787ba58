"""Credit notes: goods of an invoice taken back, at its prices less their share of its discount."""

from collections.abc import Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Credited:
    """Goods of an invoice that were credited before, and the discount that went with them."""

    goods: Decimal = ZERO
    discount: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class CreditNote:
    """A credit note in whole minor units; goods and discount as priced."""

    goods: Decimal
    discount: Decimal
    totals: DocumentTotals


NOTHING = Credited()


@with_working_precision
def credit_note(
    goods: Sequence[DocumentLine],
    discount_share: Decimal,
    terms: SaleTerms,
    before: Credited = NOTHING,
) -> CreditNote:
    """Return what is owed back for goods: amounts above zero, tax as on the invoice.

    `goods` have the invoice's own prices; `discount_share` is its discount over its goods, `before`
    what was credited of it already: all its goods credited in parts take all its discount. The
    delivery charge is not owed back: the delivery took place.
    """
    value = sum((line_amount(line, terms.digits) for line in goods), ZERO)
    discount = discount_of(before.goods + value, discount_share, terms.digits) - before.discount
    totals = totals_of([*goods, *over_rates(goods, -discount, terms.digits)], terms)
    return CreditNote(value, discount, totals)
