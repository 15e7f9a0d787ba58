"""Several people at one material in the same moment: no movement is lost, no figure left behind."""

from decimal import Decimal
from typing import Any

import pytest

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import record_purchase, reverse_purchase
from catalogue.stock.models import StockEntry
from catalogue.stock.services import KEPT, move_stock, replay_workshop
from maker.workshop.models import Workshop
from maker.workshop.services import save_settings
from tests import factories
from tests.at_once import at_once
from tests.catalogue.receipts import TODAY, make_draft, make_receipt

pytestmark = pytest.mark.django_db(transaction=True)


def figures(workshop: Workshop) -> dict[str, Any]:
    """Return everything that is kept from the ledgers."""
    return {
        "materials": list(workshop.materials.order_by("pk").values_list("pk", *KEPT)),
        "entries": list(
            StockEntry.objects.of(workshop)
            .order_by("pk")
            .values_list("pk", "unit_cost", "balance", "balance_value")
        ),
    }


def assert_kept_is_what_the_entries_say(workshop: Workshop) -> None:
    kept = figures(workshop)
    replay_workshop(workshop=Workshop.objects.get(pk=workshop.pk))
    assert figures(workshop) == kept


def record(draft: Purchase) -> Purchase:
    return record_purchase(purchase=Purchase.objects.get(pk=draft.pk), today=TODAY)


def test_receipts_of_the_same_materials_recorded_at_once_all_count():
    workshop = factories.make_workshop()
    paper, twine = (factories.make_material(workshop) for _ in range(2))
    drafts = [
        make_draft(workshop, (paper, "10", f"{n}.10"), (twine, "5", "2.20")) for n in (1, 2)
    ] + [make_draft(workshop, (twine, "5", "1.30"), (paper, "10", "7.70")) for _ in range(2)]
    results = at_once(*(lambda draft=draft: record(draft) for draft in drafts))
    assert [type(result) for result in results] == [Purchase] * 4
    assert Material.objects.get(pk=paper.pk).on_hand == 40
    assert Material.objects.get(pk=twine.pk).on_hand == 20
    assert_kept_is_what_the_entries_say(workshop)


def test_using_buying_and_taking_back_at_once_lose_nothing():
    workshop = factories.make_workshop()
    card = factories.make_material(workshop)
    first = make_receipt(workshop, (card, "10", "5.00"))
    second = make_draft(workshop, (card, "30", "21.00"))

    def use() -> StockEntry:
        material = Material.objects.get(pk=card.pk)
        return move_stock(
            material=material, kind="used", amount=Decimal(3), moved_on=TODAY, today=TODAY
        )

    at_once(use, lambda: record(second), use, lambda: reverse_purchase(purchase=first))
    assert Material.objects.get(pk=card.pk).on_hand == 24
    assert_kept_is_what_the_entries_say(workshop)


def test_a_receipt_recorded_while_the_valuation_changes_is_valued_the_new_way():
    for number in range(12):
        workshop = factories.make_workshop()
        card = factories.make_material(workshop)
        make_receipt(workshop, (card, "10", "5.00"))
        drafts = [make_draft(workshop, (card, "30", f"{21 + n}.00")) for n in range(3)]
        move_stock(material=card, kind="used", amount=Decimal(4), moved_on=TODAY, today=TODAY)

        def change(pk: int = workshop.pk) -> None:
            mine = Workshop.objects.get(pk=pk)
            mine.valuation = Workshop.Valuation.FIFO
            save_settings(workshop=mine, fields=["valuation"], edit_number=0)

        tasks: list[Any] = [lambda draft=draft: record(draft) for draft in drafts]
        tasks.insert(number % 4, change)
        assert at_once(*tasks).count(None) == 1
        assert_kept_is_what_the_entries_say(workshop)
