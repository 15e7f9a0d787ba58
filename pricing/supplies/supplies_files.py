"""Reads a year of supplies from JSON text: its part `inputs`, as its figures need it."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from catalogue.calc.supplies.reorder import OrderCosts
from catalogue.calc.supplies.year_end import SlowLimits
from maker.calc.strict_json import (
    Fields,
    Reader,
    WrongJson,
    count,
    day,
    list_of,
    number,
    parse,
    text,
    tuple_of,
    yes_no,
)
from pricing.calc.supplies_result.year import (
    BoughtLine,
    Item,
    Noted,
    Receipt,
    SentBack,
    Year,
)

LARGEST = 1_000_000
MOST_ROWS = 100_000
MOST_PACKS = 10_000
FIRST_YEAR, LAST_YEAR = 1970, 2200
ZERO, ONE = Decimal(0), Decimal(1)

_AMOUNT = number(0, LARGEST, places=12)
_MONEY = number(0, LARGEST, places=2)
_SHARE = number(0, 1, places=12)


def read_year(content: bytes | str) -> Year:
    """Return the year of a JSON text. Errors: WrongJson.

    Keys that these figures do not need are left alone.
    """
    fields = Fields(parse(content)).take("inputs", Fields)
    items = _items(fields)
    receipts = fields.take("receipts", list_of(_receipt(items), MOST_ROWS), ())
    reorder, slow = fields.take("reorder", Fields), fields.take("slow", Fields)
    ledger_item = fields.take("ledger_item", text)
    if ledger_item not in items:
        raise fields.refuse(f"{ledger_item} is not one of the items.", "ledger_item")
    budgets = fields.take("budget", Fields)
    return Year(
        number=fields.take("year", count(FIRST_YEAR, LAST_YEAR)),
        end=fields.take("end", day),
        items=items,
        receipts=receipts,
        returns=_returns(fields, receipts),
        uses=fields.take("uses", list_of(_noted(items), MOST_ROWS), ()),
        counts=fields.take("counts", list_of(_noted(items), MOST_ROWS), ()),
        ledger_item=ledger_item,
        weekly_use=reorder.take("weekly_use", list_of(_AMOUNT, MOST_ROWS)),
        lead_weeks=reorder.take("lead_weeks", _AMOUNT),
        z=reorder.take("z", number(-10, 10, places=12)),
        order_costs=_order_costs(fields.take("eoq", Fields)),
        budgets={group: budgets.take(group, _AMOUNT) for group in budgets.values},
        slow=SlowLimits(slow.take("days", count(0, LARGEST)), slow.take("weeks", _AMOUNT)),
    )


def _items(fields: Fields) -> dict[str, Item]:
    rows, opening = fields.take("items", Fields), fields.take("opening", Fields)
    fetch = fields.take("fetch", Fields)
    found: dict[str, Item] = {}
    for key in rows.values:
        row, worth = rows.take(key, Fields), fetch.take(key, Fields)
        there = opening.optional(key, Fields)
        found[key] = Item(
            name=row.take("name", text),
            group=row.take("group", text),
            fetches_each=worth.take("unit", _AMOUNT),
            sold_above_cost=worth.take("sold_above_cost", yes_no),
            opening=ZERO if there is None else there.take("qty", _AMOUNT),
            opening_value=ZERO if there is None else there.take("value", _MONEY),
        )
    return found


def _receipt(items: Mapping[str, Item]) -> Reader[Receipt]:
    def read_line(raw: Any, path: str) -> BoughtLine:
        row = Fields(raw, path)
        line = BoughtLine(
            item=_known(row.take("item", text), items, row.at("item")),
            quantity=row.take("qty", _AMOUNT),
            price=row.take("price", _AMOUNT),
            damaged_credited=row.take("damaged_credited", _AMOUNT, ZERO),
            damaged_kept=row.take("damaged_kept", _AMOUNT, ZERO),
        )
        if line.arrived <= 0 or line.damaged_kept > line.arrived:
            raise row.refuse("More arrived damaged than was sent.", "qty")
        return line

    def read(raw: Any, path: str) -> Receipt:
        row = Fields(raw, path)
        dated = row.take("date", day)
        return Receipt(
            number=row.take("no", text),
            dated=dated,
            entered=row.take("entered", day, dated),
            lines=row.take("lines", list_of(read_line, MOST_ROWS)),
            postage=row.take("postage", _MONEY, ZERO),
            discount=row.take("discount", _MONEY, ZERO),
            rate=row.take("rate", number(Decimal("0.000001"), LARGEST, places=12), ONE),
            charged=row.optional("charged", _MONEY),
        )

    return read


def _returns(fields: Fields, receipts: tuple[Receipt, ...]) -> tuple[SentBack, ...]:
    lines = {(each.number, line.item) for each in receipts for line in each.lines}
    found = []
    for row in fields.rows("returns") if fields.has("returns") else []:
        back = SentBack(
            row.take("receipt", text),
            row.take("item", text),
            row.take("qty", _AMOUNT),
            row.take("date", day),
        )
        if (back.receipt, back.item) not in lines or not back.quantity:
            raise row.refuse("Nothing like this is on that receipt.", "receipt")
        found.append(back)
    return tuple(found)


def _noted(items: Mapping[str, Item]) -> Reader[Noted]:
    def read(raw: Any, path: str) -> Noted:
        on, item, quantity = tuple_of(day, text, _AMOUNT)(raw, path)
        return Noted(on, _known(item, items, path), quantity)

    return read


def _known(name: str, items: Mapping[str, Item], path: str) -> str:
    if name not in items:
        raise WrongJson(f"{name} is not one of the items.", where=path)
    return name


def _order_costs(row: Fields) -> OrderCosts:
    breaks = row.take("breaks", list_of(tuple_of(_AMOUNT, _AMOUNT), MOST_ROWS))
    if not breaks or breaks[0][0] or list(breaks) != sorted(breaks, key=lambda each: each[0]):
        raise row.refuse("Give price breaks from 0 on, in order.", "breaks")
    return OrderCosts(
        year_use=row.take("year_use", _AMOUNT),
        order_cost=row.take("order_cost", _AMOUNT),
        holding=row.take("holding", _SHARE),
        breaks=tuple((start, price) for start, price in breaks),
        pack=row.take("pack", _AMOUNT),
        most_packs=row.take("max_packs", count(1, MOST_PACKS)),
    )
