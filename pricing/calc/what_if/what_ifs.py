"""What a small change does to the price: a minute, a sheet, the wage, the cost of a material."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.recipes.recipe import Basis
from maker.calc import sums
from maker.calc.amounts import unit_cost_in
from maker.calc.explanation import Line, shown
from maker.calc.money import up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.price import JobPrice
from pricing.calc.price.terms import Terms

ZERO = Decimal(0)
_FOUR_PLACES = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A change: what the job then costs more, and what that asks of the price of one.

    `price_change` is exact; `price_needed`, in whole price steps, keeps the wanted margin, and
    `margin_left` is the margin if the price stays as it is.
    """

    cost_change: Decimal
    price_change: Decimal
    price_needed: Decimal
    margin_left: Decimal | None
    line: Line


def _what_if(
    label: str, how: sums.How, key: str, cost_change: Decimal, job_cost: JobCost, price: JobPrice
) -> WhatIf:
    terms = price.terms
    if terms.kept <= 0:
        raise Refusal("This margin leaves nothing for cost, so no price can reach it.")
    change = cost_change / terms.kept * terms.rush_factor * terms.shown_factor / job_cost.quantity
    exact = terms.shown_each(job_cost.cost + cost_change, job_cost.quantity)
    needed = up_to_step(exact, terms.step)
    left = (price.profit - cost_change) / price.net if price.net else None
    lines = [
        Line("extra cost of the batch", cost_change, "money", how, f"{key}.cost"),
        Line(
            "price each that keeps the margin",
            needed,
            "money",
            sums.say("{} rounded up to {}", sums.money(exact), sums.money(terms.step)),
            f"{key}.ask",
            (Line("before rounding", _four(exact), "money", key=f"{key}.unit"),),
        ),
    ]
    if left is not None:
        left_how = "(profit - extra) / net"
        lines.append(
            Line(
                "margin if the price is unchanged", _four(left), "share", left_how, f"{key}.margin"
            )
        )
    line = Line(
        label,
        _four(change),
        "money",
        _say_change(cost_change, terms, job_cost.quantity),
        key,
        tuple(lines),
    )
    return WhatIf(cost_change, change, needed, left, line)


def _say_change(cost_change: Decimal, terms: Terms, quantity: int) -> sums.How:
    net = sums.money(cost_change) / sums.share(terms.kept)
    if terms.rush_factor != 1:
        net = sums.say("{} for the rush", net * sums.factor(terms.rush_factor))
    each = net * sums.factor(terms.shown_factor) / sums.number(quantity)
    return each.then("4 decimals")


def _four(value: Decimal) -> Decimal:
    return value.quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)


def _minute_rate(rates: WorkshopRates) -> Decimal:
    return (rates.wage_per_hour + rates.overhead_per_hour) / 60


@with_working_precision
def one_more_minute(job_cost: JobCost, price: JobPrice, rates: WorkshopRates) -> WhatIf:
    """Return what 1 more minute per item does; it is not learnt."""
    rate = _minute_rate(rates)
    how = sums.unit_cost(rate) * sums.number(job_cost.made)
    label = "1 more minute per item"
    return _what_if(label, how, "w.minute", rate * job_cost.made, job_cost, price)


@with_working_precision
def one_more_sheet(job_cost: JobCost, price: JobPrice, rates: WorkshopRates, role: str) -> WhatIf:
    """Return what one more sheet of a role in the job does: the sheet, its wear and its cutting."""
    uses = [use for use in job_cost.sheet_uses if use.role == role]
    if not uses or uses[0].material.cost is None:
        raise Refusal(f"No sheets are cut for the role “{role}”.", where=role)
    steps, wears = job_cost.parts.steps, job_cost.parts.wears
    minutes = sum(
        (s.minutes for s in steps if s.basis is Basis.SHEET and s.role in (None, role)), ZERO
    )
    wear = sum(
        (w.price / w.life for w in wears if w.basis is Basis.SHEET and w.role in (None, role)),
        ZERO,
    )
    rate, cost = _minute_rate(rates), uses[0].material.cost.value
    work = sums.number(minutes) * sums.unit_cost(rate)
    how = sums.unit_cost(cost) + sums.money(wear) + work
    label = f"1 more sheet of {uses[0].material.name}"
    extra = cost + wear + minutes * rate
    return _what_if(label, how, f"w.sheet.{role}", extra, job_cost, price)


@with_working_precision
def one_more_unit(job_cost: JobCost, price: JobPrice, role: str) -> WhatIf:
    """Return what one more unit (m, ml, piece ...) on every piece made does, waste included.

    A yard instead of a metre where the recipe is in inches. For materials that are not cut from
    sheets.
    """
    uses = [use for use in job_cost.parts.uses if use.role == role and use.material.cost]
    if not uses:
        raise Refusal(f"No material with a cost has the role “{role}”.", where=role)
    material = uses[0].material
    known = material.cost.value if material.cost else ZERO
    unit_cost, unit = unit_cost_in(known, material.unit, job_cost.recipe.unit)
    amount = job_cost.made * (1 + material.waste_share)
    waste = sums.factor(1 + material.waste_share)
    how = sums.number(job_cost.made) * waste * sums.unit_cost(unit_cost)
    label = f"1 more {unit} of {material.name} per item"
    return _what_if(label, how, f"w.unit.{role}", amount * unit_cost, job_cost, price)


@with_working_precision
def wage_up(job_cost: JobCost, price: JobPrice, by_per_hour: Decimal = Decimal(1)) -> WhatIf:
    """Return what a higher wage an hour does."""
    how = sums.number(job_cost.minutes) / sums.number(60) * sums.money(by_per_hour)
    extra = job_cost.minutes * by_per_hour / 60
    return _what_if(
        f"hourly wage up by {shown(by_per_hour)}", how, "w.wage", extra, job_cost, price
    )


@with_working_precision
def material_up(job_cost: JobCost, price: JobPrice, role: str, by_share: Decimal) -> WhatIf:
    """Return what it does when a material costs more, in every role it plays in the job."""
    material = job_cost.recipe.materials.get(role)
    if material is None or material.cost is None:
        raise Refusal(f"No material with a cost has the role “{role}”.", where=role)
    amount = job_cost.amount_of(material.identity)
    how = (
        sums.stock(amount, material.unit)
        * sums.unit_cost(material.cost.value, material.unit)
        * sums.share(by_share)
    )
    extra = amount * material.cost.value * by_share
    label = f"{material.name} up {shown(by_share * 100)}%"
    key = f"w.{role}{shown(by_share * 100)}"
    return _what_if(label, how, key, extra, job_cost, price)


def what_ifs_for(
    job_cost: JobCost, price: JobPrice, rates: WorkshopRates, *, dearer_by: Decimal
) -> tuple[WhatIf, ...]:
    """Return every what-if of a job: a minute, the wage, and a sheet or a unit more and a higher
    price for each material it uses; a material with several roles is asked about once.
    """
    changes: list[WhatIf] = [one_more_minute(job_cost, price, rates), wage_up(job_cost, price)]
    cut_roles = {use.role for use in job_cost.sheet_uses}
    used_roles = {use.role for use in job_cost.parts.uses if use.amount}
    asked: set[int | str] = set()
    for role, material in job_cost.recipe.materials.items():
        if material.identity in asked or not job_cost.amount_of(material.identity):
            continue
        asked.add(material.identity)
        if role in cut_roles:
            changes.append(one_more_sheet(job_cost, price, rates, role))
        if role in used_roles:
            changes.append(one_more_unit(job_cost, price, role))
        changes.append(material_up(job_cost, price, role, dearer_by))
    return tuple(changes)
