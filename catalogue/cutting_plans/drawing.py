"""A plan as its page, its print and its file show it: layouts drawn, pieces, cuts, warnings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString, mark_safe

from catalogue.calc.cutting.planning import CuttingJob, Layout, PieceKind, PlannedOffcut, SheetPlan
from catalogue.calc.reels.planning import ReelJob, ReelLayout, ReelPlan
from catalogue.cutting_plans.cut_words import Sentence, cut_sentences, in_bench_order
from catalogue.cutting_plans.headlines import (
    buy_notes,
    care_notes,
    class_text,
    cost_of,
    headline,
    is_scarce,
    scarce_kinds,
    share_used,
)
from catalogue.cutting_plans.stored import JobGroup, Plan
from catalogue.cutting_plans.usage import MM_PER_M, SLIVER_MM, to_mm
from catalogue.sheet_plans.drawing import draw_layout, times_text
from catalogue.sheet_plans.reel_drawing import draw_reel, useful_left
from maker.calc.money import format_money
from maker.calc.units import format_length, format_percent
from maker.web.words import amount_text
from maker.workshop.models import Workshop

# a sheet this little under size spoils the layout (common practice, no source: sheets of one pack
# differ by about a millimetre)
TIGHT_MM = Decimal(2)
ZERO = Decimal(0)
ORDER = (
    "Cut in this order. The layout with most left over is last, so it can replace a spoiled piece."
)
MOST_SENTENCES = 150
MOST_ROOM = 4


@dataclass(frozen=True, slots=True)
class PieceRow:
    """One kind of piece or length in the cut list or on a sheet."""

    number: int
    name: str
    size: str
    count: int
    turned: int = 0
    turning: str = ""


@dataclass(frozen=True, slots=True)
class LayoutPage:
    """One layout, drawn and in words."""

    number: int
    of: int
    heading: str
    times: str
    sheet: str
    svg: SafeString
    rows: tuple[PieceRow, ...]
    sentences: tuple[Sentence, ...]
    is_cut_short: bool
    offcuts: str
    warning: str
    room: str


@dataclass(frozen=True, slots=True)
class GroupPage:
    """One job of the plan: what is said of it, and its cut list."""

    title: str
    headline: str
    reason: str
    proof_class: str
    is_proven: bool
    to_buy: tuple[str, ...]
    care: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    cut_list: tuple[PieceRow, ...]
    order: str
    first: int
    last: int

    @property
    def notes(self) -> tuple[str, ...]:
        """All that is said of the stock."""
        return self.to_buy + self.care


@dataclass(frozen=True)
class PlanPages:
    """All groups with scarce paper last, and any layout of them by its number from 1."""

    groups: tuple[GroupPage, ...]
    layout_count: int
    made: tuple[tuple[JobGroup, Plan, int], ...]
    numbers: tuple[Mapping[str, int], ...]
    # whose words and units are used
    workshop: Workshop

    def layout(self, number: int) -> LayoutPage:
        """Draw one layout."""
        group, plan, index = self.made[number - 1]
        numbers = self.numbers[number - 1]
        if isinstance(plan, ReelPlan):
            return _reel_page(group, plan.layouts[index], numbers, number, self)
        return _layout_page(group, plan, plan.layouts[index], numbers, number, self)


def plan_pages(
    groups: Sequence[JobGroup],
    plans: Sequence[Plan],
    workshop: Workshop,
    *,
    is_stopped: bool = False,
) -> PlanPages:
    """Return what the page shows; nothing is drawn yet, because a plan may have many layouts."""
    pairs = sorted(
        zip(groups, plans, strict=True), key=lambda pair: is_scarce(*pair)
    )  # a stable sort
    pages: list[GroupPage] = []
    made: list[tuple[JobGroup, Plan, int]] = []
    all_numbers: list[dict[str, int]] = []
    count = 0
    for group, plan in pairs:
        numbers = {name: count + at for at, name in enumerate(_names(group), start=1)}
        count += len(numbers)
        first = len(made) + 1
        made += [(group, plan, index) for index in _order(plan, group)]
        all_numbers += [numbers] * (len(made) + 1 - first)
        pages.append(
            GroupPage(
                title=group.title,
                headline=headline(group, plan, workshop, is_stopped=is_stopped),
                reason=plan.reason,
                proof_class=class_text(group),
                is_proven=plan.proven,
                to_buy=tuple(buy_notes(group, plan)),
                care=tuple(care_notes(group, plan)),
                facts=tuple(_facts(group, plan, workshop)),
                cut_list=_cut_list(group, numbers, workshop),
                order=ORDER if isinstance(plan, SheetPlan) and len(made) > first else "",
                first=first,
                last=len(made),
            )
        )
    return PlanPages(tuple(pages), len(made), tuple(made), tuple(all_numbers), workshop)


def _names(group: JobGroup) -> list[str]:
    job = group.job
    if isinstance(job, CuttingJob):
        return [piece.name for piece in job.pieces]
    return [length.name for length in job.lengths]


def _order(plan: Plan, group: JobGroup) -> list[int]:
    """Return the layouts in the order in which an early mistake costs least.

    Offcuts first, then each kind from cheap to dear, scarce kinds last. Of one kind, the sheet that
    leaves most over comes last, so that a spoiled piece can still be cut from it.
    """
    scarce = scarce_kinds(group, plan)

    def key(index: int) -> tuple[bool, bool, Decimal, Decimal]:
        layout = plan.layouts[index]
        if isinstance(layout, ReelLayout):
            return layout.reel in scarce, False, ZERO, ZERO
        source = group.source(layout.sheet)
        left = sum((one.width * one.height for one in layout.offcuts), ZERO)
        return layout.sheet in scarce, not source.is_offcut, source.price or ZERO, left

    return sorted(range(len(plan.layouts)), key=key)


def _facts(group: JobGroup, plan: Plan, workshop: Workshop) -> list[tuple[str, str]]:
    facts = []
    cost = cost_of(group, plan)
    if cost is not None:
        facts.append(("Costs", format_money(cost, workshop.currency, workshop.locale)))
    share = share_used(group, plan)
    if share is not None:
        facts.append(("Used", format_percent(share, workshop.locale)))
    many = len(plan.layouts)
    facts.append(("Layouts", f"{many:,}"))
    if isinstance(plan, SheetPlan):
        facts.append(("Total cuts", f"{plan.cut_count:,}"))
    return facts


class _Writer:
    """Writes lengths of a job in the workshop's unit."""

    def __init__(self, group: JobGroup, workshop: Workshop) -> None:
        self.unit, self.workshop = group.unit, workshop
        self.is_reel = isinstance(group.job, ReelJob)

    def __call__(self, length: Decimal) -> str:
        return format_length(self.in_mm(length), self.workshop.unit, self.workshop.locale)

    def in_mm(self, length: Decimal) -> Decimal:
        """Return a length of the job in millimetres."""
        return length if self.is_reel else to_mm(length, self.unit)

    def reel(self, length_mm: Decimal) -> str:
        """Write how much is on a reel, as reels are bought: in metres, or yards of inches."""
        metres = length_mm / MM_PER_M
        if self.workshop.unit != "in":
            metres = round(metres, 2)
        return amount_text(metres, "m", self.workshop)

    def size(self, width: Decimal, height: Decimal) -> str:
        return f"{self(width).rsplit(' ', 1)[0]} × {self(height)}"


def _cut_list(
    group: JobGroup, numbers: Mapping[str, int], workshop: Workshop
) -> tuple[PieceRow, ...]:
    write, job = _Writer(group, workshop), group.job
    if isinstance(job, ReelJob):
        return tuple(
            PieceRow(numbers[one.name], one.name, write(one.length_mm), one.count)
            for one in job.lengths
        )
    return tuple(
        PieceRow(
            numbers[one.name],
            one.name,
            write.size(one.width, one.height),
            one.count,
            turning="may be turned" if one.may_turn else "stays upright",
        )
        for one in job.pieces
    )


def _layout_page(
    group: JobGroup,
    plan: SheetPlan,
    layout: Layout,
    numbers: Mapping[str, int],
    number: int,
    pages: PlanPages,
) -> LayoutPage:
    job = group.sheets
    if job is None:
        raise ValueError("A layout of sheets belongs to a job of sheets.")
    write = _Writer(group, pages.workshop)
    layout = in_bench_order(layout, job.gap)
    sheet = next(sheet for sheet in job.sheets if sheet.name == layout.sheet)
    source = group.source(layout.sheet)
    svg = draw_layout(
        layout,
        sheet,
        unit=group.unit,
        number=number,
        of=pages.layout_count,
        numbers=numbers,
        write=write,
        is_directional=source.is_directional,
        has_legend=False,
    )
    sentences = cut_sentences(layout, sheet, gap=job.gap, numbers=numbers, write=write)
    return LayoutPage(
        number=number,
        of=pages.layout_count,
        heading=f"Layout {number}: {times_text(layout.times)}",
        times=times_text(layout.times),
        sheet=layout.sheet,
        svg=mark_safe(svg),  # noqa: S308  # the drawing escapes every text it is given
        rows=_rows_on(layout, numbers, write),
        sentences=tuple(sentences[:MOST_SENTENCES]),
        is_cut_short=len(sentences) > MOST_SENTENCES,
        offcuts=_offcut_words(layout.offcuts, write),
        warning=_warning(layout, group, write),
        room=_room(layout, job),
    )


def _rows_on(layout: Layout, numbers: Mapping[str, int], write: _Writer) -> tuple[PieceRow, ...]:
    counts: dict[str, list[int]] = {}
    sizes: dict[str, str] = {}
    for placed in layout.placements:
        one = counts.setdefault(placed.piece, [0, 0])
        one[0] += 1
        one[1] += placed.turned
        sides = (placed.height, placed.width) if placed.turned else (placed.width, placed.height)
        sizes[placed.piece] = write.size(*sides)
    return tuple(
        PieceRow(numbers[name], name, sizes[name], count, turned)
        for name, (count, turned) in sorted(counts.items(), key=lambda item: numbers[item[0]])
    )


def _offcut_words(offcuts: Sequence[PlannedOffcut], write: _Writer) -> str:
    counts: dict[str, int] = {}
    slivers = 0
    for offcut in offcuts:
        if write.in_mm(min(offcut.width, offcut.height)) < SLIVER_MM:
            slivers += 1
            continue
        size = write.size(offcut.width, offcut.height)
        counts[size] = counts.get(size, 0) + 1
    said = [size if count == 1 else f"{count} of {size}" for size, count in counts.items()]
    if slivers:
        said.append("slivers" if slivers > 1 else "a sliver")
    return ", ".join(said)


def _warning(layout: Layout, group: JobGroup, write: _Writer) -> str:
    slack_mm = to_mm(layout.slack, group.unit)
    if slack_mm >= TIGHT_MM:
        return ""
    if not slack_mm:
        return (
            "This fills the sheet exactly: measure your sheets first. Even 0.5 mm short will "
            "spoil it."
        )
    return (
        f"Only {write(layout.slack)} to spare: measure your sheets first. Any shorter will "
        "spoil it."
    )


def _room(layout: Layout, job: CuttingJob) -> str:
    """Say how many more of which pieces the offcuts of one sheet would give, in rows."""
    found = []
    for piece in job.pieces:
        many = sum(_grid(offcut, piece, job.gap) for offcut in layout.offcuts)
        if many:
            found.append(f"{many} more of {piece.name}")
    if not found:
        return ""
    more = "" if len(found) <= MOST_ROOM else ", …"
    return f"Spare room for {' or '.join(found[:MOST_ROOM])}{more}."


def _grid(offcut: PlannedOffcut, piece: PieceKind, gap: Decimal) -> int:
    def rows(width: Decimal, height: Decimal) -> int:
        return int((offcut.width + gap) // (width + gap)) * int(
            (offcut.height + gap) // (height + gap)
        )

    straight = rows(piece.width, piece.height)
    return max(straight, rows(piece.height, piece.width)) if piece.may_turn else straight


def _reel_page(
    group: JobGroup,
    layout: ReelLayout,
    numbers: Mapping[str, int],
    number: int,
    pages: PlanPages,
) -> LayoutPage:
    job = group.reels
    if job is None:
        raise ValueError("A layout of reels belongs to a job of reels.")
    write = _Writer(group, pages.workshop)
    svg = draw_reel(
        layout,
        job,
        number=number,
        of=pages.layout_count,
        numbers=numbers,
        write=write,
        write_reel=write.reel,
    )
    sizes = {length.name: length.length_mm for length in job.lengths}
    rows = tuple(
        PieceRow(numbers[name], name, write(sizes[name]), many) for name, many in layout.lengths
    )
    sentences = tuple(
        Sentence(
            at,
            at,
            f"Cut {many} of {write(sizes[name])}: length {numbers[name]}"
            + (f", {write(job.cut_loss_mm)} lost at each cut." if job.cut_loss_mm else "."),
        )
        for at, (name, many) in enumerate(layout.lengths, start=1)
    )
    left = useful_left(layout, job)
    return LayoutPage(
        number=number,
        of=pages.layout_count,
        heading=f"Layout {number}: {times_text(layout.times)}",
        times=times_text(layout.times),
        sheet=layout.reel,
        svg=mark_safe(svg),  # noqa: S308  # the drawing escapes every text it is given
        rows=rows,
        sentences=sentences,
        is_cut_short=False,
        offcuts=write.reel(left) if left else "",
        warning="",
        room="",
    )
