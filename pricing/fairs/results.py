"""What a fair came to, from its rows: days, season, items, hours of the clock, differences.

The sums are those of `pricing.calc.fairs`; nothing here asks the database once `load` has.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db import models

from maker.calc.money import minor_digits, to_minor, with_working_precision
from maker.workshop.models import Workshop
from pricing.calc.fairs.fair_day import DayCosts, FairDay, amount_of, day_of, in_whole_units
from pricing.calc.fairs.must_take import SoldMix
from pricing.calc.fairs.season import FairOutcome, Season, season_of
from pricing.calc.fairs.visitors import HiddenDemand, NobodyYet, hidden_demand
from pricing.calc.fairs.what_to_take import OneMore, one_more_of
from pricing.calc.price.fees import fee_of
from pricing.costs.inputs import workshop_rates
from pricing.fairs.inputs import (
    Paid,
    coins_of,
    day_at_table,
    day_costs,
    fair_item,
    fair_rates,
    hours_open,
    item_costs,
    key_of,
    local_time,
    lost_counts,
    orders_gains,
    visitor_curve,
    with_everything,
)
from pricing.fairs.models import Fair, FairDesign, FairSale
from pricing.fairs.models import FairDay as DayRow
from pricing.fairs.sold import Days, Sold, SoldLine, sold_at

ZERO, ONE = Decimal(0), Decimal(1)
# the money of what could not be booked counts, and is of no item
_NO_ITEM = ""
_PAID_KINDS = (FairSale.Kind.SALE, FairSale.Kind.REFUND, FairSale.Kind.SWAP)


@dataclass(frozen=True, slots=True)
class SoldOutItem:
    """An item that ran out on a day, what was asked for unseen, and the gain that lost."""

    day: DayRow
    item: FairDesign
    at: Any
    demand: HiddenDemand | None
    lost_gain: Decimal


@dataclass(frozen=True, slots=True)
class ItemResult:
    """What became of one item. `missing` is None until what came home is counted.

    `gain` is what its sales left after tax, fees, bags and its cost, and after what left-over
    dated ones lost.
    """

    item: FairDesign
    sold: int
    lost: int
    missing: int | None
    takings: Decimal
    gain: Decimal

    @property
    @with_working_precision
    def gain_per_metre(self) -> Decimal | None:
        """Return what a metre of table gained with it; None where its width is not known."""
        brought = self.item.taken or self.sold
        metres = self.item.table_mm * brought / 1000
        return self.gain / metres if metres else None

    @property
    def loses(self) -> bool:
        """Whether it lost money at actual sales."""
        return self.gain < 0 and bool(self.sold or self.item.brought_home)


@dataclass(frozen=True)
class FairResult:
    """A fair with everything its pages say of it."""

    fair: Fair
    workshop: Workshop
    wage: Decimal
    orders_gain: Decimal
    digits: int
    # by key of the day
    sold: Days

    @cached_property
    def days(self) -> list[DayRow]:
        """Return its days."""
        return list(self.fair.days.all())

    @cached_property
    def items(self) -> list[FairDesign]:
        """Return what lay on the table."""
        return list(self.fair.designs.all())

    @cached_property
    def sales(self) -> list[Sold]:
        """Return what happened at its table on all days."""
        return [sale for day in self.days for sale in self.sales_of(day)]

    def sales_of(self, day: DayRow) -> Sequence[Sold]:
        """Return what happened on a day."""
        return self.sold.get(day.pk, ())

    @cached_property
    def rates(self) -> Any:
        """Return what each sale pays away."""
        return fair_rates(self.workshop, self.fair.channel)

    @cached_property
    def costs(self) -> list[DayCosts]:
        """Return what each day costs whatever sells."""
        return day_costs(self.fair, self.digits)

    @cached_property
    def fixed(self) -> Decimal:
        """Return what it costs whatever sells."""
        return sum((costs.fixed for costs in self.costs), ZERO)

    @cached_property
    def hours(self) -> Decimal:
        """Return its hours of preparing, driving, standing and packing."""
        return sum((costs.hours for costs in self.costs), ZERO)

    @cached_property
    def has_sales(self) -> bool:
        """Whether anything was entered of the table."""
        return bool(self.sales)

    @cached_property
    def paid(self) -> Paid:
        """Return how items were paid."""
        return Paid(self.sales)

    @cached_property
    def one_more(self) -> dict[int, OneMore]:
        """Return what one more sale of each item gains."""
        return {item.pk: one_more_of(fair_item(item, self.paid), self.rates) for item in self.items}

    @cached_property
    def _without_missing(self) -> list[FairDay]:
        return [self._worked(place, {}) for place in range(len(self.days))]

    def _worked(self, place: int, missing: dict[str, int]) -> FairDay:
        day = self.days[place]
        coins = coins_of(self.fair.in_float)  # type: ignore[attr-defined]  # prefetched
        at_table = day_at_table(day, self.sales_of(day), self.costs[place], coins, missing)
        figures = day_of(at_table, item_costs(self.items), self.rates, self.digits)
        if day.counted.all():
            return figures
        # a till nobody counted is neither over nor short
        return replace(figures, till=replace(figures.till, counted=figures.till.expected))

    @cached_property
    def handed_over(self) -> Counter[str]:
        """Return what left the table for customers, by item."""
        handed: Counter[str] = Counter()
        for day in self._without_missing:
            handed.update(day.handed_over)
        return handed

    @cached_property
    def lost(self) -> Counter[str]:
        """Return what was given away or broken, by item."""
        return lost_counts(self.sales)

    @cached_property
    def missing(self) -> dict[str, int]:
        """Return what nobody can account for; below zero more came home than can be."""
        found = {}
        for item in self.items:
            if item.taken is None or item.brought_home is None:
                continue
            key = key_of(item)
            left = item.taken - self.handed_over[key] - self.lost[key] - item.brought_home
            found[key] = left
        return found

    @cached_property
    def figures(self) -> list[FairDay]:
        """Return the figures of each day; missing items cost the last one."""
        missing = {key: count for key, count in self.missing.items() if count}
        days = self._without_missing
        return [*days[:-1], self._worked(len(days) - 1, missing)] if days and missing else days

    @cached_property
    def sold_out(self) -> list[SoldOutItem]:
        """Return what ran out when, with what would still have sold."""
        items = {item.pk: item for item in self.items}
        found = []
        for day, figures in zip(self.days, self._without_missing, strict=True):
            ran_out = [sale for sale in self.sales_of(day) if sale.kind == FairSale.Kind.SOLD_OUT]
            curve = visitor_curve(day, self.days, self.sold) if ran_out else {}
            for sale in ran_out:
                for line in sale.lines:
                    item = items[line.item]
                    at = local_time(sale.happened_at)
                    try:
                        sold = max(figures.handed_over[key_of(item)], 0)
                        demand = hidden_demand(sold, curve, at)
                    except NobodyYet:
                        demand = None
                    missed = max(demand.missed, 0) if demand else 0
                    gain = max(self.one_more[item.pk].gain, ZERO)
                    found.append(SoldOutItem(day, item, at, demand, missed * gain))
        return found

    @cached_property
    def season(self) -> Season:
        """Return the days added up."""
        return season_of(self.figures, sum((each.lost_gain for each in self.sold_out), ZERO))

    @cached_property
    def outcome(self) -> FairOutcome:
        """Return what it came to, to be compared with other fairs."""
        season, fair = self.season, self.fair
        return FairOutcome(
            name=fair.name,
            takings=season.takings,
            profit=season.profit,
            hours=season.hours,
            fixed=season.fixed,
            hidden=season.hidden,
            orders=(self.orders_gain + fair.orders_gain) * fair.orders_share,
            metres=fair.table_metres,
        )

    @cached_property
    def mix(self) -> SoldMix | None:
        """Return the average item that sold here; None where nothing did."""
        season = self.season
        if season.gain_each is None or not self.has_sales:
            return None
        return SoldMix(season.takings / season.items_sold, season.gain_each)

    @cached_property
    @with_working_precision
    def guessed_mix(self) -> SoldMix | None:
        """Return the average item of its table as she guesses each sells, or of each the same."""
        guessed = [(item, item.likely or 0) for item in self.items]
        if not any(count for _, count in guessed):
            guessed = [(item, 1) for item in self.items]
        count = sum(count for _, count in guessed)
        if not count:
            return None
        price = sum((item.price * count for item, count in guessed), ZERO)
        gain = sum((self.one_more[item.pk].gain * count for item, count in guessed), ZERO)
        return SoldMix(price / count, gain / count)

    @cached_property
    def open_hours(self) -> Decimal:
        """Return the hours it is open."""
        return sum((hours_open(day) for day in self.days), ZERO)

    @cached_property
    def by_item(self) -> list[ItemResult]:
        """Return what became of each item, by what its sales brought and left."""
        takings, gains = self._money_by_item()
        found = []
        for item in self.items:
            key = key_of(item)
            left_over = item.brought_home or 0 if item.is_dated else 0
            loss = left_over * self.one_more[item.pk].loss
            found.append(
                ItemResult(
                    item=item,
                    sold=self.handed_over[key],
                    lost=self.lost[key],
                    missing=self.missing.get(key),
                    takings=takings[key],
                    gain=gains[key] - loss,
                )
            )
        return found

    @with_working_precision
    def _money_by_item(self) -> tuple[dict[str, Decimal], dict[str, Decimal]]:
        """Return what each item took and what it left, in cents that add up to those of the days.

        Each payment and its fee is shared over its items by their prices. Tax and commission of a
        day are rounded once, so the cents are given out at the end.
        """
        takings = {_NO_ITEM: ZERO} | {key_of(item): ZERO for item in self.items}
        fees = dict(takings)
        rates = self.rates
        for sale in self.sales:
            if sale.kind not in _PAID_KINDS:
                continue
            lines = sale.lines
            for key, part in _over_items(sale.received, lines):
                takings[key] += sale.payments * part
            if sale.way == FairSale.Way.CARD and sale.received > 0:
                fee = fee_of(sale.received, rates.fee_share, rates.fee_fixed, self.digits)
                for key, part in _over_items(fee, [line for line in lines if not line.came_back]):
                    fees[key] += sale.payments * part
        each = {key: one.cost + one.bag for key, one in item_costs(self.items).items()}
        left = {
            key: taken / (1 + rates.tax_rate) * (1 - rates.commission)
            - fees[key]
            - self.handed_over[key] * each.get(key, ZERO)
            for key, taken in takings.items()
        }
        season = self.season
        return (
            self._in_cents(season.takings, takings),
            self._in_cents(season.left_before_fixed, left),
        )

    def _in_cents(self, total: Decimal, parts: dict[str, Decimal]) -> dict[str, Decimal]:
        rounded = in_whole_units(to_minor(total, self.digits), list(parts.values()), self.digits)
        return dict(zip(parts, rounded, strict=True))

    @cached_property
    def by_hour(self) -> list[tuple[int, Decimal, int]]:
        """Return takings and items by the hour of the clock, of all days; by the table only."""
        takings: dict[int, Decimal] = {}
        items: Counter[int] = Counter()
        for sale in self.sales:
            if sale.kind == FairSale.Kind.SALE and sale.source == FairSale.Source.TABLE:
                hour = local_time(sale.happened_at).hour
                takings[hour] = takings.get(hour, ZERO) + sale.received * sale.payments
                items[hour] += sale.payments * sale.items
        return [(hour, takings[hour], items[hour]) for hour in sorted(takings)]

    def card_payments(self, place: int) -> Decimal:
        """Return what went through the card reader on a day, deposits with it."""
        day, figures = self.days[place], self.figures[place]
        deposits = (
            sale.received * sale.payments
            for sale in self.sales_of(day)
            if sale.kind == FairSale.Kind.ORDER and sale.way == FairSale.Way.CARD
        )
        return figures.card + sum(deposits, ZERO)

    def card_difference(self, place: int) -> Decimal | None:
        """Return the reader's statement less what was taken by card; None without a statement."""
        said = self.days[place].card_statement
        return None if said is None else said - self.card_payments(place)

    @cached_property
    def float_amount(self) -> Decimal:
        """Return what the float comes to."""
        return amount_of(coins_of(self.fair.in_float))  # type: ignore[attr-defined]  # prefetched

    @cached_property
    def problems(self) -> list[Sold]:
        """Return what could not be booked as it was sent."""
        return [sale for sale in self.sales if sale.problem]


def _over_items(amount: Decimal, lines: Sequence[SoldLine]) -> Iterable[tuple[str, Decimal]]:
    """Share what was paid over lines: each its price, what came back less, the rest by prices."""
    prices = [line.price_each * line.quantity for line in lines]
    own = [-price if line.came_back else price for price, line in zip(prices, lines, strict=True)]
    full, rest = sum(prices, ZERO), amount - sum(own, ZERO)
    for line, price, part in zip(lines, prices, own, strict=True):
        yield str(line.item), part + rest * (price / full if full else ONE / len(lines))
    if not lines:
        yield _NO_ITEM, amount


def results_of(fairs: models.QuerySet[Fair], workshop: Workshop) -> list[FairResult]:
    """Return the results of fairs (a fixed number of queries)."""
    rows = list(with_everything(fairs))
    gains, sold = orders_gains(rows), sold_at(row.pk for row in rows)
    wage, digits = workshop_rates(workshop).wage_per_hour, minor_digits(workshop.currency)
    return [FairResult(row, workshop, wage, gains[row.pk], digits, sold) for row in rows]


def mix_before(results: Iterable[FairResult], fair: Fair) -> tuple[SoldMix | None, str]:
    """Return the mix to go by before a fair, and where it is from.

    That of the fair itself a year before, else of all fairs that sold anything, else what is on
    its table.
    """
    results = list(results)
    others: Sequence[FairResult] = [each for each in results if each.fair.pk != fair.pk]
    same = next((each for each in others if each.fair.pk == fair.last_year_id), None)
    if same is not None and same.mix is not None:
        return same.mix, f"as sold at {same.fair.name} last time"
    seasons = [each.season for each in others if each.mix is not None]
    items = sum(season.items_sold for season in seasons)
    if items <= 0:
        own = next((each for each in results if each.fair.pk == fair.pk), None)
        return (own.guessed_mix if own else None), "of what you put on the table"
    takings = sum((season.takings for season in seasons), ZERO)
    left = sum(((season.gain_each or ZERO) * season.items_sold for season in seasons), ZERO)
    return SoldMix(takings / items, left / items), "as sold at your other fairs"
