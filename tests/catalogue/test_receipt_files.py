"""Photos and PDFs of receipts and expenses: at entry and later, refused, removed and back."""

import datetime
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.utils import timezone

from catalogue.closed_months.models import ClosedMonth
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.receipt_files import services
from catalogue.receipt_files.models import ReceiptFile
from catalogue.receipt_files.services import MOST_FILES, add_file, forget_old
from catalogue.suppliers.models import Supplier
from maker.files.models import StoredPdf, StoredPicture
from maker.files.services import read, sweep
from maker.workshop.models import Workshop
from pricing.workshop_file.removing import remove_workshop
from tests import factories
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_receipt
from tests.receipt_papers import HOSTILE, pdf, photo

NEW = "/w/marlow/receipts/new/"
NEW_EXPENSE = "/w/marlow/expenses/new/"
EXPENSE = {"what": "Van hire", "paid_on": "2026-03-04", "net": "62", "category": "travel",
           "purpose": "shared"}  # fmt: skip


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Any) -> Any:
    files = settings.STORAGES["files"]
    options = {**files["OPTIONS"], "location": str(tmp_path / "files")}
    settings.STORAGES = {**settings.STORAGES, "files": {**files, "OPTIONS": options}}
    return tmp_path / "files"


@pytest.fixture
def typed(client: Client, supplier: Supplier, card: Material) -> dict[str, Any]:
    return fields_of(client.get(NEW)) | {
        "supplier": str(supplier.pk), "bought_on": "2026-05-04", "reference": "A-17",
        "lines-0-what": "Bramble card", "lines-0-bought": "2", "lines-0-amount": "10",
    }  # fmt: skip


@pytest.fixture
def receipt(workshop: Workshop, card: Material) -> Purchase:
    return make_receipt(workshop, (card, "10", "4"))


def sent(*files: tuple[str, bytes]) -> dict[str, Any]:
    return {"papers": [SimpleUploadedFile(name, data) for name, data in files]}


def kept(owner: Any) -> list[tuple[str, str]]:
    rows = owner.files.standing().in_order()
    return [(row.name, row.ending) for row in rows]


def test_photo_and_pdf_are_read_beside_the_entry_and_belong_to_the_receipt(
    client: Client, typed: dict[str, Any]
) -> None:
    """First the photo, with half of the receipt typed; then the rest, with the PDF."""
    half = typed | {"lines-0-amount": ""}
    page = client.post(NEW, half | sent(("till.jpg", photo())) | {"add_files": "1"})
    assert page.status_code == 200
    picture = StoredPicture.objects.get()
    assert f'src="/w/marlow/pictures/{picture.pk}/"' in page.content.decode()
    assert 'value="A-17"' in page.content.decode()
    assert not page.context["form"].errors
    assert "has-error" not in page.content.decode()
    assert not Purchase.objects.exists()
    answer = client.post(NEW, typed | sent(("invoice.pdf", pdf(2))) | {"then": "record"})
    assert answer.status_code == 302
    row = Purchase.objects.get()
    assert (row.state, kept(row)) == ("recorded", [("till.jpg", "jpg"), ("invoice.pdf", "pdf")])
    page = client.get(answer["Location"])
    assert "PDF, 2 pages" in text_of(page)
    assert b"Finch" not in read(picture.digest)


def test_what_was_typed_wrong_keeps_the_photo(client: Client, typed: dict[str, Any]) -> None:
    wrong = client.post(NEW, typed | {"lines-0-amount": "x"} | sent(("till.jpg", photo())))
    assert wrong.status_code == 422
    assert 'alt="till.jpg"' in wrong.content.decode()
    client.post(NEW, typed)
    assert kept(Purchase.objects.get()) == [("till.jpg", "jpg")]


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_file_is_told_and_what_was_typed_is_kept(
    client: Client, typed: dict[str, Any], data: bytes
) -> None:
    files = sent(("good.jpg", photo()), ("receipt.pdf", data))
    answer = client.post(NEW, typed | files | {"then": "record"})
    assert answer.status_code == 200
    page = answer.content.decode()
    (problem,) = answer.context["files_form"].errors["papers"]
    assert problem.startswith("receipt.pdf: ")
    assert 'value="A-17"' in page
    assert 'alt="good.jpg"' in page
    assert not Purchase.objects.exists()
    assert not StoredPdf.objects.exists()


def test_removed_while_entering_and_put_back(client: Client, typed: dict[str, Any]) -> None:
    client.post(NEW, typed | sent(("till.jpg", photo())) | {"add_files": "1"})
    row = ReceiptFile.objects.get()
    page = client.post(NEW, typed | {"remove_file": str(row.pk)}).content.decode()
    assert "Removed: till.jpg" in page
    assert 'alt="till.jpg"' not in page
    page = client.post(NEW, typed | {"put_back_file": str(row.pk)}).content.decode()
    assert 'alt="till.jpg"' in page
    assert not Purchase.objects.exists()


def test_a_second_click_keeps_the_photo_once(client: Client, typed: dict[str, Any]) -> None:
    for _ in range(2):
        client.post(NEW, typed | sent(("till.jpg", photo())))
    row = Purchase.objects.get()
    assert kept(row) == [("till.jpg", "jpg")]
    assert ReceiptFile.objects.count() == 1


def test_added_later_and_removed_with_a_way_back(client: Client, receipt: Purchase) -> None:
    place = f"/w/marlow/receipts/{receipt.pk}/"
    files = sent(("till.jpg", photo()), ("x.pdf", b"MZ"))
    page = text_of(client.post(f"{place}files/", files, follow=True))
    assert "Photo or PDF added." in page
    assert "x.pdf: This is not a photo or PDF" in page
    (row,) = receipt.files.all()
    page = client.post(f"/w/marlow/receipt-files/{row.pk}/remove/", follow=True)
    assert "Removed “till.jpg”." in text_of(page)
    assert kept(receipt) == []
    back = f"/w/marlow/receipt-files/{row.pk}/put-back/"
    assert back in page.content.decode()
    client.post(back)
    assert kept(receipt) == [("till.jpg", "jpg")]
    assert "Choose a photo" in text_of(client.post(f"{place}files/", follow=True))


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("looks", "data"), [("keep_pdf", pdf()), ("keep_picture", photo())], ids=["pdf", "photo"]
)
def test_nobody_waits_while_a_file_is_looked_into(
    receipt: Purchase, looks: str, data: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep, seen = getattr(services, looks), []

    def watched(**given: Any) -> Any:
        seen.append(connection.in_atomic_block)
        return keep(**given)

    monkeypatch.setattr(services, looks, watched)
    add_file(owner=receipt, form_key=None, data=data, name="slip")
    assert seen == [False]
    assert len(kept(receipt)) == 1


def test_no_more_than_ten(client: Client, receipt: Purchase) -> None:
    files = [(f"{at}.jpg", photo(f"#{at * 20:02x}0000")) for at in range(MOST_FILES + 1)]
    page = client.post(f"/w/marlow/receipts/{receipt.pk}/files/", sent(*files), follow=True)
    assert f"Up to {MOST_FILES} are kept." in text_of(page)
    assert len(kept(receipt)) == MOST_FILES


def test_a_receipt_corrected_by_a_copy_has_its_photo(client: Client, receipt: Purchase) -> None:
    add_file(owner=receipt, form_key=None, data=photo(), name="till.jpg")
    client.post(f"/w/marlow/receipts/{receipt.pk}/take-back/")
    copy = f"{NEW}?copy={receipt.pk}"
    page = client.get(copy)
    assert 'alt="till.jpg"' in page.content.decode()
    client.post(copy, fields_of(page) | {"then": "record"})
    row = Purchase.objects.exclude(pk=receipt.pk).get()
    assert kept(row) == kept(receipt) == [("till.jpg", "jpg")]


def test_an_expense_has_them_too_also_when_its_month_is_closed(
    client: Client, workshop: Workshop
) -> None:
    typed = fields_of(client.get(NEW_EXPENSE)) | EXPENSE
    page = client.post(NEW_EXPENSE, typed | sent(("van.pdf", pdf())) | {"add_files": "1"})
    assert "van.pdf" in page.content.decode()
    client.post(NEW_EXPENSE, typed)
    row = Expense.objects.get()
    assert kept(row) == [("van.pdf", "pdf")]
    client.post(f"/w/marlow/expenses/{row.pk}/files/", sent(("van.jpg", photo())))
    ClosedMonth.objects.create(
        workshop=workshop, month=datetime.date(2026, 3, 1), closed_at=timezone.now()
    )
    place = f"/w/marlow/expenses/{row.pk}/edit/"
    assert client.post(place, fields_of(client.get(place)) | {"net": "63"}).status_code == 302
    replaced = Expense.objects.standing().get()
    assert replaced.pk != row.pk
    assert kept(replaced) == [("van.pdf", "pdf"), ("van.jpg", "jpg")]


def test_viewers_read_and_strangers_see_nothing(
    client: Client, reader_client: Client, receipt: Purchase
) -> None:
    add_file(owner=receipt, form_key=None, data=photo(), name="till.jpg")
    (row,) = receipt.files.in_order()
    page = reader_client.get(f"/w/marlow/receipts/{receipt.pk}/").content.decode()
    assert 'alt="till.jpg"' in page
    assert 'type="file"' not in page
    for place in (f"receipts/{receipt.pk}/files/", f"receipt-files/{row.pk}/remove/"):
        assert reader_client.post(f"/w/marlow/{place}").status_code == 403
    other = factories.make_workshop(slug="other", name="Other")
    stranger = Client()
    stranger.force_login(factories.make_member(other, "owner"))
    for slug in ("marlow", "other"):
        for place in (f"receipts/{receipt.pk}/files/", f"receipt-files/{row.pk}/put-back/"):
            assert stranger.post(f"/w/{slug}/{place}", sent(("a.jpg", photo()))).status_code == 404
    # nor with the key of somebody else's entry page
    client.post(NEW, {"form_key": (key := "7b0c7b2e-8a3d-4f0e-9d64-2f6d1c1c7a11"), "add_files": "1"}
                | sent(("mine.jpg", photo("blue"))))  # fmt: skip
    page = stranger.post("/w/other/receipts/new/", {"form_key": key, "add_files": "1"})
    assert "mine.jpg" not in page.content.decode()


def test_pages_left_and_what_was_removed_are_forgotten(
    client: Client, receipt: Purchase, monkeypatch: pytest.MonkeyPatch, folder: Any
) -> None:
    key = {"form_key": "7b0c7b2e-8a3d-4f0e-9d64-2f6d1c1c7a11", "add_files": "1"}
    client.post(NEW, key | sent(("left.jpg", photo("blue"))))
    add_file(owner=receipt, form_key=None, data=photo(), name="till.jpg")
    gone = add_file(owner=receipt, form_key=None, data=pdf(), name="gone.pdf")
    client.post(f"/w/marlow/receipt-files/{gone.pk}/remove/")
    forget_old()
    assert ReceiptFile.objects.count() == 3
    for name in ("receipt_files.services.LEFT_OPEN", "receipt_files.services.REMOVED"):
        monkeypatch.setattr(f"catalogue.{name}", timedelta(days=-1))
    monkeypatch.setattr("maker.files.services.LEFT_ALONE", timedelta(days=-1))
    forget_old()
    sweep()
    assert kept(receipt) == [("till.jpg", "jpg")]
    assert len(list(folder.rglob("*.*"))) == 1


def test_they_go_with_the_workshop(workshop: Workshop, receipt: Purchase) -> None:
    add_file(owner=receipt, form_key=None, data=photo(), name="till.jpg")
    add_file(owner=receipt, form_key=None, data=pdf(), name="till.pdf")
    workshop.is_demo = True
    workshop.save()
    remove_workshop(workshop=workshop)
    assert not ReceiptFile.objects.exists()
    assert not StoredPdf.objects.exists()


def test_more_photos_cost_no_more_queries(
    client: Client, receipt: Purchase, count_queries: Any
) -> None:
    place = f"/w/marlow/receipts/{receipt.pk}/"
    add_file(owner=receipt, form_key=None, data=photo(), name="1.jpg")
    client.get(place)
    with count_queries() as few:
        client.get(place)
    for colour in ("blue", "green", "white"):
        add_file(owner=receipt, form_key=None, data=photo(colour), name="2.jpg")
    with count_queries() as more:
        client.get(place)
    assert len(more) == len(few)
