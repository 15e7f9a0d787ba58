"""Puts pictures on the sheets of a PDF: each is drawn once, however often it is put down.

The pictures are the last pages of the document that WeasyPrint drew. They become form XObjects
(ISO 32000-1, 8.10) that the sheets paint. A form that is painted more than once can carry no marked
content of its own (14.7.4.3), so the mark stands around each painting: every one is an element of
the structure tree, a paragraph or, with words in place of it, a figure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

POINTS_PER_MM = Decimal(72) / Decimal("25.4")
# what marks content, with how many words stand before it: a tag, and its properties
MARKS = {b"BMC": 1, b"BDC": 2, b"EMC": 0}


@dataclass(frozen=True, slots=True)
class Stamp:
    """A picture put on a sheet, its top left corner in millimetres from that of the sheet.

    `sheet` counts pages and `picture` counts pictures, both from 0; `alt` is what a figure shows.
    """

    sheet: int
    picture: int
    left: Decimal
    top: Decimal
    alt: str = ""


def stamp_pages(pdf: Any, stamps: Sequence[Stamp], pictures: int) -> None:
    """Turn the last pages of a tagged document into pictures and paint them as `stamps` say."""
    pages = [pdf.objects[number] for number in pdf.pages["Kids"][::3]]
    sheets, drawn = pages[: len(pages) - pictures], pages[len(pages) - pictures :]
    resources = _object(pdf, pages[0]["Resources"])
    heights = []
    for number, page in enumerate(drawn):
        form = _form_of(pdf, page)
        heights.append(page["MediaBox"][3])
        resources["XObject"][f"stamp{number}"] = form.reference
    marks = _take_out(pdf, sheets, drawn)
    for number, sheet in enumerate(sheets):
        here = [stamp for stamp in stamps if stamp.sheet == number]
        if here:
            _paint(pdf, sheet, here, heights, marks[number])


def _object(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]


def _form_of(pdf: Any, page: Any) -> Any:
    """Return what a page draws as a form, without its marks."""
    import pydyf

    content = _object(pdf, page["Contents"])
    drawn: list[Any] = []
    for part in content.stream:
        words_before = MARKS.get(part) if isinstance(part, bytes) else None
        if words_before is None:
            drawn.append(part)
        else:
            del drawn[len(drawn) - words_before :]
    form = pydyf.Stream(
        drawn,
        {
            "Type": "/XObject",
            "Subtype": "/Form",
            "BBox": page["MediaBox"],
            "Resources": page["Resources"],
        },
        compress=content.compress,
    )
    pdf.add_object(form)
    return form


def _take_out(pdf: Any, sheets: Sequence[Any], drawn: Sequence[Any]) -> list[Any]:
    """Take the pages that were drawn out of the document; return the marks of each sheet."""
    gone = {page.reference for page in drawn}
    del pdf.pages["Kids"][3 * len(sheets) :]
    pdf.pages["Count"] = len(sheets)
    elements: list[Any] = [
        one for one in pdf.objects if isinstance(one, dict) and one.get("Pg") in gone
    ]
    gone |= {element.reference for element in elements}
    root = _object(pdf, pdf.catalog["StructTreeRoot"])
    document = _object(pdf, root["K"][0])
    document["K"][:] = [reference for reference in document["K"] if reference not in gone]
    numbers = _object(pdf, root["ParentTree"])["Nums"]
    del numbers[2 * len(sheets) : 2 * (len(sheets) + len(drawn))]
    # pydyf cannot leave an object out, so they stay behind empty
    for page in drawn:
        _object(pdf, page["Contents"]).stream.clear()
    for left_behind in (*drawn, *elements):
        left_behind.clear()
    marks: list[Any] = numbers[1 : 2 * len(sheets) : 2]
    return marks


def _paint(
    pdf: Any, sheet: Any, stamps: Sequence[Stamp], heights: Sequence[float], marks: Any
) -> None:
    import pydyf

    content = _object(pdf, sheet["Contents"])
    root = _object(pdf, pdf.catalog["StructTreeRoot"])
    document = _object(pdf, root["K"][0])
    sheet_height = sheet["MediaBox"][3]
    # the page was turned to run downwards; turned again it runs upwards, as pictures do
    content.transform(1, 0, 0, -1, 0, sheet_height)
    for stamp in stamps:
        left, top = float(stamp.left * POINTS_PER_MM), float(stamp.top * POINTS_PER_MM)
        kind = "Figure" if stamp.alt else "P"
        content.begin_marked_content(kind, pydyf.Dictionary({"MCID": len(marks)}))
        content.push_state()
        content.transform(1, 0, 0, 1, left, sheet_height - top - heights[stamp.picture])
        content.draw_x_object(f"stamp{stamp.picture}")
        content.pop_state()
        content.end_marked_content()
        element = pydyf.Dictionary(
            {
                "Type": "/StructElem",
                "S": f"/{kind}",
                "K": len(marks),
                "Pg": sheet.reference,
                "P": document.reference,
            }
        )
        if stamp.alt:
            element["Alt"] = pydyf.String(stamp.alt)
        pdf.add_object(element)
        marks.append(element.reference)
        document["K"].append(element.reference)
