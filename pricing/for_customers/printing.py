"""Prints a price explained for a customer, from the copy that holds only what may be told."""

import datetime
from base64 import b64encode
from collections.abc import Mapping, Sequence
from typing import Any

from babel.dates import format_date
from django.template.loader import render_to_string

from catalogue.designs.models import Design
from maker.documents.pdf import render_pdf
from maker.documents.print_style import paper_of, print_css
from maker.workshop.models import Workshop


def defence_pdf(
    view: Mapping[str, Any],
    *,
    design: Design,
    finished_size: str,
    cautions: Sequence[str],
    picture: str,
    workshop: Workshop,
    today: datetime.date,
) -> bytes:
    """Return the PDF; `view` is what `drawing.told` gives, `picture` an SVG of the item or nothing.

    Refusal: PdfLibraryMissing.
    """
    locale = workshop.locale if workshop.locale.startswith("en") else "en_GB"
    html = render_to_string(
        "print/defence.html",
        {
            "told": view,
            "maker": {
                key: getattr(workshop, key)
                for key in ("name", "maker_name", "email", "phone", "website")
            },
            "address": workshop.address.splitlines(),
            "design": design.name,
            "caution": " ".join(cautions),
            "finished_size": finished_size,
            "picture": "data:image/svg+xml;base64," + b64encode(picture.encode()).decode()
            if picture
            else "",
            "day": format_date(today, "long", locale),
            "language": locale.replace("_", "-"),
        },
    )
    return render_pdf(html=html, css=print_css(paper_of(workshop.locale)))
