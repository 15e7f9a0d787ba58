"""Makes timed runs for tests."""

import datetime
from decimal import Decimal
from typing import Any

from catalogue.recipes.models import DesignVersion
from pricing.times.models import TimedRun

NOON = datetime.datetime(2024, 3, 4, 12, tzinfo=datetime.UTC)
# after whatever a test saves
LATER = datetime.timedelta(days=10_000)


def after(seconds: float) -> datetime.datetime:
    """An instant so many seconds after noon."""
    return NOON + datetime.timedelta(seconds=seconds)


def make_run(
    version: DesignVersion, *, each: str | Decimal = "12", count: int = 10, **fields: Any
) -> TimedRun:
    """A counted run of the recipe's step of 10 minutes, `each` minutes for every piece."""
    seconds = int(Decimal(each) * count * 60)
    finished = fields.pop("finished_at", NOON)
    return TimedRun.objects.create(
        **{
            "design": version.design,
            "step_name": "fold and glue",
            "basis": "made",
            "started_at": finished - datetime.timedelta(seconds=seconds),
            "finished_at": finished,
            "worked_seconds": seconds,
            "count": count,
            **fields,
        }
    )
