"""Papers of two receipts in the demo, drawn from them, so that they say their moved dates."""

from io import BytesIO

from PIL import Image, ImageDraw, ImageFont

from catalogue.purchases.models import Purchase
from catalogue.receipt_files.services import add_file
from maker.workshop.models import Workshop

PHOTO_OF, PDF_OF = "SW-4376", "PS-4427"
WIDTH, MARGIN, ROW = 760, 60, 46
TABLE, PAPER, INK = "#6f5b49", "#fdfbf4", "#2b2b33"


def attach_drawn_receipts(workshop: Workshop) -> None:
    """Give one receipt of the demo a photo, and a draft a PDF to enter it from."""
    rows = Purchase.objects.of(workshop).with_people()
    for reference, form, name in (
        (PHOTO_OF, "PNG", "glue-and-tape.jpg"),
        (PDF_OF, "PDF", "card.pdf"),
    ):
        receipt = rows.get(reference=reference)
        add_file(owner=receipt, form_key=None, data=drawn_receipt(receipt, form), name=name)


def drawn_receipt(receipt: Purchase, form: str) -> bytes:
    """Draw the paper of a receipt on a table, a little askew, as PNG or PDF."""
    lines = list(receipt.lines.select_related("material").order_by("position", "pk"))
    paid = sum((line.amount for line in lines), receipt.postage)
    rows = [
        (receipt.supplier.name, ""),
        (f"{receipt.bought_on:%-d %b %Y}", receipt.reference),
        ("", ""),
    ]
    rows += [(line.material.name, f"{line.amount:.2f}") for line in lines]
    rows += [
        ("Postage", f"{receipt.postage:.2f}"),
        ("", ""),
        (f"TOTAL {receipt.workshop.currency}", f"{paid:.2f}"),
    ]
    rows += [("", ""), ("Thank you!", "")]
    font = ImageFont.load_default(28)
    paper = Image.new("RGB", (WIDTH, 2 * MARGIN + ROW * len(rows)), PAPER)
    pen = ImageDraw.Draw(paper)
    for at, (left, right) in enumerate(rows):
        y = MARGIN + at * ROW
        if not left:
            pen.line((MARGIN, y + ROW // 2, WIDTH - MARGIN, y + ROW // 2), fill=INK, width=2)
        pen.text((MARGIN, y), left, fill=INK, font=font)
        pen.text((WIDTH - MARGIN, y), right, fill=INK, font=font, anchor="ra")
    photo = Image.new("RGB", (WIDTH + 160, paper.height + 160), TABLE)
    turned = paper.convert("RGBA").rotate(1.5, Image.Resampling.BICUBIC, expand=True)
    photo.paste(turned, (70, 60), turned)
    written = BytesIO()
    photo.save(written, form)
    return written.getvalue()
