"""Quotes as PDF, of one line and of 200, beside a PDF with nothing but a heading."""

from collections.abc import Iterable
from typing import Any

from maker.documents.pdf import render_pdf
from pricing.quotes.printing import customer_pdf, own_pdf
from tests.benchmarks import Row, measured
from tests.pricing.quote_documents import DRAWING, quote_document, quote_line

EMPTY = '<!DOCTYPE html><html lang="en"><head><title>Empty</title></head><body><h1>Empty</h1>'


def run() -> Iterable[Row]:
    """Measure 1 and 200 lines, hers too, then 200 with a drawing each."""
    plain = [quote_line(number) for number in range(1, 201)]
    drawn = [quote_line(number, drawing=DRAWING) for number in range(1, 201)]
    for name, lines, print_it in (
        ("1 line", plain[:1], customer_pdf),
        ("200 lines", plain, customer_pdf),
        ("200 lines, for herself", plain, own_pdf),
        ("200 lines with drawings", drawn, customer_pdf),
    ):
        document = quote_document(lines=lines)

        def make(document: dict[str, Any] = document, print_it: Any = print_it) -> bytes:
            content: bytes = print_it(document)
            return content

        yield measured(
            f"quote PDF, {name}",
            make,
            lambda: render_pdf(html=EMPTY, css="@page { size: A4 }"),
            repeats=3,
            warm_up=1,
            note=f"{len(make()) // 1024} KiB",
        )
