"""Why a few more pieces cost more each, or less in all: what starts between two quantities.

A cost that grew in step with the quantity would leave the cost of one piece as it is. So what
makes one piece cost more is, for each kind of cost, what it grew beyond that; these excesses over
the quantity add up to the change of the unit cost exactly, and with the change of fees, margin and
rounding to the change of the price.
"""

from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.recipes.recipe import Basis
from maker.calc.explanation import Line, shown, sum_line
from maker.calc.money import with_working_precision
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.price.price import JobPrice
from pricing.calc.price.terms import Terms

ZERO = Decimal(0)
# what has less than this share of the largest effect is not a reason worth saying
_WORTH_SAYING = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class PricedQuantity:
    """One quantity that a buyer takes, with its cost and its worked-out price."""

    cost: JobCost
    price: JobPrice

    @property
    def bought(self) -> int:
        """How many one buyer takes."""
        return self.price.terms.bought_at_once


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that starts or ends, and what it does to the price of one as shown, unrounded."""

    key: str
    label: str
    effect_each: Decimal


@dataclass(frozen=True, slots=True)
class Cliff:
    """A quantity that costs more each, or no more in all, than the one before it.

    `effects` add up to the change of the price of one.
    """

    quantity: int
    quantity_before: int
    price_each: Decimal
    price_each_before: Decimal
    effects: tuple[Reason, ...]

    @property
    def change_each(self) -> Decimal:
        """How much more one piece costs than in the smaller quantity."""
        return self.price_each - self.price_each_before

    @property
    def is_dearer_each(self) -> bool:
        """Whether one piece costs more than in the smaller quantity."""
        return self.change_each > 0

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Return what works in the direction of the change, the largest first."""
        sign = 1 if self.is_dearer_each else -1
        largest_first = sorted(self.effects, key=lambda each: -sign * each.effect_each)
        least = max(sign * largest_first[0].effect_each * _WORTH_SAYING, ZERO)
        return tuple(each for each in largest_first if sign * each.effect_each > least)

    @property
    def why(self) -> str:
        """Return the reasons in words."""
        return ", ".join(reason.label for reason in self.reasons)

    @property
    @with_working_precision
    def line(self) -> Line:
        """Return the change of the price of one, which opens to everything behind it."""
        return sum_line(
            f"{self.quantity} instead of {self.quantity_before}: price each",
            [
                Line(each.label, each.effect_each, "money", key=f"cliff.{each.key}")
                for each in self.effects
            ],
            unit="money",
            key=f"cliff.{self.quantity}",
            how=f"{self.price_each} - {self.price_each_before}",
        )


@with_working_precision
def cliff_between(
    before: PricedQuantity, after: PricedQuantity, rates: WorkshopRates
) -> Cliff | None:
    """Return the cliff between two quantities, the larger one second; None where there is none.

    Totals are quantity x price of one as shown. `rates` are those both were costed with.
    """
    small, large = before.price.price_each, after.price.price_each
    costs_more_in_all = large * after.bought > small * before.bought
    if large == small or (large < small and costs_more_in_all):
        return None
    effects = tuple(_effects(before, after, rates))
    return Cliff(after.bought, before.bought, large, small, effects)


def _effects(before: PricedQuantity, after: PricedQuantity, rates: WorkshopRates) -> list[Reason]:
    """Return what changes the price of one from `before` to `after`; the effects add up to it."""
    small, large = before.price, after.price
    growth = Decimal(large.quantity) / small.quantity
    each_money = _shown_factor(small.terms) / large.quantity
    old, new = _kinds_of_cost(before.cost, rates), _kinds_of_cost(after.cost, rates)
    effects = [
        Reason(
            key,
            _say_start(key, before.cost, after.cost),
            (new.get(key, ZERO) - old.get(key, ZERO) * growth) * each_money,
        )
        for key in dict.fromkeys([*old, *new])
    ]
    exact = large.price_exact - small.price_exact
    by_cost = sum((each.effect_each for each in effects), ZERO)
    effects.append(Reason("terms", _say_terms(small, large), exact - by_cost))
    rounding = large.price_each - small.price_each - exact
    label = f"rounding up to {shown(large.terms.step)}"
    effects.append(Reason("rounding", label, rounding))
    return [each for each in effects if each.effect_each]


def _shown_factor(terms: Terms) -> Decimal:
    """Return what one more unit of cost adds to the price as shown."""
    return terms.rush_factor * terms.shown_factor / terms.kept


def _kinds_of_cost(job: JobCost, rates: WorkshopRates) -> dict[str, Decimal]:
    """Split a cost by what makes it start: each role's sheets, offcuts kept, passes, batches,
    packing, pieces made, good pieces, names and the job itself. The parts add up to the cost."""
    rate = (rates.wage_per_hour + rates.overhead_per_hour) / 60
    sheets = {use.role: use.sheets for use in job.sheet_uses}
    kinds: dict[str, Decimal] = {}

    def add(key: str, cost: Decimal) -> None:
        kinds[key] = kinds.get(key, ZERO) + cost

    for use in job.sheet_uses:
        unit_cost = use.material.cost.value if use.material.cost else ZERO
        add(f"sheet.{use.role}", use.sheets * unit_cost)
    for kept in job.offcuts:
        unit_cost = kept.material.cost.value if kept.material.cost else ZERO
        add("offcuts", -kept.sheets * unit_cost)
    for done in job.work.steps:
        step, cost = done.step, done.minutes * rate
        if step.basis is Basis.SHEET and step.role is None and done.count:
            for role, count in sheets.items():
                add(f"sheet.{role}", cost * count / done.count)
        else:
            add(_kind_of(step.basis, step.role, step.name), cost)
    for wear, uses in job.wear_uses:
        each_use = wear.price / wear.life
        if wear.basis is Basis.SHEET and wear.role is None:
            for role, count in sheets.items():
                add(f"sheet.{role}", count * each_use)
        else:
            add(_kind_of(wear.basis, wear.role, wear.name), uses * each_use)
    add("made", job.other_cost)
    add("packing", job.packing_cost)
    return kinds


def _kind_of(basis: Basis, role: str | None, name: str) -> str:
    if basis is Basis.SHEET:
        return f"sheet.{role}"
    if basis is Basis.BATCH:
        return f"batch.{name}"
    return {Basis.CARTON: "packing", Basis.NAME: "names"}.get(basis, basis.value)


def _say_start(key: str, before: JobCost, after: JobCost) -> str:
    kind, _, name = key.partition(".")
    if kind == "sheet":
        more = after.sheets_of(name) - before.sheets_of(name)
        material = after.recipe.materials.get(name)
        return _more(more, "sheet", "sheets", f" of {material.name if material else name}")
    if kind == "pass":
        return _more(after.work.die_passes - before.work.die_passes, "die pass", "die passes")
    if kind == "batch":
        return f"one more batch of “{name}”"
    if kind == "packing":
        return _say_packing(before, after)
    if kind == "made":
        more = after.parts.spares - before.parts.spares
        if more and not before.parts.spares:
            return (
                "the first spare is needed" if more == 1 else f"the first {more} spares are needed"
            )
        return _more(more, "spare", "spares") if more else "work and material per item made"
    if kind in {"names", "offcuts"}:
        return "names" if kind == "names" else "offcuts kept"
    return "set-up" if kind == "job" else "work per item"


def _more(count: int, one: str, several: str, of: str = "") -> str:
    if count <= 0:
        return f"{'the same' if count == 0 else 'fewer'} {several}{of} shared by more items"
    return f"one more {one}{of}" if count == 1 else f"{count} more {several}{of}"


def _say_packing(before: JobCost, after: JobCost) -> str:
    counts = {each.packing.name: each.count for each in before.parts.packed}
    said = []
    for each in after.parts.packed:
        name = each.packing.name
        if name not in counts:
            said.append(f"packed in {name} from this quantity")
        elif each.count > counts[name]:
            said.append(_more(each.count - counts[name], name, f"of {name}"))
    return " and ".join(said) or "packing"


def _say_terms(small: JobPrice, large: JobPrice) -> str:
    old, new = small.terms.tier, large.terms.tier
    if old.margin != new.margin:
        share = f"{shown(new.margin * 100)}% margin instead of {shown(old.margin * 100)}%"
        return f"{share} from {new.bought_at_once}"
    if old is not new and old != new:
        return f"other terms from {new.bought_at_once}"
    return "fixed fees shared by more items"
