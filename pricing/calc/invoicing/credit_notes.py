"""Credit notes: goods of an invoice taken back, at its prices less their share of its discount.

What was charged beside them is credited as the amount it is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.invoicing.invoices import (
    SaleTerms,
    discount_of,
    over_rates,
    totals_of,
)
from pricing.calc.price.tax import (
    DocumentLine,
    DocumentTotals,
    TaxOfRate,
    line_amount,
    tax_inside,
    tax_on,
)

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


@dataclass(frozen=True, slots=True)
class TaxInParts:
    """The tax of an invoice by rate, and what was credited of it. `is_rest`: nothing is left then.

    Notes on one invoice take together what one note would take, so each may be a cent off what it
    would take alone (common practice, no source).
    """

    invoiced: Mapping[Decimal, Decimal]
    credited: Sequence[TaxOfRate] = ()
    is_rest: bool = False

    def of(self, note: TaxOfRate, terms: SaleTerms) -> Decimal:
        """Return the tax a note takes at one rate: never more than is left, with the rest all."""
        before = [each for each in self.credited if each.rate == note.rate]
        taken = sum((each.tax for each in before), ZERO)
        left = max(self.invoiced.get(note.rate, ZERO) - taken, ZERO)
        if self.is_rest:
            return left
        if terms.tax_per_line:
            return min(note.tax, left)
        base = sum((each.base for each in before), note.base)
        if terms.prices_include_tax:
            whole = tax_inside(base + taken + note.tax, note.rate, terms.digits)
        else:
            whole = tax_on(base, note.rate, terms.digits)
        return max(min(whole - taken, left), ZERO)


NOTHING = Credited()


@with_working_precision
def credit_note(
    goods: Sequence[DocumentLine],
    discount_share: Decimal,
    terms: SaleTerms,
    before: Credited = NOTHING,
    charges: Sequence[DocumentLine] = (),
    tax: TaxInParts | None = None,
) -> CreditNote:
    """Return what is owed back: amounts above zero, tax as on the invoice.

    `goods` have the invoice's own prices; `discount_share` is its discount over its goods, `before`
    what was credited of it already: all its goods credited in parts take all its discount, and with
    `tax` all its tax, not a cent more. `charges` are what is credited beside goods. A delivery
    that took place is not owed back, so its charge is credited only where it is among them.
    """
    value = sum((line_amount(line, terms.digits) for line in goods), ZERO)
    discount = discount_of(before.goods + value, discount_share, terms.digits) - before.discount
    lines = [*goods, *over_rates(goods, -discount, terms.digits), *charges]
    totals = totals_of(lines, terms)
    if tax is not None:
        totals = _with_tax(totals, tax, terms)
    return CreditNote(value, discount, totals)


def _with_tax(totals: DocumentTotals, parts: TaxInParts, terms: SaleTerms) -> DocumentTotals:
    rates = []
    for each in totals.rates:
        tax = parts.of(each, terms)
        moved = each.tax - tax if terms.prices_include_tax else ZERO
        rates.append(TaxOfRate(each.rate, each.base + moved, tax))
    net = sum((each.base for each in rates), ZERO)
    tax = sum((each.tax for each in rates), ZERO)
    return replace(totals, rates=tuple(rates), net=net, tax=tax, gross=net + tax)
