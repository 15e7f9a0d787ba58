"""A workshop file is lossless: what comes out of an import is what went in, byte by byte."""

import datetime
import json
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from catalogue.materials.models import Material, Pack
from catalogue.purchases.services import (
    ReceiptInput,
    ReceiptLineInput,
    discard_draft,
    draft_purchase,
    record_purchase,
    reverse_purchase,
)
from catalogue.recipes.writing import write_recipe
from catalogue.stock.models import StockEntry
from catalogue.stock.services import count_stock, put_on_shelf, reverse_entry
from maker.accounts.models import Membership
from maker.calc.strict_json import parse
from maker.workshop.models import OverheadItem, Workshop
from pricing.price_tags.models import LabelSheet
from pricing.prices.models import PriceListEntry
from pricing.workshop_file.inputs import pack_names
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests import factories
from tests.thorough import tries

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"
DAY = datetime.date(2026, 3, 2)


def exported(workshop):
    return document_text(export_workshop(Workshop.objects.get(pk=workshop.pk)))


def renamed(text, old, new):
    """Return the text of a file as it is when only the name changed."""
    document = json.loads(text)
    assert document["workshop"]["name"] == old
    document["workshop"]["name"] = new
    return document_text(document)


def assert_comes_back(workshop):
    text = exported(workshop)
    again = import_workshop(parse(text.encode()), name="Another")
    assert exported(again) == renamed(text, workshop.name, "Another")
    for model, order in ((Material, "pk"), (StockEntry, "pk")):
        cached = ("on_hand", "stock_value", "average_cost", "fifo_cost", "latest_cost")
        if model is StockEntry:
            cached = ("unit_cost", "balance", "balance_value")
        assert list(model.objects.of(again).order_by(order).values_list(*cached)) == list(
            model.objects.of(workshop).order_by(order).values_list(*cached)
        )
    return again


def test_the_worked_case_is_its_own_export(db):
    workshop = import_workshop(parse(WORKED_CASE.read_bytes()))
    assert exported(workshop) == WORKED_CASE.read_text()


def test_an_empty_workshop_comes_back(workshop):
    assert_comes_back(workshop)


def test_a_workshop_with_everything_comes_back(workshop, owner):
    OverheadItem.objects.create(workshop=workshop, name="Rent", amount=Decimal("0.000001"))
    supplier = factories.make_supplier(workshop, name="“Paper” & \\ Söhne\n", retired_on=DAY)
    card = factories.make_material(workshop, name="Card «A»", supplier=supplier)
    glue = factories.make_material(workshop, name="Glue", kind="volume", notes="a\n\tb\r\n 🎁")
    for quantity in (10, 24, 50):
        pack = factories.make_pack(card, name="pack", quantity=Decimal(quantity))
    factories.make_pack(card, name="pack #2", supplier=supplier, price=None)
    put_on_shelf(material=glue, amount=Decimal("1.5"), cost=Decimal("0.333333"), moved_on=DAY,
                 today=DAY, by=owner, lot="J “1”")  # fmt: skip
    receipt = ReceiptInput(
        supplier=supplier,
        bought_on=DAY,
        lines=(
            ReceiptLineInput(
                material=card, quantity=Decimal(24), amount=Decimal("7.77"), pack=pack
            ),
            ReceiptLineInput(
                material=glue, quantity=Decimal("0.5"), amount=Decimal("3.10"), lot="7/b"
            ),
            ReceiptLineInput(material=card, quantity=Decimal(7), amount=Decimal("0.01")),
        ),
        postage=Decimal("1.99"),
        discount=Decimal("0.50"),
        tax=Decimal("2.17"),
    )
    Workshop.objects.filter(pk=workshop.pk).update(tax_registered=True)
    supplier.retired_on = None
    supplier.save()
    for finish in ("record", "reverse", "discard", "leave"):
        purchase = draft_purchase(workshop=workshop, receipt=receipt)
        if finish in ("record", "reverse"):
            record_purchase(purchase=purchase, today=DAY, by=owner)
        if finish == "reverse":
            reverse_purchase(purchase=purchase, by=owner)
        if finish == "discard":
            discard_draft(purchase=purchase)
    counted = count_stock(
        material=card, counted=Decimal("12.25"), moved_on=DAY, today=DAY, reason="counted"
    )
    reverse_entry(entry=counted, by=owner, reason="twice")
    version = factories.make_version(factories.make_design(workshop, retired_on=DAY), number=7)
    write_recipe(
        version,
        {
            "roles": [
                {"name": "body", "material": card.name},
                {"name": "glue", "material": "Glue"},
            ],
            "options": [{"key": "a", "name": "A", "choices": [{"key": "x", "name": "X"}]}],
            "colourways": [{"name": "One", "materials": {"body": card.name}}],
            "pieces": [
                {"name": "p", "role": "body", "width_mm": "0.396875", "height_mm": "304.8",
                 "when": {"only_with": "a=x", "from_quantity": 2}}
            ],
            "fixings": [{"name": "g", "role": "glue", "measure": "bead", "amount": "120",
                         "rate": "3.1"}],
            "steps": [{"name": "s", "minutes": "0.0001", "learns": True, "caution": "blade"}],
        },
    )  # fmt: skip
    factories.make_version(version.design, number=2, frozen_at=datetime.datetime.now(datetime.UTC))
    channel = factories.make_channel(workshop, kind="online")
    for replaced_at in (datetime.datetime(2026, 3, 1, 8, tzinfo=datetime.UTC), None):
        PriceListEntry.objects.create(
            design=version.design,
            version=version,
            channel=channel,
            colourway=version.colourways.get(),
            choices={"b": "y", "a": "x"},
            price=Decimal("9.5"),
            cost_each=Decimal("1.234567"),
            floor_each=2,
            target_each=3,
            set_by=owner,
            replaced_at=replaced_at,
        )
    LabelSheet.objects.create(
        workshop=workshop, name="A4", page_width_mm=210, page_height_mm=297, columns=3, rows=8,
        label_width_mm=70, label_height_mm=Decimal("37.125"), left_mm=0, top_mm=0,
        pitch_x_mm=70, pitch_y_mm=37,
    )  # fmt: skip
    again = assert_comes_back(workshop)
    assert Workshop.objects.get(pk=again.pk).tax_registered
    # the pack the line names is the third of three that are called the same
    line = again.purchases.order_by("pk").first().lines.order_by("position").first()
    assert line.pack.quantity == 50


def test_people_are_not_in_the_file(workshop, owner, reader):
    text = exported(workshop)
    assert owner.email not in text
    assert reader.email not in text
    again = import_workshop(json.loads(text), name="Another")
    assert not again.memberships.exists()


def test_an_owner_can_be_named(workshop, owner):
    document = export_workshop(workshop)
    again = import_workshop(document, name="Another", owner=owner)
    membership = again.memberships.get()
    assert (membership.user, membership.role) == (owner, Membership.Role.OWNER)
    assert again.slug == "another"
    assert import_workshop(document, name="Another!").slug == "another-2"
    assert import_workshop(document, name="包み").slug == "workshop"


def test_each_key_left_out_has_its_default(db):
    workshop = import_workshop(
        {
            "format": "pleat-and-penny workshop",
            "version": 1,
            "workshop": {"name": "Bare"},
            "materials": [{"name": "Twine", "kind": "length"}],
        }
    )
    twine = workshop.materials.get()
    assert (workshop.currency, twine.waste_share, twine.on_hand) == ("EUR", 0, 0)
    assert_comes_back(workshop)


# a container's PostgreSQL is asked for one moment's view, which needs a real transaction
@pytest.mark.django_db(transaction=True)
def test_the_commands_carry_a_workshop_over(tmp_path):
    path, second = tmp_path / "a.json", tmp_path / "b.json"
    owner = factories.make_user("new@example.test")

    def call(*words):
        output = StringIO()
        call_command(*words, stdout=output)
        return json.loads(output.getvalue())

    came_in = call("import_workshop", str(WORKED_CASE), "--owner", "New@example.test")
    assert came_in["address"] == "worked-case"
    assert came_in["rows"]["stock_entries"] == 22
    assert owner.memberships.get().role == "owner"
    went_out = call("export_workshop", str(path))
    assert went_out["rows"] == came_in["rows"]
    assert path.read_text() == WORKED_CASE.read_text()
    assert path.stat().st_mode & 0o077 == 0  # prices and addresses are for its owner
    assert call("import_workshop", str(path), "--as", "Carried over")["workshop"] == "Carried over"
    path.write_text("an older file")
    call("export_workshop", str(path), "--workshop", "Worked case")
    call("export_workshop", str(second), "--workshop", "carried-over")
    assert renamed(path.read_text(), "Worked case", "Carried over") == second.read_text()
    assert sorted(tmp_path.iterdir()) == [path, second]


def test_more_rows_cost_no_more_queries(workshop, count_queries):
    def fill():
        material = factories.make_material(workshop)
        factories.make_pack(material)
        version = factories.make_recipe(workshop, material)
        channel = factories.make_channel(workshop)
        put_on_shelf(material=material, amount=Decimal(1), cost=Decimal(1), moved_on=DAY, today=DAY)
        draft_purchase(
            workshop=workshop,
            receipt=ReceiptInput(
                supplier=factories.make_supplier(workshop),
                bought_on=DAY,
                lines=[ReceiptLineInput(material=material, quantity=Decimal(1), amount=Decimal(1))],
            ),
        )
        PriceListEntry.objects.create(
            design=version.design, version=version, channel=channel,
            price=1, cost_each=1, floor_each=1, target_each=1,
        )  # fmt: skip

    fill()
    with count_queries() as few:
        export_workshop(workshop)
    for _ in range(4):
        fill()
    with count_queries() as many:
        export_workshop(workshop)
    assert len(many) == len(few)


@given(names=st.lists(st.sampled_from(["pad", "pad #1", "pad #2", "pad #2#", "reel"]), max_size=6))
def test_packs_are_called_by_different_names_and_by_their_own_where_that_will_do(names):
    called = pack_names(names)
    assert len(set(called)) == len(names)
    assert all(
        call == name for call, name in zip(called, names, strict=True) if names.count(name) == 1
    )


def decimals(places, largest):
    return st.decimals(0, largest, places=places, allow_nan=False, allow_infinity=False)


texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=60)
names = texts.filter(lambda text: text.strip())
packs = st.lists(
    st.tuples(names, decimals(6, 9999).filter(bool), st.none() | decimals(6, 9999)), max_size=3
)
materials = st.lists(
    st.tuples(
        names,
        st.sampled_from(Material.Kind.values),
        decimals(6, 99_999).filter(bool),
        decimals(6, 1),
        texts,
        packs,
        st.none() | st.dates(datetime.date(1990, 1, 1)),
    ),
    max_size=4,
    unique_by=lambda row: row[0],
)
FIRST = datetime.datetime(1990, 1, 1, tzinfo=datetime.UTC)
instants = st.integers(0, 7 * 10**15).map(lambda us: FIRST + datetime.timedelta(microseconds=us))


@pytest.mark.django_db
@hypothesis_settings(max_examples=tries(25, thorough=300), deadline=None)
@given(
    name=names, terms=texts, wage=decimals(6, 9_999_999_999), rows=materials, created_at=instants
)
def test_whatever_was_typed_comes_back(name, terms, wage, rows, created_at):
    workshop = factories.make_workshop(name=name, terms=terms, wage_per_hour=wage)
    Workshop.objects.filter(pk=workshop.pk).update(created_at=created_at)
    for title, kind, size, share, notes, sold_as, retired_on in rows:
        material = Material.objects.create(
            workshop=workshop, name=title, kind=kind, width_mm=size, height_mm=size,
            waste_share=share, notes=notes, retired_on=retired_on,
        )  # fmt: skip
        for pack_name, quantity, price in sold_as:
            Pack.objects.create(material=material, name=pack_name, quantity=quantity, price=price)
    text = exported(workshop)
    again = import_workshop(parse(text.encode()), name="Another")
    assert exported(again) == renamed(text, name, "Another")
    kept = ("name", "kind", "width_mm", "waste_share", "notes", "retired_on")
    assert list(again.materials.order_by("pk").values_list(*kept)) == list(
        workshop.materials.order_by("pk").values_list(*kept)
    )
    assert Workshop.objects.get(pk=again.pk).terms == terms
    Pack.objects.all().delete()
    Material.objects.all().delete()
    Workshop.objects.all().delete()


def test_the_unit_a_length_was_typed_in_comes_back(workshop):
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length", category="fixings")
    Material.objects.filter(pk=ribbon.pk).update(reorder_typed_in="ft")
    pack = factories.make_pack(ribbon, name="3 ft", quantity=Decimal("0.9144"), price=Decimal(5))
    Pack.objects.filter(pk=pack.pk).update(typed_in="ft")
    put_on_shelf(
        material=ribbon,
        amount=Decimal("0.9144"),
        cost=Decimal(1),
        moved_on=DAY,
        today=DAY,
        typed_in="yd",
    )
    version = factories.make_recipe(workshop)
    fixing = factories.add_fixing(version, ribbon, amount=Decimal("0.6096"), name="bow")
    type(fixing).objects.filter(pk=fixing.pk).update(typed_in="ft in")
    document = export_workshop(workshop)
    again = import_workshop(parse(document_text(document).encode()), name="Another")
    material = Material.objects.get(workshop=again, name="Ribbon")
    assert (material.reorder_typed_in, material.packs.get().typed_in) == ("ft", "ft")
    assert StockEntry.objects.get(material=material).typed_in == "yd"
    recipe = export_workshop(again)["designs"][0]["versions"][0]["recipe"]
    assert recipe["fixings"][0]["typed_in"] == "ft in"


def test_a_file_without_units_of_typing_comes_in(workshop):
    # files were written before lengths kept the unit they were typed in
    factories.make_pack(factories.make_material(workshop, name="Ribbon", kind="length"))
    document = export_workshop(workshop)
    del document["materials"][0]["reorder_typed_in"]
    del document["materials"][0]["packs"][0]["typed_in"]
    again = import_workshop(parse(document_text(document).encode()), name="Another")
    assert Pack.objects.get(material__workshop=again).typed_in == ""
