"""Sheets of an order: one cutting job for each material, and what is done or worn by the sheet.

A sheet that holds pieces of several lines is paid by the area of their pieces. What is counted by
the sheet counts once on a shared sheet, at the largest of those who share it: sheets saved by
cutting together are those of the quickest, each laid into one that counts more. So cutting
together never takes more minutes than cutting apart, and another line never takes less.
"""

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.recipes.parts_list import CutCount, cut_of
from catalogue.calc.recipes.recipe import Basis, MaterialValues, RecipeStep, RecipeWear
from catalogue.calc.sheets.shared_sheets import CutList, SharedPlan, plans_for
from catalogue.calc.sheets.use import KeptOffcuts, PlanSheets, kept_offcuts
from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import share_out
from maker.calc.sums import How
from maker.calc.units import format_length
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import Group, Part, as_decimal, share
from pricing.calc.price.ingredients import IngredientKind

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class SheetJob:
    """One plan of the order, the lines whose pieces lie on it and the area of each one's pieces."""

    material: MaterialValues
    shared: SharedPlan
    members: tuple[tuple[Group, tuple[Part, ...]], ...]
    areas: Mapping[int, Fraction]  # by line, mm²
    cuts: tuple[tuple[Group, CutCount], ...]

    @property
    def sheets(self) -> int:
        """Whole sheets."""
        return self.shared.sheets


class SheetPlanning:
    """Plans the sheets of an order; asks the planner for what it needs and nothing twice."""

    def __init__(
        self, groups: Sequence[Group], plan_sheets: PlanSheets, offcut_least_mm: Decimal | None
    ) -> None:
        self._plan_sheets, self._least = plan_sheets, offcut_least_mm
        self._gap = max(group.recipe.gap_mm for group in groups)
        self._unit = groups[0].recipe.unit
        lists: dict[int | str, list[tuple[Group, tuple[Part, ...], tuple[CutCount, ...]]]] = {}
        for group in groups:
            for parts in group.alike():
                for material, cuts in _cuts(group, parts).items():
                    lists.setdefault(material, []).append((group, parts, cuts))
        self.jobs = tuple(job for those in lists.values() for job in self._jobs(those))

    def _jobs(
        self, lists: Sequence[tuple[Group, tuple[Part, ...], tuple[CutCount, ...]]]
    ) -> list[SheetJob]:
        plans = plans_for(
            [CutList(group.number, cuts) for group, _, cuts in lists],
            gap_mm=self._gap,
            plan_sheets=self._plan_sheets,
            unit=self._unit,
            offcut_least_mm=self._least,
        )
        jobs = []
        for plan in plans:
            areas: dict[int, Fraction] = {}
            members = []
            cut = []
            for place in plan.lists:
                group, parts, cuts = lists[place]
                members.append((group, parts))
                cut += [(group, each) for each in cuts]
                areas |= share(_area(cuts), {p.place: Fraction(p.quantity) for p in parts})
            material = plan.plan.material
            jobs.append(SheetJob(material, plan, tuple(members), areas, tuple(cut)))
        return jobs

    def own_sheets(self, material: int | str, group: Group, parts: Sequence[Part]) -> int:
        """Return how many sheets some lines of a group would take of a material by themselves."""
        lists = [
            CutList(group.number, _cuts(group, those)[material])
            for those in _alike(parts)
        ]  # fmt: skip
        plans = plans_for(
            lists,
            gap_mm=self._gap,
            plan_sheets=self._plan_sheets,
            unit=self._unit,
            offcut_least_mm=self._least,
        )
        return sum(plan.sheets for plan in plans)


def _alike(parts: Sequence[Part]) -> list[tuple[Part, ...]]:
    found: dict[Hashable, list[Part]] = {}
    for part in parts:
        found.setdefault(part.cut_alike, []).append(part)
    return [tuple(those) for those in found.values()]


def _cuts(group: Group, parts: tuple[Part, ...]) -> dict[int | str, tuple[CutCount, ...]]:
    """Return the cuts of lines that are cut alike, by material."""
    made = group.made_of(parts)
    found: dict[int | str, list[CutCount]] = {}
    for piece in parts[0].pieces.values():
        cut = cut_of(parts[0].recipe, piece, made)
        found.setdefault(cut.material.identity, []).append(cut)
    return {material: tuple(cuts) for material, cuts in found.items()}


def _area(cuts: Sequence[CutCount]) -> Fraction:
    return sum(
        (Fraction(c.piece.width_mm) * Fraction(c.piece.height_mm) * c.count for c in cuts), ZERO
    )


def sheet_charges(
    jobs: Sequence[SheetJob], cost_of: Callable[[MaterialValues], Decimal], least_mm: Decimal | None
) -> list[Charge]:
    """Return the whole sheets of each plan, and what large offcuts are credited with."""
    charges = []
    for job in jobs:
        unit_cost, plan = cost_of(job.material), job.shared.plan
        charges.append(
            Charge(
                IngredientKind.SHEET,
                str(job.material.identity),
                job.material.name,
                "sheet",
                unit_cost,
                share(Fraction(job.sheets), job.areas),
                "",
                "area of pieces",
                lines=_say_plan(job),
            )
        )
        if least_mm is None:
            continue
        kept = kept_offcuts(plan, least_mm)
        if kept.count:
            charges.append(_credit(job, kept, unit_cost, least_mm))
    return charges


def _credit(job: SheetJob, kept: KeptOffcuts, unit_cost: Decimal, least_mm: Decimal) -> Charge:
    unit = job.members[0][0].recipe.unit
    return Charge(
        IngredientKind.SHEET,
        str(job.material.identity),
        job.material.name,
        "sheet",
        unit_cost,
        share(-Fraction(kept.sheets), job.areas),
        f"by area; both sides at least {format_length(least_mm, unit)}",
        "area of pieces",
        label=f"{job.material.name}: {kept.count} offcut{'' if kept.count == 1 else 's'} kept",
    )


def _say_plan(job: SheetJob) -> tuple[Line, ...]:
    plan = job.shared.plan
    known = job.material.cost
    lines = [
        Line(
            f"{group.recipe.name}: {cut.line.label}", cut.count, "piece", cut.line.how,
            source=cut.line.source,
        )
        for group, cut in job.cuts
    ]  # fmt: skip
    lines.append(
        Line(
            "fewest sheets possible" if plan.plan.proven else "no plan takes fewer sheets than",
            int(plan.plan.lower_bound),
            "sheet",
            plan.plan.reason,
        )
    )
    lines.append(Line("not used, share of the sheets", plan.unused_share, "share"))
    if known is not None:
        name = f"one {job.material.unit} of {job.material.name}"
        lines.append(Line(name, known.value, "money", known.how, source=known.source))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row that counts by the sheet: what one sheet takes of it."""

    group: int
    place: int
    role: str | None
    value: Fraction


Rows = Callable[[Group, Part], list[_Row]]


def sheet_work(planning: SheetPlanning) -> list[Charge]:
    """Return the minutes that count by the sheet, of each plan and step."""

    def rows(group: Group, part: Part) -> list[_Row]:
        return [
            _Row(group.number, place, step.role, Fraction(step.minutes))
            for place, step in part.steps.items()
            if step.basis is Basis.SHEET
        ]

    charges = []
    for job in planning.jobs:
        how, shares = _by_sheet(planning, job, rows)
        for (number, place), minutes in shares.items():
            group = _group(job, number)
            step: RecipeStep = group.recipe.steps[place]
            charges.append(
                Charge(
                    None, step.name, step.name, "min", Decimal(0), minutes,
                    sums.say("{}: {}", job.material.name, how), "area of pieces", Basis.SHEET,
                    number,
                    source=("step", step.id) if step.id is not None else None,
                )
            )  # fmt: skip
    return charges


def sheet_wear(planning: SheetPlanning) -> list[Charge]:
    """Return the wear that counts by the sheet, in uses."""

    def rows(group: Group, part: Part) -> list[_Row]:
        return [
            _Row(group.number, place, wear.role, Fraction(wear.price) / Fraction(wear.life))
            for place, wear in part.wears.items()
            if wear.basis is Basis.SHEET
        ]

    charges = []
    for job in planning.jobs:
        how, shares = _by_sheet(planning, job, rows)
        for (number, place), money in shares.items():
            wear: RecipeWear = _group(job, number).recipe.wears[place]
            each = wear.price / wear.life
            uses = {line: value / Fraction(each) for line, value in money.items()}
            charges.append(
                Charge(
                    IngredientKind.WEAR, wear.name, wear.name, "use", each, uses,
                    sums.say("{}: {}", job.material.name, how), "area of pieces", Basis.SHEET,
                    number,
                    source=("wear", wear.id) if wear.id is not None else None,
                )
            )  # fmt: skip
    return charges


def _group(job: SheetJob, number: int) -> Group:
    return next(group for group, _ in job.members if group.number == number)


def _by_sheet(
    planning: SheetPlanning, job: SheetJob, rows_of: Rows
) -> tuple[How | str, dict[tuple[int, int], dict[int, Fraction]]]:
    """Return what a plan takes of rows that count by the sheet: in words, by row and line."""
    parties = _parties(job, rows_of)
    total, how = _counted(planning, job, parties)
    if not total:
        return how, {}
    largest = max((row for party in parties for row in party.rows), key=lambda row: row.value)
    found: dict[tuple[int, int], dict[int, Fraction]] = {}
    by_line = share(total, job.areas)
    for party in parties:
        # a line without such a row has its part of what the others' take on the shared sheets
        parts = {row: party.rate(row) for row in party.rows if party.rate(row)}
        for line in (part.place for part in party.parts):
            for row, value in share(by_line[line], parts or {largest: Fraction(1)}).items():
                found.setdefault((row.group, row.place), {})[line] = value
    return how, found


@dataclass(frozen=True, slots=True)
class _Party:
    """Lines of a group on a plan that take the same of each sheet."""

    group: Group
    parts: tuple[Part, ...]
    rows: tuple[_Row, ...]
    areas: Mapping[str, Fraction]  # by role

    def rate(self, row: _Row) -> Fraction:
        """Return what a row takes of a sheet on which every role has its share."""
        if row.role is None:
            return row.value
        return row.value * self.areas.get(row.role, ZERO) / sum(self.areas.values())

    @property
    def per_sheet(self) -> Fraction:
        """What one sheet takes."""
        return sum((self.rate(row) for row in self.rows), ZERO)

    def by_role(self, role: str) -> Fraction:
        """Return what one sheet of a role takes."""
        return sum((row.value for row in self.rows if row.role in (None, role)), ZERO)

    def total(self, sheets: int) -> Fraction:
        """Return what whole sheets take, shared over the roles by area as those of one design."""
        areas = [as_decimal(area) for area in self.areas.values()]
        shares = share_out(Decimal(sheets), areas, 0)
        return sum(
            (int(n) * self.by_role(role) for role, n in zip(self.areas, shares, strict=True)), ZERO
        )


def _parties(job: SheetJob, rows_of: Rows) -> list[_Party]:
    found: dict[Hashable, list[tuple[Group, Part, tuple[_Row, ...]]]] = {}
    for group, parts in job.members:
        for part in parts:
            rows = tuple(rows_of(group, part))
            pieces = tuple(
                place
                for place, piece in part.pieces.items()
                if part.material(piece.role, piece.name).identity == job.material.identity
            )
            key = (group.number, tuple(row.place for row in rows), pieces)
            found.setdefault(key, []).append((group, part, rows))
    parties = []
    for those in found.values():
        group, parts, rows = those[0][0], tuple(part for _, part, _ in those), those[0][2]
        areas: dict[str, Fraction] = {}
        for alike in _alike(parts):
            for cut in _cuts(group, alike).get(job.material.identity, ()):
                area = areas.get(cut.piece.role, ZERO)
                areas[cut.piece.role] = area + _area([cut])
        parties.append(_Party(group, parts, rows, areas))
    return parties


def _counted(
    planning: SheetPlanning, job: SheetJob, parties: Sequence[_Party]
) -> tuple[Fraction, How | str]:
    """Return what a plan takes, and how; the slowest lines' own sheets are counted first."""
    rates = {party.by_role(role) for party in parties for role in party.areas}
    if len(rates) == 1:
        rate = rates.pop()
        return job.sheets * rate, sums.number(job.sheets) * _say(rate)
    if len(parties) == 1:
        how = sums.say("{} sheets, by what is cut from them", sums.number(job.sheets))
        return parties[0].total(job.sheets), how
    total, left = ZERO, job.sheets
    said: list[How | str] = []
    ordered = sorted(
        parties,
        key=lambda party: (-party.per_sheet, party.group.recipe.name, tuple(party.areas)),
    )
    for number, party in enumerate(ordered):
        own = planning.own_sheets(job.material.identity, party.group, party.parts)
        counted = left if number == len(ordered) - 1 else min(own, left)
        if not counted:
            break
        total += party.total(counted)
        left -= counted
        taken = sums.number(counted) * _say(party.per_sheet)
        said.append(sums.say("{} ({})", taken, party.group.recipe.name))
    return total, sums.joined(" + ", said)


def _say(value: Fraction) -> How:
    return sums.number(as_decimal(value))
