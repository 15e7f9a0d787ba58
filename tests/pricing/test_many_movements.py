"""Many random movements reconcile to nothing: back-dated, returned, counted, in other currencies.

`MOVEMENTS=100000` tries so many; a run of all tests tries a few thousand. What the report says is
added up here a second time, from the rows themselves.
"""

import datetime
import os
import random
from decimal import Decimal

import pytest

from catalogue.calc.supplies.foreign_receipts import at_home
from catalogue.calc.supplies.stock_value import Move, replay
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from catalogue.stock.services import replay_workshop
from maker.calc.money import share_out, to_minor
from pricing.calc.spending.spend import months_from, periods
from pricing.calc.spending.tax_year import tax_year
from pricing.spending.inputs import Narrowed
from pricing.spending.services import spend_report
from pricing.tax_year.inputs import books_of
from tests import factories

D = Decimal
MOVEMENTS = int(os.environ.get("MOVEMENTS", "2000"))
DAYS = 3 * 365
FIRST = datetime.date(2023, 1, 1)
OUT = ("used", "used", "used", "used", "scrap", "own_use", "gift", "sample", "sold")
RATES = ("1", "1", "0.8571", "1.1732", "0.0091")


def random_books(workshop, count, seed=1):
    """So many movements in the order they are typed in, which is not that of their dates."""
    rng = random.Random(seed)
    supplier = factories.make_supplier(workshop)
    categories = ("paper", "fixings", "glue", "tools", "packing")
    shelf = [
        factories.make_material(
            workshop, name=f"Material {number}", category=categories[number % 5]
        )
        for number in range(max(count // 500, 4))
    ]
    receipts, lines, entries = [], [], []
    left = count
    while left > 0:
        on = FIRST + datetime.timedelta(days=rng.randrange(DAYS))
        kind = rng.choice(("buy", "buy", "use", "use", "use", "count", "return"))
        if kind == "buy":
            receipt = Purchase(
                workshop=workshop, supplier=supplier, bought_on=on, state=Purchase.State.RECORDED
            )
            receipts.append(receipt)
            rate = D(rng.choice(RATES))
            amounts = [
                at_home(D(rng.randint(1, 90_000)) / 100, rate) for _ in range(rng.randint(1, 3))
            ]
            postage = share_out(at_home(D("4.95"), rate), [amount or D(1) for amount in amounts])
            for amount, share in zip(amounts, postage, strict=True):
                quantity = D(rng.randint(1, 400)) / rng.choice((1, 1, 3, 7))
                line = PurchaseLine(
                    purchase=receipt,
                    material=rng.choice(shelf),
                    quantity=quantity.quantize(D("0.000001")),
                    amount=amount,
                    postage_share=share,
                    landed=amount + share,
                )
                lines.append(line)
                entry = StockEntry(kind="bought", change=line.quantity, cost_in=line.landed)
                entry.material, entry.moved_on = line.material, on
                entries.append((entry, line))
                left -= 1
            continue
        material = rng.choice(shelf)
        amount = (D(rng.randint(1, 150)) / rng.choice((1, 1, 3))).quantize(D("0.000001"))
        line = None
        if kind == "return" and lines:
            line = rng.choice(lines)
            amount = min(amount, line.quantity)
            entry = StockEntry(kind="returned", change=-amount)
            entry.cost_out = to_minor(line.landed * amount / line.quantity)
            material, on = line.material, max(on, line.purchase.bought_on)
        elif kind == "count":
            entry = StockEntry(kind="counted", change=D(0), counted=amount, change_at_count=D(0))
        else:
            entry = StockEntry(kind=rng.choice(OUT), change=-amount)
        entry.material, entry.moved_on = material, on
        entries.append((entry, line))
        left -= 1
    Purchase.objects.bulk_create(receipts, 500)
    for line in lines:
        line.purchase_id = line.purchase.pk
    PurchaseLine.objects.bulk_create(lines, 500)
    for entry, line in entries:
        if line is not None:
            entry.purchase_line = line
    StockEntry.objects.bulk_create([entry for entry, _ in entries], 500)


@pytest.mark.parametrize("valuation", ["average", "fifo"])
def test_random_books_leave_no_difference(workshop, valuation):
    workshop.valuation = valuation
    workshop.tax_year_month, workshop.tax_year_day = 4, 6
    workshop.save()
    random_books(workshop, MOVEMENTS)
    replay_workshop(workshop=workshop)
    last = datetime.date(2025, 12, 1)
    spans = periods(FIRST, last)
    found = spend_report(workshop=workshop, spans=spans, by="category", narrowed=Narrowed())
    assert found.reconciliation is not None
    assert found.reconciliation.unexplained == 0
    # the rows themselves: what was bought, and what is there
    landed = PurchaseLine.objects.of(workshop).values_list("landed", flat=True)
    assert found.spent == sum(landed, D(0))
    shelf = workshop.materials.values_list("stock_value", flat=True)
    assert found.rows[-1].closing == sum(shelf, D(0))
    # each month opens with what the one before left, and adds up by itself
    before = D(0)
    for row in found.rows:
        assert row.moves is not None
        assert row.closing == before + row.moves.change
        before = row.closing
    for month in list(months_from(FIRST, last))[::9]:
        one = spend_report(
            workshop=workshop, spans=periods(month, month), by="category", narrowed=Narrowed()
        )
        assert one.reconciliation is not None
        assert one.reconciliation.unexplained == 0
    # and each tax year, from the 6th to the 5th
    closing = D(0)
    for year in (2022, 2023, 2024, 2025):
        books = books_of(workshop, tax_year(year, 4, 6))
        assert books.reconciliation.unexplained == 0
        assert books.reconciliation.lines[0].amount == to_minor(closing)
        closing += books.moves.change
    assert closing == before


@pytest.mark.parametrize("seed", range(2))
def test_a_long_ledger_comes_to_what_is_there_by_both_ways(seed):
    """Without a database: what came in less what left is what is there, by average and by lots."""
    rng = random.Random(seed)
    moves = []
    for key in range(MOVEMENTS):
        kind = rng.choice(("in", "in", "out", "out", "out", "count", "back"))
        amount = D(rng.randint(1, 500)) / rng.choice((1, 3, 7))
        if kind == "in":
            cost = D(rng.randint(0, 90_000)) / 100
            moves.append(Move(change=amount, cost_in=cost, key=key))
        elif kind == "count":
            moves.append(Move(change=D(0), counted=amount))
        elif kind == "back" and moves:
            bought = rng.choice(moves)
            if bought.cost_in is not None:
                part = min(amount, bought.change)
                cost = bought.cost_in * part / bought.change
                moves.append(Move(change=-part, lot=bought.key, cost_out=cost))
        else:
            moves.append(Move(change=-amount))
    result = replay(moves)
    tiny = D("1e-15")
    assert abs(sum(entry.change for entry in result.entries) - result.on_hand) < tiny
    for values, closing in (
        ([entry.balance_value for entry in result.entries], result.value),
        ([entry.fifo_balance_value for entry in result.entries], result.fifo_value),
    ):
        assert abs(values[-1] - closing) < tiny
    by_average = sum(entry.value + entry.revalued for entry in result.entries)
    assert abs(by_average - result.value) < D("1e-9")
    by_lots = sum(entry.fifo_value + entry.fifo_revalued for entry in result.entries)
    assert abs(by_lots - result.fifo_value) < D("1e-9")
