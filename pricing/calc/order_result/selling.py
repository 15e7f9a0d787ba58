"""An order's money: what it is sold for, its deposit, its invoices and what is still owed."""

from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.invoicing.credit_notes import credit_note
from pricing.calc.invoicing.invoices import (
    Delivered,
    Invoice,
    SaleTerms,
    discount_of,
    invoices_of,
    order_totals,
)
from pricing.calc.invoicing.payments import Account, account_of
from pricing.calc.order_result.order import Order, Sale
from pricing.calc.price.deposit_rule import DepositAdvice, advise_deposit
from pricing.calc.price.tax import DocumentLine, DocumentTotals, line_amount

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Sold:
    """Everything about an order's money; `cash` is what the packs to buy cost."""

    sale: Sale
    terms: SaleTerms
    goods: Decimal
    quote: DocumentTotals
    cash: Decimal
    cash_for_this_order: Decimal
    share_of_total: Decimal
    deposit: DepositAdvice
    invoices: tuple[Invoice, ...]
    credit: DocumentTotals | None
    account: Account


@with_working_precision
def sold(order: Order) -> Sold | None:
    """Return the money of an order, None where it has no price yet."""
    sale = order.sale
    if sale is None:
        return None
    deliveries = [
        Delivered(
            _goods(part.count, part.named, sale),
            (DocumentLine(sale.names_setup, tax_rate=sale.tax_rate),) if place == 0 else (),
        )
        for place, part in enumerate(order.parts)
    ]
    goods = sum((line_amount(line) for each in deliveries for line in each.goods), ZERO)
    terms = SaleTerms(
        discount=discount_of(goods, sale.discount_share),
        delivery=sale.delivery,
    )
    quote = order_totals(deliveries, terms)
    costs = [(material, material.to_buy.cost or ZERO) for material in order.materials]
    only = sum((cost for material, cost in costs if material.for_this_order_only), ZERO)
    deposit = advise_deposit(
        quote.gross,
        share=sale.deposit_share,
        step=sale.deposit_step,
        sunk=only + sale.names_setup,
        tax_rate=sale.tax_rate,
    )
    terms = replace(terms, deposit=deposit.deposit)
    invoices = invoices_of(deliveries, terms)
    credit = None
    if order.credit is not None:
        back = _goods(order.credit.items, order.credit.names, sale)
        credit = credit_note(back, sale.discount_share, terms).totals
    account = account_of(
        [invoice.totals.gross for invoice in invoices],
        [] if credit is None else [credit.gross],
        sale.payments,
        fee_share=sale.fee_share,
        fee_fixed=sale.fee_fixed,
    )
    return Sold(
        sale=sale,
        terms=terms,
        goods=goods,
        quote=quote,
        cash=sum((cost for _, cost in costs), ZERO),
        cash_for_this_order=only,
        share_of_total=quote.gross * sale.deposit_share,
        deposit=deposit,
        invoices=invoices,
        credit=credit,
        account=account,
    )


def _goods(items: int, names: int, sale: Sale) -> tuple[DocumentLine, ...]:
    return (
        DocumentLine(sale.price_each, Decimal(items), sale.tax_rate),
        DocumentLine(sale.price_of_name, Decimal(names), sale.tax_rate),
    )
