"""Which dates count: minutes of work on a date, and days of suppliers, customers and carriers."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from maker.calc.refusal import Refusal

ONE_DAY = datetime.timedelta(days=1)
MINUTES_OF_A_DAY = 24 * 60
MONDAY_TO_FRIDAY = frozenset(range(5))
MONDAY_TO_SATURDAY = frozenset(range(6))


class NoDatesToCount(Refusal):
    """No weekday is left on which anything could happen."""


@dataclass(frozen=True, slots=True)
class WorkCalendar:
    """Hands-on minutes of every date.

    `weekday_minutes` has seven whole numbers, Monday first; a date off has none, a date of
    `other_days` its own. `added_minutes` are put on every date that has any.
    """

    weekday_minutes: tuple[int, ...]
    days_off: frozenset[datetime.date] = frozenset()
    other_days: Mapping[datetime.date, int] = field(default_factory=dict)
    added_minutes: int = 0

    def minutes_on(self, on: datetime.date) -> int:
        """Return the minutes of a date; a date off stays off whatever else is said of it."""
        if on in self.days_off:
            return 0
        usual = self.other_days.get(on, self.weekday_minutes[on.weekday()])
        return min(usual + self.added_minutes, MINUTES_OF_A_DAY) if usual > 0 else 0

    @property
    def has_work(self) -> bool:
        """Whether any weekday has minutes, so that work ends some day."""
        return any(minutes > 0 for minutes in self.weekday_minutes)


@dataclass(frozen=True, slots=True)
class CountedDays:
    """Days that count: certain weekdays (Monday is 0) without holidays.

    Errors: NoDatesToCount when there is no weekday.
    """

    weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    holidays: frozenset[datetime.date] = frozenset()

    def __post_init__(self) -> None:
        if not self.weekdays:
            raise NoDatesToCount("Choose at least one weekday.", where="weekdays")

    def counts(self, on: datetime.date) -> bool:
        """Say whether a date counts."""
        return on.weekday() in self.weekdays and on not in self.holidays

    def after(self, on: datetime.date, days: int) -> datetime.date:
        """Return the date so many counted days later; no days: the date itself."""
        return self._step(on, days, ONE_DAY)

    def before(self, on: datetime.date, days: int) -> datetime.date:
        """Return the date so many counted days earlier; no days: the date itself."""
        return self._step(on, days, -ONE_DAY)

    def first_from(self, on: datetime.date) -> datetime.date:
        """Return the date itself or the next that counts."""
        while not self.counts(on):
            on += ONE_DAY
        return on

    def last_until(self, on: datetime.date) -> datetime.date:
        """Return the date itself or the one before it that counts."""
        while not self.counts(on):
            on -= ONE_DAY
        return on

    def _step(self, on: datetime.date, days: int, step: datetime.timedelta) -> datetime.date:
        while days > 0:
            on += step
            days -= self.counts(on)
        return on


# Monday to Friday without holidays: what suppliers and customers count when nothing else is known
WEEKDAYS = CountedDays()
