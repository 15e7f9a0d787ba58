"""What the page shows of a change: each figure now and then, ways to a price, what to attack."""

from decimal import Decimal
from typing import Any

from maker.calc.money import format_money
from maker.calc.units import format_number
from maker.web.words import in_coins, lowest_price, money, percent
from maker.workshop.models import Workshop
from pricing.calc.price.price import JobPrice
from pricing.calc.what_if.attack import Attack
from pricing.calc.what_if.targets import Floors, Target
from pricing.costs.drawing import CostFigure
from pricing.costs.services import Answer
from pricing.what_ifs.services import Changed, Way

MOST_ATTACKS = 8


def _signed(change: Decimal, text: str) -> str:
    return f"+{text}" if change > 0 else text.replace("-", "−") if change < 0 else "±0"


def change_rows(answer: Answer, then: Changed, workshop: Workshop) -> list[dict[str, str]]:
    """Return the figures that move, as they are and as they would be."""
    now_price, new_price = answer.price, then.answer.price
    now, new = answer.cost, then.answer.cost

    def money_row(label: str, before: Decimal | None, after: Decimal | None) -> dict[str, str]:
        moved = "–"
        if before is not None and after is not None:
            moved = _signed(after - before, money(after - before, workshop))
        return {
            "label": label,
            "now": money(before, workshop),
            "then": money(after, workshop),
            "moved": moved,
        }

    rows = [
        money_row(
            "Price each",
            now_price.price_each if now_price else None,
            new_price.price_each if new_price else None,
        ),
        money_row("Cost each", now.cost_each, new.cost_each),
        money_row(
            "Lowest price",
            in_coins(now_price.floor_each, workshop) if now_price else None,
            in_coins(new_price.floor_each, workshop) if new_price else None,
        ),
        money_row(
            "Total", now_price.total if now_price else None, new_price.total if new_price else None
        ),
        money_row(
            "You earn per hour",
            now_price.per_hour if now_price else None,
            new_price.per_hour if new_price else None,
        ),
    ]
    return rows


def _too_low(price: JobPrice, workshop: Workshop) -> str:
    if not price.is_below_floor:
        return ""
    return f"; below the lowest price, {lowest_price(price.floor_each, workshop)}"


def change_figures(answer: Answer, then: Changed, workshop: Workshop) -> list[CostFigure]:
    """Return the figures that stand first."""
    figures = []
    if then.answer.price is not None:
        figures.append(
            CostFigure(
                "New price",
                money(then.answer.price.price_each, workshop),
                note="each",
                main=True,
            )
        )
    if then.kept is not None and answer.price is not None:
        figures.append(
            CostFigure(
                "Margin at today's price",
                percent(then.kept.margin, workshop),
                note=f"{money(answer.price.price_each, workshop)} each; "
                f"{percent(answer.price.margin, workshop)} now{_too_low(then.kept, workshop)}",
            )
        )
        figures.append(
            CostFigure(
                "You then earn per hour",
                money(then.kept.per_hour, workshop),
                note=f"at today's price; {money(answer.price.per_hour, workshop)} now",
            )
        )
    return figures


def floor_figures(found: Floors, workshop: Workshop) -> list[CostFigure]:
    """Return the prices to know before haggling."""
    return [
        CostFigure(
            "Lowest price", money(found.floor_each, workshop), note="wage, overhead and bills paid"
        ),
        CostFigure(
            "Walk away below",
            money(found.walk_away_each, workshop),
            note="wage and bills paid, nothing towards overhead",
        ),
        CostFigure("Bills only", money(found.bills_each, workshop), note="you work for nothing"),
    ]


def _said(target: Target, value: Decimal, workshop: Workshop) -> str:
    if target.unit == "money":
        return format_money(value, workshop.currency, workshop.locale, 2)
    if target.unit == "share":
        return percent(value, workshop)
    word = {"piece": "", "%": "%"}.get(target.unit, f" {target.unit}")
    return format_number(value, workshop.locale, 2) + word


def way_rows(ways: tuple[Way, ...], workshop: Workshop) -> list[dict[str, str]]:
    """Return each way to a wanted price: what is now and what would have to be."""
    return [
        {
            "label": way.label,
            "now": _said(way.target, way.target.now, workshop) if way.target else "",
            "needed": _said(way.target, way.target.needed, workshop) if way.target else "",
            "why_not": way.why_not,
        }
        for way in ways
    ]


def attack_rows(found: tuple[Attack, ...], workshop: Workshop) -> list[dict[str, Any]]:
    """Return what to make cheaper first, the largest saving first."""
    return [
        {
            "label": one.label,
            "share": percent(one.share, workshop),
            "could_go": percent(one.could_go, workshop),
            "saving": format_money(one.saving_each, workshop.currency, workshop.locale, 2),
        }
        for one in found[:MOST_ATTACKS]
    ]
