"""How long a job keeps bench and rack busy: working days, rack loads, nights.

These are amounts of time, not dates; dates come from `pricing.calc.schedule`.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from catalogue.calc.recipes.parts_list import PartsList
from catalogue.calc.recipes.recipe import Basis, RecipeStep
from maker.calc.explanation import Line, shown, sum_line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal

ZERO = Decimal(0)
_MINUTES_OF_A_DAY = 24 * 60


class NoTimeToDry(Refusal):
    """A day has no minutes to dry in."""


@dataclass(frozen=True, slots=True)
class Drying:
    """Loads on the rack, nights under weights, and the days each would take by itself."""

    work_days: int
    rack_loads: int
    drying_minutes: Decimal
    rack_days: int
    nights: int
    line: Line


def _up(value: Decimal) -> int:
    return int(value.to_integral_value(rounding=ROUND_CEILING))


@with_working_precision
def drying_of(parts: PartsList, minutes: Decimal, day_minutes: int) -> Drying:
    """Return what a job takes of bench and rack.

    Work: hands-on minutes over the minutes of a working day, up. Rack: loads = made / capacity, up;
    each load dries so many times so many minutes in the day's window (none said: all day); the
    minutes of several racks' steps are added, as one rack holds one load at a time. Nights: one for
    each batch, up; several night steps follow each other.
    """
    work_days = _up(minutes / day_minutes)
    racks = [step for step in parts.steps if step.basis is Basis.RACK]
    loads = [-(-parts.made // step.per) for step in racks]
    drying = [load * step.times * step.minutes for load, step in zip(loads, racks, strict=True)]
    rack_days = _up(
        sum((dry / drying_window(step) for dry, step in zip(drying, racks, strict=True)), ZERO)
    )
    batches = [step for step in parts.steps if step.basis is Basis.NIGHT]
    nights = sum(-(-parts.made // step.per) * step.times for step in batches)
    lines = (
        Line(
            f"working days of {shown(Decimal(day_minutes) / 60)} h",
            work_days,
            "working day",
            f"{shown(minutes)} / {day_minutes} min, up",
            "days.work",
        ),
        Line(
            "drying days",
            max(rack_days, nights),
            "drying day",
            "the longer of rack and nights",
            "days.dry",
            (
                *_rack_lines(parts, racks, loads, drying, rack_days),
                *_night_lines(parts, batches),
            ),
        ),
    )
    line = Line(
        "work and drying",
        minutes,
        "min",
        "hands-on time; the calendar gives the date",
        "days",
        lines,
    )
    return Drying(
        work_days=work_days,
        rack_loads=sum(loads),
        drying_minutes=sum(drying, ZERO),
        rack_days=rack_days,
        nights=nights,
        line=line,
    )


def drying_window(step: RecipeStep) -> int:
    """Return the minutes of a day a load may dry in. Errors: NoTimeToDry."""
    window = _MINUTES_OF_A_DAY if step.window_minutes is None else step.window_minutes
    if window <= 0:
        raise NoTimeToDry(
            f"“{step.name}” needs drying time per day. Enter it in the recipe.", where=step.name
        )
    return window


def _source(step: RecipeStep) -> tuple[str, int] | None:
    return ("step", step.id) if step.id is not None else None


def _rack_lines(
    parts: PartsList,
    racks: list[RecipeStep],
    loads: list[int],
    drying: list[Decimal],
    rack_days: int,
) -> tuple[Line, ...]:
    if not racks:
        return ()
    load_lines = [
        Line(step.name, load, "load", f"{parts.made} / {step.per}, up", source=_source(step))
        for step, load in zip(racks, loads, strict=True)
    ]
    dry_lines = [
        Line(
            step.name,
            dry,
            "min",
            f"{load} x {step.times} x {shown(step.minutes)}",
            source=_source(step),
        )
        for step, load, dry in zip(racks, loads, drying, strict=True)
    ]
    hows = [
        f"{shown(dry)} / {drying_window(step)}" for step, dry in zip(racks, drying, strict=True)
    ]
    return (
        sum_line("rack loads", load_lines, unit="load", key="dry.loads"),
        sum_line("drying, elapsed minutes", dry_lines, unit="min", key="dry.min"),
        Line(
            "drying days on the rack",
            rack_days,
            "drying day",
            " + ".join(hows) + ", up",
            "days.rack",
        ),
    )


def _night_lines(parts: PartsList, batches: list[RecipeStep]) -> tuple[Line, ...]:
    if not batches:
        return ()
    lines = [
        Line(
            step.name,
            -(-parts.made // step.per) * step.times,
            "night",
            f"{parts.made} / {step.per}, up" + (f", x {step.times}" if step.times > 1 else ""),
            source=_source(step),
        )
        for step in batches
    ]
    return (sum_line("nights of drying", lines, unit="night", key="days.nights"),)
