"""What the page shows of how sure a price is."""

from decimal import Decimal
from typing import Any

from maker.calc.money import format_money
from maker.calc.units import format_number
from maker.documents.bell_chart import Limit, bell_chart
from maker.web.words import percent
from maker.workshop.models import Workshop
from pricing.costs.drawing import CostFigure, links_for, shown
from pricing.price_range.services import Certainty


def chance_text(chance: Decimal, workshop: Workshop) -> str:
    """Write a chance; nothing that rests on estimates is certain."""
    if chance > Decimal("0.999"):
        return "over " + percent(Decimal("0.999"), workshop, 1)
    if chance < Decimal("0.001"):
        return "under " + percent(Decimal("0.001"), workshop, 1)
    return percent(chance, workshop, 0)


def certainty_page(sure: Certainty, workshop: Workshop, recipe_url: str) -> dict[str, Any]:
    """Return everything the page shows, in a constant number of queries."""

    def money(amount: Decimal) -> str:
        return format_money(amount, workshop.currency, workshop.locale)

    cost_range, quantity = sure.cost_range, sure.answer.ask.quantity
    figures = [
        CostFigure(
            "Chance it pays your wage",
            chance_text(sure.chance, workshop),
            note=f"at {money(sure.judged.price_each)} each",
            main=True,
        ),
        CostFigure(
            f"Price for {percent(sure.wanted, workshop, 2)}",
            money(sure.price_wanted.price_each),
            note="each: wage and bills paid, no profit",
        ),
        CostFigure(
            "Price with your margin",
            f"{money(cost_range.price_low)} – {money(cost_range.price_high)}",
            note=f"{money(cost_range.price_expected)} expected; 8 in 10 cases fall in this range",
        ),
        CostFigure(
            "Margin at this price",
            percent(cost_range.margin_expected, workshop, 1),
            note=f"expected; {percent(cost_range.margin_bad, workshop, 1)} in the worst 1 in 10",
        ),
    ]
    link = links_for(workshop, recipe_url, [cost_range.line])
    return {
        "sure": sure,
        "figures": figures,
        "chart": _chart(sure, workshop),
        "tree": shown(cost_range.line, workshop, link),
        "steps": [
            {
                "name": step.name,
                "mean": format_number(step.mean, workshop.locale, 2),
                "spread": format_number(step.spread, workshop.locale, 2),
                "job": format_number(step.job_spread, workshop.locale, 0),
                "doubt": percent(step.doubt_share, workshop, 0),
            }
            for step in cost_range.steps
        ],
        "unestimated": sorted(
            {
                each.step.name
                for each in sure.answer.cost.work.steps
                if each.minutes and each.step.name not in {step.name for step in cost_range.steps}
            }
        ),
        "spares": _spares_in_words(sure, workshop),
        "extra_minutes": format_number(cost_range.extra_minutes / quantity, workshop.locale, 1),
    }


def _spares_in_words(sure: Certainty, workshop: Workshop) -> str:
    """Say how sure the spares are, and how many it takes for the chance she wants."""
    found = sure.spares
    if found is None:
        return ""
    chance = chance_text(Decimal(repr(round(found.chance, 6))), workshop)
    said = (
        f"With {found.spares} spare{'' if found.spares == 1 else 's'} you'll have "
        f"{sure.answer.ask.quantity} good items in {chance} of batches."
    )
    if found.spares_wanted > found.spares:
        said += f" For {percent(sure.wanted, workshop, 2)} make {found.spares_wanted}."
    return said


def _chart(sure: Certainty, workshop: Workshop) -> str:
    """Return the curve of what one costs; hatched is what the judged price can bear."""
    cost_range, quantity = sure.cost_range, sure.answer.ask.quantity

    def money(value: float) -> str:
        return format_money(Decimal(repr(round(value, 6))), workshop.currency, workshop.locale)

    mean, spread = (
        float(cost_range.cost_expected / quantity),
        float(cost_range.cost_spread / quantity),
    )
    bears = float((sure.judged.net - sure.judged.fees) / quantity)
    chance = chance_text(sure.chance, workshop)
    low, high = float(cost_range.cost_low / quantity), float(cost_range.cost_high / quantity)
    return bell_chart(
        mean,
        spread,
        good_up_to=bears,
        limits=[
            Limit(bears, f"break-even {money(bears)}", is_main=True),
            Limit(low, "10% chance lower"),
            Limit(mean, "expected"),
            Limit(high, "10% chance higher"),
        ],
        title="What an item may cost",
        description=(
            f"Expected {money(mean)}; 10% chance below {money(low)}, "
            f"10% chance above {money(high)}. The price covers a cost of "
            f"{money(bears)}: enough in {chance} of cases, hatched."
        ),
        tick_text=money,
    )
