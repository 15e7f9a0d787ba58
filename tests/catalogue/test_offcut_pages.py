"""The offcuts box: put in, used, thrown away, counted, taken back; what each would do for."""

import datetime
import uuid
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut, OffcutEntry
from catalogue.offcuts.services import (
    NotThatMany,
    keep_offcuts,
    recount,
    reverse_offcut_entry,
    take_offcuts,
)
from catalogue.recipes.models import Colourway, ColourwayMaterial, Piece
from catalogue.stock.ledger import CannotBeTakenBack
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from tests import factories
from tests.at_once import at_once
from tests.catalogue.cutting_asks import D
from tests.catalogue.pages import text_of, who_gets_in

LIST = "/w/marlow/offcuts/"
TODAY = datetime.date(2026, 3, 31)
DAY = {"moved_on": TODAY, "today": TODAY}


def typed(**fields: Any) -> dict[str, Any]:
    return {"form_key": str(uuid.uuid4()), "moved_on": "2026-03-31", "count": "1", **fields}


def keep(card: Material, width: str = "101.6", height: str = "203.2", count: int = 3) -> Offcut:
    entry = keep_offcuts(material=card, width_mm=D(width), height_mm=D(height), count=count, **DAY)
    return entry.offcut


def test_offcuts_are_put_in_by_hand_once_a_click(client: Client, card: Material) -> None:
    assert "No offcuts yet" in text_of(client.get(LIST))
    sent = typed(material=card.pk, width="4", height='7 1/2"', count="3")
    page = text_of(client.post(f"{LIST}new/", sent, follow=True))
    assert "4 × 7 1/2 in" in page
    assert "Undo" in page
    client.post(f"{LIST}new/", sent)
    offcut = Offcut.objects.get()
    assert (offcut.count, offcut.height_mm) == (3, D("190.5"))
    # the same size again is the same row
    client.post(f"{LIST}new/", typed(material=card.pk, width="101.6 mm", height="7.5"))
    assert Offcut.objects.get().count == 4


@pytest.mark.parametrize(
    ("field", "entry", "told"),
    [
        ("width", "0", "above 0"),
        ("width", "-1", "below zero"),
        ("width", "13", "larger than a sheet"),
        ("height", "13", "larger than a sheet"),
        ("height", "", ""),
        ("count", "0", "least is 1"),
        ("count", "9999999", "most is 100000"),
        ("count", "two", "a number. Enter one"),
        ("material", "999999", "valid choice"),
        ("moved_on", "2999-01-01", "in the future"),
        ("moved_on", "soon", "a date. Enter one like"),
        ("form_key", "x", "UUID"),
    ],
)
def test_what_cannot_be_meant_is_told(
    client: Client, card: Material, field: str, entry: str, told: str
) -> None:
    sent = typed(material=card.pk, width="4", height="7") | {field: entry}
    response = client.post(f"{LIST}new/", sent)
    assert response.status_code == 422
    assert told in text_of(response)
    assert not OffcutEntry.objects.exists()


def test_a_size_typed_across_is_recognised(client: Client, workshop: Workshop) -> None:
    tall = factories.make_material(workshop, width_mm=D(210), height_mm=D(297))
    sent = typed(material=tall.pk, width="290 mm", height="100 mm")
    assert "as it lies on the sheet" in text_of(client.post(f"{LIST}new/", sent))


def test_used_thrown_counted_and_taken_back(client: Client, card: Material) -> None:
    offcut = keep(card)
    page = f"{LIST}{offcut.pk}/"
    client.post(page, typed(kind="used", count="2", reason="lids"))
    client.post(page, typed(kind="thrown", count="1"))
    offcut.refresh_from_db()
    assert offcut.count == 0
    assert "There is none" in text_of(client.post(page, typed(kind="used", count="1")))
    client.post(page, typed(kind="counted", count="5"))
    again = client.post(page, typed(kind="counted", count="5"), follow=True)
    assert "5 of 4 × 8 in counted, as many as expected." in text_of(again)
    assert "Enter 1 or more" in text_of(client.post(page, typed(kind="used", count="0")))
    assert client.post(page, typed(kind="eaten", count="1")).status_code == 422
    lids = OffcutEntry.objects.get(reason="lids")
    back = f"{LIST}entries/{lids.pk}/take-back/"
    assert "Undone" in text_of(client.post(back, follow=True))
    assert "already" in text_of(client.post(back, follow=True))
    offcut.refresh_from_db()
    # the count stays: what was used before it was not missing then
    assert offcut.count == recount(offcut) == 5
    assert "does not count" in text_of(client.get(page))


def test_what_was_put_in_and_used_since_cannot_be_taken_back(card: Material) -> None:
    offcut = keep(card, count=2)
    entry = offcut.entries.get()
    take_offcuts(offcut=offcut, count=2, kind="used", **DAY)
    with pytest.raises(NotThatMany):
        reverse_offcut_entry(entry=entry)
    back = reverse_offcut_entry(entry=offcut.entries.get(kind="used"))
    with pytest.raises(CannotBeTakenBack):
        reverse_offcut_entry(entry=back)


def test_what_an_offcut_does_for(client: Client, workshop: Workshop, card: Material) -> None:
    version = factories.make_recipe(workshop, card)  # a body of 4 x 4 in
    Piece.objects.create(
        version=version, role=version.roles.get(), name="strap",
        width_mm=D("203.2"), height_mm=D("50.8"),
    )  # fmt: skip
    blue = factories.make_material(workshop, name="Blue card", is_directional=True)
    way = Colourway.objects.create(version=version, name="Blue")
    ColourwayMaterial.objects.create(colourway=way, role=version.roles.get(), material=blue)
    keep(card)
    turned = keep(blue)
    page = text_of(client.get(LIST))
    # by hand: 4 x 8 in gives two bodies, and two straps of 8 x 2 in if they may be turned
    assert "2 × body" in page
    assert "2 × strap" in page
    page = text_of(client.get(f"{LIST}{turned.pk}/"))
    assert "2 × body" in page
    assert "strap" not in page
    sliver = keep(card, "30", "60")
    assert "keep it until something does" in text_of(client.get(f"{LIST}{sliver.pk}/"))
    version.design.retired_on = TODAY
    version.design.save()
    assert "nothing you make" in text_of(client.get(LIST))


def test_the_list_filters_sorts_goes_out_and_asks_as_often_for_many(
    client: Client, workshop: Workshop, card: Material, count_queries: Any
) -> None:
    factories.make_recipe(workshop, card)
    keep(card)
    with count_queries() as few:
        client.get(LIST)
    for at in range(12):
        other = factories.make_material(workshop, name=f"Card {at:02}")
        factories.make_recipe(workshop, other)
        keep(other, "120", str(110 + at))
    with count_queries() as many:
        client.get(LIST)
    assert len(few) == len(many)
    for sort in ("size", "-size", "material", "count", "fits", "nonsense"):
        assert client.get(f"{LIST}?sort={sort}&page=9&search=Card+1").status_code == 200
    assert "Bramble" not in text_of(client.get(f"{LIST}?search=Card+1"))
    gone = Offcut.objects.first()
    assert gone is not None
    take_offcuts(offcut=gone, count=3, kind="used", **DAY)
    assert "Bramble" not in text_of(client.get(LIST))
    assert "Bramble" in text_of(client.get(f"{LIST}?gone=on"))
    out = client.get(f"{LIST}?format=csv&gone=on").content.decode("utf-8-sig")
    assert len(out.splitlines()) == 14


def test_who_may_see_and_who_may_change(visitors: Any, card: Material) -> None:
    offcut = keep(card)
    sees = {"owner": 200, "helper": 200, "reader": 200, "stranger": 404, "nobody": 302}
    assert who_gets_in(LIST, writes=False, clients=visitors) == sees
    assert who_gets_in(f"{LIST}{offcut.pk}/", writes=False, clients=visitors) == sees
    writes = {"reader": 403, "stranger": 404, "nobody": 302}
    entry = offcut.entries.get()
    for address in ("new/", f"{offcut.pk}/", f"entries/{entry.pk}/take-back/"):
        got = who_gets_in(LIST + address, writes=True, clients=visitors)
        assert {name: got[name] for name in writes} == writes


@pytest.mark.django_db(transaction=True)
def test_two_people_take_the_last_one(workshop: Workshop) -> None:
    offcut = keep(factories.make_material(workshop), count=1)

    def take() -> OffcutEntry:
        return take_offcuts(offcut=offcut, count=1, kind="used", **DAY)

    results = at_once(take, take)
    assert [type(one) for one in results if isinstance(one, Refusal)] == [NotThatMany]
    offcut.refresh_from_db()
    assert offcut.count == recount(offcut) == 0
