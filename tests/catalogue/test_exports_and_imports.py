"""A list taken out as a file and into an empty workshop again is the same list."""

import datetime
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import ReceiptLineInput, reverse_purchase
from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.files import address, as_table, confirm, csv_of, exported, send, take_in
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_draft, make_receipt
from tests.office import cells_in_office, in_office, saved_by_office

FORMULAS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(1)",
    '=HYPERLINK("x")',
    "'=1",
    "''=1",
    "＝1+1",
    "#N/A",
    "_x0041_",
    "00123",
    "TRUE",
    "1-2",
    "NA",
    'a;b,c"d"',
    "é 😀 שלום",
]


@pytest.fixture
def empty(owner: User) -> Workshop:
    """Another workshop of the owner, with nothing in it."""
    workshop = factories.make_workshop(name="Empty", slug="empty")
    Membership.objects.create(user=owner, workshop=workshop, role=Membership.Role.OWNER)
    return workshop


def materials_of(workshop: Workshop) -> list[dict[str, Any]]:
    """Everything that was typed about the materials of a workshop, and what the ledger says."""
    rows = []
    for material in Material.objects.of(workshop).with_costs().by_name():
        names = (
            "name", "code", "kind", "category", "width_mm", "height_mm", "trim_mm",
            "is_directional", "is_double_sided", "grammage", "thickness_mm",
            "cut_loss_mm", "reel_end_mm", "waste_share", "reorder_level",
            "licence_note", "safety_note", "notes",
        )  # fmt: skip
        row = {name: getattr(material, name) for name in names}
        row["supplier"] = str(material.supplier or "")
        row["packs"] = [
            (pack.name, pack.quantity, pack.price, str(pack.supplier or ""))
            for pack in material.packs.in_entry_order()
        ]
        rows.append(row)
    return rows


def figures_of(workshop: Workshop) -> list[tuple[Any, ...]]:
    """What is on the shelf and what it cost."""
    rows = Material.objects.of(workshop).by_name()
    return list(rows.values_list("name", "on_hand", "stock_value", "average_cost", "fifo_cost"))


def receipts_of(workshop: Workshop) -> list[tuple[Any, ...]]:
    """Everything that stands on the receipts of a workshop."""
    rows = Purchase.objects.of(workshop).select_related("supplier").order_by("bought_on", "pk")
    return [
        (
            row.supplier.name, row.bought_on, row.reference, row.state, row.postage, row.discount,
            row.tax, row.tax_is_recoverable, row.notes,
            [
                (line.material.name, line.pack.name if line.pack else "", line.packs_bought,
                 line.quantity, line.amount, line.lot, line.landed, line.unit_cost)
                for line in row.lines.select_related("material", "pack").order_by("position")
            ],
        )
        for row in rows
    ]  # fmt: skip


@pytest.fixture
def filled(workshop: Workshop) -> Workshop:
    """Materials of every kind, packs of every sort, receipts with everything on them."""
    mill = factories.make_supplier(workshop, name="=cmd|Larkspur")
    shop = factories.make_supplier(workshop, name="Ribbon & Co")
    card = factories.make_material(
        workshop,
        name="Bramble card",
        code="00123",
        supplier=mill,
        width_mm=Decimal("304.8"),
        height_mm=Decimal("190.5"),
        trim_mm=Decimal("0.396875"),
        is_directional=True,
        is_double_sided=True,
        grammage=Decimal("216.50"),
        thickness_mm=Decimal("0.305"),
        waste_share=Decimal("0.075"),
        reorder_level=Decimal(6),
        licence_note="=1+1\n-2",
        safety_note="@home: mind the edge",
        notes='\'=quoted\n\n"twice", and more',
    )
    pad = factories.make_pack(card, name="pad of 24", quantity=Decimal(24), price=Decimal("9.90"))
    factories.make_pack(card, name="-single", quantity=Decimal(1), price=None, supplier=shop)
    factories.make_material(
        workshop, name="Odd sheet", width_mm=Decimal("190"), height_mm=Decimal("333.333333")
    )
    ribbon = factories.make_material(
        workshop,
        name="Ribbon",
        kind="length",
        reorder_level=Decimal("12.5"),
        category="fixings",
        cut_loss_mm=Decimal("6.35"),
        reel_end_mm=Decimal("33.333333"),
    )
    factories.make_pack(ribbon, name="25 yd", quantity=Decimal("22.86"), price=Decimal("4.123456"))
    factories.make_material(workshop, name="Glue", kind="volume", category="glue")
    factories.make_material(workshop, name="Shred", kind="mass", category="packing")
    factories.make_material(workshop, name="Dots", kind="pairs", category="fixings")
    for number, text in enumerate(FORMULAS):
        factories.make_material(workshop, name=f"{text} no. {number}", kind="count", notes=text)
    receipt = make_receipt(
        workshop,
        (ribbon, "22.86", "4.10"),
        (card, "3", "1.50"),
        supplier=mill,
        reference="=SUM(A1)",
        postage=Decimal("3.30"),
        discount=Decimal("0.40"),
        tax=Decimal("1.01"),
        notes="-first\nsecond",
    )
    assert receipt.lines.count() == 2
    draft = make_draft(workshop, (card, "24", "9.90"), supplier=shop)
    draft.lines.update(pack=pad)
    make_receipt(workshop, (card, "24", "8.00"), (card, "1", "0.00"), supplier=mill)
    line = ReceiptLineInput(material=card, quantity=Decimal(50), amount=Decimal("20.00"), lot="L-7")
    # a pack that held something else when it was bought
    other = make_receipt(workshop, (card, "50", "20.00"), supplier=mill)
    other.lines.update(pack=pad, packs_bought=(line.quantity / 24).quantize(Decimal("0.000001")))
    return workshop


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_materials_and_receipts_come_back_as_they_were(
    form: str, client: Client, filled: Workshop, empty: Workshop
) -> None:
    materials = exported(client, address("material_list"), form)
    receipts = exported(client, address("purchase_list"), form)
    take_in(client, address("material_import", "empty"), materials)
    assert materials_of(empty) == materials_of(filled)
    take_in(client, address("purchase_import", "empty"), receipts)
    assert receipts_of(empty) == receipts_of(filled)
    assert figures_of(empty) == figures_of(filled)
    assert len(materials_of(empty)) == 6 + len(FORMULAS)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
class TestInLibreOffice:
    """Every list opened by another program than the one that wrote it."""

    pytestmark = in_office

    @pytest.mark.parametrize(
        "name",
        ["material_list", "purchase_list", "supplier_list", "design_list", "stock_export"],
    )
    def test_a_list_opens_with_its_cells(
        self, name: str, form: str, client: Client, filled: Workshop, tmp_path: Path
    ) -> None:
        factories.make_recipe(filled)
        card = Material.objects.of(filled).get(name="Bramble card")
        where = address(name, "marlow", *([card.pk] if name == "stock_export" else []))
        data = exported(client, where, form)
        table = as_table(data)
        heading, *cells = cells_in_office(data, form, tmp_path)
        assert tuple(cell.shown for cell in heading) == table.heading
        assert len(cells) == len(table.rows) > 0
        kinds = set()
        for row, shown in zip(table.rows, cells, strict=True):
            for text, cell in zip(row, shown, strict=False):
                kinds.add(cell.kind)
                assert cell.formula is None
                if cell.kind == "float":
                    assert Decimal(cell.value) == Decimal(text)
                elif cell.kind == "date":
                    assert cell.value == text
                elif form == "xlsx":
                    assert cell.shown == text
                else:
                    assert cell.shown.lstrip("'") == text.lstrip("'")
        assert kinds >= {"string", "float"}

    def test_a_file_saved_there_comes_in_as_it_was(
        self, form: str, client: Client, filled: Workshop, empty: Workshop, tmp_path: Path
    ) -> None:
        if form == "csv":
            # other programs guard nothing: their '=1 cannot be told from our guarded =1
            Material.objects.filter(name__startswith="'").delete()
            Material.objects.filter(notes__startswith="'").update(notes="quoted")
        for kind in ("material", "purchase"):
            data = exported(client, address(f"{kind}_list"), "xlsx")
            saved = saved_by_office(data, "xlsx", form, tmp_path)
            assert saved != data
            take_in(client, address(f"{kind}_import", "empty"), saved)
        assert materials_of(empty) == materials_of(filled)
        assert receipts_of(empty) == receipts_of(filled)
        assert figures_of(empty) == figures_of(filled)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_file_taken_in_again_changes_nothing(form: str, client: Client, filled: Workshop) -> None:
    before = materials_of(filled), receipts_of(filled), figures_of(filled)
    for kind in ("material", "purchase"):
        where = address(f"{kind}_import")
        preview = send(client, where, exported(client, address(f"{kind}_list"), form))
        assert preview.status_code == 200, text_of(preview)
        assert "Everything in this file is already here" in text_of(preview)
        confirm(client, where, preview)
    assert (materials_of(filled), receipts_of(filled), figures_of(filled)) == before


def test_a_file_holds_every_row_that_the_filter_finds(client: Client, workshop: Workshop) -> None:
    for number in range(60):
        factories.make_material(workshop, name=f"Card {number:02}")
    factories.make_material(workshop, name="Glue", kind="volume", category="glue")
    where = address("material_list")
    assert len(as_table(exported(client, where, "csv")).rows) == 61
    answer = client.get(where, {"format": "xlsx", "category": "glue", "page": "2"})
    assert [row[0] for row in as_table(answer.content).rows] == ["Glue"]
    name = f"marlow-materials-{factories.today().isoformat()}.xlsx"
    assert answer["Content-Disposition"] == f'attachment; filename="{name}"'


@pytest.mark.parametrize("name", ["supplier_list", "material_list", "purchase_list", "design_list"])
def test_more_rows_cost_no_more_queries(
    name: str, client: Client, workshop: Workshop, count_queries: Any
) -> None:
    def fill(number: int) -> None:
        for _ in range(number):
            supplier = factories.make_supplier(workshop)
            card = factories.make_material(workshop, supplier=supplier)
            factories.make_pack(card, supplier=supplier)
            make_receipt(workshop, (card, "1", "1.00"), (card, "2", "1.00"), supplier=supplier)
            factories.make_recipe(workshop, card)

    counts = []
    for number in (1, 9):
        fill(number)
        with count_queries() as queries:
            exported(client, address(name), "csv")
        counts.append(len(queries))
    # Eight to read, and three that keep who took the list out.
    assert counts[0] == counts[1] <= 8 + 3


def test_sizes_amounts_and_days_are_read_as_she_types_them(
    client: Client, workshop: Workshop
) -> None:
    take_in(
        client,
        address("material_import"),
        csv_of(
            "name;COUNTED IN;Width;Height;Waste, %;Pack holds;Pack price;Pack;Supplier",
            'Card;sheet;7 1/2";190,5 mm;2,5;24;9,90;;Larkspur',
            "Card;;;;;1;0.5;single;",
            "Ribbon;metres;;;;25 yd;4,10;;larkspur",
            "Foil;;12;12;;;;;",
        ),
    )
    card, foil, ribbon = Material.objects.of(workshop).by_name()
    assert (card.width_mm, card.height_mm) == (Decimal("190.5"), Decimal("190.5"))
    assert card.waste_share == Decimal("0.025")
    assert [(p.quantity, p.price, p.name) for p in card.packs.in_entry_order()] == [
        (24, Decimal("9.9"), "pack of 24 sheets"),
        (1, Decimal("0.5"), "single"),
    ]
    assert ribbon.packs.get().quantity == Decimal("22.86")
    assert card.supplier == ribbon.supplier
    assert (foil.kind, foil.width_mm, foil.category) == ("sheet", Decimal("304.8"), "paper")
    rows = ("Day,Supplier,Material,Pack,Packs,Quantity,Paid", "3/4/2026,Larkspur,Card,,,12,6.00")
    where = address("purchase_import")
    preview = send(client, where, csv_of(*rows))
    assert preview.status_code == 422
    assert "Choose below whether the day or the month comes first." in text_of(preview)
    checked = confirm(client, where, preview, "check", day_order="month")
    assert checked.status_code == 200, text_of(checked)
    confirm(client, where, checked)
    assert Purchase.objects.get().bought_on == datetime.date(2026, 3, 4)


def test_what_is_wrong_stands_beside_its_cell_and_is_mended_there(
    client: Client, workshop: Workshop
) -> None:
    where = address("material_import")
    preview = send(
        client,
        where,
        csv_of(
            "Name,Counted in,Width,Height,Supplier,Pack holds,Pack price",
            "Good,piece,,,New mill,,",
            "No size,sheet,,12,,,",
            "Bad unit,dozen,,,,,",
            "Bad pack,m,,,,24 ml,x",
            ",piece,,,,,",
        ),
    )
    page = text_of(preview)
    assert preview.status_code == 422
    for words in (
        "Row 3, Width: Enter the sheet size, like 12 or 305 mm.",
        "Row 4, Counted in: “dozen” isn't one of sheets",
        "Row 5, Pack holds: “ml” doesn't fit",
        "Row 5, Pack price: “x” isn't an amount of money. Enter one like 9.60.",
        "Row 6, Name: Fill this in.",
    ):
        assert words in page
    assert 'value="dozen"' in page
    # nothing is stored with an error in it, however the button is called
    assert confirm(client, where, preview).status_code == 422
    assert not Material.objects.exists()
    assert not workshop.suppliers.exists()
    mended = {
        "cell-3-3": "7 1/2",
        "cell-4-1": "pair",
        "cell-5-5": "24 m",
        "cell-5-6": "3,20",
        "cell-6-0": "Nameless",
    }
    checked = confirm(client, where, preview, "check", **mended)
    assert checked.status_code == 200, text_of(checked)
    done = confirm(client, where, checked)
    assert done.status_code == 302
    assert Material.objects.count() == 5
    assert Material.objects.get(name="No size").width_mm == Decimal("190.5")
    assert Pack.objects.get().price == Decimal("3.2")


def test_the_rest_comes_in_without_the_wrong_ones_when_she_says_so(
    client: Client, workshop: Workshop, card: Material
) -> None:
    where = address("purchase_import")
    preview = send(
        client,
        where,
        csv_of(
            "Receipt,Day,Supplier,Material,Quantity,Paid,Discount,State",
            "1,2026-01-03,Mill,Bramble card,10,5.00,,",
            "2,2026-01-04,Mill,Bramble card,10,5.00,,",
            "2,2026-01-04,Mill,No such card,10,5.00,,",
            "3,2026-01-05,Mill,Bramble card,10,5.00,9.00,",
            "4,2999-01-05,Mill,Bramble card,10,5.00,,",
            "5,2026-01-06,Mill,Bramble card,10,5.00,,taken back",
            "6,2026-01-07,Mill,Bramble card,2,1.00,,not finished",
        ),
    )
    page = text_of(preview)
    assert "“No such card” isn't one of your materials" in page
    assert "is in the future" in page
    done = confirm(client, where, preview, "import_rest")
    assert done.status_code == 302, text_of(done)
    states = Purchase.objects.order_by("bought_on").values_list("bought_on", "state")
    assert [(day.day, state) for day, state in states] == [(3, "recorded"), (7, "draft")]
    card.refresh_from_db()
    assert (card.on_hand, card.average_cost) == (10, Decimal("0.5"))


def test_two_clicks_take_a_file_in_once(client: Client, workshop: Workshop, card: Material) -> None:
    where = address("purchase_import")
    data = csv_of("Day,Supplier,Material,Quantity,Paid", "2026-01-03,Mill,Bramble card,10,5.00")
    preview = send(client, where, data)
    confirm(client, where, preview)
    again = confirm(client, where, preview)
    assert again.status_code == 302
    assert "was already imported" in text_of(client.get(again["Location"]))
    assert Purchase.objects.count() == 1
    # two that are alike on one file are two; one of them already here leaves one to come
    twice = csv_of(
        "Receipt,Day,Supplier,Material,Quantity,Paid",
        "a,2026-01-03,Mill,Bramble card,10,5.00",
        "b,2026-01-03,Mill,Bramble card,10,5.00",
    )
    take_in(client, where, twice)
    assert Purchase.objects.count() == 2


def test_an_empty_cell_changes_nothing_and_a_filled_one_does(
    client: Client, workshop: Workshop, card: Material
) -> None:
    Material.objects.filter(pk=card.pk).update(notes="kept", waste_share=Decimal("0.05"))
    where = address("material_import")
    data = csv_of(
        "Name,Waste %,Notes,Reorder below,Pack,Pack holds,Pack price",
        "bramble CARD,,,8,pack of 10,10,5.50",
        "bramble CARD,,,,,50,20",
    )
    preview = send(client, where, data)
    assert "changed: Reorder below, Pack price, new pack" in text_of(preview)
    confirm(client, where, preview)
    card.refresh_from_db()
    assert (card.name, card.notes, card.reorder_level) == ("Bramble card", "kept", 8)
    assert card.waste_share == Decimal("0.05")
    assert [(pack.quantity, pack.price) for pack in card.packs.in_entry_order()] == [
        (10, Decimal("5.5")),
        (50, 20),
    ]


@pytest.mark.parametrize("name", ["material_import", "purchase_import"])
def test_a_reader_may_take_out_and_not_in(
    name: str, workshop: Workshop, visitors: Mapping[str, Client]
) -> None:
    data = csv_of("Name,Counted in", "Card,piece")
    listed = address(name.replace("import", "list"))
    out = {who: c.get(listed, {"format": "csv"}).status_code for who, c in visitors.items()}
    assert out == {"owner": 200, "helper": 200, "reader": 200, "stranger": 404, "nobody": 302}
    get = {who: c.get(address(name)).status_code for who, c in visitors.items()}
    assert get == {"owner": 200, "helper": 200, "reader": 403, "stranger": 404, "nobody": 302}
    sent = {who: send(c, address(name), data).status_code for who, c in visitors.items()}
    assert (sent["reader"], sent["stranger"], sent["nobody"]) == (403, 404, 302)
    assert "Import from a file" not in text_of(visitors["reader"].get(listed))


def test_a_preview_of_one_workshop_is_no_good_in_another(
    client: Client, workshop: Workshop, empty: Workshop
) -> None:
    preview = send(client, address("material_import"), csv_of("Name,Counted in", "Card,piece"))
    answer = confirm(client, address("material_import", "empty"), preview)
    assert answer.status_code == 422
    assert confirm(client, address("purchase_import"), preview).status_code == 422
    changed = client.post(address("material_import"), {"upload": "made:up:by-hand"})
    assert "Choose the file again." in text_of(changed)
    assert not Material.objects.exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "The file is empty."),
        (b"Name,Name\nx,y", "Two columns are headed “Name”"),
        (b"Name\n", "There are no rows under the headings."),
        (b"Name\nx\x00y", "This isn't a CSV or XLSX file."),
        (b"\x89PNG\r\n\x1a\n\x00", "This isn't a CSV or XLSX file."),
        (b"PK\x03\x04rubbish", "an XLSX workbook, or it is damaged"),
        (b"Name,Notes\nx," + b"y" * 4_000_000, "longer than 20000 characters"),
        (b"Name\n" + b"x" * 6_000_000, "larger than 5 MB"),
        (b"Name\n" + b"x\n" * 20_001, "more than 20,000 rows"),
    ],
    ids=["empty", "doubled", "bare", "NUL", "picture", "zip", "cell", "large", "long"],
)
def test_a_file_that_is_no_list_is_refused_with_its_reason(
    data: bytes, words: str, client: Client, workshop: Workshop
) -> None:
    answer = send(client, address("material_import"), data)
    assert answer.status_code == 422
    assert words in text_of(answer)


def test_movements_of_a_material_are_one_file(
    client: Client, workshop: Workshop, card: Material, visitors: Mapping[str, Client]
) -> None:
    receipt = make_receipt(workshop, (card, "10", "5.00"))
    reverse_purchase(purchase=receipt)
    make_receipt(workshop, (card, "4", "1.00"))
    where = address("stock_export", "marlow", card.pk)
    table = as_table(exported(client, where, "csv"))
    columns = [
        table.heading.index(name)
        for name in ("Movement", "Change, sheets", "Value after", "Counts")
    ]
    assert [tuple(row[place] for place in columns) for row in table.rows] == [
        ("bought", "10", "0.00", "no"),
        ("entry undone", "-10", "0.00", "no"),
        ("bought", "4", "1.00", "yes"),
    ]
    found = {who: c.get(where, {"format": "csv"}).status_code for who, c in visitors.items()}
    assert found == {"owner": 200, "helper": 200, "reader": 200, "stranger": 404, "nobody": 302}
    assert client.get(where)["Location"].endswith(f"/materials/{card.pk}/#stock")
