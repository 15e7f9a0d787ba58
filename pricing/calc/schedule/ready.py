"""The date a job can be ready on, and why."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.supplies.shopping import ShoppingList
from maker.calc.dates import say_date, say_span
from maker.calc.explanation import Line, shown
from maker.calc.units import format_number
from pricing.calc.schedule.calendar import CountedDays
from pricing.calc.schedule.dates import EarliestDates, earliest_dates
from pricing.calc.schedule.job import Bench, Delivery, Job, Promise, Supply
from pricing.calc.schedule.work_blocks import Chain


@dataclass(frozen=True, slots=True)
class DateTerms:
    """How the workshop and those it works with count days.

    `lead_days` are those of what is bought from nobody in particular; zero `proof_days`: no proof
    is sent.
    """

    bench: Bench
    supplier_days: CountedDays
    lead_days: int
    proof_days: int
    transit_days: int
    promises: tuple[Promise, ...] = ()


@dataclass(frozen=True, slots=True)
class Ready:
    """The date everything is made and dry; None when there is no place for the work in years."""

    on: datetime.date | None
    reason: str
    dates: EarliestDates
    line: Line


def supplies_of(shopping: ShoppingList, terms: DateTerms) -> tuple[Supply, ...]:
    """Return what is short, each with the slowest lead of the packs that are bought.

    The shopping list must have deducted what is in stock.
    """
    found = []
    for line in shopping.lines:
        if line.bought is None:
            found.append(Supply(line.material.name, terms.lead_days, "", terms.supplier_days))
            continue
        leads = [
            (terms.lead_days if pack.offer.lead_days is None else pack.offer.lead_days, pack.offer)
            for pack in line.bought.packs
        ]
        if leads:
            lead, offer = max(leads, key=lambda each: each[0])
            found.append(Supply(line.material.name, lead, offer.supplier, terms.supplier_days))
    return tuple(found)


def job_to_lay(
    chains: Sequence[Chain],
    shopping: ShoppingList,
    terms: DateTerms,
    *,
    due_on: datetime.date | None = None,
    transit_days: int = 0,
) -> Job:
    """Return what is laid on dates: the chains of all designs, leaving together."""
    deliveries = tuple(Delivery(chain.name, chain.blocks, due_on, transit_days) for chain in chains)
    return Job(deliveries, supplies_of(shopping, terms), terms.proof_days)


def ready_from(job: Job, terms: DateTerms, yes_on: datetime.date) -> Ready:
    """Return when a job is ready if it is accepted on a date. Errors: NoTimeToWork.

    Work begins the day after, beside what is promised already.
    """
    dates = earliest_dates(job, terms.bench, terms.promises, yes_on)
    on = max(each.ready_on for each in dates.deliveries) if dates.deliveries else None
    reason = _reason(job, dates, on)
    line = Line(
        "ready",
        "not within three years" if on is None else on.isoformat(),
        "" if on is None else "date",
        reason,
        "ready_on",
        tuple(_lines(job, dates, on)),
    )
    return Ready(on, reason, dates, line)


def _reason(job: Job, dates: EarliestDates, on: datetime.date | None) -> str:
    said = []
    if dates.bought_on and dates.slowest:
        where = f" from {dates.slowest.supplier}" if dates.slowest.supplier else ""
        said.append(f"{dates.slowest.name}{where} here {say_date(dates.bought_on, year=False)}")
    if dates.approved_on:
        said.append(f"proof approved by {say_date(dates.approved_on, year=False)}")
    if dates.deliveries is None:
        return "; ".join([*said, "your hours are full"])
    work = say_minutes(job.minutes)
    if dates.laid:
        first, last = dates.laid[0][0], dates.laid[-1][0]
        said.append(f"{work} {'on ' if first == last else ''}{say_span(first, last)}")
        beside = sum(minutes for date, minutes in dates.promised if date <= last)
        if beside:
            said.append(f"with {say_minutes(beside)} promised earlier")
        if on and on > last:
            nights = (on - last).days
            said.append(f"then {nights} night{'' if nights == 1 else 's'} of drying")
    return ", ".join(said) or "nothing to do"


def say_minutes(minutes: int) -> str:
    """Say work in minutes, or in hours when it is much."""
    if minutes < 90:
        return f"{minutes} min of work"
    return f"{format_number(Decimal(minutes) / 60, decimals=1)} h of work"


def _lines(job: Job, dates: EarliestDates, on: datetime.date | None) -> list[Line]:
    lines = [Line("accepted", dates.yes_on.isoformat(), "date", "work starts the next day")]
    if dates.bought_on:
        bought = [
            Line(
                supply.name,
                supply.days.after(
                    supply.days.first_from(dates.yes_on), supply.lead_days
                ).isoformat(),
                "date",
                f"{supply.lead_days} weekday{'' if supply.lead_days == 1 else 's'}"
                + (f" from {supply.supplier}" if supply.supplier else ""),
            )
            for supply in job.supplies
        ]
        how = "the last to arrive; cutting starts the next day"
        lines.append(
            Line("all materials here", dates.bought_on.isoformat(), "date", how, "", tuple(bought))
        )
    else:
        lines.append(Line("all materials here", "nothing to buy", how="enough in stock"))
    if dates.approved_on:
        lines.append(
            Line(
                "proof approved",
                dates.approved_on.isoformat(),
                "date",
                f"sent the next day, {job.proof_days} weekdays",
            )
        )
    promised = sum(minutes for _, minutes in dates.promised)
    if promised:
        lines.append(Line("promised earlier", promised, "min", "as late as possible"))
    for place, delivery in enumerate(job.deliveries):
        for at, block in enumerate(delivery.blocks):
            span = dates.spans.get((place, at))
            if span is None:
                continue
            days = tuple(
                Line(say_date(date), minutes, "min", "hands-on") for date, minutes in span.laid
            )
            how = f"{shown(block.all_minutes)} min, from {say_date(span.first)}"
            if block.nights:
                how += f"; then {block.nights} night{'' if block.nights == 1 else 's'} of drying"
            lines.append(
                Line(f"{delivery.name}: {block.name}", span.last.isoformat(), "date", how, "", days)
            )
    return lines
