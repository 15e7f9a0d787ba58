"""Estimate and actual as the page shows them, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from catalogue.recipes.models import DesignVersion
from maker.calc.units import format_number
from maker.web.words import amount_text, money, percent
from maker.workshop.models import Workshop
from pricing.making.after import Afterwards, NextTime, has_minutes_of
from pricing.price_history.drawing import customer_words
from pricing.quotes.drawing import Words

ONE = Decimal(1)
THOUSANDTH = Decimal("0.001")
# what differs by less needs no change (as the usual limit of timings)
NEAR = Decimal("0.03")


def after_page(
    found: Afterwards, shop: Workshop, newest: Mapping[int, DesignVersion]
) -> dict[str, Any]:
    """Return everything the page shows; `newest` has the newest recipe of each design."""
    words, actuals = Words(shop.currency, shop.locale), found.actuals

    def hours(amount: Decimal) -> str:
        return f"{format_number(amount.quantize(Decimal('0.01'), ROUND_HALF_UP), shop.locale)} h"

    def count(amount: Decimal) -> str:
        return format_number(amount.quantize(Decimal("0.1"), ROUND_HALF_UP), shop.locale)

    materials = [
        {
            "name": row.name,
            "planned": amount_text(amount, row.unit, shop),
            "used": amount_text(use.actual_amount, row.unit, shop),
            "planned_price": words.price(use.planned_price),
            "price": words.price(use.actual_price),
            "by_price": words.signed(variance.by_price),
            "by_use": words.signed(variance.by_amount),
            "was_used": bool(use.actual_amount),
            "each": amount_text(use.actual_amount / found.made, row.unit, shop)
            if found.made and variance.by_amount and use.actual_amount
            else "",
        }
        for row, use, variance, amount in zip(
            found.rows, found.uses, actuals.materials, actuals.planned_amounts, strict=True
        )
    ]
    adding = [
        ("Planned cost", words.money(actuals.planned_cost)),
        ("Volume: more or fewer made", words.signed(actuals.volume)),
        ("Material prices", words.signed(_sum(each.by_price for each in actuals.materials))),
        ("Material use", words.signed(_sum(each.by_amount for each in actuals.materials))),
        ("Wage per hour", words.signed(actuals.work.by_price)),
        ("Pace of work", words.signed(actuals.work.by_amount)),
    ]
    if found.expenses:
        adding.append(("Expenses for this order", words.signed(found.expenses)))
    return {
        "materials": materials,
        "adding": adding,
        "actual_cost": words.money(found.actual_cost),
        "has_expenses": bool(found.expenses),
        "planned_count": count(found.planned),
        "made_count": count(found.made),
        "hours_planned": hours(actuals.planned_hours),
        "hours_actual": hours(found.work.actual_hours),
        "by_rate": words.signed(actuals.work.by_price),
        "by_pace": words.signed(actuals.work.by_amount),
        "earned": money(found.earned_per_hour, shop),
        "is_whole": found.is_whole,
        "planned_earned": money(found.planned_per_hour, shop),
        "wage": money(shop.wage_per_hour, shop),
        "unused": [row["name"] for row in materials if not row["was_used"]],
        "paces": [
            {
                "design": pace.design,
                "planned": hours(pace.planned / 60),
                "actual": hours(pace.actual / 60),
                "factor": str(pace.factor.quantize(THOUSANDTH)),
                "change": percent(pace.factor - ONE, shop, 0),
                "is_more": pace.factor > ONE,
                "is_off": abs(pace.factor - ONE) > NEAR,
                "version": newest[pace.design.pk].number,
                "fits": has_minutes_of(newest[pace.design.pk], pace.versions),
            }
            for pace in found.paces
        ],
    }


def _sum(amounts: Any) -> Decimal:
    return sum(amounts, Decimal(0))


@dataclass(frozen=True, slots=True)
class NextRow:
    """What to tell the customer of one line."""

    name: str
    said: tuple[str, ...]


def next_rows(lines: Sequence[NextTime], shop: Workshop) -> list[NextRow]:
    """Return sentences for the customer, line by line."""
    words = Words(shop.currency, shop.locale)
    rows = []
    for each in lines:
        name = str(each.line.design)
        if each.line.colourway_name:
            name = f"{name}, {each.line.colourway_name}"
        said = tuple(customer_words(each.history, words, each.quantities))
        rows.append(NextRow(f"{each.quantities[0]} × {name}", said))
    return rows
