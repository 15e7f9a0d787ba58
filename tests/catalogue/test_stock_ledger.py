"""The ledger: movements, counts and reversals keep the figures on hand and cost right."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.stock.ledger import AlreadyEntered, CannotBeTakenBack
from catalogue.stock.models import StockEntry
from catalogue.stock.services import (
    UnlikelyDate,
    count_stock,
    move_stock,
    put_on_shelf,
    replay_workshop,
    reverse_entry,
)
from maker.workshop.models import Workshop
from tests.catalogue.receipts import TODAY, make_receipt

Kind = StockEntry.Kind


def day(month: int, number: int) -> datetime.date:
    return datetime.date(2026, month, number)


def use(card: Material, amount: str, on: datetime.date, **fields: Any) -> StockEntry:
    return move_stock(
        material=card,
        kind=fields.pop("kind", Kind.USED),
        amount=Decimal(amount),
        moved_on=on,
        today=TODAY,
        **fields,
    )


def a_quarter_of_card(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "48", "25.10"), bought_on=day(1, 3))
    use(card, "32", day(1, 19))
    make_receipt(workshop, (card, "72", "41.01"), bought_on=day(2, 2))
    use(card, "40", day(2, 20))
    count_stock(material=card, counted=Decimal(45), moved_on=day(2, 28), today=TODAY)
    make_receipt(workshop, (card, "24", "14.20"), bought_on=day(3, 12))
    use(card, "30", day(3, 25))


# By hand: every average is value / quantity with six decimals, halves up, after each purchase.
# 25.10/48; (25.10 - 32 x 0.522917 + 41.01)/88; (49.376656 - 43 x 0.561098 + 14.20)/69.
QUARTER = [
    ("48", "0.522917", "48", "25.10"),
    ("-32", "0.522917", "16", "8.366656"),
    ("72", "0.569583", "88", "49.376656"),
    ("-40", "0.561098", "48", "26.932736"),
    ("-3", "0.561098", "45", "25.249442"),
    ("24", "0.591667", "69", "39.449442"),
    ("-30", "0.571731", "39", "22.297512"),
]


def test_a_quarter_leaves_the_balances_worked_by_hand(workshop: Workshop, card: Material) -> None:
    a_quarter_of_card(workshop, card)
    rows = [
        (entry.change, entry.unit_cost, entry.balance, entry.balance_value)
        for entry in card.stock_entries.in_ledger_order()
    ]
    assert rows == [tuple(Decimal(figure) for figure in row) for row in QUARTER]
    card.refresh_from_db()
    assert (card.on_hand, card.stock_value) == (Decimal(39), Decimal("22.297512"))
    assert card.average_cost == Decimal("0.571731")
    assert card.latest_cost == Decimal("0.591667")
    assert card.latest_line is not None
    assert card.latest_line.purchase.bought_on == day(3, 12)


def test_fifo_values_the_same_quarter_by_lots(workshop: Workshop, card: Material) -> None:
    workshop.valuation = Workshop.Valuation.FIFO
    workshop.save()
    a_quarter_of_card(workshop, card)
    card.refresh_from_db()
    # left: 15 of the 72 bought for 41.01 and the 24 bought for 14.20
    assert card.stock_value.quantize(Decimal("0.01")) == Decimal("22.74")
    assert card.fifo_cost == (Decimal("41.01") / 72).quantize(Decimal("0.000001"))


def test_changing_the_valuation_replays_every_ledger(
    client: Client, workshop: Workshop, card: Material
) -> None:
    a_quarter_of_card(workshop, card)
    page = client.get("/w/marlow/settings/counting/")
    form = page.context["form"]
    sent = {field.html_name: field.value() for field in form if field.value() is not None}
    response = client.post("/w/marlow/settings/counting/", sent | {"valuation": "fifo"})
    assert response.status_code == 302
    card.refresh_from_db()
    assert card.stock_value.quantize(Decimal("0.01")) == Decimal("22.74")
    last = card.stock_entries.in_ledger_order().last()
    assert last is not None
    assert last.balance_value == card.stock_value


def test_replaying_a_workshop_makes_the_kept_figures_again(
    workshop: Workshop, card: Material
) -> None:
    a_quarter_of_card(workshop, card)
    card.refresh_from_db()
    before = (card.on_hand, card.stock_value, card.average_cost, card.latest_line_id)
    Material.objects.update(on_hand=0, stock_value=0, average_cost=None, latest_line=None)
    StockEntry.objects.update(balance=0, balance_value=0, unit_cost=None)
    assert replay_workshop(workshop=workshop) == 1
    card.refresh_from_db()
    assert (card.on_hand, card.stock_value, card.average_cost, card.latest_line_id) == before


def test_an_entry_of_an_earlier_day_moves_what_came_after(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "10.00"), bought_on=day(2, 1))
    used = use(card, "5", day(3, 1))
    assert used.unit_cost == Decimal(1)
    make_receipt(workshop, (card, "10", "20.00"), bought_on=day(1, 1))
    used.refresh_from_db()
    assert used.unit_cost == Decimal("1.5")
    card.refresh_from_db()
    assert card.average_cost == Decimal("1.5")
    # bought earlier, though entered later: not the latest cost
    assert card.latest_cost == Decimal(1)


@pytest.mark.parametrize("kind", ["used", "scrap", "own_use", "gift", "sample", "sold", "returned"])
def test_every_kind_of_going_out_lowers_the_shelf(
    workshop: Workshop, card: Material, kind: str
) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    entry = use(card, "2.5", day(1, 4), kind=kind, reason="torn")
    assert (entry.kind, entry.change, entry.reason) == (kind, Decimal("-2.5"), "torn")
    card.refresh_from_db()
    assert card.on_hand == Decimal("7.5")


def test_more_than_the_ledger_has_may_go_and_the_next_receipt_closes_the_gap(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "5.00"), bought_on=day(2, 1))
    use(card, "14", day(2, 2))
    card.refresh_from_db()
    assert card.on_hand == Decimal(-4)
    assert card.stock_value == Decimal("-2.00")
    make_receipt(workshop, (card, "10", "6.00"), bought_on=day(2, 3))
    card.refresh_from_db()
    assert card.on_hand == Decimal(6)
    assert card.stock_value == Decimal("3.60")


def test_a_count_is_of_its_day_and_is_kept_when_nothing_is_wrong(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "5.00"), bought_on=day(1, 1))
    use(card, "4", day(3, 1))
    entry = count_stock(material=card, counted=Decimal(9), moved_on=day(2, 1), today=TODAY)
    assert entry.change == Decimal(-1)
    card.refresh_from_db()
    assert card.on_hand == Decimal(5)
    again = count_stock(material=card, counted=Decimal(9), moved_on=day(2, 1), today=TODAY)
    assert (again.change, again.counted, again.balance) == (0, 9, 9)


def test_a_count_that_finds_more_comes_in_at_the_average(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "5.00"), bought_on=day(1, 1))
    count_stock(material=card, counted=Decimal(12), moved_on=day(2, 1), today=TODAY)
    card.refresh_from_db()
    assert (card.average_cost, card.stock_value) == (Decimal("0.5"), Decimal(6))


def test_goods_from_before_the_first_receipt_have_a_cost(card: Material) -> None:
    put_on_shelf(
        material=card, amount=Decimal(20), cost=Decimal(8), moved_on=day(1, 1), today=TODAY
    )
    card.refresh_from_db()
    assert (card.on_hand, card.average_cost) == (Decimal(20), Decimal("0.4"))
    assert card.latest_line is None


def test_taking_an_entry_back_restores_every_figure(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "48", "25.10"), bought_on=day(1, 3))
    card.refresh_from_db()
    before = (card.on_hand, card.stock_value, card.average_cost)
    wrong = use(card, "7", day(1, 19))
    back = reverse_entry(entry=wrong, reason="counted twice")
    card.refresh_from_db()
    assert (card.on_hand, card.stock_value, card.average_cost) == before
    wrong.refresh_from_db()
    assert (wrong.change, wrong.unit_cost) == (Decimal(-7), None)
    assert (back.change, back.moved_on, back.takes_back) == (Decimal(7), wrong.moved_on, wrong)
    assert list(card.stock_entries.standing()) == [card.stock_entries.get(kind=Kind.BOUGHT)]


def test_an_entry_goes_back_once_and_a_receipt_goes_back_whole(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    entry = use(card, "1", day(1, 4))
    back = reverse_entry(entry=entry)
    with pytest.raises(CannotBeTakenBack, match="already"):
        reverse_entry(entry=entry)
    with pytest.raises(CannotBeTakenBack, match="again"):
        reverse_entry(entry=back)
    with pytest.raises(CannotBeTakenBack, match="receipt"):
        reverse_entry(entry=card.stock_entries.get(kind=Kind.BOUGHT))


def test_the_same_form_twice_moves_once(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    key = uuid.uuid4()
    first = use(card, "1", day(1, 4), form_key=key)
    with pytest.raises(AlreadyEntered) as refused:
        use(card, "1", day(1, 4), form_key=key)
    assert refused.value.entry == first
    card.refresh_from_db()
    assert card.on_hand == Decimal(9)


@pytest.mark.parametrize("on", [datetime.date(2026, 7, 2), datetime.date(1026, 6, 1)])
def test_an_unlikely_day_is_refused(workshop: Workshop, card: Material, on: datetime.date) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    with pytest.raises(UnlikelyDate):
        use(card, "1", on)


def test_tomorrow_is_allowed_for_another_time_zone(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    assert use(card, "1", TODAY + datetime.timedelta(days=1)).pk
