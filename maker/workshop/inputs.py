"""What the workshop's rows say about an hour and about quantities, as plain values."""

from collections.abc import Iterable
from decimal import Decimal

from maker.calc.overhead import OverheadCost, WritingOff, rate_over_month, rate_over_year
from maker.calc.refusal import Refusal
from maker.workshop.models import OverheadItem, Workshop

MOST_STEPS, LARGEST_STEP = 8, 1_000_000


class WrongSteps(Refusal):
    """Quantities to show side by side that cannot be read."""


def read_steps(text: str, *, most: int = MOST_STEPS) -> tuple[int, ...]:
    """Return the quantities of a text like “1, 12, 60”, in order. Refusal: WrongSteps."""
    words = [word for word in text.replace(";", ",").replace(",", " ").split() if word]
    readable = [word for word in words if word.isascii() and word.isdigit() and len(word) < 8]
    steps = sorted({int(word) for word in readable})
    if not steps or len(readable) < len(words) or not 1 <= steps[0] <= steps[-1] <= LARGEST_STEP:
        raise WrongSteps("Enter whole numbers with commas between them, like 1, 12, 60, 250.")
    if len(steps) > most:
        raise WrongSteps(f"No more than {most} quantities are shown together.")
    return tuple(steps)


def quantity_steps(workshop: Workshop) -> tuple[int, ...]:
    """Return the quantities she wants to see side by side; one when they cannot be read."""
    try:
        return read_steps(workshop.quantity_steps)
    except WrongSteps:
        return (1,)


def overhead_per_hour(workshop: Workshop, items: Iterable[OverheadItem]) -> tuple[Decimal, str]:
    """Return what overhead adds to an hour, not rounded, and how that comes about.

    Needs no query: the caller hands over the items. Refusals: NoHours, when there is overhead
    but no hours to share it over.
    """
    if workshop.overhead_basis == Workshop.OverheadBasis.STATED:
        return workshop.overhead_per_hour_stated, "your own rate"
    costs = [
        OverheadCost(amount=item.amount, is_yearly=item.period == OverheadItem.Period.YEAR)
        for item in items
    ]
    writing = WritingOff(workshop.currency, workshop.locale)
    if workshop.overhead_basis == Workshop.OverheadBasis.MONTHLY:
        return rate_over_month(costs, workshop.planned_hours_per_month, writing)
    return rate_over_year(costs, workshop.hours_per_year, writing)
