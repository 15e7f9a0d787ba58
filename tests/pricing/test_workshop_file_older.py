"""Files of versions 1 to 5, as older programs wrote them."""

import importlib
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.apps import apps

from maker.calc.strict_json import WrongJson, parse
from maker.workshop.models import WEEKDAY_MINUTES
from pricing.channels.models import ChannelTier
from pricing.fairs.models import Fair, FairSale
from pricing.workshop_file.older import as_version_4
from pricing.workshop_file.services import (
    LISTS,
    document_text,
    export_workshop,
    import_workshop,
)
from tests.factories import make_channel
from tests.pricing.test_workshop_file_round_trip import WORKED_CASE


def with_hours_of_a_day(document):
    """The document with a working day of one length, as versions 1 to 3 wrote it."""
    newer = (
        "calendar_dates",
        "file_columns",
        "orders",
        "expenses",
        "fairs",
        "shops",
        "finished_places",
        "finished_items",
        "enquiries",
        "letters",
        "closed_months",
    )
    new = {key: value for key, value in document.items() if key not in newer}
    gone = (*WEEKDAY_MINUTES, "buffer_days", "proof_days", "transit_days", "carrier_weekdays")
    shop = {key: value for key, value in document["workshop"].items() if key not in gone}
    return new | {"workshop": shop | {"hours_per_day": "3.5", "working_weekdays": "12345"}}


def worked_case_of_version_3():
    """The worked case as version 3 wrote it."""
    document = with_hours_of_a_day(parse(WORKED_CASE.read_bytes())) | {"version": 3}
    for design in document["designs"]:
        del design["made_at_once"]
    for channel in document["channels"]:
        del channel["bought_at_once"]
        for tier in channel["tiers"]:
            tier["from_quantity"] = tier.pop("bought_at_once")
            tier["payments"] = tier.pop("payments_per_sale")
    return document


def test_a_file_of_version_4_comes_in_as_it_was_written(db):
    """The worked case as version 0.2.0 of the program exported it."""
    text = Path("tests/data/workshop_of_0_2_0.json").read_text()
    written = parse(text.encode())
    assert written["version"] == 4
    exported = export_workshop(import_workshop(written))
    for name in set(LISTS) - set(written):
        assert exported[name] == []
    for name in ("materials", "receipts", "stock_entries", "prices"):
        assert len(exported[name]) == len(written[name])
    assert import_workshop(exported, name="Again")
    later = {**written, "orders": []}
    with pytest.raises(WrongJson, match="not known"):
        import_workshop(later, name="Later")


def test_a_file_of_version_5_comes_in_with_its_fairs_place(db):
    """A day at a fair as the program wrote it before places were the fairs' own."""
    written = parse(Path("tests/data/workshop_of_version_5.json").read_bytes())
    assert written["version"] == 5
    workshop = import_workshop(written)
    (fair,) = Fair.objects.of(workshop)
    assert (fair.stock_place.kind, fair.stock_place.name) == ("fair", fair.name)
    assert {row.kind for row in FairSale.objects.of(workshop)} == {"sale", "order"}
    exported = export_workshop(workshop)
    assert exported["version"] == 6
    (place,) = (each["key"] for each in exported["finished_places"] if each["kind"] == "fair")
    assert exported["fairs"][0]["stock_place"] == place
    for name in ("finished_items", "fairs"):
        assert len(exported[name]) == len(written[name])


@pytest.mark.parametrize("name", [["Home"], {}, None, 7])
def test_a_fairs_place_whose_name_is_no_text_is_refused(db, name):
    written = parse(Path("tests/data/workshop_of_version_5.json").read_bytes())
    for place in written["finished_places"]:
        place["name"] = name
    with pytest.raises(WrongJson, match="must") as refused:
        import_workshop(written)
    assert refused.value.where == "finished_places[0].name"


def test_a_file_of_version_3_still_comes_in(db):
    workshop = import_workshop(worked_case_of_version_3())
    assert document_text(export_workshop(workshop)) == WORKED_CASE.read_text()


@pytest.mark.parametrize(
    ("hours", "weekdays", "minutes"),
    [
        ("3.5", "12356", (210, 210, 210, 0, 210, 210, 0)),
        ("0.25", "7", (0, 0, 0, 0, 0, 0, 15)),
        (None, None, (210, 210, 210, 210, 210, 0, 0)),
    ],
)
def test_hours_of_a_day_become_minutes_of_each_weekday(db, hours, weekdays, minutes):
    document = worked_case_of_version_3()
    said = {"hours_per_day": hours, "working_weekdays": weekdays}
    for key, value in said.items():
        del document["workshop"][key]
        if value is not None:
            document["workshop"][key] = value
    workshop = import_workshop(document)
    assert workshop.weekday_minutes == minutes
    assert not workshop.calendar_dates.exists()


@pytest.mark.parametrize("hours", [3.5, "soon", None, "NaN", "1e99"])
def test_hours_that_are_none_are_refused(db, hours):
    document = worked_case_of_version_3()
    document["workshop"]["hours_per_day"] = hours
    with pytest.raises(WrongJson):
        import_workshop(document)


def test_hours_of_a_day_in_the_database_become_minutes_of_each_weekday():
    class Row:
        hours_per_day, working_weekdays = Decimal("2.75"), "16"

        def save(self, update_fields):
            assert len(update_fields) == 7

    class Models:
        def get_model(self, app, name):
            return SimpleNamespace(objects=SimpleNamespace(all=lambda: [row]))

    row = Row()
    importlib.import_module("maker.migrations.0006_dates").spread_hours(Models(), None)
    assert [getattr(row, name) for name in WEEKDAY_MINUTES] == [165, 0, 0, 0, 0, 165, 0]


@pytest.mark.parametrize(
    ("kind", "deposit", "usual", "payments"),
    [
        ("fair", "0", 1, 1),
        ("online", "0", 1, 1),
        ("online", "0.4", 1, 12),
        ("direct", "0", None, 12),
        ("wholesale", "0", None, 12),
    ],
)
def test_a_channel_of_version_3_gets_what_its_buyers_usually_take(
    db, kind, deposit, usual, payments
):
    """Twelve payments at a fair were twelve buyers; of an order they are twelve payments."""
    tier = {"from_quantity": 1, "payments": 12, "deposit_share": deposit}
    document = worked_case_of_version_3()
    document["channels"] += [{"name": "Added", "kind": kind, "tiers": [tier]}]
    channel = import_workshop(document).channels.get(name="Added")
    assert channel.bought_at_once == usual
    assert channel.tiers.get().payments_per_sale == payments


@pytest.mark.parametrize("broken", [7, [7], [{"tiers": 7}], [{"tiers": [7]}], None])
def test_a_broken_file_of_version_3_is_refused_as_it_is(db, broken):
    assert as_version_4({"channels": broken})["channels"] == broken
    with pytest.raises(WrongJson):
        import_workshop(worked_case_of_version_3() | {"channels": broken})


@pytest.mark.parametrize(
    ("kind", "usual", "payments"), [("fair", 1, 1), ("online", 1, 1), ("direct", None, 12)]
)
def test_channels_of_the_database_are_told_the_same(workshop, kind, usual, payments):
    channel = make_channel(workshop, kind=kind, tier={"payments_per_sale": 12})
    with_deposit = ChannelTier.objects.create(
        channel=channel, bought_at_once=5, payments_per_sale=3, deposit_share="0.4"
    )
    step = importlib.import_module("pricing.migrations.0006_made_and_bought")
    step.tell_buyers_apart(apps, None)
    channel.refresh_from_db()
    with_deposit.refresh_from_db()
    assert channel.bought_at_once == usual
    assert channel.tiers.get(bought_at_once=1).payments_per_sale == payments
    assert with_deposit.payments_per_sale == 3
