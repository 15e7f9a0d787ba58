"""Recording a receipt: costs as worked by hand, whole or not at all, taken back without a trace."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

import pytest

from catalogue.calc.supplies.unit_cost import BadReceipt
from catalogue.materials.inputs import material_values, unit_cost_of
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import (
    AlreadySaved,
    NotADraft,
    NothingOnReceipt,
    NotRecorded,
    OutOfUse,
    ReceiptInput,
    change_draft,
    discard_draft,
    draft_purchase,
    record_purchase,
    restore_draft,
    reverse_purchase,
)
from catalogue.stock.models import StockEntry
from catalogue.stock.services import UnlikelyDate, move_stock
from catalogue.suppliers.models import Supplier
from maker.web.editing import ChangedMeanwhile
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.receipts import TODAY, make_draft, make_receipt

# Worked by hand, postage 7.90 shared over 78.45 in whole cents, largest remainder first:
# quantity, paid, share of the postage, landed, landed / quantity with six decimals.
WORKED = [
    ("48", "22.80", "2.30", "25.10", "0.522917"),
    ("50", "9.50", "0.96", "10.46", "0.2092"),
    ("25", "7.25", "0.73", "7.98", "0.3192"),
    ("10", "6.80", "0.68", "7.48", "0.748"),
    ("10", "3.20", "0.32", "3.52", "0.352"),
    ("200", "8.40", "0.85", "9.25", "0.04625"),
    ("100", "3.60", "0.36", "3.96", "0.0396"),
    ("60", "2.70", "0.27", "2.97", "0.0495"),
    ("250", "5.50", "0.55", "6.05", "0.0242"),
    ("50", "4.75", "0.48", "5.23", "0.1046"),
    ("50", "3.95", "0.40", "4.35", "0.087"),
]


def kept(material: Material) -> tuple[object, ...]:
    """Return every figure that is kept from the ledger."""
    material.refresh_from_db()
    return (
        material.on_hand,
        material.stock_value,
        material.average_cost,
        material.fifo_cost,
        material.latest_cost,
        material.latest_line_id,
    )


def record(purchase: Purchase) -> Purchase:
    return record_purchase(purchase=purchase, today=TODAY)


def test_every_line_gets_its_share_and_every_material_its_cost(workshop: Workshop) -> None:
    materials = [factories.make_material(workshop) for _ in WORKED]
    lines = [(material, row[0], row[1]) for material, row in zip(materials, WORKED, strict=True)]
    receipt = make_receipt(workshop, *lines, postage=Decimal("7.90"))
    found = [
        (line.quantity, line.amount, line.postage_share, line.landed, line.unit_cost)
        for line in receipt.lines.order_by("position")
    ]
    assert found == [tuple(Decimal(figure) for figure in row) for row in WORKED]
    for material, row in zip(materials, WORKED, strict=True):
        material.refresh_from_db()
        assert material.average_cost == material.latest_cost == Decimal(row[4])
        assert (material.on_hand, material.stock_value) == (Decimal(row[0]), Decimal(row[3]))


@pytest.mark.parametrize(
    ("registered", "landed"), [(False, Decimal("12.00")), (True, Decimal("10.00"))]
)
def test_tax_is_a_cost_only_for_who_does_not_get_it_back(
    workshop: Workshop, card: Material, registered: bool, landed: Decimal
) -> None:
    workshop.tax_registered = registered
    workshop.save()
    receipt = make_receipt(workshop, (card, "10", "10.00"), tax=Decimal(2))
    assert receipt.lines.get().landed == landed
    assert receipt.tax_is_recoverable is registered
    # what was recorded stays as it was when the workshop registers later
    workshop.tax_registered = not registered
    workshop.save()
    receipt.refresh_from_db()
    assert receipt.tax_is_recoverable is registered


def test_one_material_on_two_lines_comes_in_twice(workshop: Workshop, card: Material) -> None:
    make_receipt(workshop, (card, "10", "5.00"), (card, "20", "8.00"))
    card.refresh_from_db()
    assert (card.on_hand, card.stock_value) == (30, 13)
    assert card.latest_cost == Decimal("0.4")


def test_a_draft_moves_nothing(workshop: Workshop, card: Material) -> None:
    make_draft(workshop, (card, "10", "5.00"))
    assert not StockEntry.objects.exists()
    assert kept(card) == (0, 0, None, None, None, None)


def test_recording_twice_puts_goods_in_once(workshop: Workshop, card: Material) -> None:
    draft = make_draft(workshop, (card, "10", "5.00"))
    record(draft)
    with pytest.raises(NotADraft, match="already in stock"):
        record(draft)
    assert card.stock_entries.count() == 1


def test_what_cannot_be_recorded_is_refused_with_a_remedy(
    workshop: Workshop, card: Material, supplier: Supplier
) -> None:
    with pytest.raises(NothingOnReceipt):
        record(make_draft(workshop))
    later = make_draft(workshop, (card, "1", "1"), bought_on=TODAY + datetime.timedelta(days=2))
    with pytest.raises(UnlikelyDate, match="in the future"):
        record(later)
    with pytest.raises(BadReceipt, match="larger than the goods"):
        record(make_draft(workshop, (card, "1", "1"), discount=Decimal(2)))
    draft = make_draft(workshop, (card, "1", "1"), supplier=supplier)
    Supplier.objects.filter(pk=supplier.pk).update(retired_on=TODAY)
    with pytest.raises(OutOfUse, match="Restore the supplier"):
        record(draft)
    Supplier.objects.filter(pk=supplier.pk).update(retired_on=None)
    Material.objects.filter(pk=card.pk).update(retired_on=TODAY)
    with pytest.raises(OutOfUse, match="is archived"):
        record(draft)
    assert not StockEntry.objects.exists()
    assert not Purchase.objects.recorded().exists()


def test_a_receipt_of_tomorrow_is_recorded(workshop: Workshop, card: Material) -> None:
    tomorrow = TODAY + datetime.timedelta(days=1)
    assert make_receipt(workshop, (card, "1", "1"), bought_on=tomorrow).state == "recorded"


def test_taking_back_leaves_every_figure_as_if_it_had_never_come(
    workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "48", "25.10"), bought_on=datetime.date(2026, 1, 3))
    before = kept(card)
    wrong = make_receipt(workshop, (card, "7", "70.00"), bought_on=datetime.date(2026, 1, 10))
    used = move_stock(
        material=card,
        kind=StockEntry.Kind.USED,
        amount=Decimal(5),
        moved_on=datetime.date(2026, 1, 20),
        today=TODAY,
    )
    assert used.unit_cost is not None
    assert used.unit_cost > 1
    assert reverse_purchase(purchase=wrong) == []
    used.refresh_from_db()
    assert used.unit_cost == Decimal("0.522917")
    now = kept(card)
    assert now[0] == before[0] - 5
    assert now[2:] == before[2:]
    wrong.refresh_from_db()
    assert wrong.state == "reversed"
    assert wrong.lines.get().landed == 70
    assert [entry.change for entry in wrong.lines.get().stock_entries.order_by("pk")] == [7, -7]


def test_taking_back_goods_that_were_used_says_so(workshop: Workshop, card: Material) -> None:
    receipt = make_receipt(workshop, (card, "10", "5.00"))
    move_stock(
        material=card,
        kind=StockEntry.Kind.USED,
        amount=Decimal(4),
        moved_on=receipt.bought_on,
        today=TODAY,
    )
    assert reverse_purchase(purchase=receipt) == [card]
    card.refresh_from_db()
    assert card.on_hand == -4
    # the right receipt closes the gap, and the goods used get their true cost
    make_receipt(workshop, (card, "10", "3.00"))
    card.refresh_from_db()
    assert (card.on_hand, card.stock_value) == (6, Decimal("1.8"))


def test_a_receipt_goes_back_once(workshop: Workshop, card: Material) -> None:
    receipt = make_receipt(workshop, (card, "10", "5.00"))
    reverse_purchase(purchase=receipt)
    with pytest.raises(NotRecorded):
        reverse_purchase(purchase=receipt)
    with pytest.raises(NotADraft, match="undone"):
        record(receipt)
    with pytest.raises(NotADraft):
        restore_draft(purchase=receipt)
    assert card.stock_entries.count() == 2


def test_a_draft_is_thrown_away_and_brought_back(workshop: Workshop, card: Material) -> None:
    draft = make_draft(workshop, (card, "10", "5.00"))
    discard_draft(purchase=draft)
    with pytest.raises(NotADraft):
        record(draft)
    assert restore_draft(purchase=draft).state == "draft"
    assert record(draft).state == "recorded"


def test_the_same_form_twice_makes_one_receipt(
    workshop: Workshop, other_workshop: Workshop, supplier: Supplier
) -> None:
    key = uuid.uuid4()
    receipt = ReceiptInput(supplier=supplier, bought_on=TODAY)
    first = draft_purchase(workshop=workshop, receipt=receipt, form_key=key)
    with pytest.raises(AlreadySaved) as refused:
        draft_purchase(workshop=workshop, receipt=receipt, form_key=key)
    assert refused.value.purchase == first
    # a key that somebody else used leads nowhere near her receipt
    theirs = ReceiptInput(supplier=factories.make_supplier(other_workshop), bought_on=TODAY)
    other = draft_purchase(workshop=other_workshop, receipt=theirs, form_key=key)
    assert other.pk != first.pk


def test_a_draft_changed_by_two_is_changed_by_one(
    workshop: Workshop, card: Material, supplier: Supplier
) -> None:
    draft = make_draft(workshop, (card, "10", "5.00"), supplier=supplier)
    receipt = ReceiptInput(supplier=supplier, bought_on=TODAY, reference="R-1")
    change_draft(purchase=draft, receipt=receipt, edit_number=0)
    with pytest.raises(ChangedMeanwhile):
        change_draft(purchase=draft, receipt=receipt, edit_number=0)
    record_me = make_draft(workshop, (card, "10", "5.00"), supplier=supplier)
    record(record_me)
    with pytest.raises(NotADraft):
        change_draft(purchase=record_me, receipt=receipt, edit_number=0)


def test_a_material_costs_its_list_price_until_it_is_bought(
    workshop: Workshop, card: Material
) -> None:
    factories.make_pack(card, name="pad", quantity=Decimal(24), price=Decimal("11.40"))
    factories.make_pack(card, name="gone", price=Decimal(1), retired_on=TODAY)
    factories.make_pack(card, name="no price", price=None)
    cost = unit_cost_of(Material.objects.with_costs().get(pk=card.pk), "average")
    assert cost is not None
    assert (cost.value, cost.source) == (Decimal("0.475"), ("pack", card.packs.get(name="pad").pk))
    assert cost.how == "list price (nothing bought yet): pad, 11.4 for 24 sheets"


@pytest.mark.parametrize(
    ("valuation", "value"), [("average", "0.6"), ("fifo", "0.5"), ("latest", "0.7")]
)
def test_a_bought_material_costs_what_the_valuation_says(
    workshop: Workshop, card: Material, valuation: str, value: str
) -> None:
    make_receipt(workshop, (card, "10", "5.00"))
    latest = make_receipt(workshop, (card, "10", "7.00"))
    card.refresh_from_db()
    cost = unit_cost_of(card, valuation)
    assert cost is not None
    assert cost.value == Decimal(value)
    assert cost.source == ("purchase_line", latest.lines.get().pk)


def test_nothing_known_is_no_cost(workshop: Workshop) -> None:
    material = factories.make_material(workshop)
    assert unit_cost_of(material, "average") is None
    assert material_values(material, workshop).cost is None


def test_values_of_loaded_materials_cost_no_query(
    workshop: Workshop, card: Material, supplier: Supplier, count_queries: Any
) -> None:
    factories.make_pack(card, supplier=supplier, quantity=Decimal(24))
    make_receipt(workshop, (card, "10", "5.00"))
    factories.make_pack(factories.make_material(workshop))
    loaded = list(Material.objects.of(workshop).with_costs().by_name())
    with count_queries() as queries:
        values = [material_values(material, workshop) for material in loaded]
    assert len(queries) == 0
    first = values[0]
    assert (first.name, first.width_mm, first.on_hand) == ("Bramble card", Decimal("304.8"), 10)
    assert [(offer.quantity, offer.supplier) for offer in first.packs] == [
        (10, ""),
        (24, "Larkspur Paper Mill"),
    ]
