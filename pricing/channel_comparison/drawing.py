"""What the page shows of channels laid side by side."""

from decimal import Decimal
from typing import Any

from maker.calc.units import format_percent
from maker.web.cost_bar import BarPart, cost_bar
from maker.web.words import lowest_price, money
from maker.workshop.models import Workshop
from pricing.calc.price.channel_comparison import ChannelResult, Comparison
from pricing.channel_comparison.services import SideBySide
from pricing.costs.drawing import CostFigure

PART_ORDER = (
    "labour", "profit", "overhead", "bought", "tax", "payment", "commission", "listing", "shop",
)  # fmt: skip
_GONE = ("shop", "tax", "commission", "payment", "listing")


def _rows(comparison: Comparison, workshop: Workshop) -> list[dict[str, Any]]:
    best = comparison.best_per_hour
    return [_row(result, result is best, workshop) for result in comparison.results]


def _row(result: ChannelResult, is_best: bool, workshop: Workshop) -> dict[str, Any]:
    price = result.price
    if price is None:
        return {"channel": result.channel.name, "id": result.channel.id, "why": result.refusal}
    gone = sum((part.amount for part in result.parts if part.key in _GONE), Decimal(0))
    share = price.margin
    return {
        "channel": result.channel.name,
        "id": result.channel.id,
        "bought_at_once": result.bought_at_once,
        "customer": money(result.customer_each, workshop),
        "hers": money(price.price_each, workshop),
        "gone": money(gone / price.quantity, workshop),
        "profit": money(price.profit / price.quantity, workshop),
        "is_loss": price.profit < 0,
        "margin": "–" if share is None else format_percent(share, workshop.locale),
        "per_hour": money(price.per_hour, workshop),
        "is_best": is_best,
        "below_lowest": _too_low(result, workshop).removeprefix(", "),
    }


def _bars(comparison: Comparison, workshop: Workshop) -> list[dict[str, Any]]:
    """Return a bar for each channel that earns something; a loss has no length."""
    drawn = [
        result
        for result in comparison.results
        if result.price is not None and all(part.amount > 0 for part in result.parts)
    ]
    labels = {part.key: part.label for result in drawn for part in result.parts}
    kinds = [(key, labels[key]) for key in PART_ORDER if key in labels]
    bars = []
    for place, result in enumerate(drawn):
        quantity = Decimal(result.price.quantity if result.price else 1)
        amounts = {part.key: part.amount for part in result.parts}
        parts = [
            BarPart(label.capitalize(), amount, money(amount / quantity, workshop))
            for key, label in kinds
            for amount in (amounts.get(key, Decimal(0)),)
        ]
        bar = cost_bar(parts, total_text=money(result.customer_each, workshop))
        bars.append({"channel": result.channel.name, "bar": bar, "id": f"channel-{place}"})
    return bars


def _too_low(result: ChannelResult, workshop: Workshop) -> str:
    price = result.price
    if price is None or not price.is_below_floor:
        return ""
    return f", below the lowest price of {lowest_price(price.floor_each, workshop)}"


def comparison_page(compared: SideBySide, workshop: Workshop) -> dict[str, Any]:
    """Return everything the page shows."""
    best_own, best_one = compared.own_prices.best_per_hour, compared.one_price.best_per_hour
    figures = []
    if best_own is not None:
        figures.append(
            CostFigure(
                "Best pay per hour",
                best_own.channel.name,
                note=f"{money(best_own.per_hour, workshop)} an hour at its own price",
                main=True,
            )
        )
    if best_one is not None:
        figures.append(
            CostFigure(
                f"At {money(compared.customer_each, workshop)} everywhere",
                best_one.channel.name,
                note=f"{money(best_one.per_hour, workshop)} an hour{_too_low(best_one, workshop)}",
            )
        )
    return {
        "compared": compared,
        "figures": figures,
        "one_price": _rows(compared.one_price, workshop),
        "own_prices": _rows(compared.own_prices, workshop),
        "same_profit": _rows(compared.same_profit, workshop),
        "bars": _bars(compared.one_price, workshop),
    }
