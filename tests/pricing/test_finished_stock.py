"""Finished stock: batches arrive at cost, items move and leave, and all of it can be undone."""

import datetime
import json
import uuid
from decimal import Decimal

import pytest

from catalogue.stock.ledger import AlreadyEntered, CannotBeTakenBack
from catalogue.stock.models import StockEntry
from catalogue.stock.services import put_on_shelf
from maker.calc.strict_json import WrongJson
from pricing.calc.finished_stock.replay import NotThere
from pricing.calc.finished_stock.worth import Worth
from pricing.finished_stock.inputs import on_hand
from pricing.finished_stock.models import FinishedBatch, FinishedMove, Place
from pricing.finished_stock.services import (
    BatchMovedOn,
    NothingMoved,
    bring_back,
    count,
    enter_opening,
    finish_batch,
    home_of,
    item_for,
    make_batch,
    move,
    revalue,
    start_batch,
    take_out,
    undo,
    unmake,
)
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_material, make_recipe, today

DAY = datetime.timedelta(days=1)
Kind = FinishedMove.Kind


def gone_out(workshop):
    """Return what left for good or came back."""
    inside = (Kind.MADE, Kind.FOUND, Kind.MOVED)
    rows = FinishedMove.objects.of(workshop).standing().exclude(kind__in=inside)
    return rows.in_ledger_order()


@pytest.fixture
def card(workshop):
    material = make_material(workshop)
    put_on_shelf(
        material=material, amount=Decimal(100), cost=Decimal(50), moved_on=today() - 9 * DAY,
        today=today(),
    )  # fmt: skip
    return material


@pytest.fixture
def item(workshop, card):
    return item_for(make_recipe(workshop, card))


@pytest.fixture
def fair(workshop):
    return Place.objects.create(workshop=workshop, name="Fernhollow fair", kind=Place.Kind.FAIR)


def make(item, quantity=10, sheets=5, minutes=60, **more):
    (material,) = {role.material for role in item.version.roles.all()}
    options = {"made_on": today() - 3 * DAY, "today": today(), "minutes": Decimal(minutes)}
    return make_batch(
        item=item,
        quantity=quantity,
        materials={material.pk: Decimal(sheets)},
        **(options | more),
    )


def out(item, quantity, kind=Kind.SOLD, **more):
    options = {"place": home_of(item.workshop), "on": today(), "today": today()}
    return take_out(item=item, quantity=quantity, kind=kind, **(options | more))


def there(workshop, place=None):
    return sum(row.quantity for row in on_hand(workshop, place))


def test_a_batch_takes_its_materials_and_arrives_at_what_it_cost(workshop, item, card):
    batch = make(item)
    card.refresh_from_db()
    assert card.on_hand == 95
    (row,) = on_hand(workshop)
    assert (row.quantity, row.reserved, str(row.item.design)) == (10, 0, str(item.design))
    # five sheets at 0.50; an hour of work
    assert row.worth.material == Decimal("2.50")
    assert row.worth.wage == workshop.wage_per_hour
    assert batch.worth == row.worth
    assert [place.kind for place, _ in row.places] == ["home"]


def test_items_are_the_same_by_version_colourway_and_choices(item):
    assert item_for(item.version) == item
    assert item_for(item.version, "blue") != item


def test_spoiled_ones_are_paid_by_the_good_ones(workshop, item):
    batch = make(item, quantity=8, spoiled={"glue": 2, "cut": 0})
    assert [(bad.cause, bad.count) for bad in batch.spoiled.all()] == [("glue", 2)]
    (row,) = on_hand(workshop)
    assert (row.quantity, row.worth.material) == (8, Decimal("2.50"))


def test_an_open_batch_has_its_materials_and_nothing_on_the_shelf(workshop, item, card):
    batch = start_batch(
        item=item, planned=10, started_on=today(), today=today(),
        materials={card.pk: Decimal(5)},
    )  # fmt: skip
    card.refresh_from_db()
    assert (card.on_hand, on_hand(workshop)) == (95, [])
    finish_batch(batch=batch, quantity=9, made_on=today(), today=today(), minutes=Decimal(30))
    assert there(workshop) == 9
    with pytest.raises(BatchMovedOn):
        finish_batch(batch=batch, quantity=9, made_on=today(), today=today(), minutes=Decimal(30))


def test_items_leave_for_each_reason_and_it_can_be_undone(workshop, item):
    make(item)
    for kind in (Kind.SOLD, Kind.GIVEN, Kind.SAMPLE, Kind.SPOILED, Kind.UNMADE):
        moved = out(item, 2, kind)
        assert moved.material_value == Decimal("-0.50")
    assert on_hand(workshop) == []
    undo(move=moved)
    assert there(workshop) == 2
    with pytest.raises(CannotBeTakenBack):
        undo(move=moved)
    assert [row.change for row in gone_out(workshop)] == [-2, -2, -2, -2]


def test_more_than_is_there_is_refused_and_nothing_is_changed(workshop, item):
    make(item, quantity=3)
    with pytest.raises(NotThere, match="Only 3 were there"):
        out(item, 4)
    # and not before it was made either
    with pytest.raises(NotThere, match="Only 0 were there"):
        out(item, 1, on=today() - 5 * DAY)
    with pytest.raises(NothingMoved):
        out(item, 0)
    assert there(workshop) == 3


def test_a_sale_the_book_lacks_is_kept_with_what_was_found(workshop, item, fair):
    make(item, quantity=3, place=fair)
    sold = out(item, 5, place=fair, may_find=True)
    assert sold.change == -5
    found = FinishedMove.objects.get(kind=Kind.FOUND)
    # each at a third of the batch
    assert (found.change, found.material_value) == (2, Decimal("1.666667"))
    assert on_hand(workshop) == []


def test_a_second_click_makes_nothing_twice(workshop, item):
    key = uuid.uuid4()
    make(item, form_key=key)
    with pytest.raises(AlreadyEntered):
        make(item, form_key=key)
    sale = uuid.uuid4()
    out(item, 1, form_key=sale)
    with pytest.raises(AlreadyEntered):
        out(item, 1, form_key=sale)
    assert there(workshop) == 9


def test_items_go_to_a_fair_and_home_again(workshop, item, fair):
    make(item)
    home = home_of(workshop)
    options = {"item": item, "on": today(), "today": today()}
    sent = move(from_place=home, to_place=fair, quantity=6, **options)
    assert (there(workshop, home), there(workshop, fair)) == (4, 6)
    out(item, 2, place=fair)
    move(from_place=fair, to_place=home, quantity=4, **options)
    assert (there(workshop, home), there(workshop, fair)) == (8, 0)
    with pytest.raises(NotThere):
        undo(move=sent)


def test_what_was_sold_comes_back_at_its_cost(workshop, item):
    make(item)
    out(item, 4)
    back = bring_back(item=item, place=home_of(workshop), quantity=1, on=today(), today=today())
    assert back.material_value == Decimal("0.25")
    assert there(workshop) == 7


@pytest.mark.parametrize(("counted", "kind", "change"), [(7, "missing", -3), (12, "found", 2)])
def test_a_count_enters_what_is_missing_or_found(workshop, item, counted, kind, change):
    make(item)
    options = {"item": item, "place": home_of(workshop), "on": today(), "today": today()}
    entered = count(counted=counted, **options)
    assert (entered.kind, entered.change) == (kind, change)
    assert there(workshop) == counted
    assert count(counted=counted, **options) is None
    undo(move=entered)
    assert there(workshop) == 10


def test_an_undone_batch_puts_its_materials_back(workshop, item, card):
    batch = make(item)
    out(item, 1)
    with pytest.raises(NotThere):
        unmake(batch=batch)
    undo(move=FinishedMove.objects.get(kind=Kind.SOLD))
    unmake(batch=batch)
    card.refresh_from_db()
    assert (card.on_hand, on_hand(workshop)) == (100, [])
    with pytest.raises(BatchMovedOn):
        unmake(batch=batch)


def test_items_that_were_there_before_take_no_material(workshop, item, card):
    worth = Worth(Decimal("3.00"), Decimal("8.00"), Decimal("1.00"))
    enter_opening(item=item, quantity=6, on=today(), today=today(), worth=worth)
    card.refresh_from_db()
    assert card.on_hand == 100
    (row,) = on_hand(workshop)
    assert (row.quantity, row.worth) == (6, worth)


def test_a_late_receipt_is_posted_with_its_own_date(workshop, item, card):
    batch = make(item)
    out(item, 4)
    assert revalue(batch=batch, on=today(), today=today()) is None
    put_on_shelf(
        material=card, amount=Decimal(100), cost=Decimal(150), moved_on=today() - 8 * DAY,
        today=today(),
    )  # fmt: skip
    # the average was 1.00 when the five sheets were used: 2.50 more, 1.00 of it for the four sold
    posted = revalue(batch=batch, on=today(), today=today())
    assert (posted.added_material, posted.material_value) == (Decimal("2.50"), Decimal("1.00"))
    (row,) = on_hand(workshop)
    assert row.worth.material == Decimal("3.00")
    assert revalue(batch=batch, on=today(), today=today()) is None


def test_materials_used_are_in_what_is_there_gone_and_open(workshop, item, card, fair):
    """The law of the ledger with the ledger of materials beside it."""
    home = home_of(workshop)
    make(item, quantity=7, sheets=5)
    make(item, quantity=0, sheets=2, spoiled={"glue": 3})
    undone = make(item, quantity=4, sheets=9)
    unmake(batch=undone)
    start_batch(
        item=item, planned=3, started_on=today(), today=today(), materials={card.pk: Decimal(4)}
    )
    move(item=item, from_place=home, to_place=fair, quantity=3, on=today(), today=today())
    out(item, 2, place=fair)
    out(item, 1, Kind.SPOILED)
    used = sum(
        -entry.change * entry.unit_cost
        for entry in StockEntry.objects.standing().filter(kind=StockEntry.Kind.USED)
    )
    lying = sum(row.worth.material for row in on_hand(workshop))
    gone = -sum(row.material_value for row in gone_out(workshop))
    batches = FinishedBatch.objects.of(workshop)
    all_spoiled = sum(batch.material_value for batch in batches.made().filter(quantity=0))
    being_made = sum(
        -used.entry.change * used.entry.unit_cost
        for batch in batches.open()
        for used in batch.materials.all()
    )
    assert used == Decimal("5.50")
    assert used == lying + gone + all_spoiled + being_made


def test_what_is_there_takes_as_many_queries_for_many_items(workshop, card, count_queries):
    for _ in range(2):
        make(item_for(make_recipe(workshop, card)))
    with count_queries() as few:
        on_hand(workshop)
    for _ in range(3):
        make(item_for(make_recipe(workshop, card)))
    with count_queries() as many:
        assert len(on_hand(workshop)) == 5
    assert len(few) == len(many) <= 4


def filled(workshop, item, fair):
    batch = make(item, note="first ones", spoiled={"cut": 1})
    move(
        item=item, from_place=home_of(workshop), to_place=fair, quantity=6, on=today(),
        today=today(),
    )  # fmt: skip
    undo(move=out(item, 2, place=fair))
    out(item, 1, place=fair)
    count(item=item, place=fair, counted=7, on=today(), today=today())
    unmake(batch=make(item, quantity=2, sheets=1))
    return batch


def test_finished_stock_goes_out_and_comes_back_with_the_workshop(workshop, item, fair, owner):
    filled(workshop, item, fair)
    document = export_workshop(workshop)
    copy = import_workshop(json.loads(json.dumps(document)), name="copy", owner=owner)
    back = export_workshop(copy)
    for name in ("finished_places", "finished_items", "stock_entries"):
        assert back[name] == document[name]
    assert [(row.quantity, row.worth) for row in on_hand(copy)] == [
        (row.quantity, row.worth) for row in on_hand(workshop)
    ]
    unmade = FinishedBatch.objects.of(copy).filter(undone_at__isnull=False)
    assert unmade.count() == 1
    copy.is_demo = True
    copy.save()
    remove_workshop(workshop=copy)
    assert there(workshop) == 11


def test_a_file_whose_items_leave_twice_is_refused(workshop, item, fair, owner):
    filled(workshop, item, fair)
    document = json.loads(json.dumps(export_workshop(workshop)))
    moves = document["finished_items"][0]["moves"]
    next(each for each in moves if each["kind"] == "moved")["change"] = -60
    with pytest.raises(WrongJson, match="Only 10 were there") as caught:
        import_workshop(document, name="copy", owner=owner)
    assert caught.value.where == "finished_items[0].moves"
