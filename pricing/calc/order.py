"""What an order costs: all its lines are one job.

Lines of one recipe (design and version) form a group: set-up once, batches and practice by the
group's sum. Sheets are planned for the whole order, one job for each material. What a line uses by
itself stays with it; what is shared goes by items made, sheets by the area of pieces. Shares are
exact and add up to the order. An order of one line costs what `cost_of` says of that job.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.cutting_integers import split_into_problems
from catalogue.calc.cutting_job import CuttingJob, CuttingPlan, check_job
from catalogue.calc.parts_list import amount_of_one, say_made
from catalogue.calc.recipe import Basis, MaterialValues, Recipe, Step
from catalogue.calc.reels import Length
from catalogue.calc.sheet_use import PlanSheets
from catalogue.calc.shopping import Need
from maker.calc import sums
from maker.calc.explanation import Line, sum_line
from maker.calc.money import share_out, up_to_step, with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.sums import How
from pricing.calc.cost import MaterialWithoutCost, by_the_hour
from pricing.calc.deadline import drying_window
from pricing.calc.ingredients import Kind
from pricing.calc.learning import LearningFactor, learning_factor
from pricing.calc.minutes import LEARNING_BASES
from pricing.calc.order_charges import Charge
from pricing.calc.order_groups import (
    Group,
    OrderedLine,
    Part,
    as_decimal,
    group_lines,
    share,
)
from pricing.calc.order_sheets import SheetJob, SheetPlanning, sheet_charges, sheet_wear, sheet_work
from pricing.calc.rates import WorkshopRates

__all__ = ["LineCost", "OrderCost", "OrderedLine", "cost_of_order", "refusals_of"]

ZERO = Fraction(0)
_COUNTED_BY_ITEMS = (Basis.JOB, Basis.BATCH, Basis.MADE, Basis.GOOD, Basis.CARTON, Basis.NAME)
_SECTIONS: tuple[tuple[str, str, frozenset[Basis]], ...] = (
    ("o.setup", "set-up, once for each design", frozenset({Basis.JOB})),
    ("o.batch", "each batch", frozenset({Basis.BATCH})),
    ("o.cut", "cutting sheets", frozenset({Basis.SHEET})),
    ("o.die", "die-cutting", frozenset({Basis.PASS})),
    ("o.hand", "each item made", frozenset({Basis.MADE})),
    ("o.names", "each name", frozenset({Basis.NAME})),
    ("o.pack", "checking and packing", frozenset({Basis.GOOD, Basis.CARTON})),
)
_COSTS: tuple[tuple[str, str, tuple[Kind, ...]], ...] = (
    ("o.sheets", "sheets", (Kind.SHEET,)),
    ("o.other", "other materials", (Kind.OTHER,)),
    ("o.wear", "wear of tools", (Kind.WEAR,)),
    ("o.pack", "packing", (Kind.PACKING, Kind.STATED)),
)


@dataclass(frozen=True, slots=True)
class LineCost:
    """A line's share of the order. `shares` has (charge, amount) of what it is charged, exactly.

    `quantity` are its good items, `group_quantity` those of all lines of its recipe; `made` is
    its part of those made; `names` are those it is charged for, none unless it `takes_names`.
    """

    place: int
    recipe: Recipe
    quantity: int
    group_quantity: int
    made: Fraction
    names: int
    takes_names: bool
    answers: Mapping[str, str]
    steps: tuple[Step, ...]
    shares: tuple[tuple[Charge, Fraction], ...]
    exact_cost: Fraction
    exact_minutes: Fraction
    wage_per_hour: Decimal
    explanation: Line

    @property
    @with_working_precision
    def cost(self) -> Decimal:
        """What the line costs, net, unrounded."""
        return as_decimal(self.exact_cost)

    @property
    @with_working_precision
    def cost_each(self) -> Decimal:
        """What one good item of it costs."""
        return as_decimal(self.exact_cost / self.quantity)

    @property
    @with_working_precision
    def minutes(self) -> Decimal:
        """Hands-on minutes."""
        return as_decimal(self.exact_minutes)

    @property
    @with_working_precision
    def labour_cost(self) -> Decimal:
        """The wage in its cost."""
        return as_decimal(self.exact_minutes * Fraction(self.wage_per_hour) / 60)


@dataclass(frozen=True, slots=True)
class Drying:
    """Loads of a rack, or nights, of one step of a group."""

    group: int
    step: Step
    made: int

    @property
    def loads(self) -> int:
        """How often the rack is filled, or a night is waited for."""
        return -(-self.made // self.step.per)


@dataclass(frozen=True, slots=True)
class OrderCost:
    """What a whole order costs, with every figure on the way; lines in the order of the asked ones.

    `cost` and `minutes` are the sums of the lines; `needs` are the materials to have, sheets whole.
    `rack_days` are full days of drying loads one after another, `nights` those of all groups.
    """

    lines: tuple[LineCost, ...]
    groups: tuple[Group, ...]
    charges: tuple[Charge, ...]
    jobs: tuple[SheetJob, ...]
    drying: tuple[Drying, ...]
    needs: tuple[Need, ...]
    rates: WorkshopRates
    explanation: Line

    @property
    @with_working_precision
    def cost(self) -> Decimal:
        """The cost of the order, net, unrounded."""
        return as_decimal(sum((line.exact_cost for line in self.lines), ZERO))

    @property
    @with_working_precision
    def minutes(self) -> Decimal:
        """Hands-on minutes."""
        return as_decimal(sum((line.exact_minutes for line in self.lines), ZERO))

    @property
    @with_working_precision
    def labour_cost(self) -> Decimal:
        """The wage in the cost."""
        return self.minutes * self.rates.wage_per_hour / 60

    @property
    @with_working_precision
    def name_minutes(self) -> Decimal:
        """Minutes of work on names."""
        named = (each.exact for each in self.charges if each.basis is Basis.NAME and each.is_work)
        return as_decimal(sum(named, ZERO))

    @property
    def quantity(self) -> int:
        """Good items in all."""
        return sum(line.quantity for line in self.lines)

    @property
    def sheets(self) -> int:
        """Whole sheets in all."""
        return sum(job.sheets for job in self.jobs)

    @property
    @with_working_precision
    def rack_days(self) -> int:
        """Days the rack needs, one load after another."""
        days = (
            each.loads * each.step.times * each.step.minutes / drying_window(each.step)
            for each in self.drying
            if each.step.basis is Basis.RACK
        )
        return int(up_to_step(sum(days, Decimal(0)), Decimal(1)))

    @property
    def nights(self) -> int:
        """Nights of drying."""
        nights = (each for each in self.drying if each.step.basis is Basis.NIGHT)
        return sum(each.loads * each.step.times for each in nights)


def refusals_of(lines: Sequence[OrderedLine], rates: WorkshopRates) -> dict[int, Refusal]:
    """Return why lines cannot be costed, by place; found without planning a sheet."""
    found: dict[int, Refusal] = {}
    for place, line in enumerate(lines):
        try:
            cost_of_order([line], rates, _look_at)
        except Refusal as refusal:
            found[place] = refusal
    return found


def _look_at(job: CuttingJob) -> CuttingPlan:
    """Refuse pieces that fit on no sheet; plan nothing."""
    check_job(job)
    split_into_problems(job)
    return CuttingPlan(1, Decimal(1), Decimal(1), True, "", 0.0, ())


@with_working_precision
def cost_of_order(
    lines: Sequence[OrderedLine], rates: WorkshopRates, plan_sheets: PlanSheets
) -> OrderCost:
    """Return what an order costs, and each line's share of it.

    Refuses an order of nothing (NothingOrdered), and what `cost_of` refuses for one of its lines:
    an impossible quantity, an unknown option, a piece that fits on no sheet (from the planner) and
    a material without a cost.
    """
    groups = group_lines(lines)
    for group in groups:
        _refuse_without_cost(group)
    planning = SheetPlanning(groups, plan_sheets, rates.offcut_least_mm)
    charges = [
        *sheet_charges(planning.jobs, _cost, rates.offcut_least_mm),
        *(charge for group in groups for charge in _fixings(group)),
        *sheet_wear(planning),
        *(charge for group in groups for charge in _wear(group)),
        *(charge for group in groups for charge in _packing(group)),
        *sheet_work(planning),
        *(charge for group in groups for charge in _work(group)),
    ]
    charges = [charge for charge in charges if charge.shares]
    parts = sorted(
        ((group, part) for group in groups for part in group.parts), key=lambda each: each[1].place
    )
    made = {
        place: many for group in groups for place, many in group.made_shares(group.parts).items()
    }
    return OrderCost(
        lines=tuple(
            _line_cost(group, part, made[part.place], charges, rates) for group, part in parts
        ),
        groups=groups,
        charges=tuple(charges),
        jobs=planning.jobs,
        drying=tuple(each for group in groups for each in _drying(group)),
        needs=_needs(groups, planning.jobs, charges),
        rates=rates,
        explanation=_explain(groups, charges, rates),
    )


def _cost(material: MaterialValues) -> Decimal:
    if material.cost is None:
        raise MaterialWithoutCost(
            f"Nothing says what “{material.name}” costs: record a receipt for it or give a pack "
            "of it a price.",
            where=material.name,
        )
    return material.cost.value


def _refuse_without_cost(group: Group) -> None:
    for part in group.parts:
        for piece in part.pieces.values():
            _cost(part.material(piece.role, piece.name))


def _hour(rates: WorkshopRates) -> Fraction:
    return Fraction(rates.wage_per_hour) + Fraction(rates.overhead_per_hour)


def _fixings(group: Group) -> list[Charge]:
    """Return what is used that is not cut from sheets, waste included."""
    charges = []
    for row, fixing in enumerate(group.recipe.fixings):
        alike: dict[tuple[str, Decimal, str, str], list[Part]] = {}
        for part in group.parts:
            if row not in part.fixings:
                continue
            mine = part.fixings[row]
            material = part.material(mine.role, mine.name)
            each, words = amount_of_one(
                mine, tuple(part.pieces.values()), material.unit, part.recipe.unit
            )
            alike.setdefault((str(material.identity), each, words, mine.name), []).append(part)
        for (_, each, words, _), parts in alike.items():
            fixing = parts[0].fixings[row]
            material = parts[0].material(fixing.role, fixing.name)
            count = group.count(fixing.basis, parts)
            if count is None:
                raise Refusal(
                    f"“{fixing.name}” cannot be counted by the {fixing.basis.value}.",
                    where=fixing.name,
                )
            waste = material.waste_share if fixing.waste_share is None else fixing.waste_share
            amount = Fraction(count) * Fraction(each) * (1 + Fraction(waste))
            if not amount:
                continue
            how = sums.say(
                "{}: {}",
                fixing.name,
                sums.number(count) * sums.number(each) * sums.factor(1 + waste),
            )
            if words:
                how = sums.say("{}; {}", how, words)
            weights, rule = group.weights(fixing.basis, parts)
            charges.append(
                Charge(
                    Kind.OTHER, str(material.identity), material.name, material.unit,
                    _cost(material), share(amount, weights), how,
                    rule, fixing.basis, group.number, _say_unit_cost(material),
                    ("fixing", fixing.id) if fixing.id is not None else None,
                )
            )  # fmt: skip
    return charges


def _say_unit_cost(material: MaterialValues) -> tuple[Line, ...]:
    known = material.cost
    if known is None:
        return ()
    label = f"one {material.unit} of {material.name}"
    return (Line(label, known.value, "money", known.how, source=known.source),)


def _wear(group: Group) -> list[Charge]:
    """Return wear of tools that does not count by the sheet."""
    charges = []
    for row, wear in enumerate(group.recipe.wears):
        parts = [part for part in group.parts if row in part.wears]
        if not parts:
            continue
        if wear.life <= 0:
            raise Refusal(f"“{wear.name}” must last for more than nothing.", where=wear.name)
        if wear.basis is Basis.SHEET:
            continue
        if wear.basis is Basis.PASS:
            shares: dict[int, Fraction] = {}
            for step_row in range(len(group.recipe.steps)):
                cut = [part for part in parts if step_row in part.steps]
                for passes in _passes(group, step_row, cut):
                    for role, many in passes.by_role.items():
                        if wear.role in (None, role):
                            for place, uses in share(Fraction(many), passes.weights[role]).items():
                                shares[place] = shares.get(place, ZERO) + uses
            how, rule = "passes", "pieces die-cut"
        elif wear.basis in (Basis.MADE, Basis.JOB):
            count = group.count(wear.basis, parts) or 0
            weights, rule = group.weights(wear.basis, parts)
            shares, how = share(Fraction(count), weights), ""
        else:
            raise Refusal(f"“{wear.name}” cannot wear by the {wear.basis.value}.", where=wear.name)
        source = ("wear", wear.id) if wear.id is not None else None
        charges.append(
            Charge(
                Kind.WEAR, wear.name, wear.name, "use", wear.price / wear.life, shares, how, rule,
                wear.basis, group.number, source=source,
            )
        )  # fmt: skip
    return charges


def _packing(group: Group) -> list[Charge]:
    """Return what the good items leave in."""
    charges = []
    for row, _, many, parts in group.packed(group.parts):
        packing = parts[0].packings[row]
        material = parts[0].material(packing.role, packing.name) if packing.role else None
        if packing.cost_each is not None:
            kind, identity, unit, name = Kind.STATED, packing.name, "piece", packing.name
            unit_cost = packing.cost_each
            lines: tuple[Line, ...] = (Line("one, as stated", unit_cost, "money"),)
        elif material is not None:
            kind, identity, unit = Kind.PACKING, str(material.identity), material.unit
            name, unit_cost, lines = material.name, _cost(material), _say_unit_cost(material)
        else:
            raise Refusal(
                f"Nothing says what “{packing.name}” costs: state a cost or choose a role.",
                where=packing.name,
            )
        weights, rule = group.weights(Basis.GOOD, parts)
        good = sum(part.quantity for part in parts)
        how: How | str = f"{good}, one each"
        if packing.holds > 1:
            how = (sums.number(good) / sums.number(packing.holds)).then("up")
        charges.append(
            Charge(
                kind, identity, name, unit, unit_cost, share(Fraction(many), weights), how, rule,
                Basis.GOOD, group.number, lines,
                ("packing", packing.id) if packing.id is not None else None, packing.name,
            )
        )  # fmt: skip
    return charges


def _work(group: Group) -> list[Charge]:
    """Return the hands-on minutes that do not count by the sheet."""
    charges = []
    for row, step in enumerate(group.recipe.steps):
        parts = [part for part in group.parts if row in part.steps]
        source = ("step", step.id) if step.id is not None else None
        if step.basis is Basis.PASS:
            for passes in _passes(group, row, parts):
                weights: dict[int, Fraction] = {}
                for by_line in passes.weights.values():
                    for place, shapes in by_line.items():
                        weights[place] = weights.get(place, ZERO) + shapes
                minutes = Fraction(passes.count) * Fraction(step.minutes)
                charges.append(
                    Charge(
                        None, step.name, step.name, "min", Decimal(0),
                        share(minutes, weights),
                        sums.say(
                            "{}; {}",
                            sums.number(passes.count) * sums.number(step.minutes),
                            passes.how,
                        ),
                        "pieces die-cut", step.basis, group.number, source=source,
                    )
                )  # fmt: skip
            continue
        if not parts or step.basis not in _COUNTED_BY_ITEMS:
            continue
        if step.basis is Basis.BATCH:
            count = -(-group.made_of(parts) // step.per)
        else:
            count = group.count(step.basis, parts) or 0
        factor, how = Fraction(count), sums.number(count) * sums.number(step.minutes)
        lines: tuple[Line, ...] = ()
        if step.learns and step.basis in LEARNING_BASES and count:
            learning = _learning(group, step, parts)
            factor *= Fraction(learning.factor)
            how *= sums.factor(learning.factor)
            lines = (learning.line,)
        weights, rule = group.weights(step.basis, parts)
        charges.append(
            Charge(
                None, step.name, step.name, "min", Decimal(0),
                share(factor * Fraction(step.minutes), weights), how, rule, step.basis,
                group.number, lines, source,
            )
        )  # fmt: skip
    return charges


def _learning(group: Group, step: Step, parts: Sequence[Part]) -> LearningFactor:
    """Return how much faster a step gets: hands practise on the items that have it."""
    if step.basis is Basis.NAME:
        parts = [part for part in parts if part.names]
    recipe = group.recipe
    return learning_factor(
        group.made_of(parts),
        model=recipe.learning,
        rate=recipe.learning_rate,
        floor=recipe.learning_floor,
        reference=recipe.learning_reference,
        made_before=recipe.learning_made,
    )


@dataclass(frozen=True, slots=True)
class _Passes:
    """Passes of one die through one material: by role, with the shapes of each line."""

    by_role: Mapping[str, int]
    weights: Mapping[str, Mapping[int, Fraction]]
    how: str

    @property
    def count(self) -> int:
        return sum(self.by_role.values())


def _passes(group: Group, row: int, parts: Sequence[Part]) -> list[_Passes]:
    """Count the passes of a step for some lines: one pass takes one sheet of one card."""
    if not parts:
        return []
    step = group.recipe.steps[row]
    if step.basis is not Basis.PASS:
        return []
    made = group.made_shares(parts)
    shapes: dict[int | str, dict[str, dict[int, Fraction]]] = {}
    for part in parts:
        for piece in part.pieces.values():
            if not piece.is_die_cut or step.role not in (None, piece.role):
                continue
            material = part.material(piece.role, piece.name).identity
            lines = shapes.setdefault(material, {}).setdefault(piece.role, {})
            many = made[part.place] * piece.count * piece.layers
            lines[part.place] = lines.get(part.place, ZERO) + many
    found = []
    for by_role in shapes.values():
        counts = {role: sum(lines.values(), ZERO) for role, lines in by_role.items()}
        total = int(sum(counts.values(), ZERO))
        passes = -(-total // step.per)
        split = share_out(Decimal(passes), [as_decimal(count) for count in counts.values()], 0)
        found.append(
            _Passes(
                {role: int(many) for role, many in zip(counts, split, strict=True)},
                by_role,
                f"{total} / {step.per} up ({', '.join(by_role)})",
            )
        )
    return found


def _drying(group: Group) -> list[Drying]:
    found = []
    for row, step in enumerate(group.recipe.steps):
        parts = [part for part in group.parts if row in part.steps]
        if parts and step.basis in (Basis.RACK, Basis.NIGHT):
            found.append(Drying(group.number, step, group.made_of(parts)))
    return found


def _needs(
    groups: Sequence[Group], jobs: Sequence[SheetJob], charges: Sequence[Charge]
) -> tuple[Need, ...]:
    """Return the materials to have: whole sheets, and the rest by use."""
    materials = {
        str(material.identity): material
        for group in groups
        for part in group.parts
        for material in part.recipe.materials.values()
    }
    amounts: dict[str, Fraction] = {}
    for job in jobs:
        key = str(job.material.identity)
        amounts[key] = amounts.get(key, ZERO) + job.sheets
    for charge in charges:
        if charge.kind in (Kind.OTHER, Kind.PACKING):
            amounts[charge.identity] = amounts.get(charge.identity, ZERO) + charge.exact
    for group in groups:
        # a stated cost says what one costs, not that it comes from nowhere
        for row, _, many, parts in group.packed(group.parts):
            packing = parts[0].packings[row]
            if packing.role and packing.cost_each is not None:
                key = str(parts[0].material(packing.role, packing.name).identity)
                amounts[key] = amounts.get(key, ZERO) + many
    lengths = _lengths(groups)
    return tuple(
        Need(materials[key], as_decimal(amount), lengths.get(key, ()))
        for key, amount in amounts.items()
        if amount
    )


def _lengths(groups: Sequence[Group]) -> dict[str, tuple[Length, ...]]:
    """Return the lengths that are cut from reels, by material."""
    found: dict[str, dict[str, Length]] = {}
    for group in groups:
        for row in range(len(group.recipe.fixings)):
            alike: dict[tuple[str, Decimal, int], list[Part]] = {}
            for part in group.parts:
                fixing = part.fixings.get(row)
                if fixing is not None and fixing.cut_mm is not None:
                    identity = str(part.material(fixing.role, fixing.name).identity)
                    key = (identity, fixing.cut_mm, fixing.cut_count)
                    alike.setdefault(key, []).append(part)
            for (identity, cut_mm, times), parts in alike.items():
                fixing = parts[0].fixings[row]
                many = (group.count(fixing.basis, parts) or 0) * times
                if not many:
                    continue
                named = found.setdefault(identity, {})
                name, number = fixing.name, 2
                while name in named:
                    name, number = f"{fixing.name} ({number})", number + 1
                named[name] = Length(name, cut_mm, many)
    return {identity: tuple(named.values()) for identity, named in found.items()}


def _line_cost(
    group: Group,
    part: Part,
    made: Fraction,
    charges: Sequence[Charge],
    rates: WorkshopRates,
) -> LineCost:
    hour = _hour(rates)
    mine = [charge for charge in charges if part.place in charge.shares]
    cost = sum((charge.cost_of(part.place, hour) for charge in mine), ZERO)
    minutes = sum((charge.shares[part.place] for charge in mine if charge.is_work), ZERO)
    return LineCost(
        place=part.place,
        recipe=part.recipe,
        quantity=part.quantity,
        group_quantity=group.quantity,
        made=made,
        names=part.names,
        takes_names=part.takes_names,
        answers=part.answers,
        steps=tuple(part.steps.values()),
        shares=tuple((charge, charge.shares[part.place]) for charge in mine),
        exact_cost=cost,
        exact_minutes=minutes,
        wage_per_hour=rates.wage_per_hour,
        explanation=_say_line(group, part, made, mine, cost, minutes, rates),
    )


def _say_line(
    group: Group,
    part: Part,
    made: Fraction,
    mine: Sequence[Charge],
    cost: Fraction,
    minutes: Fraction,
    rates: WorkshopRates,
) -> Line:
    lines = [
        sum_line(
            label,
            [charge.line_of(part.place) for charge in mine if charge.kind in kinds],
            unit="money",
        )
        for _, label, kinds in _COSTS
    ]
    worked = sum_line(
        "minutes of work",
        [charge.line_of(part.place) for charge in mine if charge.is_work],
        unit="min",
    )
    lines = [line for line in lines if line.lines]
    for label, rate in (("labour", rates.wage_per_hour), ("overhead", rates.overhead_per_hour)):
        value = as_decimal(minutes * Fraction(rate) / 60)
        lines.append(
            Line(
                label,
                value,
                "money",
                by_the_hour(as_decimal(minutes), rate),
                lines=(worked,) if label == "labour" else (),
            )
        )
    how = ""
    if len(group.parts) > 1:
        how = f"{part.quantity} of {group.quantity} of this design in the order"
    return Line(
        f"line {part.place + 1}: {part.recipe.name}, its share of the cost",
        as_decimal(cost),
        "money",
        how,
        f"o.line.{part.place + 1}",
        (*lines, Line("items made, spares shared", as_decimal(made), "piece")),
    )


def _explain(groups: Sequence[Group], charges: Sequence[Charge], rates: WorkshopRates) -> Line:
    """Return the cost of the order as a tree: what all lines take together."""
    many = len(groups) > 1

    def design(charge: Charge) -> str:
        return "" if charge.group is None or not many else groups[charge.group].recipe.name

    costs = [
        sum_line(
            name,
            [charge.line(design(charge)) for charge in charges if charge.kind in kinds],
            unit="money",
            key=key,
        )
        for key, name, kinds in _COSTS
    ]
    work = [charge for charge in charges if charge.is_work]
    sections = []
    for key, name, bases in _SECTIONS:
        lines = [charge.line(design(charge)) for charge in work if charge.basis in bases]
        if lines:
            sections.append(sum_line(name, lines, unit="min", key=f"{key}.min"))
    minutes = sum_line("hands-on minutes", sections, unit="min", key="o.minutes")
    for name, rate, how in (
        ("labour", rates.wage_per_hour, "as the workshop states it"),
        ("overhead", rates.overhead_per_hour, rates.overhead_how),
    ):
        hour = Line(f"{'wage' if name == 'labour' else name} an hour", rate, "money", how)
        costs.append(
            Line(
                name,
                minutes.number * rate / 60,
                "money",
                by_the_hour(minutes.number, rate),
                f"o.{name}",
                (minutes, hour) if name == "labour" else (hour,),
            )
        )
    total = sum_line(
        "cost of the order",
        costs,
        unit="money",
        key="o.cost",
        how="sheets + other materials + wear + packing + labour + overhead",
    )
    return Line(
        total.label,
        total.value,
        "money",
        total.how,
        total.key,
        (*(_say_group(group) for group in groups), *total.lines),
    )


def _say_group(group: Group) -> Line:
    """Say how many of a design are made, spares up for each way it is cut."""
    lines = []
    for parts in group.alike():
        good, made = sum(part.quantity for part in parts), group.made_of(parts)
        lines.append(say_made(parts[0].recipe, good, made - good))
    if len(lines) == 1:
        return lines[0]
    how = "spares up for each colourway and way it is cut"
    return sum_line(f"{group.recipe.name}: to make", lines, unit="piece", how=how)
