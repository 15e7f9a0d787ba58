"""Makes the PDF of a price board: each group as large as its page allows."""

import base64
from collections.abc import Sequence

from django.template.loader import render_to_string

from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.documents.print_style import ACCENT, EDGE, INK, SOFT, paper_of
from maker.workshop.models import Workshop
from pricing.price_boards.board import BoardGroup

# mm of a page that rows may take, below the heading, by paper; heights of a row
_ROOM = {"A4": 226.0, "letter": 208.0}
LARGEST, SMALLEST = 62.0, 17.0
_PRICE_WIDTH = 78.0


def price_board_pdf(groups: Sequence[BoardGroup], workshop: Workshop) -> bytes:
    """Return the PDF, a page or more for each group. Refusal: PdfLibraryMissing."""
    paper = paper_of(workshop.locale)
    tax_note = ""
    if workshop.tax_registered:
        word = workshop.tax_name or "tax"
        tax_note = f"Prices {'include' if workshop.prices_include_tax else 'exclude'} {word}."
    html = render_to_string(
        "print/price_board.html",
        {
            "shop": workshop.name,
            "language": workshop.locale.replace("_", "-")
            if workshop.locale.startswith("en")
            else "en",
            "tax_note": tax_note,
            "groups": [
                {
                    "title": group.title if len(groups) > 1 else "",
                    "size": f"s{_height(len(group.rows), paper)}",
                    "rows": [(row, _image(row.picture)) for row in group.rows],
                }
                for group in groups
            ],
        },
    )
    heights = {_height(len(group.rows), paper) for group in groups}
    longest = max(len(row.price) for group in groups for row in group.rows)
    return render_pdf(html=html, css=_css(paper, sorted(heights), longest))


def _height(rows: int, paper: str) -> int:
    """Return the height of a row in mm: all rows on one page, if they can still be read."""
    return int(min(LARGEST, max(SMALLEST, _ROOM[paper] / rows)))


def _image(svg: str) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}" if svg else ""


def _css(paper: str, heights: Sequence[int], longest: int) -> str:
    rules = [
        f"""
@page {{ size: {paper}; margin: 14mm 15mm 12mm }}
html {{ font-family: {FONT_FAMILY}; color: {INK}; line-height: 1.15; overflow-wrap: anywhere }}
body, h1, h2, p, table {{ margin: 0; padding: 0 }}
.group + .group {{ break-before: page }}
.head {{ border-bottom: 0.5mm dashed {EDGE}; padding-bottom: 3mm; margin-bottom: 2mm }}
.shop {{ font-size: 15pt; color: {SOFT} }}
h1, h2 {{ font-size: 30pt; color: {ACCENT}; line-height: 1.1 }}
table {{ width: 100%; border-collapse: collapse; table-layout: fixed }}
tr {{ break-inside: avoid }}
td, th {{ border-bottom: 0.2mm solid #d8cdb6; vertical-align: middle; padding: 0;
  font-weight: 400; text-align: left }}
.name {{ font-weight: 700 }}
.price {{ text-align: right; font-weight: 700; color: {ACCENT}; white-space: nowrap }}
.soft {{ color: {SOFT} }}
img {{ display: block; object-fit: contain }}
.note {{ margin-top: 3mm; font-size: 11pt; color: {SOFT} }}
"""
    ]
    for height in heights:
        size = f".s{height}"
        # a price fits its column, however long it is; signs are about so wide for their height
        price = min(height * 0.36, 15, _PRICE_WIDTH / (longest * 0.58))
        rules.append(
            f"{size} td, {size} th {{ height: {height - 1}mm }}"
            f"{size} .look {{ width: {height * 1.15:.1f}mm }}"
            f"{size} img {{ width: {height * 1.05:.1f}mm; height: {height * 0.86:.1f}mm }}"
            f"{size} .name {{ font-size: {min(height * 0.22, 10):.2f}mm }}"
            f"{size} .price {{ font-size: {price:.2f}mm; width: {price * longest * 0.58:.1f}mm }}"
            f"{size} .soft {{ font-size: {max(min(height * 0.13, 5), 3.2):.2f}mm }}"
        )
    return "\n".join(rules)
