"""What a customer's page shows of a quote: what its PDF says, and nothing for the maker alone."""

import datetime
from typing import Any

from pricing.quotes.documents import quote_document
from pricing.quotes.models import Quote
from pricing.quotes.pictures import add_pictures
from pricing.quotes.printing import customer_view


def quote_shown(quote: Quote, today: datetime.date) -> dict[str, Any]:
    """Return the values of the page of a sent quote; `quote` comes from `with_people()`."""
    view = customer_view(quote_document(quote, today))
    for line in view["lines"]:
        # drawn into the page below: a page may hold no picture that is data
        del line["drawing"]
    add_pictures(view["lines"], quote.lines.kept())
    view["total_text"] = next(row["amount"] for row in view["totals"] if row.get("is_total"))
    return view
