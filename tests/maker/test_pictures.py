"""Uploaded pictures: known by content, drawn anew, refused when hostile, seen by who may."""

import hashlib
import struct
import zlib
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from catalogue.designs.models import DesignPhoto
from catalogue.materials.services import set_picture
from maker.backup import services
from maker.backup.archive import Facts, write_archive
from maker.files.cleaning import LONGEST_SIDE, MOST_BYTES, NotAPicture, clean_picture
from maker.files.models import StoredPicture
from maker.files.services import keep_picture, read, sweep
from tests import factories


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    files = settings.STORAGES["files"]
    options = {**files["OPTIONS"], "location": str(tmp_path / "files")}
    settings.STORAGES = {**settings.STORAGES, "files": {**files, "OPTIONS": options}}
    return tmp_path / "files"


def picture(form="JPEG", size=(60, 40), colour="red", **options):
    written = BytesIO()
    Image.new("RGB", size, colour).save(written, form, **options)
    return written.getvalue()


def photo_with_place():
    exif = Image.Exif()
    exif[0x010F] = "Finch & Fern cameras"
    exif[0x0112] = 6  # lies on its side
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 26.0)  # where it was taken
    return picture(exif=exif)


def png_that_says(width, height):
    """A PNG of a few bytes whose head says it is huge (PNG specification, 11.2.2 IHDR)."""

    def part(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", rows) + part(b"IEND", b"")


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_what_cameras_and_scanners_give_becomes_a_jpeg_of_ours(form):
    clean = clean_picture(picture(form))
    with Image.open(BytesIO(clean.data)) as image:
        assert (image.format, image.size) == ("JPEG", (60, 40))
        red, green, blue = image.getpixel((30, 20))
    assert red > 240
    assert max(green, blue) < 20


def test_where_and_by_what_it_was_taken_is_gone_and_it_stands_upright():
    sent = photo_with_place()
    assert b"Finch" in sent
    clean = clean_picture(sent)
    assert (clean.width, clean.height) == (40, 60)
    assert b"Finch" not in clean.data
    with Image.open(BytesIO(clean.data)) as image:
        assert not image.getexif()


def test_what_stands_behind_a_picture_is_gone():
    assert b"<script" not in clean_picture(picture() + b"<script>alert(1)</script>").data


def test_a_large_one_is_made_smaller():
    clean = clean_picture(picture(size=(4000, 1000)))
    assert (clean.width, clean.height) == (LONGEST_SIDE, LONGEST_SIDE // 4)


def test_what_is_see_through_lies_on_white():
    written = BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(written, "PNG")
    with Image.open(BytesIO(clean_picture(written.getvalue()).data)) as image:
        assert image.getpixel((4, 4)) == (255, 255, 255)


HOSTILE = {
    "nothing": b"",
    "text": b"not a picture at all",
    "a page": b"<html><script>alert(1)</script></html>",
    "a drawing": b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "half a picture": picture(size=(400, 400))[:200],
    "a head alone": picture("PNG")[:20],
    "a GIF": picture("GIF"),
    "a TIFF": picture("TIFF"),
    "a PDF": b"%PDF-1.7\n1 0 obj\n<<>>\nendobj",
    "a PostScript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n",
    "40 thousand a side": png_that_says(40_000, 40_000),
    "just above 40 million": png_that_says(8_000, 5_001),
    "two thousand million": png_that_says(2_000_000_000, 1),
    "13 MB": b"\xff\xd8\xff" + b"\0" * (MOST_BYTES + 1),
}


@pytest.mark.parametrize("sent", HOSTILE.values(), ids=HOSTILE)
def test_what_is_no_picture_or_too_large_is_refused_in_words(sent):
    with pytest.raises(NotAPicture) as refused:
        clean_picture(sent)
    assert "picture" in refused.value.message


@pytest.mark.django_db
def test_the_same_picture_is_stored_once(folder):
    workshop = factories.make_workshop()
    first = keep_picture(workshop=workshop, data=picture())
    assert keep_picture(workshop=workshop, data=picture()) == first
    assert len([path for path in folder.rglob("*") if path.is_file()]) == 1
    assert hashlib.sha256(read(first.digest)).hexdigest() == first.digest
    (path,) = (path for path in folder.rglob("*.jpg"))
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.django_db
def test_what_no_row_speaks_of_is_swept_away_a_day_later(folder, monkeypatch):
    workshop = factories.make_workshop()
    kept = keep_picture(workshop=workshop, data=picture())
    set_picture(material=factories.make_material(workshop), data=picture(), width_mm=None)
    gone = keep_picture(workshop=workshop, data=picture(colour="blue"))
    gone.delete()
    sweep()
    assert len(list(folder.rglob("*.jpg"))) == 2
    monkeypatch.setattr("maker.files.services.LEFT_ALONE", timedelta(days=-1))
    sweep()
    assert [path.stem for path in folder.rglob("*.jpg")] == [kept.digest]


@pytest.fixture
def shop(db):
    return factories.make_workshop()


def test_a_picture_is_shown_to_members_alone_with_a_fixed_type(client, shop):
    row = keep_picture(workshop=shop, data=picture())
    place = reverse("maker:picture", args=[shop.slug, row.pk])
    assert Client().get(place).status_code == 302
    client.force_login(factories.make_member(shop, "reader"))
    answer = client.get(place)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]
    assert "private" in answer["Cache-Control"]
    other = factories.make_workshop()
    client.force_login(factories.make_member(other, "owner"))
    assert client.get(place).status_code == 404
    assert client.get(reverse("maker:picture", args=[other.slug, row.pk])).status_code == 404


def test_a_card_gets_her_photo_and_loses_it(client, shop):
    client.force_login(factories.make_member(shop, "owner"))
    material = factories.make_material(shop)
    place = reverse("catalogue:material_picture", args=[shop.slug, material.pk])
    sent = SimpleUploadedFile("card.png", picture("PNG"), content_type="text/html")
    assert client.post(place, {"file": sent, "width_mm": "150 mm"}).status_code == 302
    material.refresh_from_db()
    assert material.picture_width_mm == 150
    address = reverse("maker:picture", args=[shop.slug, material.picture_id])
    assert address in client.get(place).content.decode()
    remove = reverse("catalogue:material_picture_remove", args=[shop.slug, material.pk])
    client.post(remove)
    material.refresh_from_db()
    assert material.picture is None


def test_a_bad_upload_is_said_on_the_page(client, shop):
    client.force_login(factories.make_member(shop, "owner"))
    material = factories.make_material(shop)
    place = reverse("catalogue:material_picture", args=[shop.slug, material.pk])
    for sent in ({}, {"file": SimpleUploadedFile("card.jpg", b"<script>")}):
        answer = client.post(place, sent)
        assert answer.status_code == 422
    assert "This is not a picture" in answer.content.decode()
    assert not StoredPicture.objects.exists()


def test_photos_of_a_design_are_kept_shown_and_removed(client, shop):
    client.force_login(factories.make_member(shop, "owner"))
    design = factories.make_design(shop)
    place = reverse("catalogue:design_photos", args=[shop.slug, design.pk])
    for colour in ("red", "red", "green"):
        sent = SimpleUploadedFile("a.jpg", picture(colour=colour))
        assert client.post(place, {"file": sent, "words": "On a shelf <b>"}).status_code == 302
    photos = list(DesignPhoto.objects.filter(design=design))
    assert len(photos) == 2
    page = client.get(reverse("catalogue:design", args=[shop.slug, design.pk])).content.decode()
    assert page.count("<img") >= 2
    assert "On a shelf &lt;b&gt;" in page
    remove = reverse("catalogue:design_photo_remove", args=[shop.slug, design.pk, photos[0].pk])
    for _ in range(2):
        assert client.post(remove).status_code == 302
    assert design.photos.count() == 1


def test_a_seventh_photo_is_refused(client, shop):
    client.force_login(factories.make_member(shop, "owner"))
    design = factories.make_design(shop)
    place = reverse("catalogue:design_photos", args=[shop.slug, design.pk])
    for at in range(7):
        sent = SimpleUploadedFile("a.jpg", picture(colour=(at * 30, 0, 0)))
        answer = client.post(place, {"file": sent})
    assert answer.status_code == 422
    assert design.photos.count() == 6


@pytest.mark.django_db
def test_a_backup_holds_each_picture_and_gives_it_back(folder, shop, tmp_path):
    """What is copied and put back; the database's own way is tried with the other backups."""
    kept = keep_picture(workshop=shop, data=picture())
    missing = keep_picture(workshop=shop, data=picture(colour="blue"))
    (folder / missing.place).unlink()
    stage = tmp_path / "stage"
    stage.mkdir()
    members = services._files(stage)
    assert list(members) == [f"pictures/{kept.digest}.jpg"]
    facts = Facts("1", timezone.now(), "test", "sqlite", ())
    archive = tmp_path / "copy.zip"
    write_archive(archive, facts, members)
    data = read(kept.digest)
    (folder / kept.place).unlink()
    services._put_files_back(archive, stage)
    assert read(kept.digest) == data
    assert not list(stage.iterdir())
