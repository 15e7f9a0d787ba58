"""What a page says of the dates of a quote or an order: what sets them, and the ways out."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from maker.calc.dates import say_date
from maker.calc.refusal import Refusal
from pricing.calc.schedule.changes import Change, best_of, changes_of
from pricing.calc.schedule.dates import EarliestDates, LatestDates, earliest_dates
from pricing.calc.schedule.job import Job
from pricing.calc.schedule.ready import say_minutes
from pricing.quotes.ways_out import EVENING, Layer, Part, WaysOut, ways_out


@dataclass(frozen=True, slots=True)
class DateAnswer:
    """Facts (label and words), what one change of each kind brings, and the ways out if late."""

    facts: tuple[tuple[str, str], ...]
    changes: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]
    is_late: bool
    yes_on: datetime.date
    problem: str = ""


def answer_for(
    layer: Layer, parts: Sequence[Part], yes_on: datetime.date, *, is_order: bool = False
) -> DateAnswer:
    """Return what is said of an order in parts if it is accepted, or begun, on a date.

    Without parts with dates only the earliest delivery is known. What cannot be worked out is told
    as `problem`.
    """
    try:
        return _answer(layer, parts, yes_on, is_order=is_order)
    except Refusal as refusal:
        return DateAnswer((), (), (), is_late=False, yes_on=yes_on, problem=refusal.message)


def _answer(
    layer: Layer, parts: Sequence[Part], yes_on: datetime.date, *, is_order: bool
) -> DateAnswer:
    terms = layer.counted.terms
    whole = parts or [Part(layer.quantities, yes_on)]
    job = layer.job(whole)
    earliest = earliest_dates(job, terms.bench, terms.promises, yes_on)
    if not parts:
        facts = _earliest_facts(earliest, None, yes_on, is_order=is_order)
        facts.append(("What takes the time", _takes(job, earliest)))
        return DateAnswer(tuple(facts), (), (), is_late=False, yes_on=yes_on)
    latest = layer.latest(job)
    is_late = latest.yes_on is None or latest.yes_on < yes_on
    changes = changes_of(job, terms.bench, terms.promises, layer.today, latest)
    found = ways_out(layer, parts, yes_on) if is_late else None
    facts = [
        *_latest_facts(latest, yes_on, is_order=is_order),
        *_earliest_facts(earliest, parts, yes_on, is_order=is_order),
        ("Held up by", _binding(latest)),
        ("What takes the time", _takes(job, earliest)),
    ]
    return DateAnswer(
        tuple((label, words) for label, words in facts if words),
        _changes_said(changes),
        _ways_said(found, layer) if found else (),
        is_late,
        yes_on,
    )


def _latest_facts(
    latest: LatestDates, yes_on: datetime.date, *, is_order: bool
) -> list[tuple[str, str]]:
    label = "Latest date to begin" if is_order else "Last date to accept"
    if latest.yes_on is None:
        why = ""
        if latest.promised_left:
            why = f": {say_minutes(latest.promised_left)} promised earlier wouldn't fit"
        return [(label, f"there is none{why}")]
    late = (yes_on - latest.yes_on).days
    said = say_date(latest.yes_on)
    if late > 0:
        said += f", {_days(late)} before {say_date(yes_on, year=False)}"
    return [(label, said), ("Cutting starts by", _maybe(latest.start_on))]


def _earliest_facts(
    earliest: EarliestDates,
    parts: Sequence[Part] | None,
    yes_on: datetime.date,
    *,
    is_order: bool,
) -> list[tuple[str, str]]:
    if earliest.deliveries is None:
        return [("Earliest delivery", "not within three years")]
    arrives = max(each.arrives_on for each in earliest.deliveries)
    begun = "begun" if is_order else "accepted"
    said = f"{say_date(arrives)}, if {begun} on {say_date(yes_on, year=False)}"
    facts = [("Earliest delivery", said)]
    if parts:
        slack = (max(part.due_on for part in parts) - arrives).days
        spare = f"{_days(slack)} to spare" if slack >= 0 else f"{_days(-slack)} too late"
        facts.append(("Against the date needed", spare))
    return facts


def _binding(latest: LatestDates) -> str:
    words = {
        "purchases": "the materials",
        "proof": "the proof",
        "work": "the work itself",
    }
    said = [words[name] for name in latest.binding]
    if "purchases" in latest.binding and latest.slowest:
        supplier = f" from {latest.slowest.supplier}" if latest.slowest.supplier else ""
        said[latest.binding.index("purchases")] = f"{latest.slowest.name}{supplier}"
    return " and ".join(said)


def _takes(job: Job, earliest: EarliestDates) -> str:
    said = []
    if earliest.bought_on and earliest.slowest:
        said.append(f"{earliest.slowest.name} here {say_date(earliest.bought_on, year=False)}")
    if earliest.approved_on:
        said.append(f"proof approved by {say_date(earliest.approved_on, year=False)}")
    said.append(say_minutes(job.minutes))
    promised = sum(minutes for _, minutes in earliest.promised)
    if promised:
        said.append(f"{say_minutes(promised)} promised earlier")
    return ", then ".join(said[:1]) + "".join(f", {each}" for each in said[1:])


def _changes_said(changes: Sequence[Change]) -> tuple[tuple[str, str], ...]:
    """Return what each change brings, the largest gain first; those that bring nothing last."""
    best = {each.key for each in best_of(changes) if each.gain}
    ordered = sorted(changes, key=lambda each: -(each.gain or 0))
    return tuple(
        (
            each.label.capitalize(),
            ("–" if each.gain is None else _days(each.gain) if each.gain else "no difference")
            + (", most of all" if each.key in best else ""),
        )
        for each in ordered
    )


def _ways_said(ways: WaysOut, layer: Layer) -> tuple[tuple[str, str], ...]:
    enough = "not enough by itself"
    total = sum(layer.quantities)
    said = []
    if ways.fewer is None:
        said.append(("Fewer items", enough))
    elif ways.fewer:
        said.append(("Fewer items", f"leave out {ways.fewer} of {total}"))
    if ways.simpler is None:
        said.append(("Simpler items", "nothing to leave out"))
    else:
        words = ", ".join(ways.simpler.words)
        until = f"accept by {say_date(ways.simpler.yes_on)}" if ways.simpler.yes_on else "no date"
        end = "enough" if ways.simpler.is_enough else enough
        said.append(("Simpler items", f"{words}: {until}, {end}"))
    if ways.later is None or ways.rest_by is None:
        said.append(("A part later", enough))
    elif ways.later:
        said.append(("A part later", f"{ways.later} of {total} by {say_date(ways.rest_by)}"))
    if ways.evening_yes_on:
        said.append(
            (
                f"For comparison: {EVENING} minutes more each workday",
                f"accept by {say_date(ways.evening_yes_on)}",
            )
        )
    return tuple(said)


def _days(number: int) -> str:
    return f"{number} calendar day{'' if number == 1 else 's'}"


def _maybe(on: datetime.date | None) -> str:
    return say_date(on) if on else ""
