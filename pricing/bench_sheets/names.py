"""The list of names to write for an order, as a paper of its own: by delivery, item, colourway.

The names of a line go with its deliveries in the order of the list, as its items do.
"""

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from django.template.loader import render_to_string

from maker.calc.dates import short_date
from maker.calc.refusal import Refusal
from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.documents.print_style import ACCENT, EDGE, INK, SOFT, paper_of
from pricing.bench_sheets.printing import ALARM
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderApproval
from pricing.quotes.inputs import names_of
from pricing.quotes.models import QuoteLine

FIGURE_SPACE = "\u2007"
ISOLATED, END = "\u2068", "\u2069"
# rows of a column, which is one text: an element for each name would take minutes to lay out
PER_COLUMN = 10
# columns -> width of a row in small letters; a wider name goes on in the next row
COLUMNS = {1: 80, 2: 38, 3: 20}
NARROW = " .,'-"
JOINERS = "\u200c\u200d"


class NoNames(Refusal):
    """Nothing in the order bears a name, or the names are gone."""


@dataclass(frozen=True, slots=True)
class NamesPart:
    """Names of one item that go with one delivery; `first` counts from 1 within the item."""

    delivery: int
    item: str
    quantity: int
    first: int
    of: int
    names: tuple[str, ...]


def names_paper(order: Order) -> bytes:
    """Return the PDF (five queries); `order` comes from `with_people()`.

    Refusals: NoNames, PdfLibraryMissing.
    """
    if order.names_deleted_on:
        raise NoNames(f"The names of {order} were deleted on {short_date(order.names_deleted_on)}.")
    parts = name_parts(order)
    if not parts:
        raise NoNames("No names are entered yet. Enter them first.")
    locale = order.workshop.locale
    html = render_to_string("print/names_list.html", _view(order, parts))
    return render_pdf(html=html, css=_css(paper_of(locale)))


def name_parts(order: Order) -> list[NamesPart]:
    """Return the names by delivery, then by item (four queries)."""
    lines = {line.pk: line for line in lines_now(order) if line.names}
    left = {key: list(enumerate(_names(line), 1)) for key, line in lines.items()}
    counts = {key: len(names) for key, names in left.items()}
    found = []
    rows = order.deliveries.prefetch_related("lines").order_by("position", "pk")
    for place, delivery in enumerate(rows, 1):
        for row in sorted(delivery.lines.all(), key=lambda each: each.line_id):
            here = left.get(row.line_id, [])[: row.quantity]
            if here:
                left[row.line_id] = left[row.line_id][row.quantity :]
                item, names = _item(lines[row.line_id]), tuple(name for _, name in here)
                found.append(
                    NamesPart(place, item, row.quantity, here[0][0], counts[row.line_id], names)
                )
    return found


def _names(line: QuoteLine) -> list[str]:
    """Return the names of a line: no more than are ordered now."""
    return names_of(line.names)[: line.quantity]


def _item(line: QuoteLine) -> str:
    return f"{line.design}, {line.colourway_name}" if line.colourway_name else str(line.design)


def _view(order: Order, parts: Sequence[NamesPart]) -> dict[str, Any]:
    approved = order.approvals.filter(kind=OrderApproval.Kind.NAMES).first()
    deliveries = list(order.deliveries.order_by("position", "pk"))
    sections: list[dict[str, Any]] = []
    for part in parts:
        if not sections or sections[-1]["place"] != part.delivery:
            row = deliveries[part.delivery - 1]
            sections.append(
                {
                    "place": part.delivery,
                    "due_on": short_date(row.due_on) if row.due_on else "",
                    "is_gone": row.delivered_on is not None,
                    "count": 0,
                    "parts": [],
                }
            )
        sections[-1]["count"] += len(part.names)
        sections[-1]["parts"].append(
            {
                "item": part.item,
                "count": len(part.names),
                "without": part.quantity - len(part.names),
                "blocks": list(_blocks(part)),
            }
        )
    return {
        "language": "en",
        "order": order.number,
        "workshop": order.workshop.name,
        "customer": order.quote.customer.name,
        "title": order.quote.title,
        "count": sum(len(part.names) for part in parts),
        "approved": f"Approved by {approved.decided_by}, {short_date(approved.decided_on)}."
        if approved
        else "",
        "is_split": len(deliveries) > 1,
        "sections": sections,
    }


def _blocks(part: NamesPart) -> Iterator[dict[str, Any]]:
    """Return the columns of each page, each a text of a row for a name."""
    names = [_printable(name) for name in part.names]
    broken = {
        columns: [list(_broken(name, width)) for name in names]
        for columns, width in COLUMNS.items()
    }
    columns = min(COLUMNS, key=lambda count: sum(map(len, broken[count])) / count)
    digits = len(str(part.of))
    rows = [
        f"{str(number).rjust(digits, FIGURE_SPACE) if not at else FIGURE_SPACE * digits}  "
        f"{ISOLATED}{piece}{END}"
        for number, pieces in enumerate(broken[columns], part.first)
        for at, piece in enumerate(pieces)
    ]
    # a short part is as high in each of its columns
    height = min(PER_COLUMN, -(-len(rows) // columns))
    for start in range(0, len(rows), height * columns):
        block = rows[start : start + height * columns]
        texts = ["\n".join(block[at : at + height]) for at in range(0, len(block), height)]
        yield {"columns": columns, "texts": texts}


def _printable(name: str) -> str:
    """Return a name without what a PDF cannot hold or would turn the rest of its row around."""
    return "".join(
        c for c in name if c in JOINERS or unicodedata.category(c) not in ("Cc", "Cs", "Cf")
    )


def _width(letter: str) -> int:
    return 1 if letter.islower() or letter in NARROW else 2


def _broken(name: str, most: int) -> Iterator[str]:
    """Return a name in rows of at most so many small letters; others are about twice as wide."""
    row, width = "", 0
    for letter in name:
        wide = _width(letter)
        if row and width + wide > most:
            # at the last space, where there is one
            kept, space, rest = row.rpartition(" ")
            yield kept if space else row
            row = rest if space else ""
            width = sum(map(_width, row))
        row, width = row + letter, width + wide
    yield row


def _boxes() -> str:
    """Return a row with a box to tick when it is written and one when it is packed."""
    box = f'y="0.9" width="3.2" height="3.2" fill="none" stroke="{INK}" stroke-width="0.2"'
    drawn = f'<rect x="0.2" {box}/><rect x="4.6" {box}/>'
    size = 'width="9mm" height="5mm" viewBox="0 0 9 5"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{drawn}</svg>'
    return "data:image/svg+xml," + quote(svg)


def _css(paper: str) -> str:
    quiet = f"font-size: 8pt; color: {SOFT}"
    return f"""
@page {{
  size: {paper}; margin: 12mm 14mm 14mm;
  @bottom-left {{ content: string(name); {quiet}; width: 75% }}
  @bottom-right {{ content: "Page " counter(page) " of " counter(pages); {quiet}; width: 25% }}
}}
html {{ font-family: {FONT_FAMILY}; font-size: 10pt; line-height: 1.3; color: {INK};
  overflow-wrap: anywhere }}
body, h1, h2, h3, p {{ margin: 0; padding: 0 }}
body {{ string-set: name attr(data-name) }}
h1 {{ font-size: 16pt; line-height: 1.2; color: {ACCENT} }}
h2 {{ font-size: 12pt; margin-top: 5mm; padding-top: 1mm; border-top: 0.35mm dashed {EDGE};
  break-after: avoid }}
h3 {{ font-size: 10pt; margin-top: 3mm; break-after: avoid }}
.soft {{ color: {SOFT}; font-weight: 400 }}
.caution {{ color: {ALARM}; margin-top: 2mm }}
.block {{ margin-top: 1.5mm; break-inside: avoid }}
.block::after {{ content: ""; display: block; clear: both }}
.col {{ float: left; white-space: pre; line-height: 5mm; padding-left: 11mm;
  box-sizing: border-box; font-variant-numeric: tabular-nums;
  background: url("{_boxes()}") repeat-y 0 0 / 9mm 5mm }}
.in-3 {{ width: 33.3% }}
.in-2 {{ width: 50% }}
.in-1 {{ width: 100% }}
"""
