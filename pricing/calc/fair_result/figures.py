"""The figures of a fair under their stable names, section by section, as text."""

from collections.abc import Callable, Iterator
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from maker.calc.explanation import plain_text
from maker.calc.money import with_working_precision
from pricing.calc.fair_result.fair import Fair, Worked
from pricing.calc.fairs.what_to_take import exact

Value = str | int | Decimal | Fraction | None
Section = Callable[[Worked], Iterator[tuple[str, Value]]]
NONE = "none"
ZERO = Decimal(0)
SIX_PLACES = Decimal("0.000001")


def taking(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 1: what to take of each item by itself."""
    for name, found in worked.taking.items():
        key = f"nv.{name}"
        yield f"{key}.net", found.one_more.net_price
        yield f"{key}.fee", found.one_more.planned_fee
        yield f"{key}.u", found.one_more.gain
        yield f"{key}.o", found.one_more.loss
        yield f"{key}.ratio", found.one_more.ratio
        yield f"{key}.mean", found.mean
        yield f"{key}.Q", found.count
        yield f"{key}.P", found.chance
        yield f"{key}.Pless", found.chance_with_one_less
        yield f"{key}.together", found.count_if_alike
        yield f"{key}.gain", found.gain_of(found.count)


def sharing(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 2: items share the table."""
    designs, best = worked.fair.designs.values(), worked.best
    pairs = zip(designs, worked.taking.values(), strict=True)
    yield "sp.want", sum((design.space * found.count for design, found in pairs), ZERO)
    yield "sp.cap", worked.fair.space
    for offer, count in zip(worked.offers, best.counts, strict=True):
        yield f"sp.{offer.name}", count
    yield "sp.used", best.used[0]
    yield "sp.gain", best.gain
    apart = sum((found.gain_of(found.count) for found in worked.taking.values()), ZERO)
    yield "sp.cost", apart - best.gain
    yield "sp.greedy", ", ".join(map(str, worked.greedy.counts))
    yield "sp.greedy.gain", worked.greedy.gain
    yield "sp.more", worked.best_with_more.gain - best.gain


def bundle(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 3: the price of a bundle."""
    found = worked.bundle
    yield "bu.floor", found.lowest
    yield "bu.full", found.full
    yield "bu.raw", found.before_step
    yield "bu.price", found.price
    yield "bu.off", found.saving
    yield "bu.gain", found.gain
    yield "bu.gain.full", found.gain_apart


def days(worked: Worked) -> Iterator[tuple[str, Value]]:
    """A section for each day."""
    last = len(worked.days)
    for number, (day, hidden) in enumerate(zip(worked.days, worked.hidden, strict=True), 1):
        key = f"d{number}"
        for name, count in day.handed_over.items():
            yield f"{key}.sold.{name}", count
        yield f"{key}.refund", day.refunded
        yield f"{key}.card", day.card
        yield f"{key}.cash", day.cash
        yield f"{key}.gross", day.takings
        yield f"{key}.tax", day.tax
        yield f"{key}.fee", day.fees
        yield f"{key}.cogs", day.cost_of_items
        yield f"{key}.bags", day.bags
        yield f"{key}.fixed", day.fixed
        yield f"{key}.hours", day.hours
        if number == last:
            yield f"{key}.missing", day.missing
        yield f"{key}.till.expected", day.till.expected
        yield f"{key}.till.counted", day.till.counted
        yield f"{key}.till.diff", day.till.difference
        yield f"{key}.till.bank", day.till.to_bank
        yield f"{key}.profit", day.profit
        yield f"{key}.perhour", _over(day.profit, day.hours)
        if hidden is not None:
            demand, lost = hidden
            yield f"{key}.so.share", demand.share_gone
            yield f"{key}.so.demand", demand.demand
            yield f"{key}.so.byclock", worked.by_clock(number - 1)
            yield f"{key}.so.lost", demand.missed
            yield f"{key}.so.gain", lost


def season(worked: Worked) -> Iterator[tuple[str, Value]]:
    """The days added up."""
    found, fair = worked.season, worked.fair
    yield "s.gross", found.takings
    yield "s.card", found.card
    yield "s.cash", found.cash
    yield "s.tax", found.tax
    yield "s.fee", found.fees
    yield "s.cogs", found.cost_of_items
    yield "s.bags", found.bags
    yield "s.fixed", found.fixed
    yield "s.diff", found.difference
    yield "s.hours", found.hours
    yield "s.profit", found.profit
    yield "s.hidden", found.hidden
    yield "s.perhour", found.profit_per_hour
    for name in fair.designs:
        yield f"s.stock.{name}", worked.unaccounted(name)
    yield "s.pieces", found.items_sold
    yield "s.avg", found.gain_each
    yield "s.even", found.items_for(found.fixed)
    yield "s.wage", found.items_for(found.fixed + fair.wage * found.hours)
    yield "s.check", found.unexplained


def comparing(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Fairs beside each other."""
    outcomes = worked.outcomes
    for number, found in enumerate(outcomes, 1):
        key = f"f{number}"
        yield f"{key}.name", found.name
        yield f"{key}.profit", found.profit
        yield f"{key}.perhour", found.profit_per_hour
        yield f"{key}.fixedshare", found.fixed_share
        yield f"{key}.permetre", found.profit_per_metre
        yield f"{key}.orders", found.orders
        yield f"{key}.perhour.orders", found.per_hour_with_orders
        yield f"{key}.perhour.stock", found.per_hour_with_stock
        yield f"{key}.again", str(found.again(worked.fair.wage))
    yield "f.best", max(outcomes, key=lambda found: found.per_hour_with_orders).name
    yield "f.mosttakings", max(outcomes, key=lambda found: found.takings).name


SECTIONS: tuple[Section, ...] = (taking, sharing, bundle, days, season, comparing)


def figures_of(fair: Fair) -> dict[str, str]:
    """Return every figure by key, in order; "none" where there is nothing."""
    worked = Worked(fair)
    return {key: _text(value) for section in SECTIONS for key, value in section(worked)}


@with_working_precision
def _over(amount: Decimal, base: Decimal) -> Decimal | None:
    return amount / base if base else None


@with_working_precision
def _text(value: Value) -> str:
    if value is None:
        return NONE
    if isinstance(value, Fraction):
        value = exact(value)
    if not isinstance(value, Decimal):
        return str(value)
    return plain_text(value.quantize(SIX_PLACES, rounding=ROUND_HALF_UP) + 0, 2)
