"""The figures of a job under their stable names, and the one tree that explains them all."""

import datetime
from decimal import ROUND_HALF_UP, Decimal

from maker.calc.explanation import Line, plain_text
from maker.calc.money import with_working_precision
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.drivers import drivers_of
from pricing.calc.price.price import JobPrice

_FOUR_PLACES = Decimal("0.0001")


def _exact(value: Decimal, digits: int = 0) -> str:
    return plain_text(value, digits)


def _to_four(value: Decimal | None) -> str | None:
    if value is None:
        return None
    return format(value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP), "f")


@with_working_precision
def figures(
    job_cost: JobCost, job_price: JobPrice, *, ready_on: datetime.date | None, digits: int = 2
) -> dict[str, str | int | None]:
    """Return the figures for scripts: counts as integers, everything else as exact text.

    Cost, profit and minutes are exact; `cost_each`, `floor_each`, `margin` and `per_hour` have four
    decimals; the rest is whole minor units. `margin` and `per_hour` are None when there is
    nothing to divide by, `ready_on` when there is no date for the work.
    """
    return {
        "make": job_cost.made,
        "minutes": _exact(job_cost.minutes),
        "cost": _exact(job_cost.cost, digits),
        "cost_each": _to_four(job_cost.cost_each),
        "floor_each": _to_four(job_price.floor_exact),
        "price_each": _exact(job_price.price_each, digits),
        "total": _exact(job_price.total, digits),
        "tax": _exact(job_price.tax, digits),
        "fees": _exact(job_price.fees, digits),
        "profit": _exact(job_price.profit, digits),
        "margin": _to_four(job_price.margin),
        "deposit": _exact(job_price.deposit, digits),
        "balance": _exact(job_price.balance, digits),
        "per_hour": _to_four(job_price.per_hour),
        "ready_on": ready_on.isoformat() if ready_on else None,
    }


def explain(job_cost: JobCost, job_price: JobPrice, ready: Line | None = None) -> Line:
    """Return one tree: the price, the cost it rests on, the shares of that cost, and its date."""
    drivers = tuple(driver.line for driver in drivers_of(job_cost))
    cost = job_cost.explanation
    return Line(
        cost.label,
        job_price.price_each,
        "money",
        "price each",
        "all",
        (
            job_price.explanation,
            cost,
            Line(
                "shares of the cost",
                job_cost.cost,
                "money",
                "largest first",
                "d",
                drivers,
            ),
            *([ready] if ready else []),
        ),
    )
