"""Three ways out when a yes comes late: fewer items, simpler ones, or a part delivered later.

What can be promised is counted as everywhere (`pricing.calc.schedule`): each way is costed as an
order of its own, and its blocks are laid on dates.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from catalogue.calc.recipes.recipe import Basis
from catalogue.calc.supplies.shopping import shopping_list
from catalogue.sheet_plans.services import PlanSheets
from maker.calc.refusal import Refusal
from pricing.calc.enquiries.within_budget import Change, usual_of
from pricing.calc.orders.order import OrderCost, OrderedLine
from pricing.calc.schedule.changes import least_in_time, with_added_minutes
from pricing.calc.schedule.dates import LatestDates, earliest_dates, latest_dates
from pricing.calc.schedule.job import Block, Delivery, Job
from pricing.calc.schedule.ready import supplies_of
from pricing.calc.schedule.work_blocks import Chain, chains_of_order
from pricing.costs.kept_orders import order_cost
from pricing.quotes.dates import Counted
from pricing.quotes.inputs import WorkedQuote
from pricing.quotes.others import with_quantity

EVENING = 45  # minutes, as a help to compare with
# answers to options that are costed to find a simpler item
MOST_CHANGES = 6

# how many of each line of the order, in their order
Quantities = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """What goes out together: how many of each line, and when it must be there."""

    quantities: Quantities
    due_on: datetime.date


@dataclass(frozen=True, slots=True)
class Simpler:
    """What is left out, and until when the order can be accepted then."""

    words: tuple[str, ...]
    yes_on: datetime.date | None
    is_enough: bool


@dataclass(frozen=True, slots=True)
class WaysOut:
    """What helps when the yes comes late; numbers are None where the way is not enough.

    `fewer`: items left out. `later`: items that come by `rest_by` instead. `evening_yes_on` is the
    last date to accept with `EVENING` minutes more on each workshop day.
    """

    fewer: int | None
    simpler: Simpler | None
    later: int | None
    rest_by: datetime.date | None
    evening_yes_on: datetime.date | None


@dataclass(frozen=True, slots=True)
class Layer:
    """Lays parts of one order on dates; each costing may need a plan of its sheets."""

    worked: WorkedQuote
    counted: Counted
    today: datetime.date
    plan_sheets: PlanSheets

    @property
    def quantities(self) -> Quantities:
        """Return how many of each line are ordered."""
        return tuple(line.ask.quantity for line in self.worked.ordered)

    def order(
        self, quantities: Quantities, lines: Sequence[OrderedLine] | None = None
    ) -> OrderCost:
        """Return the cost of so many of each line. Errors: Refusal where that has no cost."""
        rates = self.worked.rates
        if rates is None:
            raise Refusal("There are no rates to work with.")
        chosen = [
            with_quantity(line, count)
            for line, count in zip(lines or self.worked.ordered, quantities, strict=True)
            if count
        ]
        return order_cost(chosen, rates, self.plan_sheets)

    def job(self, parts: Sequence[Part], lines: Sequence[OrderedLine] | None = None) -> Job:
        """Return the work of parts that go out one after the other, made together.

        A later part has what the whole takes more: set-up and practice are the first one's.
        """
        terms = self.counted.terms
        deliveries: list[Delivery] = []
        before: Mapping[str, Chain] = {}
        so_far: Quantities = tuple(0 for _ in self.quantities)
        order: OrderCost | None = None
        for part in parts:
            so_far = tuple(a + b for a, b in zip(so_far, part.quantities, strict=True))
            order = self.order(so_far, lines)
            chains = chains_of_order(order, sends_proof=terms.proof_days > 0)
            due_on = terms.bench.carrier_days.last_until(part.due_on)
            deliveries += [
                Delivery(
                    chain.name,
                    _more(chain.blocks, before[chain.name].blocks)
                    if chain.name in before
                    else chain.blocks,
                    due_on,
                    self.counted.transit_days,
                )
                for chain in chains
            ]
            before = {chain.name: chain for chain in chains}
        if order is None:
            raise Refusal("There is nothing to make.")
        needs = shopping_list(order.needs, deduct_stock=True, terms=self.counted.suppliers)
        return Job(tuple(deliveries), supplies_of(needs, terms), terms.proof_days)

    def latest(self, job: Job, added: int = 0) -> LatestDates:
        """Return the latest dates of a job, with some minutes more on each workshop day."""
        terms = self.counted.terms
        bench = with_added_minutes(terms.bench, added) if added else terms.bench
        return latest_dates(job, bench, terms.promises, self.today)


def _more(blocks: Sequence[Block], before: Sequence[Block]) -> tuple[Block, ...]:
    """Return what blocks take beyond those of a smaller order."""
    if [each.name for each in blocks] != [each.name for each in before]:
        return tuple(blocks)
    return tuple(
        replace(
            block,
            minutes=max(0, block.minutes - less.minutes),
            setup_minutes=max(0, block.setup_minutes - less.setup_minutes),
        )
        for block, less in zip(blocks, before, strict=True)
    )


def left_out(quantities: Quantities, named: Sequence[int], count: int) -> Quantities:
    """Return what is left when so many are left out: plain lines first, those with names last."""
    left = list(quantities)
    for place in sorted(range(len(left)), key=lambda at: (named[at] > 0, at)):
        off = min(count, left[place])
        left[place] -= off
        count -= off
    return tuple(left)


def ways_out(layer: Layer, parts: Sequence[Part], yes_on: datetime.date) -> WaysOut:
    """Return the ways out when an order is accepted on a date; the first part is what is late.

    Errors: Refusal where it has no cost; NoTimeToWork.
    """
    first, *others = parts
    named = [line.ask.names or 0 for line in layer.worked.ordered]
    most = sum(first.quantities) - 1

    def fits(changed: Sequence[Part]) -> bool:
        try:
            return _by(layer.latest(layer.job(changed)).yes_on, yes_on)
        except Refusal:
            return False

    def with_fewer(count: int) -> bool:
        return fits([replace(first, quantities=left_out(first.quantities, named, count)), *others])

    rest_by = others[0].due_on if others else _rest_by(layer, first, yes_on)

    def with_later(count: int) -> bool:
        kept = left_out(first.quantities, named, count)
        moved = tuple(a - b for a, b in zip(first.quantities, kept, strict=True))
        if others:
            second = tuple(a + b for a, b in zip(others[0].quantities, moved, strict=True))
            tail = [replace(others[0], quantities=second), *others[1:]]
        else:
            tail = [Part(moved, rest_by)] if rest_by and any(moved) else []
        return fits([replace(first, quantities=kept), *tail])

    job = layer.job(parts)
    return WaysOut(
        fewer=least_in_time(with_fewer, most),
        simpler=_simpler(layer, parts, yes_on),
        later=least_in_time(with_later, most) if rest_by else None,
        rest_by=rest_by,
        evening_yes_on=layer.latest(job, EVENING).yes_on,
    )


def _by(found: datetime.date | None, yes_on: datetime.date) -> bool:
    return found is not None and found >= yes_on


def _rest_by(layer: Layer, first: Part, yes_on: datetime.date) -> datetime.date | None:
    """Return when all of it could be there, after the date asked for: then the rest comes."""
    terms = layer.counted.terms
    dates = earliest_dates(layer.job([first]), terms.bench, terms.promises, yes_on)
    if dates.deliveries is None:
        return None
    arrives = max(each.arrives_on for each in dates.deliveries)
    # a little room, or moving one would move nothing
    week = datetime.timedelta(days=7)
    return max(arrives, first.due_on) + week


def _simpler(layer: Layer, parts: Sequence[Part], yes_on: datetime.date) -> Simpler | None:
    """Return the order without names and with those answers to options that take least work.

    None where nothing can be made simpler.
    """
    lines = list(layer.worked.ordered)
    minutes = layer.order(layer.quantities).minutes
    words: list[str] = []
    tried = 0
    for place, line in enumerate(layer.worked.ordered):
        for change in _changes(line):
            if tried == MOST_CHANGES:
                break
            tried += 1
            answers = dict(lines[place].ask.choices) | {change.option.key: change.key}
            changed = replace(line, ask=replace(line.ask, choices=tuple(sorted(answers.items()))))
            attempt = [*lines[:place], changed, *lines[place + 1 :]]
            try:
                less = layer.order(layer.quantities, attempt).minutes
            except Refusal:
                continue
            if less < minutes:
                lines, minutes = attempt, less
                words.append(f"{line.recipe.name} {change.words}")
    unnamed = [_without_names(line) for line in lines]
    if unnamed != lines and layer.order(layer.quantities, unnamed).minutes < minutes:
        lines = unnamed
        words.append("no names")
    if not words:
        return None
    found = layer.latest(layer.job(parts, lines)).yes_on
    return Simpler(tuple(words), found, _by(found, yes_on))


def _changes(line: OrderedLine) -> list[Change]:
    chosen = dict(line.ask.choices)
    return [
        Change(option, choice.key)
        for option in line.recipe.options
        if option.choices
        for choice in option.choices
        if choice.key != chosen.get(option.key, usual_of(option))
    ]


def _without_names(line: OrderedLine) -> OrderedLine:
    """Return a line whose recipe has no work for names."""
    if not any(step.basis is Basis.NAME for step in line.recipe.steps):
        return line
    steps = tuple(step for step in line.recipe.steps if step.basis is not Basis.NAME)
    return replace(line, recipe=replace(line.recipe, steps=steps))
