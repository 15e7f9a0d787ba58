"""Makes the PDF of a bench sheet: one or two pages to write on, and no price anywhere."""

import unicodedata
from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string

from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.documents.print_style import ACCENT, EDGE, HAIRLINE, INK, SOFT, paper_of

ALARM = "#a11d33"


def bench_sheet_pdf(view: Mapping[str, Any], *, locale: str) -> bytes:
    """Return the PDF; `view` is what `drawing.sheet_view` gives. Refusal: PdfLibraryMissing."""
    html = render_to_string("print/bench_sheet.html", dict(view))
    return render_pdf(html=_cleaned(html), css=_css(paper_of(locale)))


def _cleaned(text: str) -> str:
    """Return the text without the characters a PDF cannot hold."""
    return "".join(
        letter
        for letter in text
        if letter == "\n" or unicodedata.category(letter) not in ("Cc", "Cs")
    )


def _css(paper: str) -> str:
    quiet = f"font-size: 8pt; color: {SOFT}"
    return f"""
@page {{
  size: {paper}; margin: 10mm 12mm 12mm;
  @bottom-left {{ content: string(name); {quiet}; width: 75% }}
  @bottom-right {{ content: "Page " counter(page) " of " counter(pages); {quiet}; width: 25% }}
}}
html {{ font-family: {FONT_FAMILY}; font-size: 8.5pt; line-height: 1.25; color: {INK};
  overflow-wrap: anywhere }}
body, h1, h2, h3, p, ul, ol, table {{ margin: 0; padding: 0 }}
body {{ string-set: name attr(data-name) }}
h1 {{ font-size: 15pt; line-height: 1.15; color: {ACCENT} }}
h2 {{ font-size: 12pt; margin-top: 4mm; break-after: avoid }}
h3 {{ font-size: 9.5pt; margin-top: 2.4mm; break-after: avoid }}
ul, ol {{ list-style: none }}
.soft {{ color: {SOFT} }}
.top {{ display: flex; justify-content: space-between; border-bottom: 0.35mm dashed {EDGE};
  padding-bottom: 2mm }}
.about {{ width: 70% }}
.when {{ width: 28%; text-align: right; font-size: 10pt }}
.when b {{ font-size: 12pt }}
.caution {{ color: {ALARM}; margin-top: 1.5mm }}
.batch + .batch {{ border-top: 0.35mm dashed {EDGE}; margin-top: 4mm }}
.head {{ display: flex; justify-content: space-between; break-inside: avoid }}
.what {{ width: 68% }}
.looks {{ width: 31%; text-align: right }}
.looks img {{ height: 18mm; max-width: 18mm; object-fit: contain; margin-left: 1mm }}
.looks.one img {{ max-width: 28mm; height: 19mm }}
.make {{ font-size: 11pt; font-weight: 700; margin-top: 1mm }}
table {{ width: 100%; border-collapse: collapse; margin-top: 1mm }}
th {{ text-align: left; font-size: 7.5pt; color: {SOFT}; border-bottom: 0.35mm solid {INK};
  padding: 0 2mm 0.4mm 0; vertical-align: bottom }}
td {{ padding: 0.45mm 2mm 0.45mm 0; border-bottom: 0.15mm solid {HAIRLINE}; vertical-align: top }}
tr {{ break-inside: avoid }}
/* a sum stays with the last step */
.sum {{ break-before: avoid }}
.number {{ text-align: right; white-space: nowrap }}
.box {{ display: inline-block; width: 2.8mm; height: 2.8mm; border: 0.25mm solid {INK};
  margin-right: 1.6mm; vertical-align: -0.4mm }}
.tick {{ width: 9mm }}
thead th {{ white-space: nowrap }}
.write {{ width: 20mm; border-bottom: 0.25mm solid {INK} }}
.line {{ display: inline-block; width: 22mm; border-bottom: 0.25mm solid {INK} }}
.piece {{ break-inside: avoid; margin-top: 1mm; padding-bottom: 1.5mm; overflow: hidden }}
.piece h4 {{ margin: 1mm 0 0.8mm; font-size: 9pt; break-after: avoid }}
/* no columns: the engine lays them out dozens of times */
.drawn {{ float: left; width: 80mm }}
.drawn img {{ display: block; max-width: 78mm; max-height: 54mm }}
.said {{ margin-left: 82mm }}
.piece table {{ margin-top: 0.6mm; table-layout: fixed }}
.no {{ width: 7mm }}
.from {{ width: 27mm }}
.fold {{ width: 15mm }}
.piece td, .piece th {{ padding-top: 0.25mm; padding-bottom: 0.25mm; white-space: nowrap }}
.piece .place {{ font-weight: 700 }}
.piece .side {{ font-size: 7.5pt; color: {SOFT}; white-space: normal }}
.piece li {{ font-size: 8pt }}
.ticks {{ margin-top: 1mm }}
.ticks li {{ display: inline-block; width: 49%; padding: 0.5mm 1% 0.5mm 0; vertical-align: top;
  break-inside: avoid; box-sizing: border-box }}
.names {{ margin-top: 1mm }}
.names li {{ display: inline-block; width: 24%; padding: 0.35mm 0; vertical-align: top }}
/* what is done and checked stays together: no last page with a line or two */
.last {{ break-inside: avoid }}
"""
