"""Rows of a quote -> its figures."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.kept_rows import NOTHING_LOADED
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.sheet_plans.services import PlanSheets, sheet_planner
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.orders.extras import Extra
from pricing.calc.orders.larger_orders import LargerOrder, larger_orders
from pricing.calc.orders.order import OrderCost, OrderedLine, refusals_of
from pricing.calc.orders.quote import (
    AskedPrice,
    QuotePrice,
    price_quote,
    refused_prices,
)
from pricing.calc.price.deposit_rule import sunk_in
from pricing.channels.inputs import channel_rates
from pricing.costs.inputs import materials_of_other_designs, workshop_rates
from pricing.costs.kept_orders import order_cost
from pricing.prices.inputs import PriceBook, item_of, price_at_quantity, price_book
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote, QuoteExtra, QuoteLine

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
    extras: tuple[Extra, ...] = ()


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


def load_for(
    quote: Quote, rows: Sequence[QuoteLine], known: Mapping[int, DesignVersion] = NOTHING_LOADED
) -> Loaded:
    """Load recipes, rates and terms; the number of queries does not grow with the lines.

    Versions that are `known`, by key, are not read again.
    """
    keys = {row.version_id for row in rows}
    versions = DesignVersion.objects.with_recipe().more_of(known, keys)
    channel = channel_rates(quote.channel)
    prices = PriceBook()
    if quote.channel is not None:
        prices = price_book(quote.channel, {row.design_id for row in rows})
    try:
        rates, problem = workshop_rates(quote.workshop), ""
    except Refusal as refusal:
        rates, problem = None, refusal.message
    return Loaded(rates, channel, versions, prices, problem, extras_of(quote))


def extras_of(quote: Quote) -> tuple[Extra, ...]:
    """Return the discounts and charges of a quote (one query)."""
    if not quote.pk:
        return ()
    return tuple(
        Extra(row.reason, row.kind == QuoteExtra.Kind.DISCOUNT, row.amount, row.share)
        for row in quote.extras.order_by("position", "pk")
    )


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
        problems = [QuoteProblem(0, "A quote needs at least one line. Add one.")]
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
        order = order_cost(lines, rates, plan_sheets)
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
            delivery_margin=quote.delivery_margin or ZERO,
            extras=loaded.extras,
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
        order = order_cost(lines, rates, plan_sheets)
        return price_quote(
            order,
            worked.asked_for(lines),
            worked.channel,
            rates,
            is_rush=quote.is_rush,
            delivery=quote.delivery,
            delivery_margin=quote.delivery_margin or ZERO,
            extras=worked.loaded.extras if worked.loaded else (),
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


def problems_in_words(worked: WorkedQuote) -> str:
    """Say everything that stands in the way of a price."""
    return " ".join(
        f"Line {problem.place}: {problem.message}" if problem.place else problem.message
        for problem in worked.problems
    )
