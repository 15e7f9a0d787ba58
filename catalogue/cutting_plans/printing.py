"""Makes the PDF of a cutting plan: what hangs over the trimmer while the sheets are cut."""

from __future__ import annotations

import base64
import unicodedata
from collections.abc import Callable

from django.template.loader import render_to_string

from catalogue.cutting_plans.drawing import LayoutPage, PlanPages
from catalogue.cutting_plans.models import CuttingPlan
from maker.calc.refusal import Refusal
from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.documents.print_style import paper_of

# a page each: more is a book nobody takes to the bench, and takes minutes to make
MOST_LAYOUTS = 80


class TooManyLayouts(Refusal):
    """The plan is too long for one file."""


def refuse_too_many(pages: PlanPages) -> None:
    """Refuse a plan that is too long for one file."""
    if pages.layout_count > MOST_LAYOUTS:
        raise TooManyLayouts(
            f"The plan has {pages.layout_count} layouts; a file holds at most {MOST_LAYOUTS}. "
            "Print the pages you need from the browser."
        )


def plan_pdf_of(
    plan: CuttingPlan,
    pages: PlanPages,
    *,
    on_layout: Callable[[int], None] | None = None,
    on_page: Callable[[int], None] | None = None,
) -> bytes:
    """Return the plan as a tagged PDF. Refusals: TooManyLayouts, PdfLibraryMissing.

    `on_layout` and `on_page` hear the number of each layout drawn and each page laid out.
    """
    refuse_too_many(pages)
    workshop = pages.workshop
    drawn = []
    for number in range(1, pages.layout_count + 1):
        if on_layout:
            on_layout(number)
        drawn.append(_drawn(pages.layout(number)))
    groups = [
        {
            "page": group,
            "layouts": [
                (layout, image)
                for layout, image in drawn
                if group.first <= layout.number <= group.last
            ],
        }
        for group in pages.groups
    ]
    html = render_to_string(
        "print/cutting_plan.html",
        {
            "plan": plan,
            "name": _cleaned(plan.name),
            "workshop": workshop,
            "groups": groups,
            "language": workshop.locale.replace("_", "-")
            if workshop.locale.startswith("en")
            else "en",
        },
    )
    return render_pdf(html=_cleaned(html), css=_css(workshop.locale), on_page=on_page)


def _drawn(layout: LayoutPage) -> tuple[LayoutPage, str]:
    svg = _cleaned(str(layout.svg)).encode()
    return layout, "data:image/svg+xml;base64," + base64.b64encode(svg).decode()


def _cleaned(text: str) -> str:
    """Return the text without the characters a PDF cannot hold."""
    return "".join(
        letter
        for letter in text
        if letter == "\n" or unicodedata.category(letter) not in ("Cc", "Cs")
    )


def _css(locale: str) -> str:
    paper = paper_of(locale)
    ink, soft, accent, alarm, line = "#1f2747", "#4c5370", "#0b6b5d", "#a11d33", "#d8cdb6"
    return f"""
@page {{
  size: {paper}; margin: 14mm 14mm 16mm;
  @bottom-left {{ content: string(plan); font-size: 8pt; color: {soft}; width: 75% }}
  @bottom-right {{ content: "Page " counter(page) " of " counter(pages); font-size: 8pt;
    color: {soft}; width: 25% }}
}}
html {{ font-family: {FONT_FAMILY}; font-size: 10pt; line-height: 1.35; color: {ink};
  overflow-wrap: anywhere }}
body, h1, h2, h3, p, ol, ul, dl, dd, table {{ margin: 0; padding: 0 }}
body {{ string-set: plan attr(data-plan) }}
h1 {{ font-size: 17pt; line-height: 1.2; color: {accent}; margin-bottom: 2mm }}
h2 {{ font-size: 13pt; margin: 6mm 0 1mm; break-after: avoid }}
h3 {{ font-size: 11pt; margin: 0 0 1.5mm; break-after: avoid }}
.soft {{ color: {soft} }}
.headline {{ font-weight: 700; font-size: 11pt }}
.warning {{ color: {alarm}; font-weight: 700; margin: 1.5mm 0 }}
.facts {{ margin: 1.5mm 0 }}
.facts span {{ margin-right: 6mm }}
table {{ width: 100%; border-collapse: collapse; margin: 2mm 0 }}
th {{ text-align: left; font-size: 8.5pt; color: {soft}; border-bottom: 0.4mm solid {ink};
  padding: 0 3mm 0.8mm 0 }}
td {{ padding: 0.8mm 3mm 0.8mm 0; border-bottom: 0.15mm solid {line}; vertical-align: top }}
.number {{ text-align: right; white-space: nowrap }}
tr {{ break-inside: avoid }}
.layout {{ break-inside: avoid; margin-top: 7mm; padding-top: 3mm;
  border-top: 0.25mm dashed #857a66 }}
.layout img {{ display: block; max-width: 100%; max-height: 88mm; margin: 0 auto 3mm }}
.reel img {{ max-height: 40mm }}
.steps {{ list-style: none; columns: 2; column-gap: 8mm; font-size: 9.5pt }}
.steps li {{ break-inside: avoid; padding: 0.5mm 0 0.5mm 12mm; position: relative }}
.steps b {{ position: absolute; left: 0; top: 0.5mm; color: {accent}; white-space: nowrap;
  font-size: 8.5pt; width: 11mm }}
"""
