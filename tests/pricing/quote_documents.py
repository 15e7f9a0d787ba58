"""A quote as a plain document, for tests of what is printed."""

from typing import Any

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 80">'
    '<rect x="5" y="5" width="90" height="70" fill="none" stroke="#1f2747"/>'
    '<path d="M30 5V75" stroke="#1f2747" stroke-dasharray="5 4"/></svg>'
)
# figures of her own that occur signed in anywhere else in the document
OWN = {
    "cost": "7771.31",
    "floor": "8882.42",
    "profit": "3331.17",
    "margin": "0.3377",
    "per_hour": "29.73",
    "minutes": "19319",
    "fees": "41.19",
    "dates": {
        "ready_on": "2026-12-30",
        "earliest_on": "2027-01-07",
        "yes_by": "2026-12-15",
        "why": "Vellum from Far Mill takes 11 weekdays",
    },
}
OWN_LINE = {
    "cost": "2591.11",
    "floor_each": "5.91",
    "target_each": "8.83",
    "margin": "0.3519",
    "per_hour": "28.47",
    "minutes": "6437",
}


def quote_line(number: int = 1, **fields: Any) -> dict[str, Any]:
    """60 bags at 9.55."""
    return {
        "design": f"Bag {number}",
        "code": f"FB-{number}",
        "description": "A fold-over top and a ribbon",
        "choices": ["Closure: dot"],
        "colourway": "Dusk",
        "finished_size": "90 × 60 × 140 mm",
        "quantity": 60,
        "names": [],
        "price_each": "9.55",
        "amount": "573.00",
        "caution": "",
        "drawing": "",
        **fields,
    }


def quote_document(*, lines: Any = 1, public: Any = None, **fields: Any) -> dict[str, Any]:
    """A sent quote; `lines` is how many there are or the lines themselves."""
    if isinstance(lines, int):
        lines = [quote_line(number) for number in range(1, lines + 1)]
    return {
        "customer": {
            "name": "Orla Bray",
            "contact": "Orla and Tam",
            "address": "3 Mill Lane\nTamsel Bridge",
            "email": "orla@example.test",
        },
        "maker": {
            "name": "Marlow Paperworks",
            "maker_name": "Penny Farrow",
            "address": "The Old Dairy\nMarlow Cross",
            "email": "penny@example.test",
            "phone": "01632 960 001",
            "website": "marlow.example",
        },
        "currency": "EUR",
        "locale": "en_GB",
        "unit": "mm",
        "tax_name": "VAT",
        "tax_rate": "0.2",
        "tax_registered": True,
        "prices_include_tax": False,
        "tax_per_line": False,
        "deposit_share": "0.3",
        "public": {
            "lines": lines,
            "delivery": "6.50",
            "rush": False,
            "net": "1725.50",
            "tax": "345.10",
            "rates": [{"rate": "0.2", "base": "1725.50", "tax": "345.10"}],
            "total": "2070.60",
            "deposit": "621.18",
            "balance": "1449.42",
            "dates": {"yes_by": "2026-12-15", "earliest_on": "2027-01-07"},
            **(public or {}),
        },
        "own": {**OWN, "lines": [dict(OWN_LINE) for _ in lines]},
        "number": "Q-2026-0012",
        "revision": 1,
        "state": "sent",
        "replaced_by": None,
        "title": "Christening in May",
        "quoted_on": "2026-11-20",
        "valid_until": "2026-12-11",
        "needed_on": "2027-01-20",
        "intro": "Thank you for asking.",
        "terms": "A change after the cards are cut costs what was cut.",
        **fields,
    }
