"""What keeps prices true, in a workshop file: tags printed for prices, and what was decided."""

from typing import Any

from maker.calc.strict_json import Fields
from maker.workshop.models import Workshop
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import TagPrint
from pricing.workshop_file import schema
from pricing.workshop_file.writing import Registry, create, read_columns

Values = dict[str, Any]


def decided_quotes(workshop: Workshop) -> set[int]:
    """Return the quotes a decision speaks of, which need a key in the file (one query)."""
    decisions = PriceDecision.objects.of(workshop).filter(quote__isnull=False)
    return set(decisions.values_list("quote_id", flat=True))


def price_keys(workshop: Workshop) -> dict[int, str]:
    """Return the keys of prices that tags or decisions speak of, in order (two queries)."""
    named = set(TagPrint.objects.of(workshop).values_list("entry_id", flat=True))
    decisions = PriceDecision.objects.of(workshop).filter(entry__isnull=False)
    named |= set(decisions.values_list("entry_id", flat=True))
    return {pk: f"price {place}" for place, pk in enumerate(sorted(named), 1)}


def true_price_values(
    workshop: Workshop, prices: dict[int, str], quotes: dict[int, str]
) -> dict[str, Any]:
    """Return tags and decisions with the keys of what they speak of (two queries)."""
    return {
        "tag_prints": [
            {"price": prices[row.entry_id]} | schema.TAG_PRINT.written(row)
            for row in TagPrint.objects.of(workshop).order_by("pk")
        ],
        "price_decisions": [
            {
                "price": prices[row.entry_id] if row.entry_id else None,
                "quote": quotes[row.quote_id] if row.quote_id else None,
            }
            | schema.PRICE_DECISION.written(row)
            for row in PriceDecision.objects.of(workshop).order_by("pk")
        ],
    }


def write_tag_prints(rows: list[Fields], prices: Registry) -> None:
    """Store which tags were printed for which price."""
    create(
        TagPrint,
        [
            TagPrint(entry=prices.of(row, "price"), **read_columns(schema.TAG_PRINT, row))
            for row in rows
        ],
    )


def write_price_decisions(
    workshop: Workshop, rows: list[Fields], prices: Registry, quotes: Registry
) -> None:
    """Store decisions; each is about a price or a quote, and one left until a day says which."""
    decisions = []
    for row in rows:
        decision = PriceDecision(
            workshop=workshop,
            entry=prices.optional(row, "price"),
            quote=quotes.optional(row, "quote"),
            **read_columns(schema.PRICE_DECISION, row),
        )
        if (decision.entry is None) == (decision.quote is None):
            raise row.refuse("A decision is about a price or about a quote.", "price")
        if decision.kind == PriceDecision.Kind.UNTIL and decision.until is None:
            raise row.refuse("What is left until a day says until which.", "until")
        decisions.append(decision)
    create(PriceDecision, decisions)
