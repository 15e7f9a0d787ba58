"""Credit notes: goods and charges of an invoice taken back, kept as they were issued.

A note's document is like an invoice's (`pricing.orders.invoicing`). Each of its `extras` says of
which of the invoice's it is, by `place`.
"""

import datetime
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.db import transaction

from maker.calc.explanation import plain_text
from maker.calc.money import format_money, with_working_precision
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.invoicing.cancelling import owed_after_credit
from pricing.calc.invoicing.credit_notes import Credited, TaxInParts, credit_note
from pricing.calc.price.tax import DocumentLine, TaxOfRate
from pricing.orders.inputs import sale_terms, tax_rate_of
from pricing.orders.invoicing import (
    AlreadyInvoiced,
    amount_of_line,
    document_head,
    invoiced_on,
    refuse_earlier,
    said_amounts,
    sum_said,
)
from pricing.orders.models import Invoice, Order
from pricing.orders.services import NotPossibleNow, locked, restage
from pricing.quotes.numbers import next_number

ZERO = Decimal(0)
SERIES, PREFIX = "credit", "C"
DELIVERY = "delivery"
NO_CHARGES: Mapping[str, Decimal] = MappingProxyType({})


class BadCredit(Refusal):
    """A credit note that cannot be meant."""


@dataclass(frozen=True, slots=True)
class ChargeLeft:
    """A charge of an invoice and what of it was not credited yet, both as priced.

    `place` is that among the invoice's extras; the delivery charge has none.
    """

    key: str
    reason: str
    left: Decimal
    place: int | None = None


@transaction.atomic
def issue_credit_note(
    *,
    invoice: Invoice,
    counts: Mapping[int, int],
    reason: str,
    on: datetime.date,
    today: datetime.date,
    charges: Mapping[str, Decimal] = NO_CHARGES,
    form_key: uuid.UUID | None = None,
) -> Invoice:
    """Credit goods of an invoice at its prices, and what it charged beside them.

    `counts` are by key of the quote's line, `charges` as priced by key of `charges_left`. Refusals:
    BadCredit for nothing or more than was invoiced and not credited yet, AlreadyInvoiced for a
    second click, NotPossibleNow for a date that cannot be.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=invoice.order.workshop.pk)
    held = locked(invoice.order)
    if form_key and Invoice.objects.filter(form_key=form_key).exists():
        raise AlreadyInvoiced("This credit note is issued already.")
    if invoice.kind != Invoice.Kind.INVOICE:
        raise BadCredit("Only an invoice can be credited.")
    if on > today:
        raise NotPossibleNow("That date is in the future.", where="issued_on")
    refuse_earlier(held, on)
    _refuse_more(invoice, counts, charges)
    document = document_head(held) | {
        "number": next_number(held.workshop, SERIES, PREFIX, on),
        "invoice": invoice.number,
        "reason": reason,
        "issued_on": on.isoformat(),
        "due_on": None,
        **_credited(held, invoice, counts, charges),
    }
    total = Decimal(document["total"])
    made = Invoice.objects.create(
        order=held,
        kind=Invoice.Kind.CREDIT,
        credits=invoice,
        number=document["number"],
        issued_on=on,
        document=document,
        total=total,
        to_pay=total,
        form_key=form_key,
    )
    if held.state == Order.State.CANCELLED:
        _owe_less(held, total)
    restage(held)
    return made


def _refuse_more(
    invoice: Invoice, counts: Mapping[int, int], charges: Mapping[str, Decimal]
) -> None:
    left = left_to_credit(invoice)
    for line in invoice.document["lines"]:
        if counts.get(line["line"], 0) > left[line["line"]]:
            raise BadCredit(
                f"At most {left[line['line']]} of {line['design']} can still be credited."
            )
    document = invoice.document
    for charge in charges_left(invoice):
        if charges.get(charge.key, ZERO) > charge.left:
            most = format_money(charge.left, document["currency"], document["locale"])
            raise BadCredit(f"At most {most} can still be credited.", where=charge.key)
    wanted = [*map(Decimal, counts.values()), *charges.values()]
    if not any(wanted) or min(wanted) < 0:
        raise BadCredit("Enter what to credit.")


def _credited(
    order: Order, invoice: Invoice, counts: Mapping[int, int], charges: Mapping[str, Decimal]
) -> dict[str, Any]:
    """Return lines, charges and amounts of a credit note."""
    frozen, earlier = order.quote.frozen, list(invoice.credit_notes.all())
    terms, rate = sale_terms(frozen), tax_rate_of(frozen)
    wanted = [line for line in invoice.document["lines"] if counts.get(line["line"])]
    charged = [each for each in charges_left(invoice) if charges.get(each.key)]
    note = credit_note(
        [
            DocumentLine(Decimal(line["price_each"]), Decimal(counts[line["line"]]), rate)
            for line in wanted
        ],
        discount_share(invoice),
        terms,
        Credited(sum_said(earlier, "goods"), sum_said(earlier, "discount")),
        [DocumentLine(charges[each.key], tax_rate=rate) for each in charged],
        TaxInParts(
            {each.rate: each.tax for each in _rates_in(invoice)},
            [each for note in earlier for each in _rates_in(note)],
            is_rest=_is_rest(invoice, counts, charges),
        ),
    )
    digits = terms.digits
    amounts = said_amounts(note.totals, digits)
    return {
        "lines": [
            line
            | {
                "quantity": counts[line["line"]],
                "amount": amount_of_line(Decimal(line["price_each"]), counts[line["line"]], digits),
            }
            for line in wanted
        ],
        "goods": plain_text(note.goods, digits),
        "discount": plain_text(note.discount, digits),
        "extras": [
            {
                "reason": each.reason,
                "is_discount": False,
                "share": None,
                "amount": plain_text(charges[each.key], digits),
                "place": each.place,
            }
            for each in charged
            if each.place is not None
        ],
        "delivery": plain_text(charges.get(DELIVERY, ZERO), digits),
        "deposit": plain_text(ZERO, digits),
        "to_pay": amounts["total"],
        **amounts,
    }


def _is_rest(invoice: Invoice, counts: Mapping[int, int], charges: Mapping[str, Decimal]) -> bool:
    """Whether nothing of an invoice is left to be credited after this."""
    goods = all(counts.get(key, 0) == left for key, left in left_to_credit(invoice).items())
    return goods and all(charges.get(each.key, ZERO) == each.left for each in charges_left(invoice))


def _rates_in(invoice: Invoice) -> list[TaxOfRate]:
    return [
        TaxOfRate(*(Decimal(row[key]) for key in ("rate", "base", "tax")))
        for row in invoice.document["rates"]
    ]


def _owe_less(order: Order, credit: Decimal) -> None:
    """Lower what a cancelled order owes by a credit note that was just issued."""
    invoiced = invoiced_on(order) + credit
    order.cancel_owed = owed_after_credit(order.cancel_owed or ZERO, invoiced, credit)
    order.save(update_fields=["cancel_owed"])


@with_working_precision
def discount_share(invoice: Invoice) -> Decimal:
    """Return the part of its goods an invoice takes off."""
    goods = Decimal(invoice.document["goods"])
    return Decimal(invoice.document.get("discount") or 0) / goods if goods else ZERO


def left_to_credit(invoice: Invoice) -> dict[int, int]:
    """Return how many of each line were invoiced and not credited yet."""
    left = {line["line"]: line["quantity"] for line in invoice.document["lines"]}
    for note in invoice.credit_notes.all():
        for line in note.document["lines"]:
            left[line["line"]] -= line["quantity"]
    return left


def charges_left(invoice: Invoice) -> list[ChargeLeft]:
    """Return what an invoice charged beside its goods: each extra, then the delivery."""
    document = invoice.document
    extras = document.get("extras") or ()
    left = [Decimal(each["amount"]) for each in extras]
    delivery = Decimal(document["delivery"])
    for note in invoice.credit_notes.all():
        delivery -= Decimal(note.document["delivery"])
        for each in note.document.get("extras") or ():
            left[each["place"]] -= Decimal(each["amount"])
    found = [
        ChargeLeft(f"extra_{place}", each["reason"], left[place], place)
        for place, each in enumerate(extras)
    ]
    if Decimal(document["delivery"]):
        found.append(ChargeLeft(DELIVERY, "Delivery", delivery))
    return found
