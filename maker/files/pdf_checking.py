"""Looks into an uploaded PDF before it is kept: whole, readable, and nothing in it that runs.

It is kept byte for byte, for it is evidence: its checksum is the supplier's. So what could harm who
opens it is refused, not taken out (ISO 32000-1:2008, 12.6.4 action types, 7.11.4 embedded files).
"""

from collections.abc import Iterator
from io import BytesIO
from typing import Any
from zipfile import is_zipfile

from pypdf import PdfReader
from pypdf.errors import DependencyError, PyPdfError
from pypdf.generic import ArrayObject, DictionaryObject, NameObject

from maker.calc.refusal import Refusal

MOST_BYTES = 12 * 1024 * 1024
MOST_PAGES = 200
MOST_OBJECTS = 50_000
HEADER, END = b"%PDF-", b"%%EOF"
# keys whose value is a script or a form that brings scripts, and actions that start something
SCRIPTS = frozenset({"/JS", "/JavaScript", "/XFA"})
STARTS = frozenset({"/JavaScript", "/Launch", "/SubmitForm", "/ImportData", "/Rendition"})
SHOWS = frozenset({"/RichMedia", "/Movie", "/Screen", "/3D"})
# names of an embedded file, the last three for readers of long ago (table 44)
FILE_NAMES = ("/UF", "/F", "/DOS", "/Mac", "/Unix")
# what pypdf raises on bytes that only begin like a PDF
BROKEN = (
    PyPdfError,
    DependencyError,
    OSError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    AttributeError,
    AssertionError,
    OverflowError,
    RecursionError,
    MemoryError,
    NotImplementedError,
)


class NotAPdf(Refusal):
    """What was uploaded is not a PDF this program takes."""


def is_pdf(data: bytes) -> bool:
    """Whether it begins as a PDF does (ISO 32000-1:2008, 7.5.2)."""
    return data.startswith(HEADER)


def check_pdf(data: bytes) -> int:
    """Return how many pages a PDF has. Refused: NotAPdf, with what to do."""
    if len(data) > MOST_BYTES:
        raise NotAPdf("The PDF is larger than 12 MB. Save it smaller.", where="file")
    after = data.rpartition(END)[2]
    if (
        not is_pdf(data)
        or END not in data
        or after.strip(b"\0\t\n\f\r ")
        or is_zipfile(BytesIO(data))
    ):
        raise _broken()
    try:
        reader = PdfReader(BytesIO(data))
        if reader.is_encrypted and not reader.decrypt(""):
            raise NotAPdf("The PDF has a password. Print it to a PDF without one.", where="file")
        pages = len(reader.pages)
        runs = any(_runs(value) for value in _dictionaries(reader))
    except BROKEN as error:
        raise _broken() from error
    if not 1 <= pages <= MOST_PAGES:
        raise NotAPdf(f"The PDF has {pages} pages. Up to {MOST_PAGES} are kept.", where="file")
    if runs:
        raise NotAPdf(
            "The PDF has a script or another file in it. Print it to a new PDF, or take a photo.",
            where="file",
        )
    return pages


def _broken() -> NotAPdf:
    return NotAPdf("This PDF is broken. Save it again, or take a photo.", where="file")


def _dictionaries(reader: PdfReader) -> Iterator[DictionaryObject]:
    """Yield every dictionary that can be reached, each once; streams are not unpacked."""
    waiting: list[Any] = [reader.trailer]
    seen: set[tuple[int, int]] = set()
    count = 0
    while waiting:
        value = waiting.pop()
        if hasattr(value, "idnum"):
            key = (value.idnum, value.generation)
            if key in seen:
                continue
            seen.add(key)
            value = value.get_object()
        count += 1
        if count > MOST_OBJECTS:
            raise NotAPdf("The PDF has too much in it. Print it to a new PDF.", where="file")
        if isinstance(value, DictionaryObject):
            yield value
            waiting += value.values()
        elif isinstance(value, ArrayObject):
            waiting += list(value)


def _runs(value: DictionaryObject) -> bool:
    if not SCRIPTS.isdisjoint(value):
        return True
    action, subtype = _name(value, "/S"), _name(value, "/Subtype")
    if action in STARTS or subtype in SHOWS:
        return True
    # an e-invoice carries its own data as XML (EN 16931); nothing else belongs in a receipt
    return "/EF" in value and not _is_xml(value)


def _name(value: DictionaryObject, key: str) -> str:
    found = value.get(key)
    found = found.get_object() if found is not None else None
    return str(found) if isinstance(found, NameObject) else ""


def _is_xml(value: DictionaryObject) -> bool:
    """Whether an embedded file is saved as XML, by whichever of its names a reader takes."""
    names = [str(value[key]).lower() for key in FILE_NAMES if key in value]
    return bool(names) and all(name.endswith(".xml") for name in names)
