"""What the pages of a quote show: figures for herself, lines, totals, and how they came about."""

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import reverse

from catalogue.calc.recipes.recipe import Basis
from maker.calc.amounts import unit_word
from maker.calc.dates import say_date
from maker.calc.money import format_money, minor_digits, minor_unit, to_minor, up_to_step
from maker.calc.sums import Write, told
from maker.calc.units import format_number, format_percent
from maker.web.words import sum_writer
from maker.workshop.models import Workshop
from pricing.calc.orders.larger_orders import LargerOrder
from pricing.calc.orders.order import LineCost
from pricing.calc.orders.quote import QuotedLine, QuotePrice
from pricing.calc.papers.choices import tells_something
from pricing.calc.schedule.ready import say_minutes
from pricing.costs.drawing import CostFigure, ShownLine, links_for, shown
from pricing.quotes.dates import QuoteDates
from pricing.quotes.documents import deposit_share_said, discount_in, extras_said
from pricing.quotes.inputs import WorkedQuote, names_of, newer_versions
from pricing.quotes.models import Quote

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Words:
    """Writes figures of a document in the currency and the way it was made in."""

    currency: str
    locale: str

    def money(self, amount: Any, extra_digits: int = 0) -> str:
        """Write an amount given as text or number; an en dash for none."""
        if amount is None:
            return "–"
        return format_money(Decimal(amount), self.currency, self.locale, extra_digits)

    def signed_money(self, amount: Decimal) -> str:
        """Write an amount that may be below zero, with a true minus."""
        return self.signed(amount) if amount < 0 else self.money(amount)

    def signed(self, amount: Decimal, extra_digits: int = 0) -> str:
        """Write a change with its sign."""
        sign = "+" if amount > 0 else "−" if amount < 0 else "±"
        return sign + self.money(abs(amount), extra_digits)

    def lowest(self, amount: Any) -> str:
        """Write a lowest price, up to the next coin: asking what is written is not below it."""
        coin = minor_unit(minor_digits(self.currency))
        return self.money(up_to_step(Decimal(amount), coin))

    def price(self, amount: Any) -> str:
        """Write a price of one, with all its decimals when it is finer than the currency."""
        number = Decimal(amount)
        is_whole = number == to_minor(number, minor_digits(self.currency))
        return self.money(number, 0 if is_whole else 4)

    @property
    def in_sums(self) -> Write:
        """What writes the numbers of a sum."""
        return sum_writer(self.currency, self.locale)

    def percent(self, share: Any) -> str:
        """Write a share as a percentage."""
        return "–" if share is None else format_percent(Decimal(share), self.locale)

    def number(self, value: Any, decimals: int = 0) -> str:
        """Write a number."""
        return format_number(Decimal(value), self.locale, decimals)


def own_figures(document: Mapping[str, Any], *, is_sent: bool = False) -> list[CostFigure]:
    """Return what she wants to know before she agrees: for the screen, never for the customer.

    The dates of a quote that `is_sent` are those of the day it was sent.
    """
    words = Words(document["currency"], document["locale"])
    own, public = document["own"], document["public"]
    hours = Decimal(own["minutes"]) / 60
    fees = f"after {words.money(own['fees'])} fees" if Decimal(own["fees"]) else "no fees"
    return [
        CostFigure("Total", words.money(public["total"]), note="what the customer pays", main=True),
        CostFigure(
            "Lowest price", words.lowest(own["floor"]), note="wage and bills paid, no profit"
        ),
        CostFigure("You earn per hour", words.money(own["per_hour"]), note="wage and profit"),
        CostFigure("Margin", words.percent(own["margin"]), note="of the goods before tax"),
        CostFigure("Profit", words.money(own["profit"]), note=fees),
        CostFigure("Time", words.number(hours, 1), "h", note="hands-on"),
        *_date_figures(document, "as sent, " if is_sent else ""),
    ]


def _date_figures(document: Mapping[str, Any], when: str) -> list[CostFigure]:
    """Return the last date to accept and the earliest there is; older quotes have none."""
    dates = document["own"].get("dates")
    if not dates:
        return []
    figures = []
    if document["needed_on"]:
        last = _said(dates["yes_by"], year=False) or "too late"
        needed = _said(document["needed_on"])
        figures.append(CostFigure("Last date to accept", last, note=f"{when}for {needed}"))
    if dates["earliest_on"]:
        note = f"{when}if accepted {_said(document['quoted_on'])}"
        earliest = _said(dates["earliest_on"], year=False)
        figures.append(CostFigure("Earliest date", earliest, note=note))
    return figures


def _said(on: str | None, *, year: bool = True) -> str:
    return say_date(datetime.date.fromisoformat(on), year=year) if on else ""


def is_below_floor(document: Mapping[str, Any]) -> bool:
    """Whether the total is less than what pays wage and bills."""
    return Decimal(document["public"]["total"]) < Decimal(document["own"]["floor"])


def lines_below_lowest(document: Mapping[str, Any]) -> list[str]:
    """Say of each line whose price is below its lowest price, by which line it is.

    A discount on the whole comes off each line by its amount.
    """
    words = Words(document["currency"], document["locale"])
    said = []
    goods = sum((Decimal(line["amount"]) for line in document["public"]["lines"]), ZERO)
    kept = 1 - discount_in(document["public"]) / goods if goods else Decimal(1)
    pairs = zip(document["public"]["lines"], document["own"]["lines"], strict=True)
    for place, (line, own) in enumerate(pairs, 1):
        floor = Decimal(own["floor_each"])
        if Decimal(line["price_each"]) < floor:
            said.append(
                f"Line {place}, {line['design']}: {words.price(line['price_each'])} each is below "
                f"its lowest price of {words.lowest(floor)}."
            )
        elif Decimal(line["price_each"]) * kept < floor:
            left = Decimal(line["price_each"]) * kept
            said.append(
                f"Line {place}, {line['design']}: less the discount, {words.money(left)} "
                f"each is below its lowest price of {words.lowest(floor)}."
            )
    return said


def line_rows(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the lines as a table shows them, her own figures beside the customer's."""
    words = Words(document["currency"], document["locale"])
    rows = []
    for place, (said, own) in enumerate(
        zip(document["public"]["lines"], document["own"]["lines"], strict=True), 1
    ):
        floor, each = Decimal(own["floor_each"]), Decimal(said["price_each"])
        target = own["target_each"]
        rows.append(
            said
            | {
                "place": place,
                "quantity_text": words.number(said["quantity"]),
                "each_text": words.price(said["price_each"]),
                "amount_text": words.money(said["amount"]),
                "floor_text": words.lowest(floor),
                "is_below_floor": each < floor,
                "is_named": target is None or Decimal(target) != each,
                "target_text": words.money(target),
                "margin_text": words.percent(own["margin"]),
                "hour_text": words.money(own["per_hour"]),
                "names_count": len(said["names"]),
                "others_text": [
                    f"For {words.number(each['quantity'])}: {words.price(each['price_each'])} "
                    f"each, quote total {words.money(each['total'])}"
                    for each in said.get("others") or ()
                ],
                "choices": list(filter(tells_something, said["choices"])),
                "colourway": said["colourway"] if tells_something(said["colourway"]) else "",
            }
        )
    return rows


def total_rows(document: Mapping[str, Any]) -> list[tuple[str, str, bool]]:
    """Return the rows below the lines: label, amount, and whether it is the total."""
    rows, public = rows_to_total(document), document["public"]
    if Decimal(public["deposit"]):
        words = Words(document["currency"], document["locale"])
        label = f"Deposit{deposit_share_said(document)}, on acceptance"
        rows.append((label, words.money(public["deposit"]), False))
        rows.append(("Balance", words.money(public["balance"]), False))
    return rows


def rows_to_total(document: Mapping[str, Any]) -> list[tuple[str, str, bool]]:
    """Return what lies between the lines and the total, and the total."""
    words = Words(document["currency"], document["locale"])
    public = document["public"]
    rows = [
        (label, words.signed_money(amount), False)
        for label, amount in extras_said(public, words.locale)
    ]
    if public["delivery"] is not None:
        rows.append(("Delivery", words.money(public["delivery"]), False))
    taxes = []
    if document["tax_registered"]:
        name = document["tax_name"] or "tax"
        taxes = [
            (
                f"{name} {format_percent(Decimal(rate['rate']), words.locale, 2)} on "
                f"{words.money(rate['base'])}",
                words.money(rate["tax"]),
                False,
            )
            for rate in public["rates"]
        ]
    total = ("Total", words.money(public["total"]), True)
    if document["prices_include_tax"]:
        rows += [total, *((f"of which {label}", amount, no) for label, amount, no in taxes)]
    else:
        if taxes:
            rows.append(("Before tax", words.money(public["net"]), False))
        rows += [*taxes, total]
    return rows


def live_tree(worked: WorkedQuote) -> ShownLine | None:
    """Return how a draft's figures come about, each open to the receipt or timing behind it."""
    if worked.price is None:
        return None
    workshop = worked.quote.workshop
    recipe_url = ""
    if len(worked.versions) == 1:
        version = next(iter(worked.versions.values()))
        recipe_url = reverse(
            "catalogue:recipe", args=[workshop.slug, version.design_id, version.number]
        )
    link = links_for(workshop, recipe_url, [worked.price.explanation])
    return shown(worked.price.explanation, workshop, link)


def frozen_tree(quote: Quote) -> ShownLine | None:
    """Return how the figures of a sent quote came about on the day it was sent."""
    basis = quote.frozen.get("basis", {})
    if "explanation" not in basis:
        return None
    words = Words(quote.frozen["currency"], quote.frozen["locale"])
    return _frozen_line(basis["explanation"], words)


def _frozen_line(line: Mapping[str, Any], words: Words) -> ShownLine:
    text, unit = str(line["value"]), line["unit"]
    if unit == "money":
        small = abs(Decimal(text)) < 1 and Decimal(text) != 0
        text, unit = words.money(text, 4 if small else 0), ""
    elif unit == "share":
        text, unit = format_percent(Decimal(text), words.locale, 2), ""
    elif unit == "factor":
        text, unit = words.number(text, 4), ""
    elif unit and unit != "date":
        text, unit = words.number(text, 2), unit_word(unit, Decimal(text))
    elif re.fullmatch(r"-?\d+\.\d+", text):
        text = words.number(text, 4)
    return ShownLine(
        label=line["label"],
        how=told(line.get("said", line["how"]), words.in_sums),
        value_text=text,
        unit=unit,
        href="",
        lines=tuple(_frozen_line(each, words) for each in line["lines"]),
    )


def cautions_for_her(
    worked: WorkedQuote, dates: QuoteDates | None, today: datetime.date
) -> list[str]:
    """Say what she should look at before a draft is sent; none of it stops her."""
    quote, said = worked.quote, []
    newer = newer_versions(worked)
    for place, row in enumerate(worked.lines, 1):
        design = worked.versions[row.version_id].design
        if design.retired_on:
            said.append(f"Line {place}: “{design}” has since been archived.")
        if row.pk in newer:
            said.append(
                f"Line {place}: “{design}” now has version {newer[row.pk]}. Open the line to "
                "update it."
            )
        if worked.price is not None:
            note = names_note(worked.price.lines[place - 1].cost, len(names_of(row.names)))
            if note:
                said.append(f"Line {place}: {note}")
    if quote.customer.retired_on:
        said.append(f"“{quote.customer}” has since been archived.")
    if not quote.delivery and quote.drops.filter(carrier=None, minutes=None).exists():
        said.append(
            "Delivery costs nothing so far. Enter your time or a carrier under “Edit delivery”, "
            "or 0 if it is free."
        )
    if quote.valid_until and quote.valid_until < today:
        said.append("The quote has expired. Choose a later date before you send it.")
    if dates and dates.needed_on:
        said += date_cautions(dates, quote.valid_until)
    return said


def date_cautions(dates: QuoteDates, valid_until: datetime.date | None) -> list[str]:
    """Say when the date needed cannot be met, or only by an answer while it is still valid."""
    if dates.needed_on is None:
        return []
    needed = say_date(dates.needed_on)
    if dates.yes_by is None:
        earliest = ""
        if dates.arrives_on:
            earliest = f" The earliest date is {say_date(dates.arrives_on)}, if accepted today."
        late = "has passed" if dates.needed_on < dates.on else "can no longer be met"
        left = dates.latest.promised_left if dates.latest else 0
        other = f" {say_minutes(left)} promised earlier wouldn't fit." if left else ""
        return [
            f"{needed} {late}: {dates.why}.{other}{earliest} Agree a later date, fewer items or "
            "a part delivery."
        ]
    if valid_until and valid_until > dates.yes_by:
        return [
            f"For {needed} it must be accepted by {say_date(dates.yes_by)}, before it expires on "
            f"{say_date(valid_until)}. The PDF says so. What takes the time: {dates.why}."
        ]
    return []


def late_notes(document: Mapping[str, Any], today: datetime.date) -> list[str]:
    """Say when a quote still waits for its answer and its date can no longer be met."""
    dates, needed_on = document["own"].get("dates"), document["needed_on"]
    if document["state"] != Quote.State.SENT or not needed_on or not dates:
        return []
    if document["is_past"]:
        return [f"It was needed on {_said(needed_on)}. Agree a new date before you accept it."]
    if dates["yes_by"] and dates["yes_by"] >= today.isoformat():
        return []
    by = f": the last date to accept was {_said(dates['yes_by'])}" if dates["yes_by"] else ""
    return [f"{_said(needed_on)} can no longer be met{by}. Agree a new date."]


def moved_total(quote: Quote, total: Decimal) -> str:
    """Say when a draft's total is not what it was when it was last looked at; else empty."""
    is_seen = quote.is_draft and quote.seen_edit == quote.edit_number
    if not is_seen or quote.seen_total == total:
        return ""
    words = Words(quote.workshop.currency, quote.workshop.locale)
    if quote.seen_total is None:
        return (
            "Quote lines now share sheets, set-up and practice. "
            f"This draft's total may have changed. It is {words.money(total)}."
        )
    return (
        f"It was {words.money(quote.seen_total)} when you last looked. It is now "
        f"{words.money(total)}, because costs, recipes, rates or terms changed."
    )


def names_note(cost: LineCost, typed: int) -> str:
    """Say where the names typed do not go with a line: too few, or left out by what was chosen."""
    if typed and not cost.takes_names:
        left_out = _what_leaves_names_out(cost)
        return (
            f"{typed} name{'' if typed == 1 else 's'} entered, but {left_out}. They won't be made "
            "and aren't in the price."
        )
    if typed and typed < cost.quantity:
        return f"{typed} names for {cost.quantity} items. {cost.quantity - typed} are missing."
    if cost.takes_names and not typed:
        return f"The price includes {cost.names} names. None entered yet."
    return ""


def _what_leaves_names_out(cost: LineCost) -> str:
    """Return the choice without which a row for names would hold, in words."""
    conditions = [
        *(row.when for row in cost.recipe.fixings if row.basis is Basis.NAME),
        *(row.when for row in cost.recipe.steps if row.basis is Basis.NAME),
    ]
    for option in cost.recipe.options:
        chosen = cost.answers.get(option.key)
        for when in conditions:
            wanted = when.only_with and when.only_with[0] == option.key
            refused = when.not_with == (option.key, chosen)
            if refused or (wanted and when.only_with != (option.key, chosen)):
                name = next(each.name for each in option.choices if each.key == chosen)
                return f"“{option.name}: {name}” is chosen"
    return "nothing in the recipe is counted per name"


def offer_words(larger: Sequence[LargerOrder], workshop: Workshop) -> list[str]:
    """Say where more of a design cost less in all."""
    words = Words(workshop.currency, workshop.locale)
    return [
        f"{words.number(each.quantity)} “{each.design}” cost less in total than "
        f"{words.number(each.asked)}: {words.money(each.total)} instead of "
        f"{words.money(each.asked_total)}. Offer {words.number(each.quantity)}?"
        for each in larger
    ]


def price_words(line: QuotedLine, words: Words) -> str:
    """Say where a line's price is from, and what the list and the sums say where they differ."""
    is_listed = line.price_each == line.listed_each
    is_worked_out = line.price_each == line.target_each
    said = ["price list" if is_listed else "suggested" if is_worked_out else "your price"]
    if line.listed_each is not None and not is_listed:
        said.append(f"price list {words.price(line.listed_each)}")
    if line.target_each is not None and not is_worked_out:
        said.append(f"suggested {words.money(line.target_each)}")
    return "; ".join(said)


def line_figures(line: QuotedLine, workshop: Workshop) -> list[CostFigure]:
    """Return the figures of one line while she types."""
    words = Words(workshop.currency, workshop.locale)
    price = line.price
    return [
        CostFigure(
            "Price each", words.price(line.price_each), note=price_words(line, words), main=True
        ),
        CostFigure(
            "Line total", words.money(line.amount), note=f"for {words.number(price.quantity)}"
        ),
        CostFigure("Lowest price", words.lowest(price.floor_each), note="each, no profit"),
        CostFigure("You earn per hour", words.money(price.per_hour), note="wage and profit"),
        CostFigure("Margin", words.percent(price.margin)),
        CostFigure("Time", words.number(line.cost.minutes / 60, 1), "h"),
    ]


def step_rows(
    priced: Mapping[int, QuotePrice],
    dates: Mapping[int, QuoteDates | None],
    place: int,
    workshop: Workshop,
    asked: int,
) -> list[dict[str, Any]]:
    """Return the line at `place` at other quantities, and whether it is the one asked for."""
    words = Words(workshop.currency, workshop.locale)
    rows = []
    for quantity, price in priced.items():
        line, ready = price.lines[place], dates[quantity]
        rows.append(
            {
                "quantity": quantity,
                "is_asked": quantity == asked,
                "each": words.money(line.price_each),
                "amount": words.money(line.amount),
                "hour": words.money(line.price.per_hour),
                "ready_on": say_date(ready.ready.on) if ready and ready.ready.on else "–",
            }
        )
    return rows


def cheaper_in_all(priced: Mapping[int, QuotePrice], workshop: Workshop, asked: int) -> str:
    """Say when the quote costs no more with a larger quantity; empty when it does."""
    if asked not in priced:
        return ""
    total = priced[asked].total
    words = Words(workshop.currency, workshop.locale)
    better = [(price.total, many) for many, price in priced.items() if many > asked]
    amount, many = min(better, default=(ZERO, 0))
    if not many or amount > total:
        return ""
    less = "less" if amount < total else "no more"
    return (
        f"{many} cost {less} in total than {asked}: {words.money(amount)} instead of "
        f"{words.money(total)}. Offer {many}?"
    )
