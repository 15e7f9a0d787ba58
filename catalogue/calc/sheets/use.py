"""How many whole sheets a parts list takes: one cutting plan for each material."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.cutting.job import CuttingJob, PieceKind, SheetKind, SheetPlan
from catalogue.calc.recipes.parts_list import CutCount, PartsList
from catalogue.calc.recipes.recipe import MaterialValues
from maker.calc import sums
from maker.calc.explanation import Line
from maker.calc.money import share_out, with_working_precision
from maker.calc.units import MM_PER_INCH

ZERO = Decimal(0)
_SHARE_PLACES = Decimal("0.0001")
_MM_PER_64TH = Decimal("0.396875")

PlanSheets = Callable[[CuttingJob], SheetPlan]


@dataclass(frozen=True, slots=True)
class MaterialPlan:
    """The cutting plan of one material, for every role it plays."""

    material: MaterialValues
    roles: tuple[str, ...]
    job: CuttingJob
    plan: SheetPlan

    @property
    def unit_mm(self) -> Decimal:
        """How many mm one unit of the plan's lengths is: 1, or 25.4."""
        return self.material.width_mm / self.job.sheets[0].width

    @property
    def unused_share(self) -> Decimal:
        """The share of the sheets' area that no piece lies on, four decimals."""
        sheet = self.job.sheets[0]
        used = sum((each.width * each.height * each.count for each in self.job.pieces), ZERO)
        whole = self.plan.sheet_count * sheet.width * sheet.height
        return (1 - used / whole).quantize(_SHARE_PLACES, rounding=ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class KeptOffcuts:
    """Offcuts of one material that are large enough to keep; `sheets` is their area in sheets."""

    material: MaterialValues
    count: int
    sheets: Decimal


@dataclass(frozen=True, slots=True)
class SheetUse:
    """The whole sheets one role takes, for its `cuts`, from the plan of its material."""

    role: str
    material: MaterialValues
    sheets: int
    plan: MaterialPlan
    cuts: tuple[CutCount, ...]

    @property
    @with_working_precision
    def line(self) -> Line:
        """Return how the sheets came about."""
        return _say_sheets(self)


@with_working_precision
def sheets_for(
    parts: PartsList, *, gap_mm: Decimal, plan_sheets: PlanSheets, unit: str = "mm"
) -> tuple[SheetUse, ...]:
    """Plan the sheets of every role that pieces are cut from.

    Roles with the same material share one plan, because their pieces can lie on one sheet; its
    whole sheets are shared over the roles by the area of their pieces, largest remainder first.
    Whole sheets are counted as started, whatever is left of them.
    """
    groups: dict[int | str, list[CutCount]] = {}
    for cut in parts.cuts:
        groups.setdefault(cut.material.identity, []).append(cut)
    uses: list[SheetUse] = []
    for cuts in groups.values():
        job = cutting_job(cuts, gap_mm, unit)
        by_role: dict[str, list[CutCount]] = {}
        for cut in cuts:
            by_role.setdefault(cut.piece.role, []).append(cut)
        plan = MaterialPlan(cuts[0].material, tuple(by_role), job, plan_sheets(job))
        areas = {role: _area(those) for role, those in by_role.items()}
        shares = share_out(Decimal(plan.plan.sheet_count), list(areas.values()), 0)
        for (role, those), sheets in zip(by_role.items(), shares, strict=True):
            uses.append(SheetUse(role, plan.material, int(sheets), plan, tuple(those)))
    order = list(dict.fromkeys(cut.piece.role for cut in parts.cuts))
    return tuple(sorted(uses, key=lambda use: order.index(use.role)))


@with_working_precision
def kept_offcuts(plan: MaterialPlan, least_mm: Decimal) -> KeptOffcuts:
    """Return the offcuts of a plan with both sides at least `least_mm`.

    Of no sheet more counts as kept than the part that no piece lies on, so that what a sheet is
    charged at never falls below what was used of it.
    """
    sheet, least = plan.job.sheets[0], least_mm / plan.unit_mm
    whole = sheet.width * sheet.height
    count, area = 0, ZERO
    for layout in plan.plan.layouts:
        kept = [each for each in layout.offcuts if min(each.width, each.height) >= least]
        used = sum((each.width * each.height for each in layout.placements), ZERO)
        held = sum((each.width * each.height for each in kept), ZERO)
        count += layout.times * len(kept)
        area += layout.times * min(held, whole - used)
    return KeptOffcuts(plan.material, count, area / whole)


def cutting_job(cuts: Sequence[CutCount], gap_mm: Decimal, unit: str = "mm") -> CuttingJob:
    """Return the job of cutting these pieces, all of one material.

    Lengths are in `unit`, so that a plan's reason speaks of her inches; in mm when one of them
    is not a whole 64th of an inch, because a plan is exact. The sheet's price is left at 1: with
    one kind of sheet the fewest are the cheapest, and a plan stays good when the price moves.
    """
    material = cuts[0].material
    lengths = [
        material.width_mm,
        material.height_mm,
        material.trim_mm,
        gap_mm,
        *(side for cut in cuts for side in (cut.piece.width_mm, cut.piece.height_mm)),
    ]
    in_inches = unit == "in" and all(length % _MM_PER_64TH == 0 for length in lengths)

    def said(length_mm: Decimal) -> Decimal:
        return length_mm / MM_PER_INCH if in_inches else length_mm

    sheet = SheetKind(
        name=material.name,
        width=said(material.width_mm),
        height=said(material.height_mm),
        price=Decimal(1),
        trim=said(material.trim_mm),
    )
    pieces: dict[str, PieceKind] = {}
    for cut in cuts:
        may_turn = cut.piece.may_turn
        name, number = cut.piece.name, 2
        while name in pieces:
            name, number = f"{cut.piece.name} ({number})", number + 1
        pieces[name] = PieceKind(
            name=name,
            width=said(cut.piece.width_mm),
            height=said(cut.piece.height_mm),
            count=cut.count,
            may_turn=not material.is_directional if may_turn is None else may_turn,
        )
    return CuttingJob(sheets=(sheet,), pieces=tuple(pieces.values()), gap=said(gap_mm))


def _area(cuts: Sequence[CutCount]) -> Decimal:
    return sum((cut.piece.width_mm * cut.piece.height_mm * cut.count for cut in cuts), ZERO)


def _say_sheets(use: SheetUse) -> Line:
    role, plan, whole = use.role, use.plan, use.plan.plan
    sheet = plan.job.sheets[0]
    sheet_area = sheet.width * sheet.height
    used = sum((each.width * each.height * each.count for each in plan.job.pieces), ZERO)
    how = whole.reason
    if len(plan.roles) > 1:
        others = ", ".join(plan.roles)
        how = f"{use.sheets} of {whole.sheet_count} shared by {others} by area; {whole.reason}"
    return Line(
        f"{use.material.name}: sheets for {role}",
        use.sheets,
        "sheet",
        how,
        f"sh.{role}",
        (
            *(cut.line for cut in use.cuts),
            Line(
                "fewest sheets possible" if whole.proven else "no plan takes fewer sheets than",
                int(whole.lower_bound),
                "sheet",
                whole.reason,
                f"sh.{role}.bound",
            ),
            Line(
                "not used, share of the sheets",
                plan.unused_share,
                "share",
                (
                    sums.number(1)
                    - sums.number(used) / (sums.number(whole.sheet_count) * sums.number(sheet_area))
                ).then("4 decimals"),
                f"waste.{role}",
            ),
        ),
    )
