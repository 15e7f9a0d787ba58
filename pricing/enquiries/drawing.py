"""What the pages of an enquiry show: facts in words, and designs with their price."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from maker.calc.dates import say_date, short_date
from maker.calc.money import format_money
from maker.calc.units import format_length, format_number
from maker.web.words import money
from maker.workshop.models import Workshop
from pricing.calc.enquiries.warnings import grams
from pricing.enquiries.inputs import Suggestion, lines_wanted
from pricing.enquiries.models import Enquiry
from pricing.quotes.inputs import names_of


def facts_of(enquiry: Enquiry) -> list[tuple[str, str]]:
    """Return what was said, label and words; what was not said is left out."""
    shop = enquiry.workshop
    found = [
        ("Received", say_date(enquiry.asked_on)),
        ("Source", enquiry.get_source_display() if enquiry.source else ""),
        ("Date needed", say_date(enquiry.needed_on) if enquiry.needed_on else ""),
        ("Quantity", enquiry.quantities),
        ("Budget each", _money(enquiry.budget_each, shop)),
        ("Contents", contents_words(enquiry)),
        ("Youngest recipient", _years(enquiry.youngest)),
        ("Colours", enquiry.colours),
        ("Names", _names(enquiry)),
        ("Deposit paid", deposit_words(enquiry)),
        ("Private notes", enquiry.notes),
    ]
    return [(label, words) for label, words in found if words]


def deposit_words(enquiry: Enquiry) -> str:
    """Say what was paid at a fair for it (up to two queries); empty for nothing."""
    sale = getattr(enquiry, "fair_sale", None)
    if sale is None or sale.undone_at or not sale.received:
        return ""
    amount, day = money(sale.received, enquiry.workshop), sale.day
    return f"{amount} {sale.get_way_display()}, {short_date(day.held_on)}, {day.fair}"


def contents_words(enquiry: Enquiry) -> str:
    """Say what goes in, with its size and weight."""
    parts = [enquiry.contents]
    if enquiry.contents_mm:
        unit, locale = enquiry.workshop.unit, enquiry.workshop.locale
        lengths = [format_length(each, unit, locale) for each in enquiry.contents_mm]
        parts.append(" × ".join([*(each.rsplit(" ", 1)[0] for each in lengths[:2]), lengths[2]]))
    if enquiry.weight_g:
        parts.append(grams(enquiry.weight_g))
    if enquiry.is_food:
        parts.append("food")
    return ", ".join(part for part in parts if part)


def suggestion_rows(suggestions: Sequence[Suggestion], enquiry: Enquiry) -> list[dict[str, Any]]:
    """Return designs as the page shows them."""
    return [_row(each, enquiry) for each in suggestions]


def _row(suggestion: Suggestion, enquiry: Enquiry) -> dict[str, Any]:
    shop = enquiry.workshop
    usual, way = suggestion.usual, suggestion.way
    shown = way or usual
    told = list(suggestion.warnings)
    told += [each for each in suggestion.cautions if each not in told]
    return {
        "version": suggestion.version,
        "design": suggestion.version.design,
        "price": _money(shown.price_each, shop) if shown else "–",
        "lines": _lines(suggestion, enquiry),
        "changes": way.words if way and way.changes else "",
        "usual": _money(usual.price_each, shop) if usual and way and way.changes else "",
        "over": _over(suggestion, enquiry),
        "room": _room(suggestion, enquiry),
        "told": told,
        "problem": suggestion.problem,
        "choices": [f"{option}:{choice}" for option, choice in suggestion.choices.items()],
    }


def _lines(suggestion: Suggestion, enquiry: Enquiry) -> str:
    """Say which colourways its quote will have; empty for the recipe as it is."""
    lines = lines_wanted(enquiry, suggestion.version)
    said = [f"{quantity} {colourway}" for colourway, quantity in lines if colourway]
    if not said:
        return ""
    return ("A quote line each: " if len(said) > 1 else "Colourway: ") + ", ".join(said)


def _over(suggestion: Suggestion, enquiry: Enquiry) -> str:
    """Say by how much the design is above the budget; empty where it is within."""
    usual, budget = suggestion.usual, enquiry.budget_each
    if usual is None or suggestion.way is not None or budget is None:
        return ""
    return f"{_money(usual.price_each - budget, enquiry.workshop)} over the budget"


def _room(suggestion: Suggestion, enquiry: Enquiry) -> str:
    if suggestion.too_small_mm is None:
        return "room inside not known" if enquiry.contents_mm else ""
    if not suggestion.too_small_mm:
        return "contents fit"
    shop = enquiry.workshop
    missing = Decimal(suggestion.too_small_mm.numerator) / suggestion.too_small_mm.denominator
    return f"{format_length(missing, shop.unit, shop.locale)} too small"


def _money(amount: Decimal | None, shop: Workshop) -> str:
    return "" if amount is None else format_money(amount, shop.currency, shop.locale)


def _years(age: int | None) -> str:
    if age is None:
        return ""
    return f"{format_number(Decimal(age))} year{'' if age == 1 else 's'}"


def _names(enquiry: Enquiry) -> str:
    count = len(names_of(enquiry.names))
    if count:
        return f"{count} name{'' if count == 1 else 's'}"
    return "wanted, not known yet" if enquiry.wants_names else ""
