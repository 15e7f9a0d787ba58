"""Where to attack a cost first: what each thing costs, times how much of it could go.

A large share that cannot shrink is not a target, a small one that is half waste may be. How much
could go is her own to say; where she says nothing it is what the recipe knows: a step's minutes
down to its low estimate, sheets down to the area of the pieces, a material down to what ends up in
the piece, spares down to none. These are the most that could go, not what will.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.recipes.parts_list import PartUse
from catalogue.calc.recipes.recipe import Basis, RecipeFixing
from catalogue.calc.sheets.use import SheetUse
from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.price import JobPrice

ZERO = Decimal(0)
ONE = Decimal(1)
_FOUR_PLACES = Decimal("0.0001")


class NotAShare(Refusal):
    """How much of something could go is a share, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Attack:
    """One thing to make cheaper.

    `cost` is what it costs in the job (steps with wage and overhead), `share` its share of the
    whole cost, `could_go` how much of it, 0 to 1; `saving_each` is what the price of one, as shown
    and before rounding, falls at the wanted margin when all of that goes.
    """

    key: str
    label: str
    cost: Decimal
    share: Decimal
    could_go: Decimal
    saving_each: Decimal
    line: Line


@with_working_precision
def attack_list(
    job_cost: JobCost,
    price: JobPrice,
    rates: WorkshopRates,
    could_go: Mapping[str, Decimal] | None = None,
) -> tuple[Attack, ...]:
    """Return what to attack, the largest saving first.

    `could_go` overrides, by key, how much she thinks could go: "step.NAME", "sheet.ROLE",
    "use.ROLE", "packing", "wear", "spares". Each saving is by itself; those of spares overlap with
    the steps and materials that spares take, so they do not add up. Errors: NotAShare.
    """
    said = dict(could_go or {})
    for key, share in said.items():
        if not 0 <= share <= 1:
            raise NotAShare("A saving must be from 0% to 100%.", where=key)
    terms = price.terms
    if terms.kept <= 0:
        raise Refusal("This margin leaves nothing for cost, so no price can reach it.")
    each_money = terms.rush_factor * terms.shown_factor / terms.kept / job_cost.quantity
    attacks = []
    for key, label, cost, known in _candidates(job_cost, rates):
        goes = said.get(key, known)
        saving = cost * goes * each_money
        share = cost / job_cost.cost if job_cost.cost else ZERO
        parts = sums.money(cost) * sums.share(goes) * sums.factor(each_money)
        how = parts.then("4 decimals")
        line = Line(
            label,
            saving.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP),
            "money",
            how,
            f"attack.{key}",
            (
                Line("cost in the batch", cost, "money"),
                Line("share of the cost", share.quantize(_FOUR_PLACES), "share"),
                Line("could be saved", goes, "share", "as you say" if key in said else "at most"),
            ),
        )
        attacks.append(Attack(key, label, cost, share, goes, saving, line))
    return tuple(sorted(attacks, key=lambda each: (-each.saving_each, -each.cost)))


_Candidate = tuple[str, str, Decimal, Decimal]


def _candidates(job: JobCost, rates: WorkshopRates) -> Iterator[_Candidate]:
    """Yield key, label, cost and the most that could go of everything that costs something."""
    minute = (rates.wage_per_hour + rates.overhead_per_hour) / 60
    for done in job.work.steps:
        step = done.step
        if done.minutes:
            low = step.minutes if step.minutes_low is None else step.minutes_low
            goes = max(1 - low / step.minutes, ZERO)
            yield f"step.{step.name}", step.name, done.minutes * minute, goes
    for use in job.sheet_uses:
        if use.sheets and use.material.cost:
            charged, label = _charged_sheets(job, use), f"sheets of {use.material.name}"
            cost = charged * use.material.cost.value
            yield f"sheet.{use.role}", label, cost, _unused_share(job, use.role, charged)
    for other in job.parts.uses:
        if other.amount and other.material.cost:
            cost = other.amount * other.material.cost.value
            yield f"use.{other.role}", other.material.name, cost, _wasted_share(job, other)
    if job.packing_cost:
        yield "packing", "packing", job.packing_cost, ZERO
    if job.wear_cost:
        yield "wear", "wear of tools", job.wear_cost, ZERO
    spared = [d for d in job.work.steps if d.step.basis is Basis.MADE]
    if job.parts.spares:
        made = sum((d.minutes for d in spared), ZERO) * minute + _cost_of_each_made(job)
        cost = made * job.parts.spares / job.made
        yield "spares", "spares: work and materials not cut from sheets", cost, ONE


def _wasted_share(job: JobCost, use: PartUse) -> Decimal:
    """Return which share of a material is waste; each of its fixings may have its own."""
    wasted = ZERO
    for fixing, amount in _fixings_of(job, use):
        waste = use.material.waste_share if fixing.waste_share is None else fixing.waste_share
        wasted += amount * waste / (1 + waste)
    return wasted / use.amount


def _fixings_of(job: JobCost, use: PartUse) -> list[tuple[RecipeFixing, Decimal]]:
    """Return the fixings a use is made of, each with its amount, waste included."""
    fixings = [
        fixing
        for fixing in job.recipe.fixings
        if fixing.role == use.role and fixing.when.holds(job.quantity, job.parts.choices)
    ]
    return [(fixing, line.number) for fixing, line in zip(fixings, use.line.lines, strict=True)]


def _cost_of_each_made(job: JobCost) -> Decimal:
    """Return what goes into all that are made, spares too; the rest no spare takes."""
    return sum(
        (
            amount * use.material.cost.value
            for use in job.parts.uses
            if use.material.cost
            for fixing, amount in _fixings_of(job, use)
            if fixing.basis is Basis.MADE
        ),
        ZERO,
    )


def _charged_sheets(job: JobCost, use: SheetUse) -> Decimal:
    """Return a role's sheets less its share of the offcuts kept of its material."""
    identity = use.material.identity
    kept = sum((each.sheets for each in job.offcuts if each.material.identity == identity), ZERO)
    sheets = sum(each.sheets for each in job.sheet_uses if each.material.identity == identity)
    return use.sheets - kept * use.sheets / sheets


def _unused_share(job: JobCost, role: str, charged: Decimal) -> Decimal:
    """Return which share of a role's sheets, as charged, is in no piece."""
    cuts = [cut for cut in job.parts.cuts if cut.piece.role == role]
    material = cuts[0].material
    used = sum((cut.piece.width_mm * cut.piece.height_mm * cut.count for cut in cuts), ZERO)
    return max(1 - used / (charged * material.width_mm * material.height_mm), ZERO)
