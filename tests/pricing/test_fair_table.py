"""What phones send from the table: checked strictly, stored once, never dropped."""

import datetime
import json
import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from pricing.fair_sales.happened import happened_at
from pricing.fair_sales.opening import CannotOpen, open_day
from pricing.fair_sales.reading import MOST_AT_ONCE
from pricing.fairs.models import FairBundle, FairDesign, FairSale, FairSaleLine
from pricing.finished_stock.models import FinishedMove
from tests.fair_tables import Table

pytestmark = pytest.mark.django_db


@pytest.fixture
def table(workshop: Any) -> Table:
    return Table(workshop)


def send(client: Client, table: Table, *sales: Any, **batch: Any) -> Any:
    body = {"now": int(timezone.now().timestamp() * 1000), "phone": "phone A", "sales": [*sales]}
    return client.post(
        table.address("table/send/"), json.dumps({**body, **batch}), content_type="application/json"
    )


def states(answer: Any) -> list[str]:
    return [each["state"] for each in answer.json()["answers"]]


def stored(sale: dict[str, Any]) -> FairSale:
    return FairSale.objects.get(uuid=sale["uuid"])


def test_a_sale_is_stored_once_however_often_it_is_sent(client: Client, table: Table) -> None:
    sale = table.sale(2, 1)
    assert states(send(client, table, sale)) == ["stored"]
    assert states(send(client, table, sale, sale)) == ["already", "already"]
    row = stored(sale)
    assert (row.received, row.way, row.phone, row.problem) == (Decimal(24), "cash", "phone A", "")
    assert {line.item_id: line.quantity for line in row.lines.all()} == {
        table.lantern.pk: 2,
        table.starbox.pk: 1,
    }


def test_items_leave_finished_stock_and_come_back_with_undo(client: Client, table: Table) -> None:
    sale = table.sale(3)
    send(client, table, sale)
    assert [move.change for move in FinishedMove.objects.filter(kind="sold")] == [-3]
    undo = {"uuid": str(uuid.uuid4()), "kind": "undo", "of": sale["uuid"], "at": sale["at"]}
    assert states(send(client, table, undo)) == ["stored"]
    assert states(send(client, table, undo)) == ["already"]
    assert not FinishedMove.objects.standing().filter(kind="sold").exists()
    assert stored(sale).undone_at is not None


def test_an_undo_that_arrives_first_is_kept_for_its_sale(client: Client, table: Table) -> None:
    sale = table.sale()
    undo = {"uuid": str(uuid.uuid4()), "kind": "undo", "of": sale["uuid"], "at": sale["at"]}
    assert states(send(client, table, undo)) == ["stored"]
    assert states(send(client, table, sale)) == ["stored"]
    row = stored(sale)
    assert row.undone_at is not None
    assert row.received == Decimal("6.50")
    assert not FinishedMove.objects.filter(kind="sold").exists()


def test_a_bundle_is_booked_at_its_price(client: Client, table: Table) -> None:
    sale = table.sale(2, 1, amount=2250, bundles={str(table.bundle.pk): 1})
    assert states(send(client, table, sale)) == ["stored"]
    row = stored(sale)
    assert (row.received, row.bundle_off) == (Decimal("22.50"), Decimal("1.50"))
    assert all(line.bundle_id == table.bundle.pk for line in row.lines.all())


def test_a_bundle_is_never_booked_below_its_lowest_price(client: Client, workshop: Any) -> None:
    table = Table(workshop, is_open=False)
    table.bundle.price = Decimal("9.00")
    table.bundle.save()
    open_day(day=table.day, now=timezone.now())
    # without fees and tax the lowest price is what the three cost: 2 x 3.41 + 5.82
    for amount, expected in ((900, "refused"), (1264, "stored")):
        sale = table.sale(2, 1, amount=amount, bundles={str(table.bundle.pk): 1})
        assert states(send(client, table, sale)) == [expected]


@pytest.mark.parametrize(
    ("kind", "fields", "received", "moves"),
    [
        ("refund", {"items": {}, "back": {"L": 1}, "amount": -650}, "-6.50", []),
        ("swap", {"items": {"S": 1}, "back": {"L": 1}, "amount": 450}, "4.50", [("sold", -1)]),
        ("given", {"items": {"L": 2}, "amount": 0, "way": "none"}, "0", [("given", -2)]),
        ("broken", {"items": {"L": 1}, "amount": 0, "way": "none"}, "0", [("spoiled", -1)]),
        ("order", {"items": {}, "amount": 2000, "note": "Ottoline: 40 bags"}, "20.00", []),
        ("sold_out", {"items": {"S": 0}, "amount": 0, "way": "none"}, "0", []),
        (
            "sale",
            {"items": {"L": 1}, "amount": 600, "discount": 50, "reason": "dented"},
            "6.00",
            [("sold", -1)],
        ),
    ],
)
def test_whatever_happens_at_the_table_can_be_sent(
    client: Client, table: Table, kind: str, fields: Any, received: str, moves: Any
) -> None:
    keys = {"L": str(table.lantern.pk), "S": str(table.starbox.pk)}
    for name in ("items", "back"):
        if name in fields:
            fields = {**fields, name: {keys[key]: n for key, n in fields[name].items()}}
    sale = table.sale(**{"kind": kind, **fields})
    assert states(send(client, table, sale)) == ["stored"]
    row = stored(sale)
    assert (row.kind, row.received) == (kind, Decimal(received))
    left = FinishedMove.objects.exclude(kind="found")
    assert [(each.kind, each.change) for each in left] == moves


def test_one_of_ten_that_cannot_be_booked_is_kept_with_its_reason(
    client: Client, table: Table
) -> None:
    sales = [table.sale(1) for _ in range(9)]
    bad = table.sale(1, amount=100)
    answer = send(client, table, *sales[:4], bad, *sales[4:])
    assert states(answer) == ["stored"] * 4 + ["refused"] + ["stored"] * 5
    row = stored(bad)
    assert row.problem == "Its amount is not what the items cost on this day."
    assert (row.received, row.way, row.lines.count()) == (Decimal("1.00"), "cash", 0)
    assert json.loads(row.sent_text) == bad
    # sent again it is not stored twice, and the phone hears its reason again
    assert states(send(client, table, bad)) == ["refused"]
    assert FairSale.objects.count() == 10
    page = client.get(table.address("sales/"))
    assert b"could not be booked" in page.content
    settle = table.address(f"sales/{row.pk}/settle/")
    answer = client.post(settle, {f"item_{table.lantern.pk}": "1"})
    assert answer.status_code == 302
    row.refresh_from_db()
    assert (row.problem, row.received, row.discount) == ("", Decimal("1.00"), Decimal("5.50"))
    assert sum(FinishedMove.objects.filter(kind="sold").values_list("change", flat=True)) == -10


def test_a_sale_of_an_archived_design_is_kept(client: Client, table: Table) -> None:
    design = table.lantern.version.design
    design.retired_on = timezone.localdate()
    design.save()
    sale = table.sale()
    assert states(send(client, table, sale)) == ["refused"]
    assert stored(sale).problem == "Paper lantern is archived."


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "theft"},
        {"kind": None},
        {"way": "cheque"},
        {"way": "none"},
        {"items": []},
        {"items": {}},
        {"items": {"-1": 1}},
        {"items": {"1e3": 1}},
        {"items": {"9" * 40: 1}},
        {"items": {"99999999": 1}},
        {"items": {"L": True}},
        {"items": {"L": 1.5}},
        {"items": {"L": 10**12}},
        {"items": {"L": 0}},
        {"back": {"L": 1}},
        {"amount": "6.50"},
        {"amount": 6.5},
        {"amount": 10**30},
        {"amount": None},
        {"discount": -5, "amount": 655, "reason": "x"},
        {"discount": 50, "amount": 600},
        {"discount": 700, "amount": -50, "reason": "x"},
        {"note": "x" * 301},
        {"note": "\0"},
        {"note": "\ud800"},
        {"note": 5},
        {"bundles": {"1": 1, "99999": 1}},
        {"spoiled": "yes"},
    ],
)
def test_a_sale_that_cannot_be_meant_is_kept_and_not_booked(
    client: Client, table: Table, change: dict[str, Any]
) -> None:
    for name in ("items", "back"):
        if isinstance(change.get(name), dict):
            swapped = {str(table.lantern.pk) if k == "L" else k: n for k, n in change[name].items()}
            change = {**change, name: swapped}
    sale = {**table.sale(), **change}
    assert states(send(client, table, sale)) == ["refused"]
    row = stored(sale)
    assert row.problem
    assert not row.lines.exists()


@pytest.mark.parametrize("raw", [None, 5, [], {}, {"uuid": "x"}, {"uuid": 5}, {"uuid": None}])
def test_what_has_no_number_of_its_own_is_refused_and_holds_up_nothing(
    client: Client, table: Table, raw: Any
) -> None:
    sale = table.sale()
    assert states(send(client, table, raw, sale)) == ["refused", "stored"]
    assert FairSale.objects.count() == 1


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"[", 400),
        (b"[" * 100_000, 400),
        (b"[]", 400),
        (b'{"sales": 1}', 400),
        (b'{"sales": [], "phone": 5}', 400),
        (b'{"sales": ["\\ud800"], "phone": "\\u0000"}', 400),
        (b"\xff\xfe", 400),
        (b" " * 400_000, 413),
    ],
)
def test_a_body_that_is_no_list_of_sales_is_refused(
    client: Client, table: Table, body: bytes, status: int
) -> None:
    address = table.address("table/send/")
    answer = client.post(address, body, content_type="application/json")
    assert answer.status_code == status
    assert answer.json()["error"]


def test_so_many_at_once_and_no_more(client: Client, table: Table) -> None:
    many = [{"uuid": "x"}] * (MOST_AT_ONCE + 1)
    assert send(client, table, *many).status_code == 400
    assert send(client, table, *many[1:]).status_code == 200


def test_a_number_of_another_day_is_not_taken_for_this_one(
    client: Client, table: Table, other_workshop: Any
) -> None:
    other = Table(other_workshop)
    sale = other.sale()
    FairSale.objects.create(day=other.day, uuid=sale["uuid"], happened_at=timezone.now())
    answer = send(client, table, table.sale(uuid=sale["uuid"]))
    assert states(answer) == ["refused"]
    undo = {"uuid": str(uuid.uuid4()), "kind": "undo", "of": sale["uuid"]}
    assert states(send(client, table, undo)) == ["refused"]
    row = FairSale.objects.get()
    assert (row.day_id, row.undone_at) == (other.day.pk, None)


def test_prices_are_those_of_the_opening(client: Client, table: Table) -> None:
    FairDesign.objects.filter(pk=table.lantern.pk).update(price=Decimal("9.00"))
    assert states(send(client, table, table.sale())) == ["stored"]
    assert states(send(client, table, table.sale(amount=900))) == ["refused"]


def test_what_is_in_a_bundle_stays_once_a_day_offered_it(client: Client, table: Table) -> None:
    address = f"/w/{table.workshop.slug}/fairs/{table.fair.pk}/bundles/{table.bundle.pk}/"
    lantern, starbox = f"count_{table.lantern.pk}", f"count_{table.starbox.pk}"
    more = {"name": "Ten lanterns and a box", "price": "70", lantern: "10", starbox: "1"}
    answer = client.post(address, more)
    assert "Add a new bundle instead." in answer.content.decode()
    sold = table.sale(2, 1, amount=2250, bundles={str(table.bundle.pk): 1})
    assert states(send(client, table, sold)) == ["stored"]
    # its price on later days and its name are free, and an opening that is undone frees the rest
    same = {"name": "Three together", "price": "21", lantern: "2", starbox: "1"}
    assert client.post(address, same).status_code == 302
    assert client.post(f"{address}remove/", follow=True).status_code == 200
    assert FairBundle.objects.get().name == "Three together"
    FairSaleLine.objects.all().delete()
    FairSale.objects.all().delete()
    client.post(table.address("open/undo/"))
    assert client.post(address, more).status_code == 302


def test_a_day_that_was_closed_still_takes_what_was_sold(client: Client, table: Table) -> None:
    table.day.closed_at = timezone.now()
    table.day.save()
    answer = send(client, table, table.sale())
    assert states(answer) == ["stored"]
    assert answer.json()["day"]["is_open"] is False


def test_an_opening_is_taken_back_while_nothing_was_sold(client: Client, table: Table) -> None:
    FairDesign.objects.filter(pk=table.lantern.pk).update(price=Decimal("7.00"))
    client.post(table.address("open/undo/"))
    table.day.refresh_from_db()
    assert table.day.opened_at is None
    client.post(table.address("open/"))
    assert states(send(client, table, table.sale(amount=700))) == ["stored"]
    answer = client.post(table.address("open/undo/"), follow=True)
    assert b"stored for this day already" in answer.content
    table.day.refresh_from_db()
    assert table.day.is_open


def test_a_long_day_is_shown_by_pages(client: Client, table: Table) -> None:
    FairSale.objects.bulk_create(
        FairSale(day=table.day, happened_at=timezone.now(), received=Decimal(2)) for _ in range(230)
    )
    page = client.get(table.address("sales/") + "?page=3")
    assert len(page.context["page"].object_list) == 30
    assert b"460.00" in page.content


def test_a_day_without_items_cannot_be_opened(workshop: Any) -> None:
    table = Table(workshop, is_open=False)
    table.bundle.delete()
    FairDesign.objects.all().delete()
    with pytest.raises(CannotOpen):
        open_day(day=table.day, now=timezone.now())


def test_the_answer_tells_how_the_day_stands(client: Client, table: Table) -> None:
    out = table.sale(items={str(table.starbox.pk): 0}, kind="sold_out", amount=0, way="none")
    told = send(client, table, table.sale(2), table.sale(way="card"), out).json()["day"]
    lantern, starbox = str(table.lantern.pk), str(table.starbox.pk)
    assert told["left"] == {lantern: 37, starbox: 21}
    assert told["phones"]["phone A"] == {
        "cash": 1300,
        "card": 650,
        "count": 2,
        "deposits": 0,
    }
    assert list(told["sold_out"]) == [starbox]


def test_the_clock_of_a_phone_may_be_wrong_by_a_day(client: Client, table: Table) -> None:
    now = timezone.now()
    wrong = now + datetime.timedelta(days=1)
    clock = int(wrong.timestamp() * 1000)
    sale = table.sale(at=clock - 60_000)
    send(client, table, sale, now=clock)
    row = stored(sale)
    assert abs(row.happened_at - (now - datetime.timedelta(minutes=1))) < datetime.timedelta(
        seconds=30
    )
    assert row.phone_at is not None
    assert abs(row.phone_at - wrong) < datetime.timedelta(minutes=2)


def test_when_a_sale_was() -> None:
    on = datetime.date(2026, 11, 28)

    def at(day: int, hour: int) -> datetime.datetime:
        return datetime.datetime(2026, 11, day, hour, tzinfo=timezone.get_current_timezone())

    nothing, a_day = datetime.timedelta(0), datetime.timedelta(days=1)
    now = at(28, 15)
    assert happened_at(at(28, 11), nothing, on, now) == at(28, 11)
    assert happened_at(at(29, 11), a_day, on, now) == at(28, 11)
    # put right between selling and sending
    assert happened_at(at(27, 11), nothing, on, now) == at(28, 11)
    assert happened_at(at(29, 18), nothing, on, now) == now
    assert happened_at(None, nothing, on, now) == now
    # what waits until the next day is still of its day
    assert happened_at(at(28, 11), nothing, on, at(29, 9)) == at(28, 11)


def test_a_reader_sells_nothing(reader_client: Client, table: Table) -> None:
    assert reader_client.get(table.address()).status_code == 403
    assert send(reader_client, table, table.sale()).status_code == 403
    assert reader_client.get(table.address("sales/")).status_code == 200


def test_without_scripts_a_form_books_one_sale(client: Client, table: Table) -> None:
    page = client.get(table.address())
    key = page.context["form"].initial["form_key"]
    typed = {
        "what": f"bundle {table.bundle.pk}",
        "quantity": "2",
        "way": "card",
        "form_key": str(key),
    }
    for _ in range(2):
        assert client.post(table.address(), typed).status_code == 302
    row = FairSale.objects.get()
    assert (row.received, row.way, row.bundle_off) == (Decimal("45.00"), "card", Decimal("3.00"))
    wrong = client.post(table.address(), {**typed, "quantity": "none"})
    assert wrong.status_code == 422


def test_the_worker_is_handed_to_anybody(anonymous_client: Client) -> None:
    answer = anonymous_client.get("/sw.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert b"/w/" not in b"".join(answer.streaming_content)  # type: ignore[attr-defined]


def test_pages_ask_the_same_number_of_queries_for_many_sales(
    client: Client, table: Table, count_queries: Callable[[], Any]
) -> None:
    def asked(rest: str) -> int:
        with count_queries() as queries:
            assert client.get(table.address(rest)).status_code == 200
        return len(queries)

    pages = ("table/", "sales/", "paper/", "count/")
    send(client, table, table.sale(2, 1, amount=2250, bundles={str(table.bundle.pk): 1}))
    before = [asked(rest) for rest in pages]
    send(client, table, *(table.sale(1, 1) for _ in range(12)))
    assert [asked(rest) for rest in pages] == before


def test_closing_a_day_asks_the_same_number_of_queries_for_many_sales(
    client: Client, table: Table, count_queries: Callable[[], Any]
) -> None:
    def asked() -> int:
        table.day.refresh_from_db()
        form = {
            "edit_number": table.day.edit_number,
            "coins-TOTAL_FORMS": 0,
            "coins-INITIAL_FORMS": 0,
            "close": "1",
        }
        with count_queries() as queries:
            answer = client.post(table.address(""), form, follow=True)
        assert answer.status_code == 200
        table.day.refresh_from_db()
        assert table.day.closed_at is not None
        return len(queries)

    send(client, table, table.sale(2, 1, amount=2250, bundles={str(table.bundle.pk): 1}))
    asked()
    before = asked()
    send(client, table, *(table.sale(1, 1) for _ in range(12)))
    assert asked() == before
