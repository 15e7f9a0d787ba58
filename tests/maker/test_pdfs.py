"""Uploaded PDFs: known by content, kept byte for byte, refused when something in them runs."""

import hashlib
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from maker.backup import services
from maker.backup.archive import Facts, write_archive
from maker.calc.refusal import Refusal
from maker.files.models import StoredPdf, StoredPicture
from maker.files.pdf_checking import NotAPdf, check_pdf
from maker.files.services import keep_pdf, keep_picture, read, sweep
from tests import factories, receipt_papers


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    files = settings.STORAGES["files"]
    options = {**files["OPTIONS"], "location": str(tmp_path / "files")}
    settings.STORAGES = {**settings.STORAGES, "files": {**files, "OPTIONS": options}}
    return tmp_path / "files"


GOOD = {
    "plain": receipt_papers.pdf(3),
    "packed": receipt_papers.pdf(3, linearize=True),
    "an e-invoice's data in it": receipt_papers.pdf(
        3, receipt_papers.with_attached("factur-x.xml")
    ),
    "blanks behind": receipt_papers.pdf(3) + b"\r\n\0\n",
}


@pytest.mark.parametrize("sent", GOOD.values(), ids=GOOD)
def test_what_suppliers_send_is_taken(sent):
    assert check_pdf(sent) == 3


def test_one_that_opens_without_a_password_is_taken():
    assert check_pdf(receipt_papers.locked_pdf("")) == 1


@pytest.mark.parametrize("sent", receipt_papers.HOSTILE.values(), ids=receipt_papers.HOSTILE)
def test_what_runs_or_is_no_pdf_is_refused_in_words(sent):
    with pytest.raises(NotAPdf) as refused:
        check_pdf(sent)
    assert refused.value.message.endswith(".")


def test_each_part_cut_off_is_refused_and_never_a_fault():
    """Every length of a good one: what a broken connection leaves."""
    whole = receipt_papers.pdf(2)
    for length in range(0, len(whole) - 8, 7):
        with pytest.raises(Refusal):
            check_pdf(whole[:length])


@pytest.mark.django_db
def test_it_is_kept_as_sent_once_and_given_back_from_a_backup(folder, tmp_path):
    shop = factories.make_workshop()
    sent = receipt_papers.pdf(2)
    row = keep_pdf(workshop=shop, data=sent)
    assert keep_pdf(workshop=shop, data=sent) == row
    assert (row.digest, row.pages) == (hashlib.sha256(sent).hexdigest(), 2)
    stage = tmp_path / "stage"
    stage.mkdir()
    members = services._files(stage)
    assert list(members) == [f"pdfs/{row.digest}.pdf"]
    archive = tmp_path / "copy.zip"
    write_archive(archive, Facts("1", timezone.now(), "test", "sqlite", ()), members)
    (folder / row.place).unlink()
    services._put_files_back(archive, stage)
    assert read(row.digest, "pdf") == sent


@pytest.mark.django_db
def test_it_is_given_to_members_alone_to_save_and_runs_nothing(client, folder):
    shop, other = factories.make_workshop(), factories.make_workshop(slug="other", name="Other")
    row = keep_pdf(workshop=shop, data=receipt_papers.pdf())
    viewer = factories.make_member(shop, "reader")
    stranger = factories.make_member(other, "owner")
    place = reverse("maker:pdf", args=[shop.slug, row.pk])
    assert Client().get(place).status_code == 302
    client.force_login(stranger)
    assert client.get(place).status_code == 404
    assert client.get(reverse("maker:pdf", args=[other.slug, row.pk])).status_code == 404
    client.force_login(viewer)
    answer = client.get(place)
    assert answer.content == receipt_papers.pdf()
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
    (folder / row.place).unlink()
    assert client.get(place).status_code == 404


@pytest.mark.django_db
def test_what_no_row_speaks_of_goes_a_day_later_and_what_one_shows_stays(folder, monkeypatch):
    shop = factories.make_workshop()
    keep_pdf(workshop=shop, data=receipt_papers.pdf())
    keep_picture(workshop=shop, data=receipt_papers.photo())
    shown = keep_picture(workshop=shop, data=receipt_papers.photo("blue"))
    material = factories.make_material(shop)
    type(material).objects.filter(pk=material.pk).update(picture=shown)
    sweep()
    assert (StoredPdf.objects.count(), StoredPicture.objects.count()) == (1, 2)
    monkeypatch.setattr("maker.files.services.LEFT_ALONE", timedelta(days=-1))
    sweep()
    assert not StoredPdf.objects.exists()
    assert StoredPicture.objects.get() == shown
    assert [path.suffix for path in folder.rglob("*.*")] == [".jpg"]
