"""The report against figures worked by hand, plain SQL, and random ledgers with reversals."""

import datetime
import json
import random
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from catalogue.materials.models import Material
from catalogue.purchases.services import reverse_purchase
from catalogue.stock.models import StockEntry
from catalogue.stock.services import count_stock, move_stock, reverse_entry
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import Period, months_from, periods
from pricing.spending.inputs import Narrowed
from pricing.spending.models import Budget
from pricing.spending.services import SpendReport, month_spend, set_budgets, spend_report
from tests import factories
from tests.catalogue.receipts import TODAY, make_draft, make_receipt

# the quarter of patterned card costed by hand, line by line, in the worked case
LEDGER = {
    key: Decimal(value)
    for key, value in json.loads(
        (Path(__file__).parents[1] / "data" / "worked_case.json").read_text(encoding="utf-8")
    )["ledger"].items()
}
CENT = Decimal("0.01")


def month(number: int, year: int = 2026) -> datetime.date:
    return datetime.date(year, number, 1)


def day(number: int, of: int, year: int = 2026) -> datetime.date:
    return datetime.date(year, number, of)


def report(
    workshop: Workshop,
    first: datetime.date,
    last: datetime.date,
    *,
    by: str = "category",
    yearly: bool = False,
    **narrowed: Any,
) -> SpendReport:
    return spend_report(
        workshop=workshop,
        spans=periods(first, last, each=12 if yearly else 1),
        by=by,
        narrowed=Narrowed(**narrowed),
    )


def use(card: Material, amount: str, on: datetime.date, kind: str = "used") -> StockEntry:
    return move_stock(material=card, kind=kind, amount=Decimal(amount), moved_on=on, today=TODAY)


@pytest.fixture
def card(workshop: Workshop) -> Material:
    return factories.make_material(workshop, name="Patterned card")


@pytest.fixture
def quarter(workshop: Workshop, card: Material) -> Material:
    make_receipt(workshop, (card, "48", "25.10"), bought_on=day(1, 3))
    use(card, "32", day(1, 19))
    make_receipt(workshop, (card, "72", "41.01"), bought_on=day(2, 2))
    use(card, "40", day(2, 20))
    count_stock(material=card, counted=Decimal(45), moved_on=day(2, 28), today=TODAY)
    make_receipt(workshop, (card, "24", "14.20"), bought_on=day(3, 12))
    use(card, "30", day(3, 25))
    set_budgets(workshop=workshop, month=month(1), amounts={"paper": Decimal(30)})
    return card


def test_the_quarter_worked_by_hand(workshop: Workshop, quarter: Material) -> None:
    found = report(workshop, month(1), month(3))
    for row, name in zip(found.rows, ("Jan", "Feb", "Mar"), strict=True):
        assert row.spent == LEDGER[f"lg.spend.{name}"]
        assert row.over == LEDGER[f"lg.over.{name}"]
        assert row.parts == (row.spent,)
    assert found.spent == LEDGER["lg.year.spend"]
    assert found.moves is not None
    assert found.moves.used == LEDGER["lg.year.used"]
    assert found.moves.lost == LEDGER["lg.year.lost"]
    assert found.rows[-1].closing == LEDGER["lg.7.val"]
    assert [row.closing for row in found.rows[:2]] == [LEDGER["lg.2.val"], LEDGER["lg.5.val"]]
    assert found.reconciliation is not None
    assert found.reconciliation.closing == LEDGER["lg.year.close"]
    assert (found.reconciliation.unexplained, found.reconciliation.rounding) == (0, 0)
    # one month in the middle opens with what January left
    february = report(workshop, month(2), month(2)).reconciliation
    assert february is not None
    assert february.lines[0].amount == LEDGER["lg.2.val"].quantize(CENT)
    assert february.unexplained == 0


def test_first_in_first_out_adds_up_too(workshop: Workshop, card: Material, db: None) -> None:
    workshop.valuation = Workshop.Valuation.FIFO
    workshop.save()
    make_receipt(workshop, (card, "48", "25.10"), bought_on=day(1, 3))
    use(card, "32", day(1, 19))
    make_receipt(workshop, (card, "72", "41.01"), bought_on=day(2, 2))
    use(card, "40", day(2, 20))
    count_stock(material=card, counted=Decimal(45), moved_on=day(2, 28), today=TODAY)
    make_receipt(workshop, (card, "24", "14.20"), bought_on=day(3, 12))
    use(card, "30", day(3, 25))
    found = report(workshop, month(1), month(3)).reconciliation
    assert found is not None
    assert (found.closing, found.unexplained) == (LEDGER["lg.year.fifo"], 0)


def plain_sql(workshop: Workshop) -> dict[tuple[str, str], Decimal]:
    """What each month and category cost, asked of the database without our code."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT SUBSTR(CAST(p.bought_on AS VARCHAR(10)), 1, 7), m.category,"
            " SUM(ROUND(l.landed * 100)) FROM catalogue_purchaseline l"
            " JOIN catalogue_purchase p ON p.id = l.purchase_id"
            " JOIN catalogue_material m ON m.id = l.material_id"
            " WHERE p.workshop_id = %s AND p.state = 'recorded' GROUP BY 1, 2",
            [workshop.pk],
        )
        return {(on, kind): Decimal(int(cents)) / 100 for on, kind, cents in cursor.fetchall()}


def busy_year(workshop: Workshop, seed: int) -> None:
    """Receipts, uses, counts and reversals at random, over 14 months and five materials."""
    rng = random.Random(seed)
    suppliers = [factories.make_supplier(workshop) for _ in range(2)]
    categories = ("paper", "glue", "tools", "packing", "paper")
    shelf = [factories.make_material(workshop, category=category) for category in categories]
    receipts, entries = [], []
    months = list(months_from(month(5, 2025), month(6)))
    for _ in range(40):
        on = rng.choice(months).replace(day=rng.randint(1, 28))
        material = rng.choice(shelf)
        amount = str(Decimal(rng.randint(1, 900)) / rng.choice((1, 3, 7)))[:8]
        kind = rng.choice(("buy", "buy", "use", "use", "count", "back", "unbuy"))
        if kind == "buy":
            lines = rng.sample(shelf, rng.randint(1, 3))
            made = make_receipt(
                workshop,
                *((one, str(rng.randint(1, 80)), str(Decimal(rng.randint(1, 9000)) / 100))
                  for one in lines),
                bought_on=on, supplier=rng.choice(suppliers), postage=Decimal("4.95"),
                discount=Decimal("0.01"), tax=Decimal(rng.randint(0, 300)) / 100,
            )  # fmt: skip
            receipts.append(made)
        elif kind == "use":
            why = rng.choice(("used", "scrap", "own_use", "gift", "sample", "sold", "returned"))
            entries.append(use(material, amount, on, why))
        elif kind == "count":
            counted = Decimal(rng.randint(0, 60))
            held = sum(
                material.stock_entries.filter(moved_on__lte=on).values_list("change", flat=True)
            )
            if counted != held:
                count_stock(material=material, counted=counted, moved_on=on, today=TODAY)
        elif kind == "back" and entries:
            reverse_entry(entry=entries.pop(rng.randrange(len(entries))))
        elif kind == "unbuy" and receipts:
            reverse_purchase(purchase=receipts.pop(rng.randrange(len(receipts))))
    make_draft(workshop, (shelf[0], "1", "99.00"), bought_on=day(2, 2))


@pytest.mark.parametrize("seed", range(6))
def test_random_ledgers_with_reversals_leave_no_difference(workshop: Workshop, seed: int) -> None:
    workshop.valuation = ("average", "fifo")[seed % 2]
    workshop.save()
    busy_year(workshop, seed)
    first, last = month(5, 2025), month(6)
    whole = report(workshop, first, last)
    assert whole.spent > 0
    assert whole.reconciliation is not None
    assert whole.reconciliation.unexplained == 0
    kept = sum(Material.objects.of(workshop).values_list("stock_value", flat=True))
    assert whole.rows[-1].closing == kept
    # every month by itself, and each opens with what the one before left
    for row, following in zip(whole.rows, [*whole.rows[1:], None], strict=True):
        one = report(workshop, row.period.first, row.period.last)
        assert one.reconciliation is not None
        assert one.reconciliation.unexplained == 0
        assert one.rows[0].closing == row.closing
        if following:
            after = report(workshop, following.period.first, following.period.first)
            assert after.reconciliation is not None
            assert row.closing is not None
            assert after.reconciliation.lines[0].amount == row.closing.quantize(
                CENT, rounding="ROUND_HALF_UP"
            )
    # each category by itself, and together they are the whole
    parts = [report(workshop, first, last, category=key) for key in ("paper", "glue", "tools")]
    assert all(one.reconciliation and not one.reconciliation.unexplained for one in parts)
    expected = plain_sql(workshop)
    for row in whole.rows:
        name = f"{row.period.first:%Y-%m}"
        for key, amount in zip(whole.series, row.parts, strict=True):
            assert amount == expected.get((name, key), 0)
    assert whole.spent == sum(expected.values())
    for by in ("supplier", "material"):
        other = report(workshop, first, last, by=by)
        assert other.spent == whole.spent
        assert sum(group.spent for group in other.groups) == whole.spent
        assert [row.spent for row in other.rows] == [row.spent for row in whole.rows]


def test_the_same_pivot_by_pandas(workshop: Workshop) -> None:
    """A spreadsheet's pivot of the receipt lines, in whole cents, gives the same table."""
    import pandas

    from catalogue.purchases.models import PurchaseLine

    busy_year(workshop, 11)
    lines = PurchaseLine.objects.of(workshop).recorded()
    frame = pandas.DataFrame(
        lines.values_list("purchase__bought_on", "material__category", "landed"),
        columns=["on", "category", "landed"],
    )
    frame["month"] = [on.replace(day=1) for on in frame["on"]]
    frame["cents"] = [int(landed * 100) for landed in frame["landed"]]
    pivot = frame.pivot_table(
        index="month", columns="category", values="cents", aggfunc="sum", fill_value=0
    )
    found = report(workshop, month(5, 2025), month(6))
    for row in found.rows:
        for key, amount in zip(found.series, row.parts, strict=True):
            there = row.period.first in pivot.index
            assert amount * 100 == (int(pivot.loc[row.period.first, key]) if there else 0)


def test_what_has_no_budget_is_not_set_against_one(workshop: Workshop, quarter: Material) -> None:
    blades = factories.make_material(workshop, category="tools", kind="count")
    make_receipt(workshop, (blades, "5", "50.00"), bought_on=day(2, 3))
    make_receipt(workshop, (quarter, "1", "9.00"), bought_on=day(12, 30, 2025))
    found = report(workshop, month(12, 2025), month(3))
    assert [row.over for row in found.rows] == [
        None, *(LEDGER[f"lg.over.{name}"] for name in ("Jan", "Feb", "Mar")),
    ]  # fmt: skip
    assert found.over == LEDGER["lg.year.spend"] - 90
    assert {group.key: group.over for group in found.groups} == {
        "paper": LEDGER["lg.year.spend"] - 90,
        "tools": None,
    }


def test_a_receipt_taken_back_counts_as_never(workshop: Workshop, quarter: Material) -> None:
    before = report(workshop, month(1), month(3))
    wrong = make_receipt(workshop, (quarter, "500", "999.00"), bought_on=day(1, 2))
    assert report(workshop, month(1), month(3)).spent != before.spent
    reverse_purchase(purchase=wrong)
    assert report(workshop, month(1), month(3)) == before


def test_tax_counts_as_the_receipt_recorded_it(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "10", "10.00"), tax=Decimal(2), bought_on=day(1, 5))
    workshop.tax_registered = True
    workshop.save()
    make_receipt(workshop, (card, "10", "10.00"), tax=Decimal(2), bought_on=day(2, 5))
    assert [row.spent for row in report(workshop, month(1), month(2)).rows] == [12, 10]


def test_the_turn_of_the_year_and_the_year_before(workshop: Workshop, card: Material) -> None:
    for on, amount in (
        (day(12, 1, 2024), "1.00"),
        (day(1, 1, 2025), "2.00"),
        (day(12, 31, 2025), "4.00"),
        (day(1, 1), "8.00"),
    ):
        make_receipt(workshop, (card, "1", amount), bought_on=on)
    found = report(workshop, month(12, 2025), month(1))
    assert [(row.spent, row.before) for row in found.rows] == [(4, 1), (8, 2)]
    years = report(workshop, month(1, 2025), month(12), yearly=True)
    # of 2024 only December is known, which is no year to set beside one
    assert [(row.spent, row.before) for row in years.rows] == [(6, 0), (8, 6)]
    assert years.spent == 14
    assert years.reconciliation is not None
    assert (years.reconciliation.lines[0].amount, years.reconciliation.unexplained) == (1, 0)


def test_months_without_receipts_are_nothing_and_empty_books_add_up(workshop: Workshop) -> None:
    found = report(workshop, month(1), month(12))
    assert [row.spent for row in found.rows] == [0] * 12
    assert (found.series, found.groups, found.budget, found.before) == ((), (), None, 0)
    assert found.reconciliation is not None
    assert (found.reconciliation.closing, found.reconciliation.unexplained) == (0, 0)


def test_stock_below_nothing_adds_up_and_is_said(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "10", "10.00"), bought_on=day(1, 3))
    use(card, "15", day(1, 10))
    january = report(workshop, month(1), month(1))
    assert january.reconciliation is not None
    assert (january.reconciliation.closing, january.reconciliation.unexplained) == (-5, 0)
    assert january.below_nothing == (card.name,)
    make_receipt(workshop, (card, "10", "20.00"), bought_on=day(2, 3))
    february = report(workshop, month(2), month(2))
    assert february.moves is not None
    # 5 used at 1.00 turned out to cost 2.00
    assert (february.moves.revalued, february.rows[0].closing) == (-5, 10)
    assert february.reconciliation is not None
    assert february.reconciliation.unexplained == 0
    assert february.below_nothing == ()


def test_one_supplier_has_no_shelf_and_no_budget(workshop: Workshop, quarter: Material) -> None:
    mill = factories.make_supplier(workshop)
    make_receipt(workshop, (quarter, "1", "3.00"), bought_on=day(2, 7), supplier=mill)
    found = report(workshop, month(1), month(3), supplier_id=mill.pk)
    assert [row.spent for row in found.rows] == [0, 3, 0]
    assert (found.reconciliation, found.moves, found.budget) == (None, None, None)


def test_another_workshop_is_no_part_of_it(
    workshop: Workshop, other_workshop: Workshop, quarter: Material
) -> None:
    theirs = factories.make_material(other_workshop)
    before = report(workshop, month(1), month(3))
    make_receipt(other_workshop, (theirs, "10", "77.00"), bought_on=day(2, 2))
    set_budgets(workshop=other_workshop, month=month(1), amounts={"paper": Decimal(1)})
    assert report(workshop, month(1), month(3)) == before


def test_budgets_are_written_where_they_change(workshop: Workshop) -> None:
    ten = {"paper": Decimal(10), "glue": None}
    assert set_budgets(workshop=workshop, month=day(3, 17), amounts=ten) == ["paper"]
    assert set_budgets(workshop=workshop, month=month(5), amounts=ten) == []
    assert set_budgets(workshop=workshop, month=month(5), amounts={"paper": None}) == ["paper"]
    assert set_budgets(workshop=workshop, month=month(5), amounts={"paper": Decimal(7)})
    rows = Budget.objects.of(workshop).in_order().values_list("starts_on", "amount")
    assert list(rows) == [(month(3), 10), (month(5), 7)]


def test_a_month_in_short(workshop: Workshop, quarter: Material) -> None:
    found = month_spend(workshop=workshop, month=day(2, 14))
    assert (found.spent, found.budget) == (LEDGER["lg.spend.Feb"], 30)
    assert found.categories_over == (("paper", LEDGER["lg.over.Feb"]),)
    assert month_spend(workshop=workshop, month=month(1)).categories_over == ()


def test_more_rows_cost_no_more_queries(
    workshop: Workshop, quarter: Material, count_queries: Any
) -> None:
    with count_queries() as few:
        report(workshop, month(1), month(3), by="material")
    for number in range(5):
        extra = factories.make_material(workshop)
        make_receipt(workshop, (extra, "3", "4.00"), bought_on=day(3, number + 1))
    with count_queries() as many:
        report(workshop, month(1, 2020), month(3), by="material")
    assert len(few) == len(many) == 7


def test_a_period_may_be_part_of_a_year() -> None:
    assert Period(month(3), month(5)).months == (month(3), month(4), month(5))
