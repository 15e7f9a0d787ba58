"""Prices in depth: re-costing 100 to 10,000 designs and lists, beside LibreOffice's workbooks.

The baseline is LibreOffice opening an equivalent workbook without a window, recalculating all of it
and writing its first sheet. One input was changed in the file before, so that no value kept in it
can be right, and every figure is compared with ours. "sums alone" has no database and no cutting
plan here, and there only what recalculating adds to opening and writing the same file.
"""

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from openpyxl import Workbook

from catalogue.sheet_plans.services import PlanMemory, sheet_planner
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask, WorkshopRates
from pricing.calc.price.ingredients import from_plain
from pricing.calc.quantities.every_quantity import EveryQuantity, every_quantity_of
from pricing.price_review.inputs import Today, explain, today_of
from pricing.price_review.review import (
    Review,
    look_through,
    review_prices,
    today_with_timings,
)
from pricing.prices.models import PriceListEntry
from tests.benchmarks import Row
from tests.benchmarks import quantities_workbook as workbooks
from tests.benchmarks import recost_workbook as recosts
from tests.benchmarks.price_sides import check_sides, quantities_figures, recost_figures, recosted
from tests.benchmarks.priced_designs import buy_dearer, priced_workshop
from tests.benchmarks.recalculating import (
    Office,
    Recalculate,
    Taken,
    middle,
    taken_by,
    with_input,
)
from tests.benchmarks.recost_workbook import Listed, Standing
from tests.calc import worked_case

DESIGNS = (100, 1_000, 10_000)
QUANTITIES = (100, 250, 1_000, 10_000)
# enough that no plan is cut short on a busy machine: both sides must count the same sheets
PLAN_SECONDS = 120.0
WAGE = Decimal(16)
# a difference of two starts that is shorter says nothing
LEAST_SECONDS = 0.005


@dataclass(frozen=True, slots=True)
class Baseline:
    """What LibreOffice took: for everything, without its start, and to recalculate alone."""

    whole: Taken
    work: Taken
    sums: Taken


class Growth:
    """Says by how much each kind of sum grew since the size before."""

    def __init__(self) -> None:
        self._before: dict[str, tuple[int, Taken, Taken]] = {}

    def note(self, kind: str, size: int, ours: Taken, theirs: Taken) -> str:
        """Return the growth in words, and remember this size; the first one says nothing."""
        before = self._before.get(kind)
        self._before[kind] = (size, ours, theirs)
        if before is None:
            return ""
        return (
            f"x{size / before[0]:g} from {before[0]:,}: ours x{_over(ours.cpu, before[1].cpu)}, "
            f"theirs x{_over(theirs.cpu, before[2].cpu)}"
        )


def run() -> Iterator[Row]:
    """Measure the start, then re-costing and lists by size."""
    with tempfile.TemporaryDirectory(prefix="pleat-office-") as folder:
        office = Office(Path(folder))
        empty = office.calculated(Workbook(), "empty")
        for how in Recalculate:
            office.recalculate(empty, how)  # a new profile's first start takes longer
        start = middle([taken_by(lambda: office.recalculate(empty)) for _ in range(5)])
        yield Row("LibreOffice, an empty workbook", start.clock, note=f"cpu {start.cpu:.2f} s")
        growth = Growth()
        for designs in DESIGNS:
            yield from _recosting(designs, office, empty, growth)
        for up_to in QUANTITIES:
            yield from _every_quantity(up_to, office, empty, growth)


def _repeats(size: int) -> int:
    return 5 if size <= 1_000 else 3


def _measured(
    size: int, office: Office, workbook: Path, empty: Path, calls: list[Callable[[], object]]
) -> tuple[Baseline, list[Taken]]:
    """Measure our calls and LibreOffice in turn, so that a busy machine slows all of them."""
    for call in calls:
        call()
    started, whole, opened = [], [], []
    ours: list[list[Taken]] = [[] for _ in calls]
    for _ in range(_repeats(size)):
        started.append(taken_by(lambda: office.recalculate(empty)))
        whole.append(taken_by(lambda: office.recalculate(workbook)))
        opened.append(taken_by(lambda: office.recalculate(workbook, Recalculate.NEVER)))
        for call, taken in zip(calls, ours, strict=True):
            taken.append(taken_by(call))
    all_of_it = middle(whole)
    baseline = Baseline(all_of_it, all_of_it.less(middle(started)), all_of_it.less(middle(opened)))
    return baseline, [middle(taken) for taken in ours]


def _recosting(designs: int, office: Office, empty: Path, growth: Growth) -> Iterator[Row]:
    day = timezone.localdate()
    workshop = priced_workshop(designs)
    listed, standing = _listed(workshop), _standing(today_of(workshop, day), workshop)
    workbook, inputs = recosts.recost_workbook(listed, standing)
    kept = office.calculated(workbook, f"designs-{designs}")
    identity, cost = buy_dearer(workshop, day)
    moved = with_input(kept, 2, inputs.cell_in(recosts.cost_key(identity)), cost)
    standing = _standing(today_of(workshop, day), workshop)
    figures = [recost_figures(why) for why in recosted(listed, standing)]
    agreed = check_sides(figures, office.values(moved))
    with CaptureQueriesContext(connection) as queries:
        review = review_prices(workshop=workshop, on=day)
    off = sum(1 for row in figures if row["is_off"])
    assert (review.checked, len(review.prices)) == (designs, off)
    baseline, (list_off, list_why, sums) = _measured(
        designs,
        office,
        moved,
        empty,
        [
            lambda: look_through(workshop, today_with_timings(workshop, day)),
            lambda: _reviewed_and_explained(workshop),
            lambda: recosted(listed, standing),
        ],
    )
    formulas = recosts.formula_count(listed)
    name = f"re-cost {designs:,}"
    facts = f"{off:,} off, {len(queries)} queries; {formulas:,} formulas, {agreed:,} figures agree"
    yield _row(f"{name}: what is off", list_off, baseline, facts, growth, designs)
    yield _row(f"{name}: with cause and new price", list_why, baseline, "", growth, designs)
    yield _sums_row(f"{name}: sums alone", sums, baseline, growth, designs)


def _reviewed_and_explained(workshop: Workshop) -> Review:
    review = look_through(workshop, today_with_timings(workshop, timezone.localdate()))
    for off in review.prices:
        explain(off.checked, review.today)
    return review


def _listed(workshop: Workshop) -> list[Listed]:
    entries = PriceListEntry.objects.of(workshop).current().in_order()
    return [
        Listed(from_plain(basis or {}), timezone.localdate(set_at))
        for basis, set_at in entries.values_list("basis", "set_at")
    ]


def _standing(today: Today, workshop: Workshop) -> Standing:
    (channel,) = (values for key, values in today.channels.items() if key is not None)
    return Standing(
        unit_costs=today.unit_costs,
        rates=today.rates,
        channel=channel,
        threshold=workshop.reprice_share,
        after_months=workshop.reprice_after_months,
        on=today.on,
    )


def _every_quantity(up_to: int, office: Office, empty: Path, growth: Growth) -> Iterator[Row]:
    rates, channel = worked_case.rates(), worked_case.channel()
    workbook, inputs = workbooks.quantities_workbook(up_to, channel, rates)
    kept = office.calculated(workbook, f"quantities-{up_to}")
    moved = with_input(kept, 2, inputs.cell("wage"), WAGE)
    rates = replace(rates, wage_per_hour=WAGE)
    memory = PlanMemory()
    every_quantity = _quantities_with(memory, up_to, rates)
    agreed = check_sides(list(quantities_figures(every_quantity)), office.values(moved))
    baseline, (warm, cold) = _measured(
        up_to,
        office,
        moved,
        empty,
        [
            lambda: _quantities_with(memory, up_to, rates),
            lambda: _quantities_with(PlanMemory(), up_to, rates),
        ],
    )
    formulas = workbooks.formula_count(up_to)
    facts = f"{formulas:,} formulas, {agreed:,} figures agree"
    name = f"list 1 to {up_to:,}"
    plans = f"{every_quantity.planned} plans made; there sheets are formulas"
    yield _row(f"{name}: plans kept", warm, baseline, facts, growth, up_to)
    yield _row(f"{name}: plans made", cold, baseline, plans, growth, up_to)
    yield _sums_row(f"{name}: sums alone", warm, baseline, growth, up_to)


def _quantities_with(memory: PlanMemory, up_to: int, rates: WorkshopRates) -> EveryQuantity:
    planner = sheet_planner(seconds=PLAN_SECONDS, memory=memory)
    return every_quantity_of(
        worked_case.recipe(), Ask(1), worked_case.channel(), rates, planner, up_to=up_to
    )


def _row(name: str, ours: Taken, baseline: Baseline, facts: str, growth: Growth, size: int) -> Row:
    notes = [
        f"cpu {_over(ours.cpu, baseline.whole.cpu)}",
        f"without its start {_over(ours.clock, baseline.work.clock)}, "
        f"cpu {_over(ours.cpu, baseline.work.cpu)}",
        growth.note(_kind(name), size, ours, baseline.whole),
        facts,
    ]
    note = "; ".join(filter(None, notes))
    return Row(name, ours.clock, baseline.whole.clock, note)


def _sums_row(name: str, ours: Taken, baseline: Baseline, growth: Growth, size: int) -> Row:
    hidden = baseline.sums.clock <= LEAST_SECONDS
    notes = [
        "theirs is lost in the clock's noise" if hidden else "",
        f"cpu {_over(ours.cpu, baseline.sums.cpu)}",
        growth.note(_kind(name), size, ours, baseline.sums),
    ]
    theirs = None if hidden else baseline.sums.clock
    return Row(name, ours.clock, theirs, "; ".join(filter(None, notes)))


def _kind(name: str) -> str:
    """Return what a row measures, whatever its size."""
    return "".join(letter for letter in name if letter.isalpha())


def _over(ours: float, theirs: float) -> str:
    """Return a ratio, or a dash where the other side is below what can be measured."""
    return f"{ours / theirs:.2f}" if theirs > LEAST_SECONDS else "–"
