"""Uploaded pictures go out and come in beside a workshop file, in a zip."""

import datetime
import json
import zipfile
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from catalogue.designs.models import DesignPhoto
from catalogue.designs.photos import add_photo
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.materials.services import set_picture
from catalogue.receipt_files.models import ReceiptFile
from catalogue.receipt_files.services import add_file, remove_file
from maker.calc.strict_json import WrongJson
from maker.files.models import StoredPdf, StoredPicture
from maker.files.services import read
from maker.workshop.models import Workshop
from pricing.workshop_file.pictures import (
    import_with_pictures,
    taken_apart,
    with_pictures,
)
from pricing.workshop_file.services import document_text, export_workshop
from tests import factories
from tests.catalogue.receipts import make_receipt
from tests.receipt_papers import HOSTILE, pdf


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    files = settings.STORAGES["files"]
    options = {**files["OPTIONS"], "location": str(tmp_path / "files")}
    settings.STORAGES = {**settings.STORAGES, "files": {**files, "OPTIONS": options}}


def picture(colour):
    written = BytesIO()
    Image.new("RGB", (60, 40), colour).save(written, "PNG")
    return written.getvalue()


@pytest.fixture
def shop(db):
    workshop = factories.make_workshop(name="Finch Paper")
    material = factories.make_material(workshop, name="Fern card")
    set_picture(material=material, data=picture("green"), width_mm=None)
    design = factories.make_design(workshop, name="Wren box")
    add_photo(design=design, data=picture("red"), words="On a shelf")
    return workshop


def zipped(shop):
    return with_pictures(shop, document_text(export_workshop(shop)))


def changed(data, **parts):
    """The zip with some of its parts changed, or taken away (None)."""
    written = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(written, "w") as new:
        for name in old.namelist():
            if name not in parts:
                new.writestr(name, old.read(name))
        for name, content in parts.items():
            if content is not None:
                new.writestr(name, content)
    return written.getvalue()


def test_pictures_come_back_to_what_they_belong_to(shop):
    made = brought_in(zipped(shop))
    material = Material.objects.of(made).get(name="Fern card")
    photo = DesignPhoto.objects.get(design__workshop=made)
    assert material.picture.workshop == photo.picture.workshop == made
    assert (photo.design.name, photo.words) == ("Wren box", "On a shelf")
    assert StoredPicture.objects.of(made).count() == 2


def test_photos_and_pdfs_of_receipts_and_expenses_come_back_to_theirs(shop):
    """The second receipt and the second expense have them; what was removed stays behind."""
    material = Material.objects.get(workshop=shop)
    for day in (3, 4):
        make_receipt(shop, (material, "10", "4"), bought_on=datetime.date(2026, 1, day))
        expense = Expense.objects.create(
            workshop=shop, what=f"Van {day}", paid_on=datetime.date(2026, 1, day), net=5, cost=5
        )
    receipt = shop.purchases.get(bought_on="2026-01-04")
    add_file(owner=receipt, form_key=None, data=picture("blue"), name="till.png")
    add_file(owner=receipt, form_key=None, data=pdf(2), name="invoice.pdf")
    gone = add_file(owner=receipt, form_key=None, data=pdf(3), name="gone.pdf")
    remove_file(row=gone)
    add_file(owner=expense, form_key=None, data=pdf(2), name="van.pdf")
    made = brought_in(zipped(shop))
    rows = ReceiptFile.objects.of(made).in_order()
    assert [(row.name, row.ending, row.purchase and row.purchase.bought_on.day,
             row.expense and row.expense.what) for row in rows] == [
        ("till.png", "jpg", 4, None), ("invoice.pdf", "pdf", 4, None),
        ("van.pdf", "pdf", None, "Van 4")]  # fmt: skip
    (stored,) = StoredPdf.objects.of(made)
    assert read(stored.digest, "pdf") == pdf(2)
    # the file of before there were such
    older = changed(zipped(shop), **{"pictures.json": json.dumps({"materials": [], "designs": []})})
    assert not ReceiptFile.objects.of(brought_in(older, name="Older")).exists()


@pytest.mark.parametrize(
    ("row", "where"),
    [({"receipt": 1, "pdf": "x", "name": ""}, "receipts[0].receipt"),
     ({"expense": 0, "pdf": "x", "name": ""}, "receipts[0].expense"),
     ({"receipt": 1}, "receipts[0]")],
)  # fmt: skip
def test_a_photo_of_no_receipt_is_refused_with_its_place(shop, row, where):
    said = json.dumps({"materials": [], "designs": [], "receipts": [row]})
    with pytest.raises(WrongJson) as refused:
        brought_in(changed(zipped(shop), **{"pictures.json": said}))
    assert where in refused.value.where


def test_a_pdf_with_a_script_in_a_zip_of_somebody_else_is_refused(shop):
    make_receipt(shop, (Material.objects.get(workshop=shop), "10", "4"))
    digest = "0" * 64
    said = json.dumps({"materials": [], "designs": [],
                       "receipts": [{"receipt": 1, "pdf": digest, "name": "a.pdf"}]})  # fmt: skip
    parts = {"pictures.json": said, f"pdfs/{digest}.pdf": HOSTILE["a script on opening"]}
    with pytest.raises(WrongJson, match="script"):
        brought_in(changed(zipped(shop), **parts))


def test_without_pictures_there_is_no_zip(db):
    assert zipped(factories.make_workshop()) is None


def test_the_json_in_it_is_read_alone_as_before(shop):
    content, _ = taken_apart(zipped(shop))
    assert taken_apart(content) == (content, None)
    assert content.decode() == document_text(export_workshop(shop))


def whose(material):
    row = {"material": material, "picture": "x", "width_mm": None}
    return json.dumps({"materials": [row], "designs": []})


def brought_in(data, name="Copy"):
    content, beside = taken_apart(data)
    return import_with_pictures(json.loads(content), beside, name=name, owner=None)


@pytest.mark.parametrize(
    "parts",
    [
        {"workshop.json": None},
        {"pictures.json": None},
        {"../evil.py": "x"},
        {"pictures/../../evil.jpg": "x"},
        {"pictures.json": "{"},
        {"pictures.json": "[]"},
        {"pictures.json": '{"materials": [], "designs": [], "more": 1}'},
        {"pictures.json": whose("No card")},
        {"pictures.json": whose("Fern card")},
    ],
)  # fmt: skip
def test_what_is_no_zip_of_ours_changes_nothing(shop, parts):
    before = Workshop.objects.count()
    data = changed(zipped(shop), **parts)
    with pytest.raises(WrongJson):
        brought_in(data)
    assert Workshop.objects.count() == before


def test_a_picture_that_is_none_is_refused_with_its_place(shop):
    data = zipped(shop)
    with zipfile.ZipFile(BytesIO(data)) as archive:
        names = [name for name in archive.namelist() if name.startswith("pictures/")]
    content, beside = taken_apart(changed(data, **dict.fromkeys(names, "<script>")))
    with pytest.raises(WrongJson) as refused:
        import_with_pictures(json.loads(content), beside, name="Copy", owner=None)
    assert "materials[0]" in refused.value.where


def test_a_damaged_zip_is_refused(shop):
    data = zipped(shop)
    for broken in (
        data[: len(data) // 2],
        b"PK\x03\x04",
        data.replace(b"workshop.json", b"workshop.jsom", 1),
    ):
        with pytest.raises(WrongJson):
            taken_apart(broken)


def test_in_a_browser_it_goes_out_and_comes_in(client, shop):
    client.force_login(factories.make_member(shop, "owner"))
    answer = client.get(reverse("pricing:workshop_export", args=[shop.slug]))
    assert answer["Content-Type"] == "application/zip"
    assert ".zip" in answer["Content-Disposition"]
    sent = SimpleUploadedFile("finch.zip", answer.content)
    came = client.post(reverse("pricing:workshop_import"), {"file": sent, "name": "Copy"})
    assert came.status_code == 302
    assert StoredPicture.objects.of(Workshop.objects.get(name="Copy")).count() == 2
