"""The work of one design as blocks that can be laid on dates.

Steps stay in the order of the recipe; only what takes a night cuts them apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from catalogue.calc.recipes.recipe import Basis, RecipeStep
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.drying import drying_window
from pricing.calc.orders.groups import as_decimal
from pricing.calc.orders.order import OrderCost
from pricing.calc.schedule.job import Block, Cap

ZERO = Decimal(0)
# one rack holds one load at a time, whatever it dries; weights and presses are each step's own
RACK = "rack"


@dataclass(frozen=True, slots=True)
class Chain:
    """The blocks of one design, done in order."""

    name: str
    blocks: tuple[Block, ...]


def chain_of(job: JobCost, *, sends_proof: bool = True) -> Chain:
    """Return the chain of a job of one design."""
    return Chain(job.recipe.name, blocks_of(job, sends_proof=sends_proof))


def chains_of_order(order: OrderCost, *, sends_proof: bool = True) -> tuple[Chain, ...]:
    """Return a chain for each design of an order: its lines are made together."""
    chains = []
    for group in order.groups:
        held = {row for part in group.parts for row in part.steps}
        minutes: dict[tuple[str, Basis | None, object], Fraction] = {}
        for charge in order.charges:
            if charge.is_work and charge.group == group.number:
                key = (charge.name, charge.basis, charge.source)
                minutes[key] = minutes.get(key, Fraction(0)) + charge.exact
        steps = []
        for row, step in enumerate(group.recipe.steps):
            if row in held:
                source = ("step", step.id) if step.id is not None else None
                # steps alike in name and kind are one here, at the place of the first
                taken = minutes.pop((step.name, step.basis, source), Fraction(0))
                steps.append((step, as_decimal(taken)))
        blocks = blocks_for(group.made, steps, sends_proof=sends_proof)
        chains.append(Chain(group.recipe.name, blocks))
    return tuple(chains)


def blocks_of(job: JobCost, *, sends_proof: bool = True) -> tuple[Block, ...]:
    """Return the blocks of a job that was costed."""
    done = {id(each.step): each.minutes for each in job.work.steps}
    steps = [(step, done.get(id(step), ZERO)) for step in job.parts.steps]
    return blocks_for(job.made, steps, sends_proof=sends_proof)


def blocks_for(
    made: int, steps: Sequence[tuple[RecipeStep, Decimal]], *, sends_proof: bool = True
) -> tuple[Block, ...]:
    """Return the blocks of steps in their order, each with its hands-on minutes, whole and up.

    A rack caps how many are made on a date, and so do weights over a night. A night cuts; so does
    a rack whose drying of one load takes more than its minutes of a day. A block with names waits
    for the proof if one is sent. A night after no work belongs to the work before it.
    """
    blocks: list[Block] = []
    waiting: list[tuple[RecipeStep, Decimal]] = []
    for step, minutes in steps:
        waiting.append((step, minutes))
        nights = nights_after(step)
        if nights:
            _close(blocks, made, waiting, nights, sends_proof=sends_proof)
            waiting = []
    _close(blocks, made, waiting, 0, sends_proof=sends_proof)
    return tuple(blocks)


def items_per_date(step: RecipeStep) -> Fraction | None:
    """Return how many items a rack or weights take on a date; None for any other step.

    Rack: whole loads in the day's window x capacity / dryings, down; a load longer than the window
    counts by its part of it. Night: capacity / nights.
    """
    if step.basis is Basis.NIGHT:
        return Fraction(step.per, step.times)
    if step.basis is not Basis.RACK or step.minutes <= 0:
        return None
    loads = Fraction(drying_window(step)) / Fraction(step.minutes)
    items = (loads if loads < 1 else Fraction(int(loads))) * step.per / step.times
    return items if items < 1 else Fraction(int(items))


def nights_after(step: RecipeStep) -> int:
    """Return the nights that pass before anything more is done to what was made last."""
    if step.basis is Basis.NIGHT:
        return step.times
    if step.basis is not Basis.RACK:
        return 0
    return _up(step.minutes * step.times / drying_window(step)) - 1 if step.minutes > 0 else 0


def _close(
    blocks: list[Block],
    made: int,
    steps: Sequence[tuple[RecipeStep, Decimal]],
    nights: int,
    *,
    sends_proof: bool,
) -> None:
    """Add the block of some steps, or let their nights pass after the one before."""
    setup = _up(sum((minutes for step, minutes in steps if step.basis is Basis.JOB), ZERO))
    run = _up(sum((minutes for step, minutes in steps if step.basis is not Basis.JOB), ZERO))
    room = [
        (RACK if step.basis is Basis.RACK else f"{step.name} {step.id or ''}", items)
        for step, _ in steps
        for items in (items_per_date(step),)
        if items is not None
    ]
    if not run and room and nights:
        # nothing to spread over dates: one batch after the other
        nights += max(-(-made // items) for _, items in room) - 1
    if not setup and not run:
        if blocks and nights:
            blocks[-1] = replace(blocks[-1], nights=blocks[-1].nights + nights)
        return
    named = any(step.basis is Basis.NAME and minutes for step, minutes in steps)
    caps = [Cap(name, Fraction(made) / (items * run)) for name, items in room] if run else []
    blocks.append(
        Block(
            name=_name_of(steps),
            minutes=run,
            setup_minutes=setup,
            caps=tuple(caps),
            nights=nights,
            after_proof=named and sends_proof,
        )
    )


def _name_of(steps: Sequence[tuple[RecipeStep, Decimal]]) -> str:
    """Return the first and last step that take hands."""
    names = [step.name for step, minutes in steps if minutes]
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def _up(minutes: Decimal) -> int:
    return int(minutes.to_integral_value(rounding=ROUND_CEILING))
