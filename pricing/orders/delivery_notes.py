"""The delivery note of one delivery: address, items and names, no prices."""

from typing import Any

from django.template.loader import render_to_string

from maker.documents.pdf import render_pdf
from maker.documents.print_style import paper_of
from pricing.orders.drawing import item_rows
from pricing.orders.models import Order, OrderDelivery
from pricing.orders.printing import day_text, text_lines
from pricing.quotes.printing import document_css

_CSS = """
.names-of { break-inside: auto; margin-top: 6mm }
.names-of ol { columns: 3; margin: 1.5mm 0 0; padding-left: 6mm; line-height: 1.5 }
.received { margin-top: 14mm; display: flex; justify-content: space-between; break-inside: avoid }
.received p { width: 46%; border-top: 0.25mm solid #857a66; padding-top: 1mm; font-size: 8.5pt }
"""


def delivery_note(order: Order, delivery: OrderDelivery) -> bytes:
    """Return the paper that goes along; `order` comes from `with_people()`. PdfLibraryMissing."""
    view = delivery_note_view(order, delivery)
    html = render_to_string("print/delivery_note.html", view)
    return render_pdf(html=html, css=document_css(view) + _CSS)


def delivery_note_view(order: Order, delivery: OrderDelivery) -> dict[str, Any]:
    """Return every value of the paper; names of a line that goes out in parts are all given."""
    frozen, shop = order.quote.frozen, order.workshop
    locale = shop.locale
    items = {row["line"].pk: row for row in item_rows(order)}
    lines = []
    for part in delivery.lines.select_related("line__design").order_by("pk"):
        row = items.get(part.line_id)
        lines.append(
            {
                "design": part.line.design.name,
                "code": part.line.design.code,
                "details": [
                    *([f"Colour: {part.line.colourway_name}"] if part.line.colourway_name else []),
                    *(row["choices"] if row else []),
                ],
                "quantity": part.quantity,
                "names": row["names"] if row else [],
                "is_part": bool(row and row["quantity"] != part.quantity),
            }
        )
    customer = frozen["customer"]
    facts = (
        ("Order", order.number),
        ("Delivery", f"{delivery.position + 1} of {order.deliveries.count()}"),
        ("Date", day_text((delivery.delivered_on or delivery.due_on), locale)),
    )
    return {
        "language": locale.replace("_", "-") if locale.startswith("en") else "en",
        "paper": paper_of(locale),
        "name": f"Delivery note {order.number}/{delivery.position + 1}",
        "mark": "",
        "maker": {**frozen["maker"], "address": text_lines(frozen["maker"].get("address"))},
        "customer": customer,
        "address": text_lines(delivery.address or customer.get("address")),
        "note": delivery.note,
        "facts": [(label, value) for label, value in facts if value],
        "title": order.quote.title,
        "lines": lines,
        "widths": {"quantity": 24, "each": 24, "amount": 27},
    }
