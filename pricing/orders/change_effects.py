"""What a change of an order does to its price, needs, minutes and dates.

The document of a change says for the customer `lines`, `less`, `fees` where there are any,
`total_before`, `total_after`, `total_change` and the dates; what only the maker may know is under
`own`.
"""

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from catalogue.materials.models import Material
from maker.calc.explanation import plain_text
from maker.calc.money import minor_digits
from maker.calc.refusal import Refusal
from pricing.calc.invoicing.invoices import order_totals
from pricing.orders.change_fees import Fee, fee_effects, fees_in, fees_of
from pricing.orders.inputs import goods_of, lines_now, price_of, sale_terms
from pricing.orders.models import Invoice, Order, OrderChange, OrderDeliveryLine
from pricing.orders.services import needed
from pricing.quotes.dates import count_for, dates_of
from pricing.quotes.inputs import WorkedQuote, names_of, problems_in_words, work_out
from pricing.quotes.models import Quote, QuoteLine

ZERO = Decimal(0)


class BadChange(Refusal):
    """A change that cannot be meant, or that the order does not allow any more."""


@dataclass(frozen=True, slots=True)
class Less:
    """Fewer of a line that was ordered."""

    line: QuoteLine
    quantity: int


@dataclass(frozen=True, slots=True)
class WorkedChange:
    """A change with its effects as of now; totals are with tax.

    Minutes, needs and dates are None or empty where the order cannot be worked out today, and
    `problem` says why.
    """

    change: OrderChange
    lines: tuple[QuoteLine, ...]
    less: tuple[Less, ...]
    fees: tuple[Fee, ...]
    total_before: Decimal
    total_after: Decimal
    minutes: Decimal | None
    needs: Mapping[int, Decimal]
    earliest_before: datetime.date | None
    earliest_on: datetime.date | None
    problem: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing changes."""
        return not (self.lines or self.less or self.fees or self.change.due_on)

    @property
    def total_change(self) -> Decimal:
        """Return what it adds to the total; below zero it takes off."""
        return self.total_after - self.total_before


def work_out_change(change: OrderChange, today: datetime.date) -> WorkedChange:
    """Return a draft's effects as of now; sheets may take seconds to plan.

    `change` comes with its order from `with_people()`. Refusals: BadChange when an extra item has
    neither a price nor one that can be worked out.
    """
    order = change.order
    quote = Quote.objects.with_people().get(pk=order.quote_id)
    before, own = lines_now(order), list(change.lines.select_related("design").order_by("position"))
    fewer = {row.line_id: row.quantity for row in change.less.all()}
    after = _after(before, fewer)
    left = [*after, *own]
    if not left:
        raise BadChange("Nothing would be left of the order. Cancel the order instead.")
    was = work_out(quote, _priced(before))
    will = work_out(quote, _priced([*after, *own]))
    _price_lines(own, will, len(after))
    terms, fees = sale_terms(quote.frozen), fee_effects(change)
    total_after = _invoiced_whole(order, left)
    if total_after is None:
        charged = fees_in(fees_of(order)) + fees_in(fees)
        total_after = order_totals([goods_of(left, quote.frozen, charged)], terms).gross
    minutes, problem = None, ""
    needs: dict[int, Decimal] = {}
    earliest_before = earliest_on = None
    if was.price and will.price:
        minutes = will.price.minutes - was.price.minutes
        old, new = needed(was), needed(will)
        needs = {key: new.get(key, ZERO) - old.get(key, ZERO) for key in {**old, **new}}
        counted = count_for(quote, today)
        first = dates_of(was.price.order, counted, today)
        then = dates_of(will.price.order, counted, today)
        earliest_before = first.arrives_on if first else None
        earliest_on = then.arrives_on if then else None
    else:
        problem = problems_in_words(will if will.price is None else was)
    by_key = {line.pk: line for line in before}
    return WorkedChange(
        change,
        tuple(own),
        tuple(Less(by_key[key], count) for key, count in fewer.items() if key in by_key),
        tuple(fees),
        order.total,
        total_after,
        minutes,
        {key: amount for key, amount in needs.items() if amount},
        earliest_before,
        earliest_on,
        problem,
    )


def _invoiced_whole(order: Order, left: Sequence[QuoteLine]) -> Decimal | None:
    """Return what the invoices come to where nothing else is left of the order (two queries).

    No invoice follows that could take the rest of the discount, or charge that of the delivery.
    """
    issued = order.invoices.filter(kind=Invoice.Kind.INVOICE)
    lines = OrderDeliveryLine.objects.filter(delivery__invoice__in=issued.values("pk"))
    invoiced = lines.aggregate(count=Sum("quantity"))["count"]
    if invoiced is None or invoiced < sum(line.quantity for line in left):
        return None
    return sum(issued.values_list("total", flat=True), ZERO)


def _after(before: Sequence[QuoteLine], fewer: Mapping[int, int]) -> list[QuoteLine]:
    """Return what is left of the lines: copies, as they came."""
    left = []
    for line in before:
        count = line.quantity - fewer.get(line.pk, 0)
        if count < 0:
            raise BadChange(f"Only {line.quantity} of {line.design} are ordered.")
        if count:
            kept = QuoteLine(
                pk=line.pk,
                quote_id=line.quote_id,
                design=line.design,
                version_id=line.version_id,
                colourway_id=line.colourway_id,
                colourway_name=line.colourway_name,
                choices=line.choices,
                quantity=count,
                names="\n".join(names_of(line.names)[:count]),
                frozen=line.frozen,
            )
            left.append(kept)
    return left


def _priced(lines: Sequence[QuoteLine]) -> list[QuoteLine]:
    """Let each line ask for the price that was accepted, so that only new ones are worked out."""
    for line in lines:
        if line.frozen:
            line.price_asked = price_of(line)
    return list(lines)


def _price_lines(own: Sequence[QuoteLine], worked: WorkedQuote, first: int) -> None:
    """Give each line of the change its price, in memory."""
    for place, line in enumerate(own, first):
        each = line.price_asked
        if each is None:
            if worked.price is None:
                words = problems_in_words(worked)
                raise BadChange(f"Enter a price for {line.design}. {words}")
            each = worked.price.lines[place].price_each
        digits = minor_digits(worked.quote.frozen["currency"])
        line.frozen = {
            "price_each": plain_text(each, digits),
            "amount": plain_text(each * line.quantity, digits),
            "choices": _choices(worked, place),
        }


def _choices(worked: WorkedQuote, place: int) -> list[str]:
    if worked.price is None:
        return []
    cost = worked.price.lines[place].cost
    options = {option.key: option for option in cost.recipe.options}
    return [
        f"{options[key].name}: {choice.name}"
        for key, chosen in cost.answers.items()
        for choice in options[key].choices
        if choice.key == chosen
    ]


def document_of_change(worked: WorkedChange) -> dict[str, Any]:
    order = worked.change.order
    digits = minor_digits(order.quote.frozen["currency"])

    def said(line: QuoteLine, quantity: int) -> dict[str, Any]:
        return {
            "design": line.design.name,
            "colourway": line.colourway_name,
            "description": line.description,
            "quantity": quantity,
            "names": len(names_of(line.names)),
            "price_each": plain_text(price_of(line), digits),
            "amount": plain_text(price_of(line) * quantity, digits),
        }

    names = dict(Material.objects.filter(pk__in=worked.needs).values_list("pk", "name"))
    return {
        "lines": [said(line, line.quantity) for line in worked.lines],
        "less": [said(row.line, row.quantity) for row in worked.less],
        # said only where there are any
        **({"fees": [_fee(fee, digits) for fee in worked.fees]} if worked.fees else {}),
        "total_before": plain_text(worked.total_before, digits),
        "total_after": plain_text(worked.total_after, digits),
        "total_change": plain_text(worked.total_change, digits),
        "due_before": _iso(order.due_on),
        "due_on": _iso(worked.change.due_on or order.due_on),
        "note": worked.change.note,
        "own": {
            "minutes": None if worked.minutes is None else plain_text(worked.minutes),
            "needs": {names[key]: plain_text(amount) for key, amount in worked.needs.items()},
            "earliest_before": _iso(worked.earliest_before),
            "earliest_on": _iso(worked.earliest_on),
        },
    }


def _fee(fee: Fee, digits: int) -> dict[str, Any]:
    return {"reason": fee.reason, "amount": plain_text(fee.amount, digits)}


def _iso(on: datetime.date | None) -> str | None:
    return on.isoformat() if on else None


def day_of(text: str | None) -> datetime.date | None:
    """Return a date of a document."""
    return datetime.date.fromisoformat(text) if text else None


def said_of(document: Mapping[str, Any], money: Callable[[Any], str]) -> dict[str, Any]:
    """Return all a change says to the customer, ready to be shown; nothing of the maker's own."""

    def rows(key: str, sign: int) -> list[dict[str, Any]]:
        return [
            {
                "design": line["design"],
                "colourway": line["colourway"],
                "description": line["description"],
                "names": line["names"],
                "quantity": f"{'+' if sign > 0 else '−'}{line['quantity']}",
                "price_each": money(line["price_each"]),
                "amount": money(sign * Decimal(line["amount"])),
            }
            for line in document[key]
        ]

    return {
        "rows": [*rows("less", -1), *rows("lines", 1)],
        "fees": [
            {"reason": fee["reason"], "amount": money(fee["amount"])}
            for fee in document.get("fees") or ()
        ],
        "total_before": money(document["total_before"]),
        "total_after": money(document["total_after"]),
        "total_change": money(document["total_change"]),
        "due_before": day_of(document["due_before"]),
        "due_on": day_of(document["due_on"]),
        "note": document["note"],
    }
