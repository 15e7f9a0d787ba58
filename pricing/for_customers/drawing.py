"""A price in words for a customer: one copy, which page and PDF both show."""

from collections.abc import Iterable
from decimal import ROUND_CEILING, Decimal
from typing import Any

from maker.calc.amounts import unit_word
from maker.calc.money import format_money, share_out, to_minor
from maker.calc.units import format_number, format_percent
from maker.web.words import amount_text
from maker.workshop.models import Workshop
from pricing.calc.papers.choices import tells_something
from pricing.calc.papers.defence import NamedMaterial
from pricing.for_customers.services import Explained

_NIGHTS = "Drying takes {}."


def told(
    explained: Explained, shown: Iterable[str], workshop: Workshop, words: Iterable[str] = ()
) -> dict[str, Any]:
    """Return every value that may be told, ready to be shown, and nothing beside it.

    `shown` are the parts ticked; `words` what was chosen beside options, a colourway for instance.
    """
    wanted, defence = set(shown), explained.defence

    def money(amount: Decimal) -> str:
        return format_money(amount, workshop.currency, workshop.locale)

    def number(value: Decimal, places: int = 0) -> str:
        return format_number(value, workshop.locale, places)

    view: dict[str, Any] = {
        "price_each": money(explained.price_each),
        "total": money(explained.total) if defence.quantity > 1 else "",
        "quantity": number(Decimal(defence.quantity)),
    }
    if "materials" in wanted:
        view["materials"] = [_material(row, workshop) for row in defence.materials]
        view["parts"] = ", ".join(
            part.name if part.count == 1 else f"{part.count} x {part.name}"
            for part in defence.parts
        )
    if "handwork" in wanted:
        # so that what is read adds up
        in_all = to_minor(defence.minutes, 1)
        shares = share_out(in_all, [work.minutes for work in defence.handwork], 1)
        view["handwork"] = [
            {"label": work.label[:1].upper() + work.label[1:], "minutes": number(minutes, 1)}
            for work, minutes in zip(defence.handwork, shares, strict=True)
        ]
        view["minutes"] = number(in_all, 1)
    if "care" in wanted:
        view["care"] = _care(explained)
    if "packing" in wanted:
        view["packing"] = [f"{count} x {name}" for name, count in defence.packing]
    if "choices" in wanted:
        chosen = [*words, *(f"{name}: {choice}" for name, choice in defence.choices)]
        view["choices"] = [choice for choice in chosen if tells_something(choice)]
    if "quantities" in wanted:
        view["offers"] = [
            {"quantity": number(Decimal(offer.quantity)), "price_each": money(offer.price_each)}
            for offer in explained.offers
        ]
    if "tax" in wanted:
        view["tax"] = _tax(explained, workshop, money(explained.tax))
    return view


def _material(row: NamedMaterial, workshop: Workshop) -> dict[str, str]:
    """Write how much of a material is in one and in all; what is counted comes in whole ones."""

    def amount(value: Decimal) -> str:
        if row.unit == "m":
            return amount_text(value, "m", workshop)
        return f"{format_number(value, workshop.locale, 2)} {unit_word(row.unit, value)}"

    if row.unit not in ("sheet", "piece", "pair"):
        return {"name": row.name, "each": amount(row.each), "in_all": amount(row.in_all)}
    each = row.each.to_integral_value()
    if row.each < 1:
        said = f"part of a {row.unit}"
    else:
        said = amount(each) if row.each == each else f"about {amount(each)}"
    whole = row.in_all.to_integral_value(ROUND_CEILING)
    return {"name": row.name, "each": said, "in_all": amount(whole)}


def _care(explained: Explained) -> list[str]:
    defence = explained.defence
    said = []
    if defence.spares:
        pieces = "one extra" if defence.spares == 1 else f"{defence.spares} extra"
        said.append(f"I make {pieces} so you only get perfect ones.")
    if defence.nights:
        said.append(
            _NIGHTS.format("overnight" if defence.nights == 1 else f"{defence.nights} nights")
        )
    if defence.loads:
        loads = "one load" if defence.loads == 1 else f"{defence.loads} loads"
        said.append(f"Each one dries on a rack, in {loads}.")
    said.append("Each one is checked before packing.")
    return said


def _tax(explained: Explained, workshop: Workshop, amount: str) -> str:
    name = workshop.tax_name or "tax"
    if not explained.tax_rate:
        return f"No {name} is charged."
    rate = format_percent(explained.tax_rate, workshop.locale, 2)
    inside = "Included" if explained.prices_include_tax else "Added"
    return f"{inside}: {rate} {name}, {amount} of the total."
