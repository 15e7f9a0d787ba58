"""Checks of list prices against a day, kept by everything they depend on.

Home and the review check every price of the list each time, and costs, rates, terms and timed
minutes are mostly the same as the last time. All of these and the text of what the price was set
against are the key; when one changes, the prices are checked again.
"""

import datetime
import hashlib
import json
from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock

from pricing.price_review.inputs import Checked, Today, check

# days (of workshops) whose checks are kept, and checks of one: some 10 KB each
MOST_DAYS = 4
MOST_CHECKS = 1_000


class DayChecks:
    """Checks against one day."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[Hashable, Checked] = {}

    def check(
        self,
        basis: str | None,
        *,
        version_id: int,
        channel_id: int | None,
        set_on: datetime.date,
        today: Today,
    ) -> Checked:
        """Return what `check` finds for a price whose basis is given as JSON text."""
        said = hashlib.blake2b((basis or "").encode()).digest()
        key = (said, version_id, channel_id, set_on)
        found = self._kept.get(key)
        if found is None:
            found = check(
                None if basis is None else json.loads(basis),
                version_id=version_id,
                channel_id=channel_id,
                set_on=set_on,
                today=today,
            )
            if len(self._kept) < self._most:
                self._kept[key] = found
        return found


class KeptChecks:
    """The checks against the last few days asked for."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._days: OrderedDict[Hashable, DayChecks] = OrderedDict()
        self._lock = Lock()

    def against(self, today: Today) -> DayChecks:
        """Return the checks kept for a day of this content."""
        key = content_of(today)
        with self._lock:
            found = self._days.setdefault(key, DayChecks(MOST_CHECKS))
            self._days.move_to_end(key)
            while len(self._days) > self._most:
                self._days.popitem(last=False)
        return found


def content_of(today: Today) -> Hashable:
    """Return everything a check takes from a day, as a key."""
    return (
        today.on,
        frozenset(today.unit_costs.items()),
        today.rates,
        frozenset(today.channels.items()),
        today.threshold,
        today.timing_threshold,
        today.after_months,
        frozenset((version, frozenset(steps.items())) for version, steps in today.timed.items()),
    )


KEPT_CHECKS = KeptChecks(MOST_DAYS)
