"""The figures of an order under their stable names, section by section, as text.

A section is a function from the order and what sections before it share to pairs of key and value.
"""

import datetime
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import cached_property

from maker.calc.explanation import plain_text
from pricing.calc.actuals.order_actuals import OrderActuals, actuals_of
from pricing.calc.order_result.changing import simpler, with_evenings, with_fewer, with_moved
from pricing.calc.order_result.order import Order, PartMinutes, job_of, minutes_of
from pricing.calc.order_result.selling import Sold, sold
from pricing.calc.schedule.changes import best_of, changes_of, first_in_time
from pricing.calc.schedule.dates import (
    EarliestDates,
    LatestDates,
    earliest_dates,
    latest_dates,
)
from pricing.calc.schedule.job import Job
from pricing.calc.schedule.laying import Span

Value = str | int | Decimal
Section = Callable[["Worked"], Iterator[tuple[str, Value]]]
NONE = "none"
SIX_PLACES = Decimal("0.000001")
BLOCKS = (("F", 1), ("M", 0))  # finish and make, by their place in the chain


@dataclass(frozen=True)
class Worked:
    """An order with what several sections ask for, worked out once."""

    order: Order

    @cached_property
    def minutes(self) -> tuple[PartMinutes, ...]:
        """Return counts and minutes by delivery."""
        return minutes_of(self.order)

    @cached_property
    def job(self) -> Job:
        """Return the blocks that are laid."""
        return job_of(self.order)

    @cached_property
    def latest(self) -> LatestDates:
        """Return the latest dates."""
        return self.latest_of(self.order)

    @cached_property
    def earliest(self) -> EarliestDates:
        """Return the earliest dates after a yes today."""
        order = self.order
        return earliest_dates(self.job, order.bench, order.promises, order.today)

    @cached_property
    def sold(self) -> Sold | None:
        """Return what the order is sold for, where it has a price."""
        return sold(self.order)

    @property
    def made(self) -> int:
        """Return the items to make, spares among them."""
        return sum(part.made for part in self.minutes)

    @cached_property
    def actuals(self) -> OrderActuals | None:
        """Return actual use against the plan, where it was kept."""
        actual = self.order.actual
        if actual is None:
            return None
        return actuals_of(Decimal(self.made), Decimal(actual.made), actual.materials, actual.work)

    def latest_of(self, order: Order) -> LatestDates:
        """Return the latest dates of this order or a changed one."""
        return latest_dates(job_of(order), order.bench, order.promises, order.today)


def quantities(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 1: counts and minutes."""
    for number, part in enumerate(worked.minutes, 1):
        yield f"q.{number}.n", part.count
        yield f"q.{number}.spare", part.spares
        yield f"q.{number}.make", part.made
        yield f"q.{number}.m", part.make_minutes + part.setup_minutes
        yield f"q.{number}.f", part.finish_minutes
    yield "q.total", worked.job.minutes
    rack = worked.order.rack
    yield "q.rack", NONE if rack is None else rack.items_per_day


def backwards(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 2: the latest dates."""
    latest, calendar = worked.latest, worked.order.calendar
    for place, part in enumerate(worked.order.parts):
        yield f"b.{place + 1}.due", part.due_on.isoformat()
        yield f"b.{place + 1}.hand", latest.handed_over_on[place].isoformat()
        for letter, at in BLOCKS:
            yield f"b.{place + 1}.{letter}", _span(latest.spans.get((place, at)))
    yield "b.make", _date(latest.start_on)
    yield "b.finish", _date(latest.after_proof_on)
    for on, minutes in latest.laid:
        yield f"b.day.{on.isoformat()}", f"{minutes} of {calendar.minutes_on(on)}"
    yield "b.sum", sum(minutes for _, minutes in latest.laid)
    yield "b.yes.buy", _date(latest.yes_to_buy_on)
    yield "b.yes.proof", _date(latest.yes_for_proof_on)
    yield "b.yes", _date(latest.yes_on)
    yield "b.promised.left", latest.promised_left
    yield (
        "b.promised.days",
        ", ".join(f"{on.isoformat()} {minutes}" for on, minutes in latest.promised),
    )


def forwards(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 3: the earliest dates after a yes today."""
    earliest = worked.earliest
    yield "e.arrive", _date(earliest.bought_on)
    yield "e.ok", _date(earliest.approved_on)
    for place, part in enumerate(worked.order.parts):
        for letter, at in reversed(BLOCKS):
            yield f"e.{place + 1}.{letter}", _span(earliest.spans.get((place, at)))
        dates = earliest.deliveries[place] if earliest.deliveries else None
        yield f"e.{place + 1}.hand", _date(dates.handed_over_on if dates else None)
        yield f"e.{place + 1}.at", _date(dates.arrives_on if dates else None)
        yield f"e.{place + 1}.slack", (part.due_on - dates.arrives_on).days if dates else NONE


def bottleneck(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 4: what one change of each kind would bring."""
    order = worked.order
    changes = changes_of(worked.job, order.bench, order.promises, order.today, worked.latest)
    for change in changes:
        yield f"n.{change.key}", _number(change.gain)
    yield "n.best", ", ".join(change.key for change in best_of(changes)) or NONE
    binding = worked.latest.binding
    yield "n.binding", "both" if len(binding) > 1 else (binding or (NONE,))[0]


def ways_out(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 5: the yes comes late."""
    order, yes_on = worked.order, worked.latest.yes_on
    late = order.late_yes_on

    def least(change: Callable[[Order, int], Order]) -> int | None:
        return first_in_time(
            lambda count: job_of(change(order, count)),
            order.parts[0].count - 1,
            order.bench,
            order.promises,
            order.today,
            late,
        )

    yield "w.days", NONE if yes_on is None else (late - yes_on).days
    yield "w.fewer", _number(least(with_fewer))
    simple = worked.latest_of(simpler(order)).yes_on
    yield "w.simple", _date(simple)
    yield "w.simple.ok", "yes" if simple is not None and simple >= late else "no"
    has_two = len(order.parts) > 1
    yield "w.move", _number(least(with_moved)) if has_two else NONE
    yield "w.evening", _date(worked.latest_of(with_evenings(order)).yes_on)


def asked(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 6: what the order is sold for, the packs to buy and the deposit."""
    sold = worked.sold
    if sold is None:
        return
    yield "p.goods", sold.goods
    yield "p.disc", sold.terms.discount
    yield "p.delivery", sold.terms.delivery
    yield "p.setup", sold.sale.names_setup
    yield "p.base", sold.quote.net
    yield "p.gross", sold.quote.gross
    for material in worked.order.materials:
        yield f"m.{material.name}", material.to_buy.count
    yield "m.cash", sold.cash
    yield "m.only", sold.cash_for_this_order
    yield "dep.rate", sold.share_of_total
    yield "dep.sunk", sold.deposit.to_cover
    yield "dep", sold.deposit.deposit
    yield "dep.why", "sunk packs" if sold.deposit.to_cover > sold.share_of_total else "rate"


def invoiced(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 7: an invoice for each delivery, the credit note, payments."""
    sold = worked.sold
    if sold is None:
        return
    for number, invoice in enumerate(sold.invoices, 1):
        yield f"i{number}.goods", invoice.goods
        yield f"i{number}.disc", invoice.discount
        yield f"i{number}.del", invoice.delivery
        yield f"i{number}.base", invoice.totals.net
        yield f"i{number}.tax", invoice.totals.tax
        yield f"i{number}.gross", invoice.totals.gross
    yield "i.diff", sum((each.totals.gross for each in sold.invoices), -sold.quote.gross)
    for number, invoice in enumerate(sold.invoices, 1):
        yield f"i{number}.dep", invoice.deposit
        yield f"i{number}.due", invoice.due
    if sold.credit is not None:
        yield "cn.base", sold.credit.net
        yield "cn.tax", sold.credit.tax
        yield "cn.gross", sold.credit.gross
    yield "pay.paid", sold.account.paid
    yield "pay.open", sold.account.owed
    yield "pay.fees", sold.account.fees


def afterwards(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 8: actual use against the plan."""
    actual, found = worked.order.actual, worked.actuals
    if actual is None or found is None:
        return
    yield "v.plan", worked.made
    yield "v.made", actual.made
    for used, amount, variance in zip(
        actual.materials, found.planned_amounts, found.materials, strict=True
    ):
        yield f"v.{used.name}.std", amount
        yield f"v.{used.name}.price", variance.by_price
        yield f"v.{used.name}.usage", variance.by_amount
    yield "v.hours.std", found.planned_hours
    yield "v.lab.rate", found.work.by_price
    yield "v.lab.eff", found.work.by_amount
    yield "v.volume", found.volume
    yield "v.plan.cost", found.planned_cost
    yield "v.std.cost", found.flexed_cost
    yield "v.act.cost", found.actual_cost
    yield "v.check", found.unexplained


SECTIONS: tuple[Section, ...] = (
    quantities,
    backwards,
    forwards,
    bottleneck,
    ways_out,
    asked,
    invoiced,
    afterwards,
)


def figures_of(order: Order) -> dict[str, str]:
    """Return every figure by key, in order: dates as ISO 8601, "none" where there is nothing."""
    worked = Worked(order)
    return {key: _text(value) for section in SECTIONS for key, value in section(worked)}


def _text(value: Value) -> str:
    """Return a number with two to six decimals, halves up, without a minus before zero."""
    if not isinstance(value, Decimal):
        return str(value)
    rounded = value.quantize(SIX_PLACES, rounding=ROUND_HALF_UP) + 0
    return plain_text(rounded, 2)


def _date(on: datetime.date | None) -> str:
    return NONE if on is None else on.isoformat()


def _span(span: Span | None) -> str:
    return NONE if span is None else f"{span.first.isoformat()} .. {span.last.isoformat()}"


def _number(number: int | None) -> Value:
    return NONE if number is None else number
