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
class DriedStep:
    """What a step waits for: loads on the rack with the minutes they dry, or nights."""

    step: RecipeStep
    times: int
    minutes: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Drying:
    """Loads on the rack, nights under weights, and the days each would take by itself.

    They are those of the steps in `racks` and `batches`, for so many `made` in so many
    `work_minutes` of days with `day_minutes`.
    """

    work_days: int
    rack_days: int
    racks: tuple[DriedStep, ...]
    batches: tuple[DriedStep, ...]
    made: int
    work_minutes: Decimal
    day_minutes: int

    @property
    def rack_loads(self) -> int:
        """Loads on the rack in all."""
        return sum(each.times for each in self.racks)

    @property
    @with_working_precision
    def drying_minutes(self) -> Decimal:
        """Minutes all loads dry, one after the other."""
        return sum((each.minutes for each in self.racks), ZERO)

    @property
    def nights(self) -> int:
        """Nights in all."""
        return sum(each.times for each in self.batches)

    @property
    @with_working_precision
    def line(self) -> Line:
        """Return how loads, nights and days came about."""
        minutes, day = self.work_minutes, self.day_minutes
        lines = (
            Line(
                f"working days of {shown(Decimal(day) / 60)} h",
                self.work_days,
                "working day",
                f"{shown(minutes)} / {day} min, up",
                "days.work",
            ),
            Line(
                "drying days",
                max(self.rack_days, self.nights),
                "drying day",
                "the longer of rack and nights",
                "days.dry",
                (*_rack_lines(self), *_night_lines(self)),
            ),
        )
        how = "hands-on time; the calendar gives the date"
        return Line("work and drying", minutes, "min", how, "days", lines)


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
    racks = []
    for step in parts.steps:
        if step.basis is Basis.RACK:
            loads = -(-parts.made // step.per)
            racks.append(DriedStep(step, loads, loads * step.times * step.minutes))
    batches = tuple(
        DriedStep(step, -(-parts.made // step.per) * step.times)
        for step in parts.steps
        if step.basis is Basis.NIGHT
    )
    return Drying(
        work_days=_up(minutes / day_minutes),
        rack_days=_up(sum((each.minutes / drying_window(each.step) for each in racks), ZERO)),
        racks=tuple(racks),
        batches=batches,
        made=parts.made,
        work_minutes=minutes,
        day_minutes=day_minutes,
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


def _rack_lines(drying: Drying) -> tuple[Line, ...]:
    racks = drying.racks
    if not racks:
        return ()
    load_lines = [
        Line(
            each.step.name,
            each.times,
            "load",
            f"{drying.made} / {each.step.per}, up",
            source=_source(each.step),
        )
        for each in racks
    ]
    dry_lines = [
        Line(
            each.step.name,
            each.minutes,
            "min",
            f"{each.times} x {each.step.times} x {shown(each.step.minutes)}",
            source=_source(each.step),
        )
        for each in racks
    ]
    hows = [f"{shown(each.minutes)} / {drying_window(each.step)}" for each in racks]
    return (
        sum_line("rack loads", load_lines, unit="load", key="dry.loads"),
        sum_line("drying, elapsed minutes", dry_lines, unit="min", key="dry.min"),
        Line(
            "drying days on the rack",
            drying.rack_days,
            "drying day",
            " + ".join(hows) + ", up",
            "days.rack",
        ),
    )


def _night_lines(drying: Drying) -> tuple[Line, ...]:
    if not drying.batches:
        return ()
    lines = []
    for each in drying.batches:
        step, times = each.step, each.step.times
        how = f"{drying.made} / {step.per}, up" + (f", x {times}" if times > 1 else "")
        lines.append(Line(step.name, each.times, "night", how, source=_source(step)))
    return (sum_line("nights of drying", lines, unit="night", key="days.nights"),)
