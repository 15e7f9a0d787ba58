"""Two orders, one week: which to take, or both with what they share cut and set up once.

Each choice is costed as one order over all its lines, so sheets, die passes, set-up and practice
are shared as in any order; its work is laid on dates beside everything else that is promised.
"""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

from catalogue.calc.recipes.recipe import Basis
from catalogue.sheet_plans.services import PlanSheets
from maker.calc.refusal import Refusal
from pricing.calc.orders.order import OrderCost
from pricing.calc.schedule.job import Promise
from pricing.quotes.dates import Counted
from pricing.quotes.inputs import WorkedQuote
from pricing.quotes.models import Quote
from pricing.quotes.ways_out import Layer, Part

ZERO = Decimal(0)
MOST_PICKED = 3
# what is done for several at once, in words
SHARED = {Basis.SHEET: "cutting", Basis.PASS: "die passes", Basis.JOB: "set-up"}


class NothingToCompare(Refusal):
    """Too few or too many orders, or one without a date or a price."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A quote or an order to choose from; an order that was promised is always taken."""

    quote: Quote
    worked: WorkedQuote
    needed_on: datetime.date
    is_promised: bool

    @property
    def name(self) -> str:
        """Say which it is."""
        about = self.quote.number or self.quote.title or "draft"
        return f"{about} for {self.quote.customer}"


@dataclass(frozen=True, slots=True)
class Choice:
    """Some of the candidates taken together.

    `is_shared`: made together, else one after the other. `saved` are the minutes that saves against
    each by itself, `saved_at` by what is shared. `yes_on` is the last date all can be accepted on.
    `profit` is of all, `per_hour` wage and profit.
    """

    places: tuple[int, ...]
    is_shared: bool
    minutes: Decimal
    saved: Decimal
    saved_at: tuple[tuple[str, Decimal], ...]
    yes_on: datetime.date | None
    fits: bool
    profit: Decimal
    per_hour: Decimal | None


def choices_of(
    candidates: Sequence[Candidate],
    counted: Counted,
    today: datetime.date,
    plan_sheets: PlanSheets,
) -> tuple[Choice, ...]:
    """Return every set of candidates that holds all promised ones, the best first.

    What fits comes first, of that what brings most. Errors: NothingToCompare, NoTimeToWork.
    """
    if not 2 <= len(candidates) <= MOST_PICKED:
        raise NothingToCompare(f"Choose 2 to {MOST_PICKED} quotes or orders.")
    promised = {place for place, each in enumerate(candidates) if each.is_promised}
    found = []
    for count in range(1, len(candidates) + 1):
        for places in combinations(range(len(candidates)), count):
            if promised <= set(places):
                found.append(_apart(candidates, places, counted, today, plan_sheets))
                if count > 1:
                    found.append(_shared(candidates, places, counted, today, plan_sheets))
    return tuple(sorted(found, key=lambda each: (not each.fits, -each.profit)))


def without_promises_of(counted: Counted, quotes: Iterable[Quote]) -> Counted:
    """Return what dates are counted with when these are not promised: they are chosen anew."""
    numbers = {quote.number for quote in quotes if quote.number}
    promises = tuple(each for each in counted.terms.promises if each.name not in numbers)
    return replace(counted, terms=replace(counted.terms, promises=promises))


def _apart(
    candidates: Sequence[Candidate],
    places: tuple[int, ...],
    counted: Counted,
    today: datetime.date,
    plan_sheets: PlanSheets,
) -> Choice:
    """Return what it is to take each by itself, the earliest first, beside those before it."""
    chosen = sorted((candidates[place] for place in places), key=lambda each: each.needed_on)
    bounds: list[datetime.date | None] = []
    for each in chosen:
        layer = Layer(each.worked, counted, today, plan_sheets)
        job = layer.job([Part(layer.quantities, each.needed_on)])
        latest = layer.latest(job)
        bounds.append(latest.yes_on)
        promise = Promise(each.name, job.minutes, min(latest.handed_over_on))
        promises = (*counted.terms.promises, promise)
        counted = replace(counted, terms=replace(counted.terms, promises=promises))
    orders = [_own(each) for each in chosen]
    known = [on for on in bounds if on is not None]
    yes_on = min(known) if len(known) == len(bounds) else None
    return _figures(
        chosen,
        orders,
        Choice(places, False, ZERO, ZERO, (), yes_on, _by(yes_on, today), ZERO, None),
    )


def _by(yes_on: datetime.date | None, today: datetime.date) -> bool:
    return yes_on is not None and yes_on >= today


def _figures(chosen: Sequence[Candidate], orders: Sequence[OrderCost], choice: Choice) -> Choice:
    """Return a choice with minutes and what is left of it, made as these orders."""
    profit = sum((_left(each) for each in chosen), ZERO) - sum((o.cost for o in orders), ZERO)
    minutes = sum((order.minutes for order in orders), ZERO)
    labour = sum((order.labour_cost for order in orders), ZERO)
    per_hour = (profit + labour) / (minutes / 60) if minutes else None
    return replace(choice, minutes=minutes, profit=profit, per_hour=per_hour)


def _shared(
    candidates: Sequence[Candidate],
    places: tuple[int, ...],
    counted: Counted,
    today: datetime.date,
    plan_sheets: PlanSheets,
) -> Choice:
    chosen = sorted((candidates[place] for place in places), key=lambda each: each.needed_on)
    lines = tuple(line for each in chosen for line in each.worked.ordered)
    layer = Layer(replace(chosen[0].worked, ordered=lines), counted, today, plan_sheets)
    order = layer.order(layer.quantities)
    latest = layer.latest(layer.job(_parts(chosen)))
    apart = [_own(each) for each in chosen]
    saved_at = [
        (words, _minutes_at(apart, basis) - _minutes_at([order], basis))
        for basis, words in SHARED.items()
    ]
    choice = Choice(
        places=places,
        is_shared=True,
        minutes=ZERO,
        saved=sum((each.minutes for each in apart), ZERO) - order.minutes,
        saved_at=tuple((words, minutes) for words, minutes in saved_at if minutes > 0),
        yes_on=latest.yes_on,
        fits=_by(latest.yes_on, today),
        profit=ZERO,
        per_hour=None,
    )
    return _figures(chosen, [order], choice)


def _parts(chosen: Sequence[Candidate]) -> list[Part]:
    """Return each candidate's lines as a part of the whole, by date."""
    counts = [[line.ask.quantity for line in each.worked.ordered] for each in chosen]
    whole = sum(len(each) for each in counts)
    parts, start = [], 0
    for candidate, own in zip(chosen, counts, strict=True):
        quantities = [0] * whole
        quantities[start : start + len(own)] = own
        parts.append(Part(tuple(quantities), candidate.needed_on))
        start += len(own)
    return parts


def _own(candidate: Candidate) -> OrderCost:
    if candidate.worked.price is None:
        raise NothingToCompare(f"{candidate.name} has no price yet.")
    return candidate.worked.price.order


def _left(candidate: Candidate) -> Decimal:
    """Return what a candidate brings for its goods, less fees."""
    price = candidate.worked.price
    return ZERO if price is None else price.net - price.fees


def _minutes_at(orders: Iterable[OrderCost], basis: Basis) -> Decimal:
    exact = sum(
        (
            charge.exact
            for order in orders
            for charge in order.charges
            if charge.is_work and charge.basis is basis
        ),
        Fraction(0),
    )
    return Decimal(exact.numerator) / exact.denominator
