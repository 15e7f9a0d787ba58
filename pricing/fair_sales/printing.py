"""The tally sheet of a day: a row to make strokes in for each item, with its price."""

from django.template.loader import render_to_string
from django.utils import timezone

from maker.documents.pdf import render_pdf
from maker.documents.print_style import EDGE, paper_of, print_css
from maker.web.words import money
from maker.workshop.models import Workshop
from pricing.fair_sales.names import words_of
from pricing.fair_sales.on_table import OnTable
from pricing.fairs.models import FairDay

ORDER_LINES = 4
# mm of a row: strokes of a day fit, and twelve items a page
ROW = 13


def tally_pdf(day: FairDay, table: OnTable, workshop: Workshop) -> bytes:
    """Return the PDF. Refusal: PdfLibraryMissing."""

    def price(minor: int) -> str:
        return money(table.money(minor), workshop)

    rows = [
        (item.version.design.name, words_of(item), price(table.prices[key]), True)
        for key, item in table.items.items()
    ]
    names = {key: item.version.design.name for key, item in table.items.items()}
    bundles = [
        (
            table.bundle_names[each.key],
            ", ".join(
                f"{count} × {names[key]}" for key, count in each.items.items() if key in names
            ),
            price(each.asked),
            False,
        )
        for each in table.bundles
    ]
    html = render_to_string(
        "print/fair_tally.html",
        {
            "shop": workshop.name,
            "language": workshop.locale.replace("_", "-")
            if workshop.locale.startswith("en")
            else "en",
            "day": day,
            "rows": rows,
            "bundles": bundles,
            "order_lines": range(ORDER_LINES),
            "printed": timezone.localdate(),
        },
    )
    return render_pdf(html=html, css=print_css(paper_of(workshop.locale)) + _CSS)


_CSS = f"""
@page {{ margin: 12mm 12mm 16mm }}
h1 {{ font-size: 15pt }}
h2 {{ margin-top: 5mm }}
.tally {{ width: 100%; border-collapse: collapse; table-layout: fixed; margin-top: 4mm }}
.tally th, .tally td {{ border: 0.25mm solid {EDGE}; padding: 1mm 1.5mm; vertical-align: top;
  text-align: left }}
.tally thead th {{ font-size: 8.5pt; vertical-align: bottom }}
.tally tbody tr {{ height: {ROW}mm; break-inside: avoid }}
.tally tbody th {{ font-weight: 700 }}
.tally .soft {{ font-weight: 400; font-size: 8pt }}
.tally .item {{ width: 40mm }}
.tally .price {{ width: 15mm; text-align: right; white-space: nowrap; font-weight: 700 }}
.tally .few {{ width: 15mm }}
.tally .none {{ background: #ece7da }}
"""
