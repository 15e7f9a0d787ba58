"""What the buyers of a job pay: each sale is a document of its own, in whole coins.

Twelve bags sold one by one at a fair are twelve payments, each with its fee rounded by itself;
the same bags ordered by one buyer are one sale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.explanation import Line, sum_line
from maker.calc.money import to_minor, with_working_precision
from maker.calc.sums import money, number, say, share
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.deposit_rule import deposit_for
from pricing.calc.price.fees import fees_of, payments_for
from pricing.calc.price.tax import DocumentLine, DocumentTotals, document_totals
from pricing.calc.price.terms import Terms

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Sale:
    """One buyer's purchase of so many items, and how many buyers do the same.

    Money is of one of them: `totals` with delivery, `net` of the goods alone. `payments` are what
    is paid when, `payment_fees` the fee of each, `listing` and `commission` what else is taken.
    """

    items: int
    times: int
    totals: DocumentTotals
    net: Decimal
    deposit: Decimal
    payments: tuple[Decimal, ...]
    payment_fees: tuple[Decimal, ...]
    listing: Decimal
    commission: Decimal

    @property
    def fees(self) -> Decimal:
        """What selling takes from one of them."""
        return sum(self.payment_fees, self.listing + self.commission)


@with_working_precision
def sales_at(
    price_each: Decimal, quantity: int, terms: Terms, rates: WorkshopRates
) -> tuple[Sale, ...]:
    """Return the sales of a job at a price of one, as shown.

    As many as are bought at once in each; who comes last takes what is left.
    """
    full, left = divmod(quantity, terms.bought_at_once)
    sales = [_sale(price_each, terms.bought_at_once, full, terms, rates)] if full else []
    if left:
        sales.append(_sale(price_each, left, 1, terms, rates))
    return tuple(sales)


def _sale(price_each: Decimal, items: int, times: int, terms: Terms, rates: WorkshopRates) -> Sale:
    tier, digits = terms.tier, rates.currency_digits
    lines = [DocumentLine(price_each, Decimal(items), terms.tax_rate)]
    if terms.delivery:
        shown_delivery = terms.delivery_gross if rates.prices_include_tax else terms.delivery
        lines.append(DocumentLine(shown_delivery, tax_rate=terms.tax_rate))
    totals = document_totals(
        lines,
        prices_include_tax=rates.prices_include_tax,
        per_line=rates.tax_per_line,
        digits=digits,
    )
    net = totals.net - terms.delivery
    deposit = deposit_for(totals.gross, terms, digits)
    payments = payments_for(totals.gross, deposit, terms.payments, digits)
    return Sale(
        items=items,
        times=times,
        totals=totals,
        net=net,
        deposit=deposit,
        payments=payments,
        payment_fees=fees_of(payments, tier.fee_share, tier.fixed_fee, digits),
        listing=to_minor(terms.listing_fee * items, digits),
        commission=to_minor(net * terms.commission_share, digits),
    )


def total_of(sales: Sequence[Sale], amounts: Sequence[Decimal]) -> Decimal:
    """Return an amount of each sale, over all who buy so."""
    return sum((sale.times * amount for sale, amount in zip(sales, amounts, strict=True)), ZERO)


def fees_line(sales: Sequence[Sale], terms: Terms) -> Line:
    """Return what selling costs: each payment's fee by itself, listing fees, commission."""
    tier = terms.tier
    lines = []
    for sale in sales:
        buyers = "" if len(sales) == sale.times == 1 else _say_buyers(sale)
        for place, (payment, fee) in enumerate(
            zip(sale.payments, sale.payment_fees, strict=True), 1
        ):
            how = (money(payment) * share(tier.fee_share) + money(tier.fixed_fee)).then("rounded")
            if sale.times > 1:
                how = say("{} x ({})", number(sale.times), how)
            label = f"fee of payment {place}{buyers}"
            lines.append(Line(label, sale.times * fee, "money", how))
    if terms.listing_fee:
        listing = total_of(sales, [sale.listing for sale in sales])
        lines.append(Line("listing fees", listing, "money"))
    label = "payment fees"
    if terms.commission_share:
        label = "payment fees and commission"
        commission = total_of(sales, [sale.commission for sale in sales])
        net = total_of(sales, [sale.net for sale in sales])
        apart = "rounded per buyer" if terms.sales > 1 else "rounded"
        how = (money(net) * share(terms.commission_share)).then(apart)
        lines.append(Line("commission", commission, "money", how, "p.commission"))
    return sum_line(label, lines, unit="money", key="p.fee", how="each rounded on its own")


def _say_buyers(sale: Sale) -> str:
    buyers = "1 buyer" if sale.times == 1 else f"{sale.times} buyers"
    return f", {buyers} of {sale.items}"
