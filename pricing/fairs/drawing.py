"""A fair's figures written out for its pages, and the chart of fairs side by side."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from maker.calc.dates import say_date, say_span, short_date
from maker.calc.money import format_money, minor_digits, to_minor
from maker.calc.units import format_percent
from maker.workshop.models import Workshop
from pricing.calc.fairs.fair_day import FairDay
from pricing.calc.fairs.must_take import Goal, SoldMix, goal_of, paid_an_hour, share_of_fixed
from pricing.calc.fairs.season import Again
from pricing.costs.drawing import CostFigure
from pricing.fairs.models import Fair, FairDesign
from pricing.fairs.results import FairResult, ItemResult
from pricing.prices.inputs import item_words

ZERO = Decimal(0)
AGAIN = {
    Again.YES: ("Yes", "badge good"),
    Again.WITH_STOCK: ("Yes, with more stock", "badge good"),
    Again.WITH_CHANGE: ("Only with a change", "badge"),
    Again.NO: ("No", "badge alarm"),
}


def item_name(item: FairDesign) -> str:
    """Return the design with what sets this item apart; the item comes from `with_items()`."""
    words = item_words(item)  # type: ignore[arg-type]  # has what an entry of the list has
    name = item.version.design.name
    return f"{name} ({words})" if words else name


def planned_tags(workshop: Workshop, fair: int) -> list[tuple[str, int, Decimal]]:
    """Return what a fair's tags say: the item, how many are taken, its price (two queries)."""
    items = FairDesign.objects.of(workshop).filter(fair=fair, planned__gt=0)
    return [
        (item_name(item), item.planned or 0, item.price) for item in items.with_items().in_order()
    ]


@dataclass(frozen=True, slots=True)
class FairWords:
    """Writes amounts of one workshop."""

    workshop: Workshop

    def money(self, amount: Decimal | None) -> str:
        """Write an amount, below zero with a minus; a dash for none."""
        if amount is None:
            return "–"
        shown = to_minor(amount, minor_digits(self.workshop.currency))
        sign = "−" if shown < 0 else ""
        return sign + format_money(abs(shown), self.workshop.currency, self.workshop.locale)

    def over_or_short(self, difference: Decimal | None) -> str:
        """Say a till difference."""
        if difference is None:
            return "not counted"
        shown = to_minor(difference, minor_digits(self.workshop.currency))
        if not shown:
            return "right"
        return f"{self.money(abs(shown))} {'over' if shown > 0 else 'short'}"

    def share(self, share: Decimal) -> str:
        """Write a share."""
        return format_percent(share, self.workshop.locale)

    def hours(self, hours: Decimal) -> str:
        """Write hours without needless decimals."""
        return f"{hours.quantize(Decimal('0.1')).normalize():f} h" if hours else "0 h"


def again_reason(result: FairResult, words: FairWords) -> str:
    """Say why a fair is or is not worth going to again."""
    outcome, wage = result.outcome, words.money(result.wage)
    hour = words.money(outcome.per_hour_with_orders)
    orders = " with orders won" if outcome.orders else ""
    match outcome.again(result.wage):
        case Again.YES:
            return f"An hour paid {hour}{orders}, at least your wage of {wage}."
        case Again.WITH_STOCK:
            full = words.money(outcome.per_hour_with_stock)
            return f"An hour paid {hour}{orders}. Had nothing sold out: {full}, above your {wage}."
        case Again.WITH_CHANGE:
            return f"An hour paid {hour}{orders} on top of making, below your wage of {wage}."
        case _:
            return f"Each hour there lost {words.money(abs(outcome.per_hour_with_orders))}{orders}."


def as_last_time(result: FairResult, before: FairResult | None, words: FairWords) -> str:
    """Say what an hour pays if as much sells as last time; empty where nothing is known of it."""
    if before is None or before.mix is None:
        return ""
    sold = before.season.items_sold
    hour = paid_an_hour(sold, before.mix, result.fixed, result.hours)
    if hour is None:
        return ""
    said = f"If {sold} items sell as last time, an hour"
    if hour < 0:
        return f"{said} loses {words.money(-hour)}."
    than = "at least" if hour >= result.wage else "below"
    return f"{said} pays {words.money(hour)}, {than} your wage of {words.money(result.wage)}."


def goal_figures(
    result: FairResult, mix: SoldMix, words: FairWords
) -> list[tuple[str, Goal | None]]:
    """Return what it must take to break even, and to earn the wage as well."""
    fixed, hours = result.fixed, result.hours
    return [
        ("To break even", goal_of(fixed, mix, result.open_hours)),
        (
            f"To earn {words.money(result.wage)} an hour",
            goal_of(fixed + result.wage * hours, mix, result.open_hours),
        ),
    ]


def goal_rows(result: FairResult, mix: SoldMix, words: FairWords) -> list[dict[str, str]]:
    """Write the goals as rows of a table."""
    rows = []
    for label, goal in goal_figures(result, mix, words):
        if goal is None:
            rows.append({"label": label, "items": "no number does", "takings": "–", "hour": "–"})
            continue
        hour = "–"
        if goal.items_an_hour is not None:
            each = goal.items_an_hour.quantize(Decimal("0.1"))
            hour = f"{each} items, {words.money(goal.takings_an_hour)}"
        rows.append(
            {
                "label": label,
                "items": str(goal.items),
                "takings": words.money(goal.takings),
                "hour": hour,
            }
        )
    return rows


def result_figures(result: FairResult, words: FairWords) -> list[CostFigure]:
    """Return the figures of the whole fair."""
    season, outcome = result.season, result.outcome
    per_hour = season.profit_per_hour
    return [
        CostFigure(
            "Profit per hour",
            words.money(per_hour),
            note=f"your wage is {words.money(result.wage)}",
            main=True,
        ),
        CostFigure("Takings", words.money(season.takings)),
        CostFigure("Profit", words.money(season.profit), note="making is paid already"),
        CostFigure("Hours", words.hours(season.hours), note="the whole days"),
        CostFigure("Items sold", str(season.items_sold)),
        CostFigure("Fixed costs", words.money(season.fixed), note=_of_takings(outcome, words)),
    ]


def share_rows(result: FairResult, sold: int, words: FairWords) -> list[dict[str, Any]]:
    """Write what fixed costs add to each item at so many sold; `sold` is last time's number."""
    fixed = result.fixed
    counts = sorted({*MANY_SOLD, *([sold] if sold > 0 else [])})
    return [
        {
            "count": count,
            "adds": words.money(share_of_fixed(fixed, count)),
            "is_last_time": count == sold,
        }
        for count in counts
    ]


def _of_takings(outcome: Any, words: FairWords) -> str:
    return f"{words.share(outcome.fixed_share)} of takings" if outcome.takings else ""


def day_rows(result: FairResult, words: FairWords) -> list[dict[str, Any]]:
    """Write each day as a row."""
    rows = []
    for place, (day, figures) in enumerate(zip(result.days, result.figures, strict=True)):
        counted = bool(day.counted.all())
        card = result.card_difference(place)
        rows.append(
            {
                "day": day,
                "takings": words.money(figures.takings),
                "card": words.money(figures.card),
                "cash": words.money(figures.cash),
                "till": words.over_or_short(figures.till.difference if counted else None),
                "till_note": day.till_reason if day.till_difference else "",
                "reader": "no statement" if card is None else words.over_or_short(card),
                "profit": words.money(figures.profit),
                "hours": words.hours(figures.hours),
                "hour": words.money(_per(figures.profit, figures.hours)),
            }
        )
    return rows


def _per(amount: Decimal, hours: Decimal) -> Decimal | None:
    return amount / hours if hours else None


def steps_of(figures: FairDay, words: FairWords, result: FairResult) -> list[tuple[str, str]]:
    """Write how a day's profit comes about, line by line."""
    till = figures.till
    steps = [
        ("Takings", figures.takings),
        ("Tax in them", -figures.tax),
        ("Card fees", -figures.fees),
        ("Commission", -figures.commission),
        ("Cost of items sold", -figures.cost_of_items),
        ("Bags", -figures.bags),
        ("Stall, travel and other costs", -figures.fixed),
        ("Given, broken and missing items", -figures.missing),
        ("Till over or short", till.difference),
        ("Profit", figures.profit),
    ]
    return [(label, words.money(amount)) for label, amount in steps if amount or label == "Profit"]


def till_lines(figures: FairDay, words: FairWords, deposits: Decimal, out: Decimal) -> Any:
    """Write what should be in the till of a day."""
    till = figures.till
    lines = [
        ("Float", till.float_amount),
        ("Cash sales less refunds", figures.cash),
        ("Deposits in cash", deposits),
        ("Paid out of the till", -out),
        ("Expected", till.expected),
    ]
    return [(label, words.money(amount)) for label, amount in lines]


def item_rows(
    results: Iterable[ItemResult], words: FairWords, hours: Decimal
) -> list[dict[str, Any]]:
    """Write what became of each item."""
    rows = []
    for each in results:
        item = each.item
        missing = each.missing
        rows.append(
            {
                "item": item,
                "name": item_name(item),
                "taken": "–" if item.taken is None else item.taken,
                "sold": each.sold,
                "an_hour": f"{each.sold / hours:.1f}" if hours else "–",
                "home": "–" if item.brought_home is None else item.brought_home,
                "lost": each.lost or "–",
                "missing": "–"
                if not missing
                else missing
                if missing > 0
                else f"{-missing} too many",
                "takings": words.money(each.takings),
                "gain": words.money(each.gain),
                "metre": words.money(each.gain_per_metre),
                "loses": each.loses,
            }
        )
    return rows


def hour_rows(result: FairResult, words: FairWords) -> list[tuple[str, int, str]]:
    """Write takings and items by the hour of the clock."""
    return [
        (f"{hour}:00 to {hour + 1}:00", items, words.money(takings))
        for hour, takings, items in result.by_hour
    ]


def sold_out_rows(result: FairResult, words: FairWords) -> list[dict[str, Any]]:
    """Write what ran out, and what would still have sold."""
    return [
        {
            "name": item_name(each.item),
            "when": f"{say_date(each.day.held_on, year=False)}, {each.at:%H:%M}",
            "missed": max(each.demand.missed, 0) if each.demand else "not known",
            "gain": words.money(each.lost_gain),
        }
        for each in result.sold_out
    ]


def fair_rows(results: Sequence[FairResult], words: FairWords) -> list[dict[str, Any]]:
    """Write fairs side by side; what has no sales has no figures."""
    rows = []
    for result in results:
        fair, days = result.fair, result.days
        row: dict[str, Any] = {"fair": fair, "dates": dates_text(fair)}
        if result.has_sales:
            outcome = result.outcome
            label, badge = AGAIN[outcome.again(result.wage)]
            row |= {
                "takings": words.money(outcome.takings),
                "profit": words.money(outcome.profit),
                "hour": words.money(outcome.profit_per_hour),
                "with_orders": words.money(outcome.per_hour_with_orders),
                "metre": words.money(outcome.profit_per_metre) if outcome.metres else "–",
                "again": label,
                "badge": badge,
            }
        row["weather"] = ", ".join(dict.fromkeys(day.weather for day in days if day.weather))
        rows.append(row)
    return rows


def dates_text(fair: Fair) -> str:
    """Write when a fair is; after `with_everything()`."""
    days = list(fair.days.all())
    if not days:
        return "no dates"
    first, last = days[0].held_on, days[-1].held_on
    return short_date(first) if first == last else f"{say_span(first, last)} {last.year}"


MANY_SOLD = (10, 25, 50, 100, 200)
ROW, LEFT, RIGHT_EDGE, TOP = 34, 8, 632, 26


def hours_chart(results: Sequence[FairResult], words: FairWords) -> SafeString:
    """Draw what an hour of each fair paid, orders counted, beside the wage; empty without any."""
    shown = [result for result in results if result.has_sales]
    if not shown:
        return SafeString("")
    wage = shown[0].wage
    values = [result.outcome.per_hour_with_orders for result in shown]
    least, most = min(ZERO, *values), max(wage, *values)
    scale = Decimal(RIGHT_EDGE - LEFT - 110) / ((most - least) or Decimal(1))

    def at(value: Decimal) -> str:
        return f"{LEFT + 50 + (value - least) * scale:.1f}"

    height = TOP + ROW * len(shown) + 8
    parts = [
        f'<svg class="fair-chart" viewBox="0 0 640 {height}" role="img" aria-labelledby="fc-t">'
        '<title id="fc-t">Profit per hour of each fair, orders counted, beside your wage</title>'
    ]
    for place, (result, value) in enumerate(zip(shown, values, strict=True)):
        top = TOP + ROW * place
        start, end = sorted((Decimal(at(ZERO)), Decimal(at(value))))
        year = f" {result.days[0].held_on.year}" if result.days else ""
        parts.append(
            f'<text x="{LEFT}" y="{top + 10}">{escape(result.fair.name)}{year}</text>'
            f'<rect class="{"gain" if value >= 0 else "loss"}" x="{start}" y="{top + 14}" '
            f'width="{max(end - start, Decimal("0.5"))}" height="12"/>'
            f'<text x="{max(end, Decimal(at(ZERO))) + 4}" y="{top + 24}">'
            f"{escape(words.money(value))}</text>"
        )
    parts.append(
        f'<line class="zero" x1="{at(ZERO)}" x2="{at(ZERO)}" y1="{TOP - 6}" y2="{height}"/>'
        f'<line class="wage" x1="{at(wage)}" x2="{at(wage)}" y1="{TOP - 6}" y2="{height}"/>'
        f'<text x="{at(wage)}" y="12" text-anchor="middle">wage {escape(words.money(wage))}</text>'
        "</svg>"
    )
    return mark_safe("".join(parts))  # noqa: S308 - names are escaped
