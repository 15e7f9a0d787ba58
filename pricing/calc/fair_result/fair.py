"""A season of fair days as plain values, worked out once for all figures."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

from maker.calc.money import with_working_precision
from pricing.calc.fairs.bundles import Bundle, bundle_of
from pricing.calc.fairs.demand import Chances
from pricing.calc.fairs.fair_day import (
    Coins,
    DayAtTable,
    DayCosts,
    FairDay,
    ItemCost,
    Refund,
    Sale,
    day_of,
    in_equal_parts,
)
from pricing.calc.fairs.season import FairOutcome, Season, season_of
from pricing.calc.fairs.table_space import Mix, Offer, best_mix, greedy_mix
from pricing.calc.fairs.visitors import Curve, HiddenDemand, demand_by_clock, hidden_demand
from pricing.calc.fairs.what_to_take import FairItem, FairRates, Taking, what_to_take

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Design:
    """An item with its demand by day, the space it takes and how many it needs for show."""

    item: FairItem
    days: tuple[Chances, ...]
    space: Decimal
    least: int


@dataclass(frozen=True, slots=True)
class Payments:
    """`times` equal payments: items and bundles in each."""

    by_card: bool
    items: Mapping[str, int]
    bundles: int
    times: int


@dataclass(frozen=True, slots=True)
class SoldOut:
    """An item that ran out, and when."""

    item: str
    at: datetime.time


@dataclass(frozen=True, slots=True)
class Day:
    """A day as it was written down. Refunds are pairs of by card and item."""

    name: str
    payments: tuple[Payments, ...]
    refunds: tuple[tuple[bool, str], ...]
    deposits_in_cash: tuple[Decimal, ...]
    paid_out: tuple[Decimal, ...]
    kilometres: Decimal
    other: Decimal
    hours: Decimal
    counted: Coins
    sold_out: SoldOut | None


@dataclass(frozen=True, slots=True)
class Fair:
    """Everything the figures of a fair follow from; prices have tax in them."""

    name: str
    rates: FairRates
    wage: Decimal
    designs: Mapping[str, Design]
    space: Decimal
    space_more: Decimal
    bundle: Mapping[str, int]
    keep: Decimal
    step: Decimal
    taken: Mapping[str, int]
    brought_home: Mapping[str, int]
    missing: Mapping[str, int]
    float_coins: Coins
    curve: Curve
    stall_fee: Decimal
    per_kilometre: Decimal
    prepare_hours: Decimal
    metres: Decimal
    days: tuple[Day, ...]
    orders_gain: Decimal
    orders_share: Decimal
    other_fairs: tuple[FairOutcome, ...]


@dataclass(frozen=True)
class Worked:
    """A fair with what several sections ask for."""

    fair: Fair

    @cached_property
    def taking(self) -> dict[str, Taking]:
        """Return how many of each item to take, each by itself."""
        return {
            name: what_to_take(design.item, design.days, self.fair.rates)
            for name, design in self.fair.designs.items()
        }

    @cached_property
    def offers(self) -> list[Offer]:
        """Return the items as what shares the table."""
        return [
            Offer(
                name,
                tuple(taking.gains_up_to(max(taking.season))),
                (design.space,),
                design.least,
            )
            for (name, design), taking in zip(
                self.fair.designs.items(), self.taking.values(), strict=True
            )
        ]

    @cached_property
    def best(self) -> Mix:
        """Return the best mix on the table."""
        return best_mix(self.offers, [self.fair.space])

    @cached_property
    def best_with_more(self) -> Mix:
        """Return the best mix with some more space."""
        return best_mix(self.offers, [self.fair.space + self.fair.space_more])

    @cached_property
    def greedy(self) -> Mix:
        """Return what adding the best by space comes to."""
        return greedy_mix(self.offers, self.fair.space)

    @cached_property
    def bundle(self) -> Bundle:
        """Return the price of the bundle."""
        fair = self.fair
        pieces = [(fair.designs[name].item, count) for name, count in fair.bundle.items()]
        return bundle_of(pieces, fair.rates, keep=fair.keep, step=fair.step)

    @cached_property
    def days(self) -> list[FairDay]:
        """Return the figures of each day."""
        fair = self.fair
        costs = {
            name: ItemCost(design.item.cost, design.item.bag)
            for name, design in fair.designs.items()
        }
        shares = in_equal_parts(fair.stall_fee, len(fair.days))
        last = len(fair.days) - 1
        return [
            day_of(
                self._at_table(day, share, fair.missing if place == last else {}),
                costs,
                fair.rates,
            )
            for place, (day, share) in enumerate(zip(fair.days, shares, strict=True))
        ]

    @property
    @with_working_precision
    def prepare_hours_a_day(self) -> Decimal:
        """Return each day's part of the hours of preparing."""
        return self.fair.prepare_hours / len(self.fair.days)

    @with_working_precision
    def _at_table(self, day: Day, stall: Decimal, missing: Mapping[str, int]) -> DayAtTable:
        fair = self.fair
        return DayAtTable(
            sales=[self._sale(each) for each in day.payments],
            refunds=[
                Refund(by_card, name, fair.designs[name].item.price)
                for by_card, name in day.refunds
            ],
            deposits_in_cash=day.deposits_in_cash,
            paid_out=day.paid_out,
            float_coins=fair.float_coins,
            counted=day.counted,
            costs=DayCosts(
                stall=stall,
                travel=day.kilometres * fair.per_kilometre,
                other=day.other,
                hours=self.prepare_hours_a_day + day.hours,
            ),
            missing=missing,
        )

    def _sale(self, each: Payments) -> Sale:
        """A bundle is opened into its items."""
        designs, bundle = self.fair.designs, self.fair.bundle
        singles = sum(
            (count * designs[name].item.price for name, count in each.items.items()), ZERO
        )
        return Sale(
            by_card=each.by_card,
            items={
                name: each.items.get(name, 0) + each.bundles * bundle.get(name, 0)
                for name in designs
            },
            amount=singles + (each.bundles * self.bundle.price if each.bundles else ZERO),
            times=each.times,
        )

    @cached_property
    def hidden(self) -> list[tuple[HiddenDemand, Decimal] | None]:
        """Return what selling out hid on each day, and the gain it lost."""
        found: list[tuple[HiddenDemand, Decimal] | None] = []
        for day, figures in zip(self.fair.days, self.days, strict=True):
            if day.sold_out is None:
                found.append(None)
                continue
            name = day.sold_out.item
            demand = hidden_demand(figures.handed_over[name], self.fair.curve, day.sold_out.at)
            found.append((demand, demand.missed * self.taking[name].one_more.gain))
        return found

    def by_clock(self, place: int) -> Fraction | None:
        """Return the demand of a day's item that sold out, as if visitors came evenly."""
        sold_out = self.fair.days[place].sold_out
        if sold_out is None:
            return None
        sold = self.days[place].handed_over[sold_out.item]
        return demand_by_clock(sold, self.fair.curve, sold_out.at)

    @cached_property
    def season(self) -> Season:
        """Return the days added up."""
        return season_of(self.days, sum((each[1] for each in self.hidden if each), ZERO))

    def unaccounted(self, name: str) -> int:
        """Return what was taken less what was handed over and brought home."""
        fair = self.fair
        handed = sum(day.handed_over[name] for day in self.days)
        return fair.taken.get(name, 0) - handed - fair.brought_home.get(name, 0)

    @cached_property
    def outcomes(self) -> list[FairOutcome]:
        """Return this fair and the others, to be compared."""
        fair, season = self.fair, self.season
        this = FairOutcome(
            name=fair.name,
            takings=season.takings,
            profit=season.profit,
            hours=season.hours,
            fixed=season.fixed,
            hidden=season.hidden,
            orders=fair.orders_gain * fair.orders_share,
            metres=fair.metres,
        )
        return [this, *fair.other_fairs]
