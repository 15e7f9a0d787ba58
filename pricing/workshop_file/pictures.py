"""Uploaded pictures and PDFs beside a workshop file: a zip of the file, them, and whose they are.

    workshop.json            the workshop file, as it is without them
    pictures.json            {"materials": [{"material", "picture", "width_mm"}],
                              "designs": [{"design", "picture", "words"}],
                              "receipts": [{"receipt" or "expense": its place in the workshop
                                            file, from 1; "picture" or "pdf", "name"}]}
    pictures/<digest>.jpg    each once
    pdfs/<digest>.pdf        each once

What comes in is looked at like any upload: a zip of somebody else brings nothing but pixels, and
PDFs in which nothing runs.
"""

import json
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from django.db import transaction

from catalogue.designs.models import Design, DesignPhoto
from catalogue.designs.photos import MOST_PHOTOS
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.receipt_files.models import ReceiptFile
from catalogue.receipt_files.services import add_file
from maker.accounts.models import User
from maker.calc.explanation import plain_text
from maker.calc.refusal import Refusal
from maker.calc.strict_json import (
    LARGEST_FILE,
    Fields,
    WrongJson,
    decimal,
    or_none,
    parse,
    text,
    whole,
)
from maker.files.cleaning import MOST_BYTES, NotAPicture
from maker.files.models import StoredPicture
from maker.files.services import keep_picture, read
from maker.workshop.models import Workshop
from pricing.workshop_file.services import import_workshop

JSON, WHOSE = "workshop.json", "pictures.json"
STORED = re.compile(r"(?:pictures|pdfs)/([0-9a-f]{64}\.(?:jpg|pdf))", re.ASCII)
FOLDERS = {"jpg": "pictures", "pdf": "pdfs"}
MOST_FILES = 10_000
LARGEST_ZIP = 500 * 1024 * 1024
UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    RuntimeError,
    NotImplementedError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class Beside:
    """What lay beside a workshop file: whose each file is, and the bytes by digest and ending."""

    whose: Any
    files: Mapping[str, bytes]


def is_zip(data: bytes) -> bool:
    """Whether it begins as a zip does (APPNOTE 4.3.7)."""
    return data.startswith(b"PK\x03\x04")


def with_pictures(workshop: Workshop, content: str) -> bytes | None:
    """Return the zip of a workshop file, its pictures and PDFs; None when there are none.

    One whose file is missing is left out.
    """
    materials = Material.objects.of(workshop).filter(picture__isnull=False).order_by("pk")
    photos = DesignPhoto.objects.filter(design__workshop=workshop).order_by("pk")
    whose: dict[str, list[dict[str, Any]]] = {
        "materials": [
            {
                "material": row.name,
                "picture": row.picture.digest if row.picture else "",
                "width_mm": plain_text(row.picture_width_mm) if row.picture_width_mm else None,
            }
            for row in materials.select_related("picture")
        ],
        "designs": [
            {"design": row.design.name, "picture": row.picture.digest, "words": row.words}
            for row in photos.select_related("design", "picture")
        ],
        "receipts": _receipt_values(workshop),
    }
    found: set[str] = set()
    written = BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(JSON, content)
        for name in sorted({_file_of(one) for rows in whose.values() for one in rows}):
            digest, _, ending = name.partition(".")
            try:
                data = read(digest, ending)
            except FileNotFoundError:
                continue
            archive.writestr(f"{FOLDERS[ending]}/{name}", data, zipfile.ZIP_STORED)
            found.add(name)
        for key, rows in whose.items():
            whose[key] = [one for one in rows if _file_of(one) in found]
        archive.writestr(WHOSE, json.dumps(whose, ensure_ascii=False, indent=1))
    return written.getvalue() if found else None


def _file_of(values: Mapping[str, Any]) -> str:
    return f"{values['pdf']}.pdf" if "pdf" in values else f"{values['picture']}.jpg"


def _receipt_values(workshop: Workshop) -> list[dict[str, Any]]:
    """Return whose each photo or PDF of a receipt or expense is (three queries)."""
    rows = ReceiptFile.objects.of(workshop).standing().in_order()
    rows = rows.exclude(purchase__isnull=True, expense__isnull=True)
    places = {
        "receipt": _places(Purchase.objects.of(workshop)),
        "expense": _places(Expense.objects.of(workshop)),
    }
    return [
        {
            **(
                {"receipt": places["receipt"][row.purchase_id]}
                if row.purchase_id
                else {"expense": places["expense"][row.expense_id]}
            ),
            "pdf" if row.pdf_id else "picture": row.stored.digest,
            "name": row.name,
        }
        for row in rows
    ]


def _places(rows: Any) -> dict[int | None, int]:
    """Return at which place of its list in the workshop file each row is, from 1."""
    return {pk: at for at, pk in enumerate(rows.order_by("pk").values_list("pk", flat=True), 1)}


def taken_apart(data: bytes) -> tuple[bytes, Beside | None]:
    """Return a workshop file, and what lay beside it if it is a zip. Refused: WrongJson.

    Each part is measured while it is unpacked; a name that is not ours is refused.
    """
    if not is_zip(data):
        return data, None
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            names = archive.namelist()
            known = (JSON, WHOSE)
            strange = [name for name in names if name not in known and not STORED.fullmatch(name)]
            if strange or len(names) != len(set(names)) or len(names) > MOST_FILES:
                raise _no_file_of_ours()
            if not {JSON, WHOSE} <= set(names):
                raise _no_file_of_ours()
            content = _unpacked(archive, JSON, LARGEST_FILE)
            whose = parse(_unpacked(archive, WHOSE, LARGEST_FILE))
            files = {
                match[1]: _unpacked(archive, name, MOST_BYTES)
                for name in names
                if (match := STORED.fullmatch(name))
            }
    except UNREADABLE as error:
        raise _no_file_of_ours() from error
    return content, Beside(whose, files)


def _unpacked(archive: zipfile.ZipFile, name: str, most: int) -> bytes:
    with archive.open(name) as part:
        data = part.read(most + 1)
    if len(data) > most:
        raise WrongJson(f"It is larger than {most // 1024 // 1024} MB.", where=name)
    return data


def _no_file_of_ours() -> WrongJson:
    return WrongJson(
        "This zip isn't a workshop file, or it is damaged. Export the workshop again.", where="file"
    )


@transaction.atomic
def put_beside(workshop: Workshop, beside: Beside) -> None:
    """Give a workshop that came in its pictures. Refused: WrongJson, NotAPicture."""
    kept: dict[str, StoredPicture] = {}

    def picture(fields: Fields) -> StoredPicture:
        digest = fields.take("picture", text)
        if f"{digest}.jpg" not in beside.files:
            raise fields.refuse("The zip does not hold this picture.", "picture")
        if digest not in kept:
            try:
                kept[digest] = keep_picture(workshop=workshop, data=beside.files[f"{digest}.jpg"])
            except NotAPicture as refused:
                raise fields.refuse(refused.message, "picture") from refused
        return kept[digest]

    whose = Fields(beside.whose, WHOSE)
    by_name = {row.name: row for row in Material.objects.of(workshop)}
    for fields in whose.rows("materials"):
        row = by_name.get(fields.take("material", text))
        if row is None:
            raise fields.refuse("The file has no such material.", "material")
        width = fields.take("width_mm", or_none(decimal(0, places=6)))
        Material.objects.filter(pk=row.pk).update(picture=picture(fields), picture_width_mm=width)
        fields.nothing_else()
    designs = {row.name: row for row in Design.objects.of(workshop)}
    for fields in whose.rows("designs"):
        design = designs.get(fields.take("design", text))
        if design is None or design.photos.count() >= MOST_PHOTOS:
            raise fields.refuse("The file has no such design, or too many photos of it.", "design")
        words = fields.take("words", text)[:120]
        DesignPhoto.objects.get_or_create(
            design=design, picture=picture(fields), defaults={"words": words}
        )
        fields.nothing_else()
    _put_receipt_files(workshop, whose.rows("receipts"), beside)
    whose.nothing_else()


def _put_receipt_files(workshop: Workshop, rows: list[Fields], beside: Beside) -> None:
    """Give receipts and expenses their photos and PDFs, by their place in the workshop file."""
    if not rows:
        return
    lists: dict[str, list[Any]] = {
        "receipt": list(Purchase.objects.of(workshop).select_related("workshop").order_by("pk")),
        "expense": list(Expense.objects.of(workshop).select_related("workshop").order_by("pk")),
    }
    for fields in rows:
        whose = "expense" if fields.has("expense") else "receipt"
        place = fields.take(whose, whole(1))
        if place > len(lists[whose]):
            raise fields.refuse(f"The file has no such {whose}.", whose)
        kind, ending = ("pdf", "pdf") if fields.has("pdf") else ("picture", "jpg")
        name = f"{fields.take(kind, text)}.{ending}"
        if name not in beside.files:
            raise fields.refuse("The zip does not hold this file.", kind)
        try:
            add_file(
                owner=lists[whose][place - 1],
                form_key=None,
                data=beside.files[name],
                name=fields.take("name", text),
            )
        except Refusal as refused:
            raise fields.refuse(refused.message, kind) from refused
        fields.nothing_else()


@transaction.atomic
def import_with_pictures(
    document: Any, beside: Beside | None, *, name: str | None, owner: User | None
) -> Workshop:
    """Make a workshop from a document and what lay beside it, whole or not at all."""
    workshop = import_workshop(document, name=name, owner=owner)
    if beside is not None:
        put_beside(workshop, beside)
    return workshop
