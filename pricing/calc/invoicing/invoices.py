"""One invoice for each delivery of an order, with its share of discount, delivery and deposit.

The discount and the delivery charge are document level allowance and charge (EN 16931, BG-20 and
BG-21): each is taxed with the goods it belongs to, so it is split over their rates.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import share_out, to_minor, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.invoicing.sharing import share_in_turn
from pricing.calc.price.tax import DocumentLine, DocumentTotals, document_totals, line_amount

ZERO = Decimal(0)


class BadInvoice(Refusal):
    """An order that cannot be invoiced like this."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """What one delivery is invoiced for: `goods` carry the discount, `extras` do not."""

    goods: tuple[DocumentLine, ...]
    extras: tuple[DocumentLine, ...] = ()


@dataclass(frozen=True, slots=True)
class SaleTerms:
    """What holds for the whole order. `discount` and `delivery` are amounts as priced."""

    discount: Decimal = ZERO
    delivery: Decimal = ZERO
    deposit: Decimal = ZERO
    prices_include_tax: bool = False
    tax_per_line: bool = False
    digits: int = 2


@dataclass(frozen=True, slots=True)
class Invoice:
    """An invoice in whole minor units. Goods, discount, delivery, extras: as priced."""

    goods: Decimal
    discount: Decimal
    delivery: Decimal
    extras: Decimal
    lines: tuple[DocumentLine, ...]
    totals: DocumentTotals
    deposit: Decimal

    @property
    def due(self) -> Decimal:
        """Return what is still to be paid when the deposit was."""
        return self.totals.due(self.deposit)


@with_working_precision
def invoices_of(deliveries: Sequence[Delivered], terms: SaleTerms) -> tuple[Invoice, ...]:
    """Return the invoice of each delivery, in their order; the last one takes the odd cents.

    Discount and delivery are shared by the value of the goods, the deposit by the total with tax
    and up to it: rounded tax can make the invoices a cent less than the quote was.
    Errors: BadInvoice for a discount above the goods.
    """
    goods = [_amounts(delivered.goods, terms.digits) for delivered in deliveries]
    if terms.discount > sum(goods, ZERO):
        raise BadInvoice("The discount is more than the goods.", where="discount")
    discounts = share_in_turn(terms.discount, goods, terms.digits)
    charges = share_in_turn(terms.delivery, goods, terms.digits)
    lines = [
        (
            *delivered.goods,
            *delivered.extras,
            *over_rates(delivered.goods, -discount, terms.digits),
            *over_rates(delivered.goods, charge, terms.digits),
        )
        for delivered, discount, charge in zip(deliveries, discounts, charges, strict=True)
    ]
    totals = [totals_of(each, terms) for each in lines]
    total = sum((each.gross for each in totals), ZERO)
    deposit = min(terms.deposit, total)
    deposits = share_in_turn(deposit, [each.gross for each in totals], terms.digits)
    return tuple(
        Invoice(
            goods=goods[place],
            discount=discounts[place],
            delivery=charges[place],
            extras=_amounts(delivered.extras, terms.digits),
            lines=lines[place],
            totals=totals[place],
            deposit=deposits[place],
        )
        for place, delivered in enumerate(deliveries)
    )


def order_totals(deliveries: Sequence[Delivered], terms: SaleTerms) -> DocumentTotals:
    """Return the totals of the whole order as one document, as a quote has them."""
    together = Delivered(
        tuple(line for delivered in deliveries for line in delivered.goods),
        tuple(line for delivered in deliveries for line in delivered.extras),
    )
    (invoice,) = invoices_of([together], terms)
    return invoice.totals


@with_working_precision
def discount_of(goods: Decimal, share: Decimal, digits: int = 2) -> Decimal:
    """Return a share of the goods, halves up."""
    return to_minor(goods * share, digits)


def over_rates(
    goods: Sequence[DocumentLine], amount: Decimal, digits: int
) -> tuple[DocumentLine, ...]:
    """Return an amount as a line of each tax rate of the goods, by their value."""
    if not amount:
        return ()
    values: dict[Decimal, Decimal] = {}
    for line in goods:
        values[line.tax_rate] = values.get(line.tax_rate, ZERO) + line_amount(line, digits)
    shares = share_out(amount, list(values.values()), digits)
    pairs = zip(values, shares, strict=True)
    return tuple(DocumentLine(share, tax_rate=rate) for rate, share in pairs if share)


def totals_of(lines: Sequence[DocumentLine], terms: SaleTerms) -> DocumentTotals:
    """Return the totals of lines by the order's terms."""
    return document_totals(
        lines,
        prices_include_tax=terms.prices_include_tax,
        per_line=terms.tax_per_line,
        digits=terms.digits,
    )


def _amounts(lines: Sequence[DocumentLine], digits: int) -> Decimal:
    return sum((line_amount(line, digits) for line in lines), ZERO)
