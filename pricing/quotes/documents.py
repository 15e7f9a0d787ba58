"""The one document of a quote that pages and PDFs are made from."""

import datetime
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from catalogue.calc.recipes.cautions import told
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.explanation import plain_text
from maker.calc.money import minor_digits, minor_unit, to_minor, up_to_step, with_working_precision
from maker.calc.units import format_percent
from maker.workshop.models import Workshop
from pricing.calc.orders.extras import ExtraAmount
from pricing.calc.orders.quote import (
    QuotedLine,
    QuotePrice,
)
from pricing.calc.price.fees import deposit_of
from pricing.quotes.dates import QuoteDates, count_for, dates_of, for_customer, for_herself
from pricing.quotes.inputs import (
    CannotBeWorkedOut,
    WorkedQuote,
    colourway_of,
    names_of,
    problems_in_words,
    work_out,
)
from pricing.quotes.models import Quote, QuoteLine
from pricing.quotes.others import OtherQuantity, others_of

ZERO = Decimal(0)
MINUTE_PLACES = 8
# how far an order is when it is cancelled
CANCEL_STAGES = ("before", "bought", "cut")


def quote_document(quote: Quote, today: datetime.date) -> dict[str, Any]:
    """Return all a quote says: for the customer in `public`, for herself in `own`.

    Amounts, shares and minutes are plain text, days are ISO 8601. A sent quote is read from what
    was frozen, a draft is worked out as of now. `state` is that of the model or "expired";
    `replaced_by` is the number of the revision that took its place. Refusal: CannotBeWorkedOut.
    `quote` comes from `with_people()`.
    """
    if quote.frozen:
        document = {key: value for key, value in quote.frozen.items() if key != "basis"}
    else:
        worked = work_out(quote)
        if worked.price is None and worked.lines:
            raise CannotBeWorkedOut(problems_in_words(worked))
        document = document_of(worked, today)
    needed_on = document["needed_on"]
    newer: Quote | None = getattr(quote, "replaced_by", None)
    is_replaced = quote.state == Quote.State.REPLACED
    return document | {
        "state": "expired" if quote.is_expired(today) else str(quote.state),
        "is_past": bool(needed_on) and needed_on < today.isoformat(),
        "replaced_by": newer.revision if newer and is_replaced else None,
    }


def document_of(
    worked: WorkedQuote, today: datetime.date, dates: QuoteDates | None = None
) -> dict[str, Any]:
    """Return the document of a draft that was worked out; without lines everything is nothing.

    Its dates are worked out here unless they are given (three queries).
    """
    quote, shop = worked.quote, worked.quote.workshop
    dates = dates or worked_dates(worked, today)
    customer = quote.customer
    return {
        "number": quote.number,
        "revision": quote.revision,
        "title": quote.title,
        "quoted_on": (quote.sent_on or today).isoformat(),
        "valid_until": quote.valid_until.isoformat() if quote.valid_until else None,
        "needed_on": quote.needed_on.isoformat() if quote.needed_on else None,
        "intro": quote.intro,
        "terms": quote.terms,
        "customer": {
            key: getattr(customer, key) for key in ("name", "contact", "address", "email")
        },
        "maker": {
            key: getattr(shop, key)
            for key in ("name", "maker_name", "address", "email", "phone", "website")
        },
        "currency": shop.currency,
        "locale": shop.locale,
        "unit": shop.unit,
        "tax_name": shop.tax_name,
        "tax_rate": _text(shop.tax_rate if shop.tax_registered else ZERO),
        "tax_registered": shop.tax_registered,
        "prices_include_tax": shop.prices_include_tax,
        "tax_per_line": shop.tax_rounding == Workshop.TaxRounding.LINE,
        "deposit_share": _text(_share_said(worked.price, minor_digits(shop.currency))),
        "cancel": {name: _text(getattr(shop, f"cancel_share_{name}")) for name in CANCEL_STAGES},
        "public": _public(worked, minor_digits(shop.currency)) | {"dates": for_customer(dates)},
        "own": _own(worked, minor_digits(shop.currency)) | {"dates": for_herself(dates)},
    }


def worked_dates(worked: WorkedQuote, today: datetime.date) -> QuoteDates | None:
    """Return the dates of a draft as of a day; None while it has no price (three queries)."""
    if worked.price is None:
        return None
    counted = count_for(worked.quote, today)
    return dates_of(worked.price.order, counted, today, worked.quote.needed_on)


def _share_said(price: QuotePrice | None, digits: int) -> Decimal:
    """Return the share a document says its deposit is; none where it covers more than that."""
    if price is None:
        return ZERO
    tier = price.terms.tier
    by_share = deposit_of(price.total, tier.deposit_share, tier.deposit_step, digits)
    return tier.deposit_share if price.deposit == by_share else ZERO


def deposit_share_said(document: Mapping[str, Any]) -> str:
    """Say what share of the total a document's deposit is, where it is one: ` of 40%`."""
    share = Decimal(document.get("deposit_share") or 0)
    if not share:
        return ""
    said = f" of {format_percent(share, document['locale'], 2)}"
    # where it goes up to a step, the share alone would not explain the amount
    public = document["public"]
    exact = to_minor(Decimal(public["total"]) * share, minor_digits(document["currency"]))
    return f"{said}, rounded up" if exact < Decimal(public["deposit"]) else said


def _text(value: Decimal, digits: int = 0) -> str:
    return plain_text(value, digits)


def _public(worked: WorkedQuote, digits: int) -> dict[str, Any]:
    price = worked.price

    def money(amount: Decimal) -> str:
        return _text(to_minor(amount, digits), digits)

    if price is None:
        nothing = money(ZERO)
        return {
            "lines": [],
            "delivery": None,
            "rush": worked.quote.is_rush,
            "rates": [],
            **dict.fromkeys(("net", "tax", "total", "deposit", "balance"), nothing),
        }
    others = others_of(worked)
    return {
        "lines": [
            _public_line(row, line, worked.versions[row.version_id], digits)
            | _others_said(others.get(place, ()), digits)
            for place, (row, line) in enumerate(zip(worked.lines, price.lines, strict=True))
        ],
        "delivery": money(price.delivery) if price.delivery else None,
        # said only where there are any, so that documents without them are as they always were
        **({"extras": [_extra(each, digits) for each in price.extras]} if price.extras else {}),
        "rush": worked.quote.is_rush,
        "net": money(price.totals.net),
        "tax": money(price.tax),
        "rates": [
            {"rate": _text(each.rate), "base": money(each.base), "tax": money(each.tax)}
            for each in price.totals.rates
        ],
        "total": money(price.total),
        "deposit": money(price.deposit),
        "balance": money(price.balance),
    }


def _others_said(others: Sequence[OtherQuantity], digits: int) -> dict[str, Any]:
    """Return other quantities of a line as the document keeps them, if there are any."""
    if not others:
        return {}
    return {
        "others": [
            {
                "quantity": each.quantity,
                "price_each": _text(each.price_each, digits),
                "amount": _text(to_minor(each.amount, digits), digits),
                "total": _text(to_minor(each.total, digits), digits),
            }
            for each in others
        ]
    }


def _extra(each: ExtraAmount, digits: int) -> dict[str, Any]:
    """Return a discount or charge as the document keeps it: the amount is never below zero."""
    share = each.extra.share
    return {
        "reason": each.extra.reason,
        "is_discount": each.extra.is_discount,
        "share": None if share is None else _text(share),
        "amount": _text(abs(each.amount), digits),
    }


def _public_line(
    row: QuoteLine, line: QuotedLine, version: DesignVersion, digits: int
) -> dict[str, Any]:
    design = version.design
    options = {option.key: option for option in line.cost.recipe.options}
    chosen = [
        (options[key], next(c for c in options[key].choices if c.key == choice))
        for key, choice in line.cost.answers.items()
    ]
    way = colourway_of(row, version)
    cautions = told(line.cost.recipe, line.cost.answers, line.cost.steps)
    return {
        "design": design.name,
        "code": design.code,
        "description": row.description,
        "choices": [f"{option.name}: {choice.name}" for option, choice in chosen],
        "colourway": way.name if way else "",
        "finished_size": version.finished_size,
        "quantity": row.quantity,
        "names": names_of(row.names),
        "price_each": _text(line.price_each, digits),
        "amount": _text(line.amount, digits),
        "caution": "\n".join(cautions),
        "drawing": drawing_of(version, way, line.cost.answers),
    }


def drawing_of(
    version: DesignVersion, colourway: Colourway | None, choices: Mapping[str, str]
) -> str:
    """Return the item in its card as an SVG of its own, empty when nothing is cut."""
    item = item_of(version, colourway=colourway, choices=choices, is_page=False)
    picture = item_picture(item, name="i", width=300.0, height=240.0)
    return str(picture.svg) if picture else ""


@with_working_precision
def _own(worked: WorkedQuote, digits: int) -> dict[str, Any]:
    price = worked.price
    if price is None:
        return {
            **dict.fromkeys(("cost", "floor", "profit", "fees", "minutes"), "0"),
            "margin": None,
            "per_hour": None,
            "lines": [],
        }

    def whole(amount: Decimal) -> str:
        # a floor is rounded up: below it she would pay to work
        return _text(up_to_step(amount, minor_unit(digits)), digits)

    return {
        "cost": _text(price.cost, digits),
        "floor": whole(price.floor),
        "profit": _text(price.profit, digits),
        "margin": _maybe(price.margin),
        "per_hour": _maybe(price.per_hour),
        "minutes": _text(price.minutes),
        "fees": _text(price.fees, digits),
        "lines": [
            {
                "cost": _text(line.cost.cost, digits),
                "floor_each": whole(line.price.floor_each),
                "target_each": None
                if line.target_each is None
                else _text(line.target_each, digits),
                "margin": _maybe(line.price.margin),
                "per_hour": _maybe(line.price.per_hour),
                "minutes": _text(line.cost.minutes),
            }
            for line in price.lines
        ],
    }


def _maybe(value: Decimal | None) -> str | None:
    return None if value is None else _text(value)


def extras_said(public: Mapping[str, Any], locale: str) -> list[tuple[str, Decimal]]:
    """Return each discount and charge of a quote or an invoice: label, and amount with its sign."""
    said = []
    for each in public.get("extras") or ():
        share = f" of {format_percent(Decimal(each['share']), locale, 2)}" if each["share"] else ""
        amount = Decimal(each["amount"])
        if each["is_discount"]:
            said.append((f"Discount{share}: {each['reason']}", -amount))
        else:
            said.append((f"{each['reason']}{share}", amount))
    return said


def discount_in(public: Mapping[str, Any]) -> Decimal:
    """Return what is taken off the goods, not below zero."""
    rows = public.get("extras") or ()
    return sum((Decimal(each["amount"]) for each in rows if each["is_discount"]), ZERO)


def deposit_in(public: Mapping[str, Any]) -> Decimal:
    """Return what is to be paid before the work begins."""
    return Decimal(public["deposit"] or 0)


def minutes_in(own: Mapping[str, Any]) -> Decimal:
    """Return the minutes at the bench, to so many decimals as are kept."""
    return round(Decimal(own["minutes"] or 0), MINUTE_PLACES)


def charges_in(public: Mapping[str, Any]) -> Decimal:
    """Return what is charged beside the goods and their delivery."""
    rows = public.get("extras") or ()
    return sum((Decimal(each["amount"]) for each in rows if not each["is_discount"]), ZERO)


def cautions_of(public: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return each caution of a quote once, with the designs it is about; one of a line is a row.

    Quotes sent before they had rows say all of a line in one.
    """
    said: dict[str, list[str]] = {}
    for line in public["lines"]:
        for caution in filter(None, (line.get("caution") or "").split("\n")):
            said.setdefault(caution, []).append(line["design"])
    return [(", ".join(dict.fromkeys(designs)), caution) for caution, designs in said.items()]
