"""Keeps pictures and PDFs in the storage, by content, and lets go of those nothing speaks of."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import IO, TYPE_CHECKING

from django.core.files.base import ContentFile
from django.core.files.storage import Storage, storages
from django.db import models
from django.utils import timezone

from maker.files.cleaning import clean_picture
from maker.files.models import StoredPdf, StoredPicture, place_of

if TYPE_CHECKING:
    from maker.workshop.models import Workshop

# a picture no row speaks of may be one whose row is being written
LEFT_ALONE = timedelta(days=1)


def storage() -> Storage:
    """Return where pictures lie: a folder of the data, or what the settings name."""
    return storages["files"]


def keep_picture(*, workshop: "Workshop", data: bytes) -> StoredPicture:
    """Store what was uploaded, drawn anew; the same picture is stored once. Refused: NotAPicture.

    The file comes before its row: killed between, it is swept away a day later.
    """
    clean = clean_picture(data)
    digest = hashlib.sha256(clean.data).hexdigest()
    put(digest, clean.data)
    row, _ = StoredPicture.objects.get_or_create(
        workshop=workshop,
        digest=digest,
        defaults={"width": clean.width, "height": clean.height, "size": len(clean.data)},
    )
    return row


def keep_pdf(*, workshop: "Workshop", data: bytes) -> StoredPdf:
    """Store a PDF as it was sent; the same one is stored once. Refused: NotAPdf."""
    # pypdf is read only where somebody sends a PDF
    from maker.files.pdf_checking import check_pdf

    pages = check_pdf(data)
    digest = hashlib.sha256(data).hexdigest()
    put(digest, data, "pdf")
    row, _ = StoredPdf.objects.get_or_create(
        workshop=workshop, digest=digest, defaults={"pages": pages, "size": len(data)}
    )
    return row


def put(digest: str, data: bytes, ending: str = "jpg") -> None:
    """Write bytes under their digest, unless they are there."""
    place = place_of(digest, ending)
    if not storage().exists(place):
        storage().save(place, ContentFile(data))


def read(digest: str, ending: str = "jpg") -> bytes:
    """Return the bytes under a digest. Errors: FileNotFoundError."""
    with storage().open(place_of(digest, ending)) as file:
        data: bytes = file.read()
        return data


@contextmanager
def opened(digest: str, ending: str = "jpg") -> Iterator[IO[bytes]]:
    """Open the bytes under a digest to read a piece at a time. Errors: FileNotFoundError."""
    with storage().open(place_of(digest, ending)) as file:
        yield file


def path_or_copy(digest: str, folder: Path, ending: str = "jpg") -> Path | None:
    """Return where the file of a digest lies on this machine, copied there if it must be.

    None when the storage does not have it.
    """
    place = place_of(digest, ending)
    if not storage().exists(place):
        return None
    try:
        return Path(storage().path(place))
    except NotImplementedError:
        copy = folder / f"{digest}.{ending}"
        copy.write_bytes(read(digest, ending))
        return copy


def sweep() -> None:
    """Delete rows nothing speaks of for a day, and then stored files without a row."""
    kept = set()
    for model, ending in ((StoredPicture, "jpg"), (StoredPdf, "pdf")):
        _forget_unused(model)
        kept |= {f"{digest}.{ending}" for digest in model.objects.values_list("digest", flat=True)}
    files = storage()
    if not files.exists(""):
        return
    folders, _ = files.listdir("")
    for folder in folders:
        for name in files.listdir(folder)[1]:
            place = f"{folder}/{name}"
            is_old = files.get_modified_time(place) < timezone.now() - LEFT_ALONE
            if is_old and name not in kept:
                files.delete(place)


def _forget_unused(model: type[StoredPicture] | type[StoredPdf]) -> None:
    """Delete rows that no row of another table points to: what they belonged to let go of them."""
    unused = model._default_manager.filter(added_at__lt=timezone.now() - LEFT_ALONE)
    for way in model._meta.get_fields(include_hidden=True):
        if isinstance(way, models.ManyToOneRel):
            rows = way.related_model._default_manager
            unused = unused.exclude(
                models.Exists(rows.filter(**{way.field.name: models.OuterRef("pk")}))
            )
    unused.delete()
