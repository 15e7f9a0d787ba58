"""What a job costs: sheets, other materials, wear, packing, labour and overhead, explained."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.recipes.parts_list import Packed, PartsList, PartUse, parts_for
from catalogue.calc.recipes.recipe import Basis, MaterialValues, Recipe, RecipeWear
from catalogue.calc.sheets.use import KeptOffcuts, PlanSheets, SheetUse, kept_offcuts, sheets_for
from catalogue.calc.supplies.reel_use import lengths_of
from catalogue.calc.supplies.shopping import Need
from maker.calc import sums
from maker.calc.amounts import unit_cost_in
from maker.calc.explanation import Line, sum_line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from maker.calc.units import format_length
from pricing.calc.costing.drying import Drying, drying_of
from pricing.calc.costing.minutes import WorkMinutes, count_for, minutes_for
from pricing.calc.costing.rates import Ask, WorkshopRates

ZERO = Decimal(0)
_FOUR_PLACES = Decimal("0.0001")


class MaterialWithoutCost(Refusal):
    """A material is used and nothing says what it costs."""


@dataclass(frozen=True, slots=True)
class JobCost:
    """What `quantity` good ones cost, with every figure on the way.

    Nothing is rounded but the learning factor. Costs are net of tax that is paid back. The
    explanation holds all figures by key; `needs` are the materials to have, sheets whole.
    `offcuts` are credited in `sheets_cost`; `wear_uses` are how often each tool is used.
    """

    recipe: Recipe
    rates: WorkshopRates
    parts: PartsList
    sheet_uses: tuple[SheetUse, ...]
    offcuts: tuple[KeptOffcuts, ...]
    work: WorkMinutes
    drying: Drying
    quantity: int
    made: int
    sheets: int
    minutes: Decimal
    sheets_cost: Decimal
    other_cost: Decimal
    wear_cost: Decimal
    packing_cost: Decimal
    labour_cost: Decimal
    overhead_cost: Decimal
    cost: Decimal
    cost_each: Decimal
    wear_uses: tuple[tuple[RecipeWear, int], ...]

    @property
    @with_working_precision
    def needs(self) -> tuple[Need, ...]:
        """Return the materials to have."""
        return _needs(self.recipe, self.sheet_uses, self.parts)

    @property
    @with_working_precision
    def explanation(self) -> Line:
        """Return how the cost came about; built anew each time, as most are never read."""
        return _explain(self)

    @property
    def name_minutes(self) -> Decimal:
        """Minutes of work on names."""
        named = (done.minutes for done in self.work.steps if done.step.basis is Basis.NAME)
        return sum(named, ZERO)

    def amount_of(self, identity: int | str) -> Decimal:
        """Return how much of a material is charged at its unit cost, stated packing left out.

        What is kept as offcuts is credited.
        """
        amounts = [
            *((use.material, Decimal(use.sheets)) for use in self.sheet_uses),
            *((kept.material, -kept.sheets) for kept in self.offcuts),
            *((use.material, use.amount) for use in self.parts.uses),
            *(
                (each.material, Decimal(each.count))
                for each in self.parts.packed
                if each.packing.cost_each is None
            ),
        ]
        return sum(
            (amount for material, amount in amounts if material and material.identity == identity),
            ZERO,
        )

    def sheets_of(self, role: str) -> int:
        """Return the whole sheets of one role."""
        return sum(use.sheets for use in self.sheet_uses if use.role == role)


@with_working_precision
def cost_of(recipe: Recipe, ask: Ask, rates: WorkshopRates, plan_sheets: PlanSheets) -> JobCost:
    """Return what the asked quantity costs to make and pack.

    Sheets are charged whole, less what large offcuts are worth where the workshop's rule says so;
    everything else by use with its waste. Labour and overhead follow the hands-on minutes. Refuses
    an impossible quantity, an unknown option, a piece that fits on no sheet (from the planner) and
    a material without a cost.
    """
    parts = parts_for(recipe, ask.quantity, ask.choices, ask.names, ask.bought)
    for material in _used_materials(parts):
        _cost(material)
    uses = sheets_for(parts, gap_mm=recipe.gap_mm, plan_sheets=plan_sheets, unit=recipe.unit)
    sheets = {use.role: use.sheets for use in uses}
    work = minutes_for(recipe, parts, sheets)
    drying = drying_of(parts, work.total, rates.day_minutes)
    offcuts = _offcuts(uses, rates)
    wear_uses = _wear_uses(parts, sheets, work)
    costs = (
        sum((*map(_sheets_cost, uses), *(-_credit(kept) for kept in offcuts)), ZERO),
        sum(map(_use_cost, parts.uses), ZERO),
        sum((_wear_cost(wear, count) for wear, count in wear_uses), ZERO),
        sum(map(_packing_cost, parts.packed), ZERO),
        paid_by_the_hour(work.total, rates.wage_per_hour),
        paid_by_the_hour(work.total, rates.overhead_per_hour),
    )
    sheets_cost, other_cost, wear_cost, packing_cost, labour_cost, overhead_cost = costs
    cost = sum(costs, ZERO)
    return JobCost(
        recipe=recipe,
        rates=rates,
        parts=parts,
        sheet_uses=uses,
        offcuts=offcuts,
        work=work,
        drying=drying,
        quantity=parts.quantity,
        made=parts.made,
        sheets=sum(sheets.values()),
        minutes=work.total,
        sheets_cost=sheets_cost,
        other_cost=other_cost,
        wear_cost=wear_cost,
        packing_cost=packing_cost,
        labour_cost=labour_cost,
        overhead_cost=overhead_cost,
        cost=cost,
        cost_each=cost / parts.quantity,
        wear_uses=wear_uses,
    )


def _used_materials(parts: PartsList) -> Sequence[MaterialValues]:
    packings = [
        each.material
        for each in parts.packed
        if each.material is not None and each.packing.cost_each is None
    ]
    return [
        *(cut.material for cut in parts.cuts),
        *(use.material for use in parts.uses if use.amount),
        *packings,
    ]


def _cost(material: MaterialValues) -> Decimal:
    if material.cost is None:
        raise MaterialWithoutCost(
            f"“{material.name}” has no price. Enter a receipt or give one of its packs a price.",
            where=material.name,
        )
    return material.cost.value


def _unit_cost_line(material: MaterialValues, lengths: str = "mm") -> Line:
    known = material.cost
    cost, unit = unit_cost_in(known.value if known else ZERO, material.unit, lengths)
    label = f"1 {unit} of {material.name}"
    if known is None:
        return Line(label, ZERO, "money", "not known")
    return Line(label, cost, "money", known.how, source=known.source)


def _offcuts(uses: Sequence[SheetUse], rates: WorkshopRates) -> tuple[KeptOffcuts, ...]:
    """Return what is kept of the sheets of each material, by the workshop's rule."""
    least_mm = rates.offcut_least_mm
    if least_mm is None:
        return ()
    plans = {id(use.plan): use.plan for use in uses}.values()
    return tuple(kept for plan in plans if (kept := kept_offcuts(plan, least_mm)).count)


def _sheets_cost(use: SheetUse) -> Decimal:
    return use.sheets * _cost(use.material)


def _credit(kept: KeptOffcuts) -> Decimal:
    return kept.sheets * _cost(kept.material)


def _sheets_line(job: JobCost) -> Line:
    uses, least_mm = job.sheet_uses, job.rates.offcut_least_mm
    lines = [
        Line(
            use.material.name,
            _sheets_cost(use),
            "money",
            sums.number(use.sheets) * sums.unit_cost(_cost(use.material)),
            f"c.{use.role}",
            (use.line, _unit_cost_line(use.material)),
        )
        for use in uses
    ]
    least = format_length(least_mm or ZERO, job.recipe.unit)
    credits = [
        Line(
            f"{kept.material.name}: {kept.count} offcut{'' if kept.count == 1 else 's'} kept",
            -_credit(kept),
            "money",
            sums.say(
                "- {} of a sheet by area x {}; both sides at least {}",
                sums.number(kept.sheets),
                sums.unit_cost(_cost(kept.material)),
                least,
            ),
            f"c.offcuts.{kept.material.name}",
        )
        for kept in job.offcuts
    ]
    credited = "offcuts not credited" if least_mm is None else "less the offcuts kept"
    how = f"{job.sheets} whole sheets, {credited}"
    return sum_line("sheets", [*lines, *credits], unit="money", key="c.sheets", how=how)


def _use_cost(use: PartUse) -> Decimal:
    return use.amount * (_cost(use.material) if use.amount else ZERO)


def _other_line(uses: Sequence[PartUse], lengths: str) -> Line:
    lines = []
    for use in uses:
        unit_cost = _cost(use.material) if use.amount else ZERO
        lines.append(
            Line(
                use.material.name,
                _use_cost(use),
                "money",
                sums.stock(use.amount, use.material.unit)
                * sums.unit_cost(unit_cost, use.material.unit),
                f"c.{use.role}",
                (use.line, _unit_cost_line(use.material, lengths)),
            )
        )
    return sum_line("other materials", lines, unit="money", key="c.other", how="by use")


def wear_count(
    wear: RecipeWear, *, made: int, sheets: Mapping[str, int], passes: Mapping[str, int]
) -> int:
    """Return how often a tool is used: for one role, or for all when none is said."""
    if wear.basis is Basis.SHEET:
        return count_for(wear.role, sheets)
    if wear.basis is Basis.PASS:
        return count_for(wear.role, passes)
    if wear.basis is Basis.MADE:
        return made
    if wear.basis is Basis.JOB:
        return 1
    raise Refusal(f"“{wear.name}” cannot wear by the {wear.basis.value}.", where=wear.name)


def _wear_uses(
    parts: PartsList, sheets: Mapping[str, int], work: WorkMinutes
) -> tuple[tuple[RecipeWear, int], ...]:
    passes: dict[str, int] = {}
    for each in work.passes:
        for role, count in each.by_role.items():
            passes[role] = passes.get(role, 0) + count
    for wear in parts.wears:
        if wear.life <= 0:
            raise Refusal(f"“{wear.name}” must last for more than 0.", where=wear.name)
    return tuple(
        (wear, wear_count(wear, made=parts.made, sheets=sheets, passes=passes))
        for wear in parts.wears
    )


def _wear_cost(wear: RecipeWear, count: int) -> Decimal:
    return count * wear.price / wear.life


def _wear_line(job: JobCost) -> Line:
    lines = []
    for wear, count in job.wear_uses:
        how = sums.number(count) * sums.money(wear.price) / sums.number(wear.life)
        source = ("wear", wear.id) if wear.id is not None else None
        lines.append(Line(wear.name, _wear_cost(wear, count), "money", how, source=source))
    return sum_line("wear of tools", lines, unit="money", key="c.wear")


def _packing_unit_cost(each: Packed) -> Decimal:
    if each.packing.cost_each is not None:
        return each.packing.cost_each
    if each.material is not None:
        return _cost(each.material)
    raise Refusal(
        f"“{each.packing.name}” has no price. Enter a cost or choose a role.",
        where=each.packing.name,
    )


def _packing_cost(each: Packed) -> Decimal:
    return each.count * _packing_unit_cost(each)


def _packed_line(each: Packed) -> Line:
    unit_cost = _packing_unit_cost(each)
    unit_line = Line("your own cost", unit_cost, "money")
    if each.packing.cost_each is None and each.material is not None:
        unit_line = _unit_cost_line(each.material)
    how = sums.number(each.count) * sums.unit_cost(unit_cost)
    lines = (each.line, unit_line)
    return Line(each.packing.name, _packing_cost(each), "money", how, lines=lines)


def _packing_line(parts: PartsList) -> Line:
    lines = [_packed_line(each) for each in parts.packed]
    how = "" if lines else "no packaging for this quantity"
    return sum_line("packing", lines, unit="money", key="c.pack", how=how)


def by_the_hour(minutes: Decimal, per_hour: Decimal) -> sums.How:
    """Return how minutes are paid by the hour."""
    return sums.say("{} min", sums.number(minutes)) * sums.money(per_hour) / sums.number(60)


def paid_by_the_hour(minutes: Decimal, per_hour: Decimal) -> Decimal:
    """Return what minutes cost."""
    return minutes * per_hour / 60


def _labour_line(job: JobCost) -> Line:
    per_hour = job.rates.wage_per_hour
    how = by_the_hour(job.minutes, per_hour)
    wage = Line("hourly wage", per_hour, "money", "your own rate")
    return Line("labour", job.labour_cost, "money", how, "c.labour", (job.work.line, wage))


def _overhead_line(job: JobCost) -> Line:
    per_hour = job.rates.overhead_per_hour
    how = by_the_hour(job.minutes, per_hour)
    rate = Line("hourly overhead", per_hour, "money", job.rates.overhead_how)
    return Line("overhead", job.overhead_cost, "money", how, "c.overhead", (rate,))


def _needs(recipe: Recipe, uses: Sequence[SheetUse], parts: PartsList) -> tuple[Need, ...]:
    lengths = lengths_of(recipe, parts)
    amounts: dict[int | str, Need] = {}
    everything = [
        *((use.material, Decimal(use.sheets)) for use in uses),
        *((use.material, use.amount) for use in parts.uses),
        *((each.material, Decimal(each.count)) for each in parts.packed if each.material),
    ]
    for material, amount in everything:
        before = amounts.get(material.identity)
        amounts[material.identity] = Need(
            material,
            amount + (before.amount if before else ZERO),
            lengths.get(material.identity, ()),
        )
    return tuple(need for need in amounts.values() if need.amount)


def _bare(line: Line) -> Line:
    return Line(line.label, line.value, line.unit)


def _explain(job: JobCost) -> Line:
    recipe, parts, work = job.recipe, job.parts, job.work
    total = sum_line(
        "cost of the batch",
        (
            _sheets_line(job),
            _other_line(parts.uses, recipe.unit),
            _wear_line(job),
            _packing_line(parts),
            _labour_line(job),
            _overhead_line(job),
        ),
        unit="money",
        key="C",
        how="sheets + other materials + wear + packing + labour + overhead",
    )

    def each(value: Decimal) -> Decimal:
        return (value / parts.quantity).quantize(_FOUR_PLACES, rounding=ROUND_HALF_UP)

    how_each = f"/ {parts.quantity}"
    passes = sum_line(
        "die-cutting passes", [each.line for each in work.passes], unit="pass", key="die.passes"
    )
    sheets = sum_line(
        "sheets cut", [_bare(use.line) for use in job.sheet_uses], unit="sheet", key="sh.all"
    )
    return Line(
        f"{recipe.name}, {parts.quantity} to sell",
        total.value,
        "money",
        "; ".join(f"{key} = {choice}" for key, choice in parts.choices.items()),
        "job",
        (
            parts.line,
            total,
            Line("cost per item", each(total.number), "money", how_each, "C.unit"),
            Line("minutes per item", each(work.total), "min", how_each, "t.per"),
            sheets,
            passes,
            work.learning.line,
            job.drying.line,
        ),
    )
