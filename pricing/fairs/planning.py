"""What to take to a fair, from her own past days or a first guess, and what is there already."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from maker.calc.money import with_working_precision
from maker.workshop.models import Workshop
from pricing.calc.fairs.choosing import Candidate, Chosen, Limits, choice_of
from pricing.calc.fairs.demand import Chances, chance_of_enough, chances_of
from pricing.calc.fairs.guess import guessed
from pricing.calc.fairs.what_to_take import Taking, what_to_take
from pricing.fairs.inputs import Paid, fair_item, fair_rates, key_of, load_names
from pricing.fairs.models import Fair, FairDesign
from pricing.fairs.results import FairResult
from pricing.fairs.stock import free_for, what_of

ZERO = Decimal(0)
# fewer days than that say less than her own guess
LEAST_DAYS = 3
MOST_CANDIDATES = 200


@dataclass(frozen=True, slots=True)
class PastDay:
    """How many of an item were asked for on a day: sold, with what was missed when it ran out."""

    fair: str
    asked: int
    ran_out: bool


@dataclass(frozen=True, slots=True)
class PlannedItem:
    """An item with how many to take by itself; `source` says what that is worked out from."""

    item: FairDesign
    taking: Taking
    source: str
    past: tuple[PastDay, ...]
    in_stock: int

    def chance(self, count: int) -> Fraction:
        """Return the chance that so many are enough."""
        return chance_of_enough(self.taking.season, count)


@dataclass(frozen=True, slots=True)
class FairPlan:
    """What to take: each item by itself, and the best combination within the limits."""

    items: tuple[PlannedItem, ...]
    # without sales or a guess, with how many are finished
    unknown: tuple[tuple[FairDesign, int], ...]
    limits: Limits
    chosen: Chosen
    more: dict[str, Decimal]

    @property
    @with_working_precision
    def alone_gain(self) -> Decimal:
        """Return what all would gain if nothing limited."""
        return sum((each.taking.gain_of(each.taking.count) for each in self.items), ZERO)

    @property
    def given_up(self) -> Decimal:
        """Return what the limits cost."""
        return max(self.alone_gain - self.chosen.gain, ZERO)


def plan_for(
    fair: Fair, results: Sequence[FairResult], workshop: Workshop, limits: Limits
) -> FairPlan:
    """Return what to take to a fair; `results` are those of all fairs (three queries).

    Errors: DoesNotFit when what is needed for show does not fit.
    """
    this = next(each for each in results if each.fair.pk == fair.pk)
    load_names(this.items)
    before = [each for each in results if each.fair.pk != fair.pk and each.has_sales]
    paid = Paid(sale for each in before for sale in each.sales)
    rates = fair_rates(workshop, this.fair.channel)
    stock = free_for(fair)
    days = len(this.days) or 1
    items, unknown = [], []
    for item in this.items[:MOST_CANDIDATES]:
        past, source = _past_days(item, this.fair, before)
        demand, source = _demand(item, past, source)
        if demand is None:
            unknown.append((item, stock.get(what_of(item), 0)))
            continue
        taking = what_to_take(fair_item(item, paid), [demand] * days, rates)
        items.append(PlannedItem(item, taking, source, tuple(past), stock.get(what_of(item), 0)))
    choice = choice_of([_candidate(each) for each in items])
    chosen = choice.within(limits)
    return FairPlan(
        tuple(items), tuple(unknown), limits, chosen, choice.one_more_of_each(limits, chosen)
    )


def _candidate(each: PlannedItem) -> Candidate:
    item = each.item
    return Candidate(
        key_of(item), each.taking, item.table_mm, item.minutes_each, item.sheets_each,
        item.least_for_show, each.in_stock,
    )  # fmt: skip


def _demand(item: FairDesign, past: Sequence[PastDay], source: str) -> tuple[Chances | None, str]:
    """Return the chances of one day: past days where there are enough, else the guess."""
    has_guess = None not in (item.low, item.likely, item.high)
    if past and (len(past) >= LEAST_DAYS or not has_guess):
        weights: dict[int, int] = {}
        for day in past:
            weights[day.asked] = weights.get(day.asked, 0) + 1
        return chances_of(weights), source
    if has_guess:
        guess = guessed(item.low or 0, item.likely or 0, item.high or 0)
        return guess, f"your guess, {item.low} to {item.high} a day"
    return None, ""


def _past_days(
    item: FairDesign, fair: Fair, before: Sequence[FairResult]
) -> tuple[list[PastDay], str]:
    """Return the days an item was on a table: those of this fair in other years if enough."""
    found = [
        (result, day)
        for result in before
        for other in result.items
        if _same(other, item)
        for day in _days_of(result, other)
    ]
    own = [day for result, day in found if _same_fair(result.fair, fair)]
    if len(own) >= LEAST_DAYS or (own and len(own) == len(found)):
        return own, f"{len(own)} {_days(len(own))} at this fair"
    return [day for _, day in found], f"{len(found)} {_days(len(found))} at your fairs"


def _days(count: int) -> str:
    return "day" if count == 1 else "days"


def _days_of(result: FairResult, item: FairDesign) -> Iterable[PastDay]:
    missed = {
        each.day.pk: max(each.demand.missed, 0)
        for each in result.sold_out
        if each.item.pk == item.pk and each.demand
    }
    for day, figures in zip(result.days, result.figures, strict=True):
        sold = max(figures.handed_over[key_of(item)], 0)
        yield PastDay(result.fair.name, sold + missed.get(day.pk, 0), day.pk in missed)


def _same_fair(one: Fair, other: Fair) -> bool:
    return one.pk == other.last_year_id or one.name.casefold() == other.name.casefold()


def _same(one: FairDesign, other: FairDesign) -> bool:
    return (
        one.version.design_id == other.version.design_id
        and _colourway(one) == _colourway(other)
        and one.choices == other.choices
    )


def _colourway(item: FairDesign) -> str:
    return item.colourway.name if item.colourway else ""


def stock_of(items: Iterable[FairDesign], fair: Fair) -> dict[int, int]:
    """Return how many of each item are finished and free for a fair, by key (one query)."""
    there = free_for(fair)
    return {item.pk: there.get(what_of(item), 0) for item in items}
