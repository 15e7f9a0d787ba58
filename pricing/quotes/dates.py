"""Dates of a quote: until when it can be accepted for its date, and the earliest there is.

What a document keeps of them (`for_customer`, `for_herself`) has dates apart from words, so that
words never speak of a date that was moved.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.calc.supplies.shopping import shopping_list
from maker.workshop.models import Workshop
from pricing.calc.orders.order import OrderCost
from pricing.calc.schedule.calendar import CountedDays
from pricing.calc.schedule.dates import LatestDates, latest_dates
from pricing.calc.schedule.job import Job, NoTimeToWork
from pricing.calc.schedule.ready import DateTerms, Ready, job_to_lay, ready_from, say_minutes
from pricing.calc.schedule.work_blocks import chains_of_order
from pricing.costs.inputs import date_terms, supplier_terms
from pricing.quotes.models import Quote

EVERY_DAY = CountedDays(frozenset(range(7)))


@dataclass(frozen=True, slots=True)
class Counted:
    """What dates of one quote are counted with, loaded once."""

    terms: DateTerms
    suppliers: tuple[SupplierTerms, ...]
    transit_days: int


@dataclass(frozen=True, slots=True)
class QuoteDates:
    """The dates of a quote as of a day; `latest` is None when no date is asked for.

    `arrives_on` is the earliest date with the customer, after spare days and carrier.
    """

    on: datetime.date
    needed_on: datetime.date | None
    job: Job
    counted: Counted
    ready: Ready
    latest: LatestDates | None

    @property
    def arrives_on(self) -> datetime.date | None:
        """Return the earliest date everything is with the customer."""
        deliveries = self.ready.dates.deliveries
        return max(each.arrives_on for each in deliveries) if deliveries else None

    @property
    def yes_by(self) -> datetime.date | None:
        """Return the last date it can be accepted on; None when its date cannot be met any more."""
        yes_on = self.latest.yes_on if self.latest else None
        return yes_on if yes_on and yes_on >= self.on else None

    @property
    def why(self) -> str:
        """Say what takes time, without a date."""
        job, terms = self.job, self.counted.terms
        slowest = self.ready.dates.slowest
        said = []
        if slowest:
            days = _count(slowest.lead_days, "weekday")
            where = f" from {slowest.supplier}" if slowest.supplier else ""
            said.append(f"{slowest.name}{where} takes {days}")
        if job.needs_proof:
            said.append(f"{_count(job.proof_days, 'weekday')} for the proof")
        said.append(f"{say_minutes(job.minutes)}")
        nights = max(
            (sum(block.nights for block in each.blocks) for each in job.deliveries), default=0
        )
        if nights:
            said.append(f"{_count(nights, 'night')} of drying")
        if terms.bench.buffer_days:
            said.append(_count(terms.bench.buffer_days, "spare workshop day"))
        if self.counted.transit_days:
            said.append(f"{_count(self.counted.transit_days, 'day')} with the carrier")
        promised = sum(each.minutes for each in terms.promises)
        if promised:
            said.append(f"{say_minutes(promised)} promised earlier")
        return "; ".join(said)


def count_for(quote: Quote, today: datetime.date) -> Counted:
    """Load what dates of a quote are counted with (three queries)."""
    workshop: Workshop = quote.workshop
    terms = date_terms(workshop, today, without=quote.pk)
    transit = terms.transit_days if quote.delivery else 0
    if not quote.delivery:  # collected: any day will do
        terms = replace(terms, bench=replace(terms.bench, carrier_days=EVERY_DAY))
    return Counted(terms, tuple(supplier_terms(workshop)), transit)


def dates_of(
    order: OrderCost, counted: Counted, today: datetime.date, needed_on: datetime.date | None = None
) -> QuoteDates | None:
    """Return the dates of an order if it is accepted today; None when nobody works on any day."""
    terms = counted.terms
    due_on = terms.bench.carrier_days.last_until(needed_on) if needed_on else None
    job = job_to_lay(
        chains_of_order(order, sends_proof=terms.proof_days > 0),
        shopping_list(order.needs, deduct_stock=True, terms=counted.suppliers),
        terms,
        due_on=due_on,
        transit_days=counted.transit_days,
    )
    try:
        ready = ready_from(job, terms, today)
        latest = None
        if due_on is not None:
            latest = latest_dates(job, terms.bench, terms.promises, today)
    except NoTimeToWork:
        return None
    return QuoteDates(today, needed_on, job, counted, ready, latest)


def for_customer(dates: QuoteDates | None) -> dict[str, Any]:
    """Return what the customer's paper says of dates."""
    return {"yes_by": _iso(dates.yes_by if dates else None), "earliest_on": _earliest(dates)}


def for_herself(dates: QuoteDates | None) -> dict[str, Any]:
    """Return what she keeps of the dates of a quote."""
    return {
        "ready_on": _iso(dates.ready.on if dates else None),
        "earliest_on": _earliest(dates),
        "yes_by": _iso(dates.yes_by if dates else None),
        "why": dates.why if dates else "",
    }


def promise_of(document: Mapping[str, Any]) -> str:
    """Return what a document can promise of its date.

    "met" if it is accepted while it is valid, "earlier" if by an earlier date, "missed" if it
    cannot be met any more; "agreed" where no date is asked for, "past" where it is over. Documents
    of before there were schedules keep what they said.
    """
    needed_on, valid_until = document["needed_on"], document["valid_until"]
    if not needed_on:
        return "agreed"
    if document.get("is_past"):
        return "past"
    dates = document["public"].get("dates")
    if dates is None:
        return "met" if valid_until and needed_on > valid_until else "agreed"
    if dates["yes_by"] is None:
        return "missed"
    return "met" if valid_until and valid_until <= dates["yes_by"] else "earlier"


def _count(number: int, unit: str) -> str:
    return f"{number} {unit}{'' if number == 1 else 's'}"


def _earliest(dates: QuoteDates | None) -> str | None:
    return _iso(dates.arrives_on if dates else None)


def _iso(on: datetime.date | None) -> str | None:
    return on.isoformat() if on else None
