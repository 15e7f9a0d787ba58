"""The figures of a year of supplies under their stable names, section by section, as text."""

import datetime
from collections.abc import Callable, Iterator
from decimal import ROUND_HALF_UP, Decimal

from catalogue.calc.supplies.foreign_receipts import exchange_difference
from catalogue.calc.supplies.reorder import best_without_packs, order_size, reorder_point
from catalogue.calc.supplies.year_end import cover_of, is_lately, year_end_value
from maker.calc.explanation import plain_text
from maker.calc.money import with_working_precision
from pricing.calc.spending.budget import carried_over
from pricing.calc.spending.price_index import Bought, indices_of, periods_of
from pricing.calc.spending.spend import last_day
from pricing.calc.supplies_result.year import Kind, Ledger, Worked, Year, value_of

Value = str | int | Decimal | None
Section = Callable[[Worked], Iterator[tuple[str, Value]]]
NONE = "none"
NEVER = 999  # days since a use that never was
ZERO = Decimal(0)
SIX_PLACES = Decimal("0.000001")
QUARTERS = 4


def landing(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 1: what each line of a receipt cost in the house."""
    for each in worked.landed:
        number, place = each.key
        yield f"r.{number}.{place}", _row(", ", each.line.landed, each.line.unit_cost)
    yield "r.lines", len(worked.landed)
    for receipt in worked.year.receipts:
        if receipt.charged is not None:
            booked = sum(
                (each.line.landed for each in worked.landed if each.receipt is receipt), ZERO
            )
            yield f"fx.{receipt.number}", exchange_difference(receipt.charged, booked)


def one_ledger(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 2: the ledger of one material, by moving average."""
    for number, step in enumerate(worked.ledgers[worked.year.ledger_item].steps, 1):
        valued = step.valued
        after = _row(", ", valued.balance, valued.balance_value, valued.average_cost)
        yield f"lg.{number}", f"{_text(abs(valued.value))}; {after}"


def late_entries(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 3: what a receipt that was entered late changed in the use of each month."""
    changed = ZERO
    for month in _months(worked.year):
        known = _used_in(worked.ledgers, month)
        first = _used_in(worked.ledgers_as_entered, month)
        changed += known - first
        if known != first:
            yield f"bd.{month:%Y-%m}", known - first
    yield "bd.sum", changed


def by_month(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 4: spent, used and in stock by month."""
    for month in _months(worked.year):
        key = f"m.{month:%Y-%m}"
        yield f"{key}.spent", _bought_text(_spent_in(worked, month))
        yield f"{key}.used", _used_in(worked.ledgers, month)
        end = last_day(month)
        yield f"{key}.shelf", sum((each.value_at(end) for each in worked.ledgers.values()), ZERO)


def reconciling(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 5: everything that came in is there or has left, by both methods."""
    ledgers = worked.ledgers
    for method, fifo in (("ma", False), ("fifo", True)):
        key = f"rc.{method}"
        for name, ledger in ledgers.items():
            yield f"{key}.{name}.qty", ledger.end.on_hand
            yield f"{key}.{name}.use", -ledger.moved(Kind.USE, fifo=fifo)
            yield f"{key}.{name}.close", _closing(ledger, fifo=fifo)
        sums = {
            "opening": sum((_opening(each, fifo=fifo) for each in ledgers.values()), ZERO),
            "receipt": _moved(ledgers, Kind.RECEIPT, fifo=fifo),
            "ret": -_moved(ledgers, Kind.RETURN, fifo=fifo),
            "scrap": -_moved(ledgers, Kind.SCRAP, fifo=fifo),
            "use": -_moved(ledgers, Kind.USE, fifo=fifo),
            "short": sum((each.counted(over=False, fifo=fifo) for each in ledgers.values()), ZERO),
            "over": sum((each.counted(over=True, fifo=fifo) for each in ledgers.values()), ZERO),
        }
        yield from ((f"{key}.{name}", value) for name, value in sums.items())
        closing = sum((_closing(each, fifo=fifo) for each in ledgers.values()), ZERO)
        yield f"{key}.close", closing
        came = sums["opening"] + sums["receipt"] + sums["over"]
        left = sums["ret"] + sums["scrap"] + sums["use"] + sums["short"]
        revalued = sum((each.revalued(fifo=fifo) for each in ledgers.values()), ZERO)
        yield f"{key}.zero", came - left + revalued - closing
    refunds = ZERO
    for back in worked.year.returns:
        refund, lost = worked.refund_of(back)
        refunds += refund
        yield f"ret.{back.receipt}", _row(", ", refund, lost)
    yield "ret.refund", refunds
    by_unit = sum((each.line.quantity * each.line.unit_cost for each in worked.landed), ZERO)
    landed = sum((each.line.landed for each in worked.landed), ZERO)
    yield "fifo.unit", landed - by_unit


def reordering(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 6: when to reorder and how much."""
    year, costs = worked.year, worked.year.order_costs
    point = reorder_point(year.weekly_use, year.lead_weeks, year.z)
    yield "ro.mean", point.mean
    yield "ro.sd", point.spread
    yield "ro.safety", point.cushion
    yield "ro.point", int(point.point)
    for start, price in costs.breaks:
        yield f"eo.{plain_text(start)}", best_without_packs(costs, price)
    size = order_size(costs)
    yield "eo.qty", plain_text(size.quantity)
    yield "eo.cost", size.year_cost
    if size.other is not None:
        yield "eo.next", f"{plain_text(size.other)}, {_text(size.other_costs_more)}"
    yield "eo.orders", size.orders_a_year
    yield "eo.shelf", size.weeks_of_use


@with_working_precision
def price_indices(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 7: her own price index by quarter."""
    items = worked.year.items
    bought = [_bought_in(worked, quarter) for quarter in range(QUARTERS)]
    before = {
        name: item.opening_value / item.opening if item.opening else ZERO
        for name, item in items.items()
    }
    periods = periods_of(bought, before)
    for number, period in enumerate(periods, 1):
        for name in items:
            quantity = _bought_text(period.quantities[name])
            yield f"ix.p.{number}.{name}", f"{_text(period.prices[name])}; {quantity}"
    for number, index in enumerate(indices_of(periods), 2):
        yield f"ix.L.{number}", index.laspeyres
        yield f"ix.P.{number}", index.paasche
        yield f"ix.F.{number}", index.fisher
        yield f"ix.cL.{number}", index.chained_laspeyres
        yield f"ix.cP.{number}", index.chained_paasche
        yield f"ix.cF.{number}", index.chained_fisher


def budgets(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 8: budgets with what is left carried on."""
    months = _months(worked.year)
    for group, budget in worked.year.budgets.items():
        spent = [_spent_in(worked, month, group) for month in months]
        for month, found in zip(months, carried_over(budget, spent), strict=True):
            spent_text, left = _bought_text(found.spent), _text(found.left)
            text = f"{_text(found.available)}, {spent_text}, {left}"
            yield f"bu.{group}.{month:%Y-%m}", f"{text}; {_text(found.carried)}"


def year_end(worked: Worked) -> Iterator[tuple[str, Value]]:
    """Section 9: slow stock and the value at the year's end."""
    year, ledgers = worked.year, worked.ledgers
    for name, ledger in ledgers.items():
        uses = [step for step in ledger.steps if step.kind is Kind.USE]
        lately = sum((step.quantity for step in uses if is_lately(step.on, year.end)), ZERO)
        last = max((step.on for step in uses), default=None)
        cover = cover_of(ledger.end.on_hand, last, lately, year.end, year.slow)
        days = NEVER if cover.days_since_use is None else cover.days_since_use
        yield f"sl.{name}", f"{days}; {_text(cover.weeks)}; {_yes(cover.is_slow)}"
    values = {
        name: year_end_value(
            ledger.end.value,
            ledger.end.on_hand,
            year.items[name].fetches_each,
            sold_above_cost=year.items[name].sold_above_cost,
        )
        for name, ledger in ledgers.items()
    }
    for name, found in values.items():
        keeps = _yes(year.items[name].sold_above_cost)
        text = _row(", ", found.cost, found.would_fetch)
        yield f"ye.{name}", f"{text}, {keeps}; {_text(found.value)}"
    every = values.values()
    cost, fetch = (
        sum((each.cost for each in every), ZERO),
        sum((each.would_fetch for each in every), ZERO),
    )
    yield "ye.writedown", sum((found.written_down for found in every), ZERO)
    yield "ye.value", sum((found.value for found in every), ZERO)
    yield "ye.plain", sum((min(found.cost, found.would_fetch) for found in every), ZERO)
    yield "ye.total", min(cost, fetch)


SECTIONS: tuple[Section, ...] = (
    landing,
    one_ledger,
    late_entries,
    by_month,
    reconciling,
    reordering,
    price_indices,
    budgets,
    year_end,
)


def figures_of(year: Year) -> dict[str, str]:
    """Return every figure by key, in order; "none" where there is nothing."""
    worked = Worked(year)
    return {key: _text(value) for section in SECTIONS for key, value in section(worked)}


def _months(year: Year) -> list[datetime.date]:
    return [datetime.date(year.number, month, 1) for month in range(1, 13)]


def _is_in(on: datetime.date, month: datetime.date) -> bool:
    return (on.year, on.month) == (month.year, month.month)


def _used_in(ledgers: dict[str, Ledger], month: datetime.date) -> Decimal:
    return -sum(
        (
            value_of(step)
            for ledger in ledgers.values()
            for step in ledger.steps
            if step.kind is Kind.USE and _is_in(step.on, month)
        ),
        ZERO,
    )


def _spent_in(worked: Worked, month: datetime.date, group: str = "") -> Decimal:
    items = worked.year.items
    return sum(
        (
            each.line.landed
            for each in worked.landed
            if _is_in(each.receipt.dated, month) and group in ("", items[each.bought.item].group)
        ),
        ZERO,
    )


def _bought_in(worked: Worked, quarter: int) -> dict[str, Bought]:
    found: dict[str, Bought] = {}
    for each in worked.landed:
        if (each.receipt.dated.month - 1) // 3 == quarter:
            name = each.bought.item
            there = found.get(name, Bought(ZERO, ZERO))
            found[name] = Bought(
                there.quantity + each.line.quantity, there.value + each.line.landed
            )
    return found


def _moved(ledgers: dict[str, Ledger], kind: Kind, *, fifo: bool) -> Decimal:
    return sum((each.moved(kind, fifo=fifo) for each in ledgers.values()), ZERO)


def _opening(ledger: Ledger, *, fifo: bool) -> Decimal:
    return ledger.opening_in_lots if fifo else ledger.opening


def _closing(ledger: Ledger, *, fifo: bool) -> Decimal:
    return ledger.end_in_lots.fifo_value if fifo else ledger.end.value


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _row(between: str, *values: Decimal | None) -> str:
    return between.join(map(_text, values))


def _bought_text(value: Decimal) -> str:
    """Write what was bought; nothing bought is 0, not an amount of 0.00."""
    return _text(value) if value else "0"


def _text(value: Value) -> str:
    if value is None:
        return NONE
    if not isinstance(value, Decimal):
        return str(value)
    return plain_text(value.quantize(SIX_PLACES, rounding=ROUND_HALF_UP) + 0, 2)
