"""Receipts, ledgers, invoices and fairs of exact days -> the sums a tax year is told in."""

import datetime
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.models import PurchaseLine
from catalogue.stock.inputs import ledger_state
from maker.calc.money import minor_digits, to_minor
from maker.exact_sums import Millionths, from_millionths
from maker.kept import Kept, as_stored
from maker.workshop.models import Workshop
from pricing.calc.fairs.settling import Settled
from pricing.calc.finished_stock.replay import replay
from pricing.calc.finished_stock.worth import NOTHING, Worth
from pricing.calc.finished_stock.would_fetch import MadeValue, fetches_each
from pricing.calc.spending.spend import Moves, Reconciliation, reconcile
from pricing.calc.spending.tax_year import TaxYear, tax_year, tax_year_of
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.consignment.inputs import settled
from pricing.consignment.models import Settlement
from pricing.fairs.models import FairDay, FairSale
from pricing.finished_stock.inputs import batch_values, movement_values
from pricing.finished_stock.models import (
    BatchMaterial,
    FinishedBatch,
    FinishedItem,
    FinishedMove,
    item_name,
)
from pricing.orders.models import Invoice
from pricing.prices.inputs import item_of, price_books
from pricing.spending.inputs import (
    Narrowed,
    Shelf,
    moved_between,
    moves_by_month,
    shelf_between,
)
from pricing.tax_year.raw_stock import RawStock

ZERO = Decimal(0)
EVERYTHING = Narrowed()


def year_of(workshop: Workshop, year: int) -> TaxYear:
    """Return the tax year of a workshop that starts in a year."""
    return tax_year(year, workshop.tax_year_month, workshop.tax_year_day)


def year_now(workshop: Workshop, today: datetime.date) -> TaxYear:
    """Return the tax year that runs."""
    return tax_year_of(today, workshop.tax_year_month, workshop.tax_year_day)


def spent_by(workshop: Workshop, year: TaxYear, column: str) -> dict[str, Decimal]:
    """Return what recorded receipts of a year cost by a column, the most first (one query)."""
    rows = (
        PurchaseLine.objects.of(workshop)
        .recorded()
        .between(year.first, year.last)
        .values_list(column)
        .annotate(sum=models.Sum(Millionths("landed")))
        .order_by()
    )
    found = {str(key): from_millionths(sum_) for key, sum_ in rows}
    return dict(sorted(found.items(), key=lambda each: (-each[1], each[0])))


def expenses_by_category(workshop: Workshop, year: TaxYear) -> dict[str, Decimal]:
    """Return what was spent besides supplies, by category (one query)."""
    rows = (
        Expense.objects.of(workshop)
        .counted()
        .between(year.first, year.last)
        .values_list("category")
        .annotate(sum=models.Sum(Millionths("cost")))
        .order_by()
    )
    sums = {category: from_millionths(sum_) for category, sum_ in rows}
    return dict(sorted(sums.items(), key=lambda each: (-each[1], each[0])))


@dataclass(frozen=True, slots=True)
class YearBooks:
    """Spent, moved and in stock of a year to the day, and whether it adds up."""

    by_category: Mapping[str, Decimal]
    moves: Moves
    reconciliation: Reconciliation
    below_nothing: tuple[str, ...]

    @property
    def spent(self) -> Decimal:
        """What receipts cost."""
        return sum(self.by_category.values(), ZERO)


# of workshops and years
_MOVED: Kept[tuple[Moves, Shelf]] = Kept(16)


def _moved_content(workshop: Workshop, year: TaxYear) -> Hashable:
    """Return all that moves and stock of a year follow from (three queries)."""
    materials = Material.objects.of(workshop).order_by("pk").values_list("pk", "name", "category")
    return year, as_stored(materials), *ledger_state(workshop)


def _moved_in(workshop: Workshop, year: TaxYear) -> tuple[Moves, Shelf]:
    moved = moved_between(workshop, year.first, year.last, EVERYTHING)
    moves = sum(moves_by_month(moved).values(), Moves())
    return moves, shelf_between(workshop, year.first, year.last, EVERYTHING)


def books_of(workshop: Workshop, year: TaxYear) -> YearBooks:
    """Read receipts, ledger and values kept with materials apart, so that they can disagree."""
    by_category = spent_by(workshop, year, "material__category")
    moves, shelf = _MOVED.result_of(
        lambda: _moved_content(workshop, year), lambda: _moved_in(workshop, year)
    )
    return YearBooks(
        by_category=by_category,
        moves=moves,
        reconciliation=reconcile(
            opening=shelf.opening,
            spent=sum(by_category.values(), ZERO),
            moves=moves,
            closing=shelf.closing,
            digits=minor_digits(workshop.currency),
        ),
        below_nothing=shelf.below_nothing,
    )


@dataclass(frozen=True, slots=True)
class FinishedStock:
    """Finished items of one kind at the year's end, with what they cost in all."""

    name: str
    quantity: int
    worth: Worth
    made: MadeValue


class _WouldFetch:
    """What items would fetch each, by the first channel whose list has a price for one of them."""

    def __init__(self, workshop: Workshop, items: Iterable[FinishedItem]) -> None:
        designs = {item.design_id for item in items}
        channels = Channel.objects.of(workshop).in_use().with_tiers().in_order() if designs else ()
        books = price_books(channels, designs)
        self.books = [(channel_rates(one), books[one.pk]) for one in channels if one.pk in books]
        self.digits = minor_digits(workshop.currency)

    def each(self, item: FinishedItem) -> Decimal | None:
        """Return what one brings; None where no list has a price for it."""
        # a price that names no colourway is that of each without one of its own
        asked = [item_of(item.version, name, item.choices) for name in (item.colourway_name, "")]
        for rates, book in self.books:
            found = [entry for one in asked if (entry := book.price_for(item.version, one, 1))]
            if found:
                return fetches_each(
                    found[0].price,
                    rates,
                    tax_rate=found[0].tax_rate,
                    includes_tax=found[0].includes_tax,
                    digits=self.digits,
                )
        return None

    def made(self, item: FinishedItem, quantity: int, materials: Decimal) -> MadeValue:
        """Return what so many cost and would fetch, in whole coins: lines add up to the total."""
        each = self.each(item)
        cost = to_minor(materials, self.digits)
        return MadeValue(cost, None if each is None else each * quantity)


def finished_stock(workshop: Workshop, on: datetime.date) -> list[FinishedStock]:
    """Return the finished items that were there at the end of a day, wherever they lay."""
    moves: dict[int, list[FinishedMove]] = {}
    for move in FinishedMove.objects.of(workshop).standing().until(on).in_ledger_order():
        moves.setdefault(move.item_id, []).append(move)
    batches: dict[int, list[FinishedBatch]] = {}
    for batch in FinishedBatch.objects.of(workshop).filter(item__in=moves):
        batches.setdefault(batch.item_id, []).append(batch)
    found = []
    items = list(FinishedItem.objects.of(workshop).filter(pk__in=moves).with_names().in_order())
    fetch = _WouldFetch(workshop, items)
    for item in items:
        state = replay(
            [movement_values(move) for move in moves[item.pk]],
            batch_values(batches.get(item.pk, [])),
        )
        layers = [layer for place in state.places.values() for layer in place]
        quantity = sum(layer.count for layer in layers)
        if quantity:
            worth = sum((layer.worth for layer in layers), NOTHING)
            made = fetch.made(item, quantity, worth.material)
            found.append(FinishedStock(item_name(item), quantity, worth, made))
    return found


@dataclass(frozen=True, slots=True)
class HalfMade:
    """A batch that was begun and not finished: how many, and what its materials cost.

    `made` says what the finished items would fetch, before the work that is left.
    """

    name: str
    planned: int
    started_on: datetime.date
    materials: Decimal
    made: MadeValue


def half_made(workshop: Workshop, on: datetime.date) -> list[HalfMade]:
    """Return the batches that were under way at the end of a day."""
    under_way = models.Q(made_on__isnull=True) | models.Q(made_on__gt=on)
    batches = list(
        FinishedBatch.objects.of(workshop)
        .standing()
        .filter(under_way, kind=FinishedBatch.Kind.MADE, started_on__lte=on)
        .order_by("started_on", "pk")
    )
    if not batches:
        return []
    under_way_items = FinishedItem.objects.of(workshop).with_names()
    items = under_way_items.in_bulk({one.item_id for one in batches})
    fetch = _WouldFetch(workshop, items.values())
    sums: dict[int, Decimal] = {}
    rows = BatchMaterial.objects.filter(batch__in=batches, entry__moved_on__lte=on)
    for key, change, cost in rows.values_list("batch_id", "entry__change", "entry__unit_cost"):
        sums[key] = sums.get(key, ZERO) - change * (cost or ZERO)
    found = []
    for one in batches:
        item, materials = items[one.item_id], sums.get(one.pk, ZERO)
        made = fetch.made(item, one.planned, materials)
        found.append(HalfMade(item_name(item), one.planned, one.started_on, materials, made))
    return found


@dataclass(frozen=True, slots=True)
class StockTotal:
    """What stock is worth at a year's end, and how much below cost: its parts and all of it."""

    materials: Decimal
    half_made: Decimal
    finished: Decimal
    written_down: Decimal

    @property
    def value(self) -> Decimal:
        """All parts together."""
        return self.materials + self.half_made + self.finished


def stock_total(
    raw: Iterable[RawStock], half: Iterable[HalfMade], finished: Iterable[FinishedStock]
) -> StockTotal:
    """Add up the lines of stock at the end of a year."""
    worth = [row.worth for row in raw]
    begun, made = [row.made for row in half], [row.made for row in finished]
    return StockTotal(
        materials=sum((one.value for one in worth), ZERO),
        half_made=sum((one.value for one in begun), ZERO),
        finished=sum((one.value for one in made), ZERO),
        written_down=sum((one.written_down for one in worth), ZERO)
        + sum((one.written_down for one in (*begun, *made)), ZERO),
    )


@dataclass(frozen=True, slots=True)
class Sale:
    """What was sold on a day: net and tax at one rate; below zero it was credited.

    `rate` is None where nothing says which tax is in it: what fairs and shops took.
    """

    on: datetime.date
    number: str
    source: str
    rate: Decimal | None
    net: Decimal
    tax: Decimal


def sales_of(workshop: Workshop, year: TaxYear) -> list[Sale]:
    """Return invoices and credit notes by rate, each day at a fair, and what shops sold."""
    found = []
    issued = {"issued_on__gte": year.first, "issued_on__lte": year.last}
    for invoice in Invoice.objects.of(workshop).filter(**issued).in_order():
        sign = -1 if invoice.kind == Invoice.Kind.CREDIT else 1
        for row in invoice.document.get("rates", ()):
            net, tax = abs(Decimal(row["base"])) * sign, abs(Decimal(row["tax"])) * sign
            source = invoice.get_kind_display()
            rate = Decimal(row["rate"])
            found.append(Sale(invoice.issued_on, invoice.number, source, rate, net, tax))
    taken: dict[tuple[datetime.date, str], Decimal] = {}
    sales = FairSale.objects.filter(
        day__fair__workshop=workshop,
        day__held_on__gte=year.first,
        day__held_on__lte=year.last,
        undone_at__isnull=True,
    ).exclude(kind=FairSale.Kind.ORDER)
    for on, name, received, payments in sales.values_list(
        "day__held_on", "day__fair__name", "received", "payments"
    ):
        key = (on, name)
        taken[key] = taken.get(key, ZERO) + received * payments
    found += [
        Sale(on, name, "taken at a fair", None, amount, ZERO)
        for (on, name), amount in sorted(taken.items())
    ]
    found += [
        Sale(row.settled_on, str(row.shop), "sold by a shop", None, worked.taken, ZERO)
        for row, worked in settlements_of(workshop, year)
    ]
    return sorted(found, key=lambda sale: (sale.on, sale.number))


def settlements_of(workshop: Workshop, year: TaxYear) -> list[tuple[Settlement, Settled]]:
    """Return what shops settled, with what each took, keeps and owes (two queries)."""
    rows = Settlement.objects.of(workshop).standing().between(year.first, year.last)
    return [(row, settled(row, workshop)) for row in rows.in_order()]


def tills_of(workshop: Workshop, year: TaxYear) -> list[tuple[datetime.date, str, Decimal, str]]:
    """Return days at fairs whose till was booked as over or short: fair, amount, reason (one
    query).
    """
    days = FairDay.objects.of(workshop).filter(
        held_on__gte=year.first, held_on__lte=year.last, till_difference__isnull=False
    )
    return [
        (row.held_on, str(row.fair), row.till_difference, row.till_reason)
        for row in days.with_fair().in_order()
        if row.till_difference
    ]


@dataclass(frozen=True, slots=True)
class RateSum:
    """Sales of one rate in one period."""

    period: TaxYear
    rate: Decimal | None
    net: Decimal
    tax: Decimal


def by_rate(sales: Iterable[Sale], periods: Iterable[TaxYear]) -> list[RateSum]:
    """Add up sales by period and rate; what fairs and shops took last."""
    rows = list(sales)
    found = []
    for period in periods:
        mine = [sale for sale in rows if period.holds(sale.on)]
        rates = sorted({sale.rate for sale in mine if sale.rate is not None})
        for rate in [*rates, *([None] if any(sale.rate is None for sale in mine) else [])]:
            same = [sale for sale in mine if sale.rate == rate]
            net, tax = sum((one.net for one in same), ZERO), sum((one.tax for one in same), ZERO)
            found.append(RateSum(period, rate, net, tax))
    return found
