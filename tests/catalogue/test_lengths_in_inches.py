"""An inch workshop types ribbon in inches and yards and sees it so; a metric one in metres."""

from decimal import Decimal

import pytest
from django.test import Client

from catalogue.materials.models import Material, Pack
from catalogue.offcuts.services import keep_offcuts
from catalogue.purchases.models import PurchaseLine
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.cutting_asks import form_of
from tests.catalogue.files import address, as_table, csv_of, exported, send, take_in
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import TODAY, make_receipt

D = Decimal


@pytest.fixture
def ribbon(workshop: Workshop) -> Material:
    """A reel of 25 yd for 5.00, one on the shelf."""
    ribbon = factories.make_material(workshop, name="Ribbon", kind="length", category="fixings")
    factories.make_pack(ribbon, name="25 yd", quantity=D("22.86"), price=D(5))
    make_receipt(workshop, (ribbon, "22.86", "5.00"), bought_on=TODAY)
    return ribbon


def test_pages_say_yards_and_inches(client: Client, workshop: Workshop, ribbon: Material) -> None:
    version = factories.make_recipe(workshop)
    factories.add_fixing(version, ribbon, amount=D("0.4572"))
    material = text_of(client.get(f"/w/marlow/materials/{ribbon.pk}/"))
    assert "25 yd" in material
    assert "€0.20" in material
    materials = text_of(client.get("/w/marlow/materials/"))
    assert "25 yd" in materials
    assert "€0.2000 / yd" in materials
    edit = client.get(f"/w/marlow/materials/{ribbon.pk}/edit/")
    assert edit.context["formset"].forms[0]["quantity"].value() == "25 yd"
    price = text_of(client.get(f"/w/marlow/designs/{version.design_id}/cost/?quantity=60"))
    # 60 x 18 in = 30 yd, each 0.20: 6.00
    for words in ("60 × 18 in", "30 yd × €0.20", "1 yd of Ribbon", ">30 yd<"):
        assert words in price, words
    assert " m of Ribbon" not in price
    recipe = text_of(client.get(f"/w/marlow/designs/{version.design_id}/v/1/recipe/"))
    assert "18 in" in recipe


def test_a_metric_workshop_still_sees_metres(
    client: Client, workshop: Workshop, ribbon: Material
) -> None:
    workshop.unit = "mm"
    workshop.save()
    materials = text_of(client.get("/w/marlow/materials/"))
    assert "22.86 m" in materials
    assert "€0.2187 / m" in materials
    assert " yd" not in materials


@pytest.mark.parametrize(
    ("unit", "typed", "left"),
    [
        ("in", "5", "18.288"),
        ("in", "18 in", "22.4028"),
        ("in", "1' 6\"", "22.4028"),
        ("mm", "5", "17.86"),
    ],
)
def test_a_bare_length_is_in_yards_where_inches_are_measured(
    client: Client, workshop: Workshop, ribbon: Material, unit: str, typed: str, left: str
) -> None:
    workshop.unit = unit
    workshop.save()
    sent = {"kind": "used", "amount": typed, "moved_on": TODAY.isoformat(), "reason": ""}
    page = client.get(f"/w/marlow/materials/{ribbon.pk}/stock/").context["form"]
    assert page.fields["amount"].unit == {"in": "yd", "mm": "m"}[unit]
    assert client.post(f"/w/marlow/materials/{ribbon.pk}/stock/", sent).status_code == 302
    ribbon.refresh_from_db()
    assert ribbon.on_hand == D(left)


def exported_rows(client: Client, where: str) -> tuple[list[str], list[list[str]]]:
    table = as_table(exported(client, where, "csv"))
    return list(table.heading), [list(cells) for cells in table.rows]


@pytest.mark.parametrize(
    ("unit", "counted", "bought", "cost"),
    [("in", "yd", "25", "0.2"), ("mm", "m", "22.86", "0.218723")],
)
def test_files_count_ribbon_in_the_unit_they_name(
    client: Client,
    workshop: Workshop,
    ribbon: Material,
    unit: str,
    counted: str,
    bought: str,
    cost: str,
) -> None:
    workshop.unit = unit
    workshop.save()
    # 25 yd for 5.00: 0.20 a yard, 5 / 22.86 = 0.218723 a metre
    for name in ("material_list", "purchase_list"):
        heading, (row,) = exported_rows(client, address(name))
        cells = dict(zip(heading, row, strict=True))
        assert cells["Counted in"] == counted
        assert cells["Pack holds" if name == "material_list" else "Quantity"] == bought
        assert cells["Unit cost"] == cost
    heading, (row,) = exported_rows(client, address("stock_export", "marlow", ribbon.pk))
    cells = dict(zip(heading, row, strict=True))
    assert cells[f"Change, {counted}"] == bought
    assert cells[f"In stock after, {counted}"] == bought
    assert cells[f"Unit cost, {counted}"] == cost


@pytest.mark.parametrize(
    ("unit", "heading", "size"),
    [("in", "Width, in", "7.5"), ("mm", "Width, mm", "190.5")],
)
def test_a_file_of_offcuts_is_in_the_unit_it_names(
    client: Client, workshop: Workshop, unit: str, heading: str, size: str
) -> None:
    workshop.unit = unit
    workshop.save()
    card = factories.make_material(workshop, name="Card")
    keep_offcuts(
        material=card, width_mm=D("190.5"), height_mm=D("254"), count=2, moved_on=TODAY, today=TODAY
    )
    headings, (row,) = exported_rows(client, address("offcut_list"))
    assert dict(zip(headings, row, strict=True))[heading] == size


def test_a_file_taken_out_comes_in_the_same(
    client: Client, workshop: Workshop, ribbon: Material
) -> None:
    """Metres that are no whole number of yards come back to the micrometre, in every row."""
    reel = factories.make_pack(ribbon, name="reel of 50 m", quantity=D(50), price=D(9))
    ribbon.reorder_level = D(10)
    ribbon.save()
    make_receipt(workshop, (ribbon, "50", "9.00"), bought_on=TODAY)
    for name, into in (("material_list", "material_import"), ("purchase_list", "purchase_import")):
        file = exported(client, address(name), "csv")
        assert "Everything in this file is already here" in text_of(
            send(client, address(into), file)
        )
    file = exported(client, address("material_list"), "xlsx")
    reel.quantity = D(49)
    reel.save()
    take_in(client, address("material_import"), file)
    reel.refresh_from_db()
    assert reel.quantity == D(50)


def test_a_pack_out_of_a_file_reads_as_it_is_sold(client: Client, workshop: Workshop) -> None:
    """50 m are 54.680665 yd in a file, which nobody writes: they stay a reel of 50 m."""
    file = csv_of(
        "Name,Counted in,Pack holds,Pack",
        "Ribbon,yd,54.680665,",
        "Ribbon,,25,",
    )
    take_in(client, address("material_import"), file)
    packs = Pack.objects.order_by("pk")
    assert [(pack.quantity, pack.name) for pack in packs] == [
        (D(50), "50 m"),
        (D("22.86"), "25 yd"),
    ]


def test_a_receipt_out_of_a_file_counts_packs_of_yards(
    client: Client, workshop: Workshop, ribbon: Material
) -> None:
    """Two packs of 25 yd are 50 yd: the quantity agrees with the packs, so packs are kept."""
    file = csv_of(
        "Day,Supplier,Material,Pack,Packs,Quantity,Counted in,Paid",
        f"{TODAY.isoformat()},Twill,Ribbon,25 yd,2,50,yd,10",
    )
    take_in(client, address("purchase_import"), file)
    line = PurchaseLine.objects.latest("pk")
    assert (line.packs_bought, line.quantity) == (2, D("45.72"))


@pytest.mark.parametrize(("unit", "per"), [("in", "yd"), ("mm", "m")])
def test_the_chart_of_a_cost_names_its_unit(
    client: Client, workshop: Workshop, ribbon: Material, unit: str, per: str
) -> None:
    make_receipt(workshop, (ribbon, "22.86", "6.00"), bought_on=TODAY)
    workshop.unit = unit
    workshop.save()
    page = text_of(client.get(f"/w/marlow/materials/{ribbon.pk}/"))
    assert f"Cost of Ribbon per {per}" in page
    newest = {"in": "€0.24", "mm": "€0.2625"}[unit]
    assert f"to {newest}" in page


@pytest.mark.parametrize(
    ("unit", "reel", "left"), [("in", "25 yd", "4 yd left"), ("mm", "22.86 m", "3.66 m left")]
)
def test_a_cutting_plan_says_how_long_reels_are(
    client: Client, workshop: Workshop, ribbon: Material, unit: str, reel: str, left: str
) -> None:
    workshop.unit = unit
    workshop.save()
    # by hand: 42 lengths of 18 in are 21 yd
    typed = {"name": "bow", "material": ribbon.pk, "width": "18 in", "count": "42"}
    page = text_of(client.post("/w/marlow/cutting/new/", form_of(pieces=[typed]), follow=True))
    assert f"Ribbon, reel of {reel}" in page
    assert f"{reel}, {left}" in page


@pytest.mark.parametrize(
    ("unit", "per", "label", "offered", "said"),
    [
        ("in", "yard", "Per yard or square yard", "2.83464", "18 in of glue line × 3 ml per yard"),
        (
            "mm",
            "metre",
            "Per metre or square metre",
            "3.1",
            "0.4572 m of glue line × 3 ml per metre",
        ),
    ],
)
def test_glue_is_typed_and_told_by_the_yard_where_inches_are_measured(
    client: Client, workshop: Workshop, unit: str, per: str, label: str, offered: str, said: str
) -> None:
    workshop.unit = unit
    workshop.save()
    glue = factories.make_material(workshop, name="Glue", kind="volume", category="glue")
    factories.make_pack(glue, name="bottle", quantity=D(100), price=D(3))
    version = factories.make_recipe(workshop)
    factories.add_fixing(version, glue, name="seam", measure="bead", amount=D("457.2"), rate=D(1))
    address = f"/w/marlow/designs/{version.design_id}/v/1/recipe/"
    page = client.get(address)
    assert label in text_of(page)
    assert f"glue line: length × ml per {per}" in text_of(page)
    assert f"amount per square {per}" in text_of(page)
    assert f'data-bead="{offered}"' in text_of(page)
    client.post(address, fields_of(page) | {"fixings-0-rate": "3"})
    seam = version.fixings.get()
    # 3 ml a yard are 3 / 0.9144 = 3.280840 ml a metre
    assert seam.rate == {"in": D("3.28084"), "mm": D(3)}[unit]
    page = client.get(address)
    assert fields_of(page)["fixings-0-rate"] == "3"
    assert "Nothing was changed" in text_of(client.post(address, fields_of(page), follow=True))
    cost = text_of(client.get(f"/w/marlow/designs/{version.design_id}/cost/?quantity=60"))
    assert said in cost
