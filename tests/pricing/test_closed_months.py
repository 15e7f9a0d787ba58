"""Closed months: the worked supplies year as first booked, reopening, and random histories.

`tests/data/supplies_year.json` is the open case of the worked supplies year; `bd.*` there is what
was used as corrected less as first booked, when each month is closed soon after it ends.
"""

import contextlib
import datetime
import json
import random
import threading
import time
from decimal import Decimal as D
from pathlib import Path

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.utils import timezone

from catalogue.closed_months.models import ClosedMonth
from catalogue.closed_months.services import CannotClose, Closings, reopen_from
from catalogue.expenses.models import Expense
from catalogue.expenses.services import (
    ExpenseInput,
    add_expense,
    change_expense,
    delete_expense,
    restore_expense,
)
from catalogue.materials.models import Material
from catalogue.purchases.services import (
    ReceiptInput,
    ReceiptLineInput,
    draft_purchase,
    record_purchase,
)
from catalogue.stock.services import count_stock, move_stock, put_on_shelf, reverse_entry
from catalogue.supplier_returns.services import send_back
from maker.workshop.models import Workshop
from pricing.closed_months.inputs import as_booked_ledger, as_first_booked
from pricing.closed_months.services import close_through, month_rows, year_of
from pricing.spending.inputs import Narrowed, moved_in
from pricing.workshop_file.services import export_workshop, import_workshop
from tests import factories
from tests.at_once import at_once
from tests.catalogue.pages import text_of

CASE = json.loads((Path(__file__).parents[1] / "data" / "supplies_year.json").read_text())
KINDS = {"card": "sheet", "board": "sheet", "flock": "sheet", "ribbon": "length", "dots": "pairs"}


def on(text: str) -> datetime.date:
    return datetime.date.fromisoformat(text)


def enter_the_case(workshop: Workshop) -> None:
    """Enter everything on the day the case says it was entered; close each month three days on."""
    inputs = CASE["inputs"]
    materials = {
        name: factories.make_material(workshop, name=item["name"], kind=KINDS[name])
        for name, item in inputs["items"].items()
    }
    supplier = factories.make_supplier(workshop)
    lines: dict[tuple[str, str], object] = {}
    todo: list[tuple[datetime.date, int, object]] = []

    def receipt(row: dict) -> None:
        bought = []
        for line in row["lines"]:
            quantity, price = D(line["qty"]), D(line["price"])
            # a line says what it charges in whole cents; the rate comes after
            credited = D(line.get("damaged_credited", "0"))
            bought.append(
                ReceiptLineInput(
                    materials[line["item"]],
                    quantity,
                    quantity * price,
                    damaged_credited=credited,
                    damaged_kept=D(line.get("damaged_kept", "0")),
                )
            )
        rate = row.get("rate")
        if rate is None:
            bought = [
                ReceiptLineInput(
                    one.material,
                    one.quantity - one.damaged_credited,
                    cents(one.amount * (one.quantity - one.damaged_credited) / one.quantity),
                    damaged_kept=one.damaged_kept,
                )
                for one in bought
            ]
        kept = draft_purchase(
            workshop=workshop,
            receipt=ReceiptInput(
                supplier=supplier,
                bought_on=on(row["date"]),
                lines=bought,
                reference=row["no"],
                postage=D(row["postage"]),
                discount=D(row.get("discount", "0")),
                currency="GBP" if rate else "",
                rate=D(rate) if rate else None,
                charged=D(row["charged"]) if "charged" in row else None,
            ),
        )
        record_purchase(purchase=kept, today=timezone.localdate())
        for line in kept.lines.select_related("material", "purchase__workshop"):
            lines[row["no"], line.material.name] = line

    def returned(row: dict) -> None:
        line = lines[row["receipt"], inputs["items"][row["item"]]["name"]]
        today = timezone.localdate()
        send_back(line=line, quantity=D(row["qty"]), on=on(row["date"]), today=today)

    def used(row: dict) -> None:
        material, today = materials[row["item"]], timezone.localdate()
        move_stock(
            material=material, kind="used", amount=D(row["qty"]),
            moved_on=on(row["date"]), today=today,
        )  # fmt: skip

    def counted(row: dict) -> None:
        material, today = materials[row["item"]], timezone.localdate()
        count_stock(
            material=material, counted=D(row["qty"]),
            moved_on=on(row["date"]), today=today,
        )  # fmt: skip

    with time_machine.travel("2026-01-01T08:00:00Z", tick=False):
        for name, row in inputs["opening"].items():
            if D(row["qty"]):
                put_on_shelf(
                    material=materials[name], amount=D(row["qty"]), cost=D(row["value"]),
                    moved_on=on("2026-01-01"), today=on("2026-01-01"),
                )  # fmt: skip
    noted = {
        key: [dict(zip(("date", "item", "qty"), row, strict=True)) for row in inputs[key]]
        for key in ("uses", "counts")
    }
    for order, (key, act) in enumerate(
        (("receipts", receipt), ("returns", returned), ("uses", used), ("counts", counted))
    ):
        todo += [
            (on(row.get("entered", row["date"])), order, (act, row))
            for row in (inputs | noted)[key]
        ]
    for month in range(1, 13):
        year, after = (2027, 1) if month == 12 else (2026, month + 1)
        todo.append((datetime.date(year, after, 1), -1, (close, (workshop, month))))
    for day, _, (act, row) in sorted(todo, key=lambda one: one[:2]):
        with time_machine.travel(datetime.datetime.combine(day, datetime.time(12), datetime.UTC)):
            act(row)


def close(asked: tuple[Workshop, int]) -> None:
    workshop, month = asked
    close_through(
        workshop=workshop, month=datetime.date(2026, month, 1), today=timezone.localdate()
    )


def cents(amount: D) -> D:
    return amount.quantize(D("0.01"), rounding="ROUND_HALF_UP")


@pytest.mark.django_db
def test_the_worked_year_as_first_booked_and_as_known_now(workshop: Workshop) -> None:
    enter_the_case(workshop)
    rows = {f"{row.month:%Y-%m}": row for row in month_rows(workshop, on("2026-12-31"))}
    values = {row["key"]: row["value"] for row in CASE["values"]}
    for month, row in rows.items():
        assert not row.first.unexplained
        assert not row.now.unexplained
        # the ledger keeps six decimals of each value, the case all of them
        assert abs(row.now.moves.used - D(str(values[f"m.{month}.used"]))) < D("0.00002")
        assert abs(row.now.closing - D(str(values[f"m.{month}.shelf"]))) < D("0.0001")
        more = row.now.moves.used - row.first.moves.used
        assert abs(more - D(str(values.get(f"bd.{month}", 0)))) < D("0.00003"), month
    year = year_of(list(rows.values()), 2026)
    assert year is not None
    more = year.now.moves.used - year.first.moves.used
    assert abs(more - D(str(values["bd.sum"]))) < D("0.0001")
    # the late receipt is no purchase of April as first closed; it is May's correction
    assert rows["2026-04"].first.moves.bought == 0
    assert rows["2026-04"].now.moves.bought == rows["2026-05"].first.late.bought == D("46.10")
    assert rows["2026-05"].first.moves.bought == rows["2026-05"].now.moves.bought == D("129.42")


@pytest.fixture
def card(workshop: Workshop) -> Material:
    return factories.make_material(workshop, name="Bramble card")


def at(text: str) -> object:
    return time_machine.travel(f"{text}T12:00:00Z", tick=False)


def buy(workshop: Workshop, card: Material, dated: str, quantity: str, amount: str) -> object:
    receipt = ReceiptInput(
        supplier=factories.make_supplier(workshop),
        bought_on=on(dated),
        lines=[ReceiptLineInput(card, D(quantity), D(amount))],
    )
    draft = draft_purchase(workshop=workshop, receipt=receipt)
    return record_purchase(purchase=draft, today=timezone.localdate())


@pytest.mark.django_db
def test_months_close_in_order_once_and_only_when_over(workshop: Workshop, card: Material) -> None:
    with at("2026-03-10"):
        buy(workshop, card, "2026-01-05", "10", "5")
        today = timezone.localdate()
        with pytest.raises(CannotClose):
            close_through(workshop=workshop, month=on("2026-03-01"), today=today)
        assert not ClosedMonth.objects.exists()
        made = close_through(workshop=workshop, month=on("2026-02-01"), today=today)
        assert [row.month.month for row in made] == [1, 2]
        with pytest.raises(CannotClose):
            close_through(workshop=workshop, month=on("2026-01-01"), today=today)
        with pytest.raises(CannotClose):
            reopen_from(workshop=workshop, month=on("2026-01-01"), reason=" ")
        assert len(reopen_from(workshop=workshop, month=on("2026-01-01"), reason="lost box")) == 2
        # while it is open, what is entered belongs to its own month
        buy(workshop, card, "2026-01-06", "10", "7")
        close_through(workshop=workshop, month=on("2026-02-01"), today=today)
        rows = month_rows(workshop, today)
        assert rows[0].first.moves.bought == rows[0].now.moves.bought == D(12)
        assert ClosedMonth.objects.filter(reason="lost box").count() == 2


@pytest.mark.django_db
def test_expenses_of_closed_months_stay_and_are_corrected(workshop: Workshop) -> None:
    with at("2026-02-10"):
        today = timezone.localdate()
        kept = add_expense(
            workshop=workshop, expense=ExpenseInput(on("2026-01-05"), "Rent", D(90)), today=today
        )
        gone = add_expense(
            workshop=workshop, expense=ExpenseInput(on("2026-01-06"), "Van", D(40)), today=today
        )
        close_through(workshop=workshop, month=on("2026-01-01"), today=today)
    with at("2026-02-20"):
        today = timezone.localdate()
        dearer = ExpenseInput(on("2026-01-05"), "Rent", D(95))
        change_expense(row=kept, expense=dearer, today=today, edit_number=kept.edit_number)
        delete_expense(row=gone)
        add_expense(
            workshop=workshop, expense=ExpenseInput(on("2026-01-09"), "Stall", D(30)), today=today
        )
        january, february = month_rows(workshop, today)
    assert (january.first.expenses, january.now.expenses) == (D(130), D(125))
    # 95 - 90 - 40 + 30
    assert (february.first.expenses, february.first.late_expenses) == (D(0), D(-5))
    assert Expense.objects.counted().count() == 2


@pytest.mark.django_db
def test_an_expense_counts_in_the_open_month_wherever_it_went_and_came_back(
    workshop: Workshop,
) -> None:
    """Deleted and restored, or moved to another date, on either side of a closing."""

    def spend(dated: str, what: str, amount: int) -> Expense:
        typed = ExpenseInput(on(dated), what, D(amount))
        return add_expense(workshop=workshop, expense=typed, today=timezone.localdate())

    def close(month: str) -> None:
        close_through(workshop=workshop, month=on(month), today=timezone.localdate())

    with at("2026-02-02"):
        early, late = spend("2026-01-05", "Rent", 90), spend("2026-01-06", "Van", 40)
        moved = spend("2026-02-01", "Stall", 30)
        delete_expense(row=early)
    with at("2026-02-05"):
        close("2026-01-01")
    with at("2026-02-10"):
        delete_expense(row=late)
        moved = change_expense(
            row=moved,
            expense=ExpenseInput(on("2026-01-31"), "Stall", D(30)),
            today=timezone.localdate(),
            edit_number=moved.edit_number,
        )
        february = month_rows(workshop, timezone.localdate())[1]
        assert (february.first.expenses, february.first.late_expenses) == (0, D(30) - 40)
    with at("2026-03-03"):
        close("2026-02-01")
    with at("2026-03-09"):
        restore_expense(row=early)
        restore_expense(row=late)
        restore_expense(row=late)
        rows = month_rows(workshop, timezone.localdate())
        march = rows[2].first
        assert (march.expenses, march.late_expenses) == (0, D(90) + 40)
    # all that is known now was booked once
    booked = sum(row.first.expenses + row.first.late_expenses for row in rows)
    assert booked == sum(row.now.expenses for row in rows) == 160


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("what", ["add", "change"])
def test_an_expense_entered_while_its_month_is_being_closed_counts_once(
    workshop: Workshop, what: str
) -> None:
    today = timezone.localdate()
    paid_on = today.replace(day=1) - datetime.timedelta(days=1)
    rent = ExpenseInput(paid_on, "Rent", D(90))
    kept = add_expense(workshop=workshop, expense=rent, today=today)
    begun = threading.Event()

    def close() -> None:
        with transaction.atomic():
            Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
            begun.set()
            time.sleep(0.5)
            close_through(workshop=workshop, month=paid_on.replace(day=1), today=today)

    def enter() -> None:
        begun.wait(10)
        if what == "add":
            van = ExpenseInput(paid_on, "Van", D(40))
            add_expense(workshop=workshop, expense=van, today=today)
        else:
            higher = ExpenseInput(paid_on, "Rent", D(130))
            change_expense(row=kept, expense=higher, today=today, edit_number=kept.edit_number)

    assert at_once(close, enter) == [None, None]
    rows = month_rows(workshop, today)
    booked = sum(row.first.expenses + row.first.late_expenses for row in rows)
    assert booked == sum(row.now.expenses for row in rows) == 130


@pytest.mark.django_db
def test_a_month_before_the_first_closed_one_is_closed_with_it(
    client: Client, workshop: Workshop, card: Material
) -> None:
    with at("2026-03-02"):
        buy(workshop, card, "2026-01-05", "10", "5")
        close_through(workshop=workshop, month=on("2026-01-01"), today=timezone.localdate())
    with at("2026-03-08"):
        # a box of the year before turns up
        buy(workshop, card, "2025-12-10", "10", "7")
        december, january, february, march = month_rows(workshop, timezone.localdate())
        assert december.closing == january.closing is not None
        assert (december.first.closing, january.first.closing) == (0, D(5))
        assert (february.first.opening, february.first.closing) == (D(5), D(5))
        assert (march.first.late.bought, march.first.closing, march.now.closing) == (7, 12, 12)
        page = text_of(client.get("/w/marlow/closed-months/2025/12/"))
        assert "closed" in page
    with at("2026-04-02"):
        close_through(workshop=workshop, month=on("2026-03-01"), today=timezone.localdate())
        rows = month_rows(workshop, timezone.localdate())
        assert [row.first.closing for row in rows] == [0, 5, 5, 12, 12]
        reopened = reopen_from(workshop=workshop, month=on("2025-12-01"), reason="a box")
        assert len(reopened) == 4
        rows = month_rows(workshop, timezone.localdate())
        assert [row.first.closing for row in rows] == [7, 12, 12, 12, 12]


@pytest.mark.django_db
def test_a_closed_month_is_shown_closed_and_reopened(
    client: Client, workshop: Workshop, card: Material
) -> None:
    address = "/w/marlow/closed-months/"
    with at("2026-05-02"):
        empty = text_of(client.get(address))
        assert "Nothing to close yet" in empty
        assert 'href="/w/marlow/receipts/new/"' in empty
        buy(workshop, card, "2026-04-05", "10", "5")
        use = move_stock(
            material=card, kind="used", amount=D(4),
            moved_on=on("2026-04-20"), today=timezone.localdate(),
        )  # fmt: skip
        page = text_of(client.post(f"{address}close/", {"month": "2026-04"}, follow=True))
        assert "Closed April 2026." in page
        assert client.post(f"{address}close/", {"month": "2026-09"}).status_code == 422
    # sessions do not outlive days of travel
    with time_machine.travel("2026-05-02T12:20:00Z", tick=False):
        buy(workshop, card, "2026-04-10", "10", "7")
        page = text_of(client.get(f"{address}2026/4/"))
        # used 4 at 0.50, known now at 0.60
        for words in ("€5.00", "€12.00", "+€7.00", "€2.00", "€2.40", "+€0.40", "Why they differ"):
            assert words in page, words
        assert "Corrections entered in this month" in text_of(client.get(f"{address}2026/5/"))
        # where she reads what the month cost, the same is said
        spent = [text_of(client.get(f"/w/marlow/spending/2026/{month}/")) for month in (4, 5)]
        assert ["This month is closed." in page for page in spent] == [True, False]
        assert "€12.00" in spent[0]
        said = client.post(f"/w/marlow/stock/{use.pk}/take-back/", follow=True)
        assert "April 2026 is closed" in text_of(said)
        assert client.post(f"{address}2026/4/reopen/", {"reason": ""}).status_code == 422
        page = text_of(client.post(f"{address}2026/4/reopen/", {"reason": "box"}, follow=True))
        assert "Reopened April 2026" in page
        assert client.get(f"{address}2026/7/").status_code == 404
        document = export_workshop(workshop)
        copy = import_workshop(document, name="Copy")
        assert export_workshop(copy)["closed_months"] == document["closed_months"]


@pytest.mark.django_db
@pytest.mark.parametrize("valuation", ["average", "fifo"])
@pytest.mark.parametrize("seed", range(6))
def test_random_histories_reconcile_and_closed_months_never_change(
    workshop: Workshop, card: Material, valuation: str, seed: int
) -> None:
    """Receipts, another currency, uses, counts, returns, undone and back-dated, months closed."""
    chance = random.Random(seed)
    workshop.valuation = valuation
    workshop.save()
    card.workshop = workshop
    entries, lines = [], []
    kept: dict[datetime.date, object] = {}
    day = datetime.date(2026, 1, 3)
    supplier = factories.make_supplier(workshop)
    for _ in range(60):
        day += datetime.timedelta(days=chance.randint(0, 6))
        dated = max(
            day - datetime.timedelta(days=chance.choice((0, 0, 0, 3, 35, 70))),
            datetime.date(2026, 1, 1),
        )
        with at(day.isoformat()):
            act = chance.choice(("buy", "buy", "use", "use", "count", "back", "undo"))
            amount = D(chance.randint(1, 30))
            if act == "buy":
                foreign = {"currency": "GBP", "rate": D("1.137")} if chance.random() < 0.3 else {}
                draft = draft_purchase(
                    workshop=workshop,
                    receipt=ReceiptInput(
                        supplier=supplier, bought_on=dated, postage=D("1.5"), **foreign,
                        lines=[ReceiptLineInput(card, amount, cents(amount * D("0.37")))],
                    ),
                )  # fmt: skip
                record_purchase(purchase=draft, today=day)
                lines.append(draft.lines.select_related("purchase__workshop").get())
            elif act == "use":
                entries.append(
                    move_stock(material=card, kind="used", amount=amount, moved_on=dated, today=day)
                )
            elif act == "count":
                entries.append(
                    count_stock(material=card, counted=amount, moved_on=dated, today=day)
                )
            elif act == "back" and lines:
                line = lines.pop()
                half = line.quantity / 2
                entries.append(send_back(line=line, quantity=half, on=day, today=day))
            elif act == "undo" and entries:
                reverse_entry(entry=entries.pop(chance.randrange(len(entries))))
            over = day.replace(day=1) - datetime.timedelta(days=1)
            if chance.random() < 0.25 and over.year == 2026:
                with contextlib.suppress(CannotClose):
                    close_through(workshop=workshop, month=over.replace(day=1), today=day)
            rows = month_rows(workshop, day)
        for row in rows:
            assert not row.first.unexplained, row
            assert not row.now.unexplained, row
            if row.closing is not None:
                assert kept.setdefault(row.month, row.first) == row.first
    card.refresh_from_db()
    assert rows[-1].now.closing == card.stock_value
    with at(day.isoformat()):
        closings = Closings(workshop)
        booked = as_booked_ledger(workshop, card.stock_entries.order_by("pk"), closings)
        # goods are the same in both, whatever they are worth
        assert booked[-1].valued.balance == card.on_hand
        again = as_first_booked(
            workshop,
            closings,
            rows[0].month,
            rows[-1].month,
            moved_in(workshop, rows[0].month, rows[-1].month, Narrowed()),
        )
        for month, first in kept.items():
            assert again[month] == first
