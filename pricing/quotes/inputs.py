"""Rows of a quote -> its figures, and the one document that pages and PDFs are made from."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string

from catalogue.calc.recipes.cautions import told
from catalogue.recipes.drawing import draw_blanks
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.explanation import plain_text
from maker.calc.money import minor_digits, minor_unit, to_minor, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.orders.larger_orders import LargerOrder, larger_orders
from pricing.calc.orders.order import OrderCost, OrderedLine, cost_of_order, refusals_of
from pricing.calc.orders.quote import (
    AskedPrice,
    QuotedLine,
    QuotePrice,
    price_quote,
    refused_prices,
)
from pricing.calc.price.deposit_rule import sunk_in
from pricing.calc.price.fees import deposit_of
from pricing.channels.inputs import channel_rates
from pricing.costs.inputs import materials_of_other_designs, workshop_rates
from pricing.prices.inputs import PriceBook, item_of, price_at_quantity, price_book
from pricing.prices.models import PriceListEntry
from pricing.quotes.dates import QuoteDates, count_for, dates_of, for_customer, for_herself
from pricing.quotes.models import Quote, QuoteLine

ZERO = Decimal(0)


class ColourwayGone(Refusal):
    """The recipe has lost the colourway a line asks for."""


class CannotBeWorkedOut(Refusal):
    """A line or the whole has no price; the words say which and why."""


@dataclass(frozen=True, slots=True)
class QuoteProblem:
    """Why a line (by its place from 1, or 0 for the whole) has no price."""

    place: int
    message: str


@dataclass(frozen=True, slots=True)
class Loaded:
    """What drafts of one quote are worked out with; `rates` is None while `problem` says why."""

    rates: WorkshopRates | None
    channel: ChannelRates
    versions: Mapping[int, DesignVersion]
    prices: PriceBook
    problem: str = ""


@dataclass(frozen=True, slots=True)
class WorkedQuote:
    """A draft with its figures as of now; `price` is None while there are problems."""

    quote: Quote
    lines: tuple[QuoteLine, ...]
    versions: Mapping[int, DesignVersion]
    rates: WorkshopRates | None
    channel: ChannelRates
    price: QuotePrice | None
    problems: tuple[QuoteProblem, ...]
    ordered: tuple[OrderedLine, ...] = ()
    loaded: Loaded | None = None

    def asked_for(self, ordered: Sequence[OrderedLine]) -> list[AskedPrice]:
        """Return what is asked for each line when so many are ordered."""
        if self.loaded is None:
            return [AskedPrice(row.price_asked) for row in self.lines]
        return asked_prices(
            self.quote, self.lines, [line.ask.quantity for line in ordered], self.loaded
        )


def names_of(text: str) -> list[str]:
    """Return the names of a line, one to a row, empty rows left out."""
    return [name for name in (row.strip() for row in text.splitlines()) if name]


def ask_of(line: QuoteLine) -> Ask:
    """Return what a line asks for."""
    names = names_of(line.names)
    return Ask(
        quantity=line.quantity,
        choices=tuple(sorted(line.choices.items())),
        names=len(names) if names else None,
        # who orders buys all of it, wherever it is sold
        bought_at_once=line.quantity,
    )


def colourway_of(line: QuoteLine, version: DesignVersion) -> Colourway | None:
    """Return the colourway from the loaded version. Refusal: ColourwayGone."""
    if not line.colourway_name and line.colourway_id is None:
        return None
    for way in version.colourways.all():
        if way.pk == line.colourway_id:
            return way
    raise ColourwayGone(
        f"The recipe of “{version.design}” has no colourway “{line.colourway_name}” any more. "
        "Choose another.",
        where="colourway",
    )


def ordered_line(line: QuoteLine, version: DesignVersion) -> OrderedLine:
    """Return a line as a part of its order; `version` comes from `with_recipe()`.

    Lines of one recipe version are a group. Refusal: ColourwayGone.
    """
    colourway = colourway_of(line, version)
    recipe = recipe_values(version, version.design.workshop, colourway=colourway)
    return OrderedLine(recipe, ask_of(line), group=line.version_id)


def load_for(quote: Quote, rows: Sequence[QuoteLine]) -> Loaded:
    """Load recipes, rates and terms; the number of queries does not grow with the lines."""
    versions = DesignVersion.objects.with_recipe().in_bulk({row.version_id for row in rows})
    channel = channel_rates(quote.channel)
    prices = PriceBook()
    if quote.channel is not None:
        prices = price_book(quote.channel, {row.design_id for row in rows})
    try:
        return Loaded(workshop_rates(quote.workshop), channel, versions, prices)
    except Refusal as refusal:
        return Loaded(None, channel, versions, prices, refusal.message)


def work_out(
    quote: Quote,
    lines: Sequence[QuoteLine] | None = None,
    *,
    loaded: Loaded | None = None,
    plan_sheets: PlanSheets | None = None,
) -> WorkedQuote:
    """Work a draft out as of now, as one order; `quote` comes from `with_people()`.

    The number of queries does not grow with the lines. Nothing is refused: what cannot be
    worked out is told as problems. Sheets may take seconds to plan, so call it outside a
    transaction.
    """
    rows = tuple(quote.lines.kept() if lines is None else lines)
    loaded = loaded or load_for(quote, rows)
    price: QuotePrice | None = None
    ordered: dict[int, OrderedLine] = {}
    if loaded.rates is None:
        problems = [QuoteProblem(0, loaded.problem)]
    elif not rows:
        problems = [QuoteProblem(0, "A quote needs at least one line. Add a design to it.")]
    else:
        problems = []
        for place, row in enumerate(rows):
            try:
                ordered[place] = ordered_line(row, loaded.versions[row.version_id])
            except Refusal as refusal:
                problems.append(QuoteProblem(place + 1, refusal.message))
        price, more = _priced(quote, rows, ordered, loaded, plan_sheets or sheet_planner())
        problems = sorted([*problems, *more], key=lambda problem: problem.place)
    return WorkedQuote(
        quote,
        rows,
        loaded.versions,
        loaded.rates,
        loaded.channel,
        None if problems else price,
        tuple(problems),
        tuple(ordered.values()),
        loaded,
    )


def _priced(
    quote: Quote,
    rows: Sequence[QuoteLine],
    ordered: Mapping[int, OrderedLine],
    loaded: Loaded,
    plan_sheets: PlanSheets,
) -> tuple[QuotePrice | None, list[QuoteProblem]]:
    """Return the price of the lines that can be read, or what is in the way, told by its line."""
    places, lines = list(ordered), list(ordered.values())
    if not lines or loaded.rates is None:
        return None, []
    there = [rows[place] for place in places]
    asked = asked_prices(quote, there, [row.quantity for row in there], loaded)
    channel, rates = loaded.channel, loaded.rates
    try:
        order = cost_of_order(lines, rates, plan_sheets)
    except Refusal as refusal:
        return None, _told(places, refusals_of(lines, rates), refusal)
    try:
        price = price_quote(
            order,
            asked,
            channel,
            rates,
            is_rush=quote.is_rush,
            delivery=quote.delivery,
            deposit_share=quote.deposit_share,
            sunk=_sunk(quote.workshop, rows, order, rates),
        )
    except Refusal as refusal:
        return None, _told(places, refused_prices(order, asked, channel, rates), refusal)
    return price, []


def asked_prices(
    quote: Quote, rows: Sequence[QuoteLine], quantities: Sequence[int], loaded: Loaded
) -> list[AskedPrice]:
    """Return what is asked for one item of each line, with what the price list says of it.

    The list's price is that of the item for as many as there are of its design in the whole order.
    The list knows no rush, so a rush order is worked out.
    """
    of_design: dict[int, int] = {}
    for row, quantity in zip(rows, quantities, strict=True):
        of_design[row.design_id] = of_design.get(row.design_id, 0) + quantity
    asked = []
    for row in rows:
        listed: list[PriceListEntry] = []
        if not quote.is_rush:
            version = loaded.versions[row.version_id]
            item = item_of(version, row.colourway_name, row.choices)
            listed = loaded.prices.prices_of(version, item)
        holds = price_at_quantity(listed, of_design[row.design_id])
        starts = tuple(entry.bought_at_once for entry in listed)
        asked.append(AskedPrice(row.price_asked, holds.price if holds else None, starts))
    return asked


def larger_for_less(worked: WorkedQuote, plan_sheets: PlanSheets) -> tuple[LargerOrder, ...]:
    """Return where more of a design would lower the total; a few more orders are worked out."""
    price, rates = worked.price, worked.rates
    if price is None or rates is None:
        return ()
    quote = worked.quote
    asked = worked.asked_for(worked.ordered)

    def price_of(lines: Sequence[OrderedLine]) -> QuotePrice:
        order = cost_of_order(lines, rates, plan_sheets)
        return price_quote(
            order,
            worked.asked_for(lines),
            worked.channel,
            rates,
            is_rush=quote.is_rush,
            delivery=quote.delivery,
            deposit_share=quote.deposit_share,
        )

    return larger_orders(worked.ordered, asked, price, worked.channel, price_of)


def _told(
    places: Sequence[int], found: Mapping[int, Refusal], whole: Refusal
) -> list[QuoteProblem]:
    told = [QuoteProblem(places[line] + 1, refusal.message) for line, refusal in found.items()]
    return told or [QuoteProblem(0, whole.message)]


def _sunk(
    workshop: Workshop, rows: Sequence[QuoteLine], order: OrderCost, rates: WorkshopRates
) -> Decimal:
    """Return what the deposit must cover; nothing where it is the share alone."""
    if workshop.deposit_rule != Workshop.DepositRule.COVER:
        return ZERO
    elsewhere = materials_of_other_designs(workshop, [row.design_id for row in rows])
    return sunk_in(order, elsewhere, rates)


def _share_said(price: QuotePrice | None, digits: int) -> Decimal:
    """Return the share a document says its deposit is; none where it covers more than that."""
    if price is None:
        return ZERO
    tier = price.terms.tier
    by_share = deposit_of(price.total, tier.deposit_share, tier.deposit_step, digits)
    return tier.deposit_share if price.deposit == by_share else ZERO


def newer_versions(worked: WorkedQuote) -> dict[int, int]:
    """Return line id -> number of the newest version, for lines that ask for an older one."""
    designs = {row.design_id for row in worked.lines}
    newest: dict[int, int] = {}
    rows = DesignVersion.objects.filter(design__in=designs).values_list("design_id", "number")
    for design_pk, number in rows:
        newest[design_pk] = max(number, newest.get(design_pk, 0))
    return {
        row.pk: newest[row.design_id]
        for row in worked.lines
        if newest[row.design_id] > worked.versions[row.version_id].number
    }


def cautions_of(public: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return each caution of a quote once, with the designs it is about; one of a line is a row.

    Quotes sent before they had rows say all of a line in one.
    """
    said: dict[str, list[str]] = {}
    for line in public["lines"]:
        for caution in filter(None, (line.get("caution") or "").split("\n")):
            said.setdefault(caution, []).append(line["design"])
    return [(", ".join(dict.fromkeys(designs)), caution) for caution, designs in said.items()]


def problems_in_words(worked: WorkedQuote) -> str:
    """Say everything that stands in the way of a price."""
    return " ".join(
        f"Line {problem.place}: {problem.message}" if problem.place else problem.message
        for problem in worked.problems
    )


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
        "public": _public(worked, minor_digits(shop.currency)) | {"dates": for_customer(dates)},
        "own": _own(worked, minor_digits(shop.currency)) | {"dates": for_herself(dates)},
    }


def worked_dates(worked: WorkedQuote, today: datetime.date) -> QuoteDates | None:
    """Return the dates of a draft as of a day; None while it has no price (three queries)."""
    if worked.price is None:
        return None
    counted = count_for(worked.quote, today)
    return dates_of(worked.price.order, counted, today, worked.quote.needed_on)


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
    return {
        "lines": [
            _public_line(row, line, worked.versions[row.version_id], digits)
            for row, line in zip(worked.lines, price.lines, strict=True)
        ],
        "delivery": money(price.delivery) if price.delivery else None,
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
        "drawing": drawing_of(version),
    }


def drawing_of(version: DesignVersion) -> str:
    """Return the pieces of a version as an SVG of its own, empty when there are none."""
    drawing = draw_blanks(version.pieces.all())
    if not drawing.blanks:
        return ""
    return render_to_string("pricing/quotes/_drawing.svg", {"drawing": drawing}).strip()


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
