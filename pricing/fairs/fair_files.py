"""Reads a fair from JSON text: its `inputs`, as the values its figures need."""

import datetime
import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from maker.calc.strict_json import (
    Fields,
    Reader,
    WrongJson,
    count,
    list_of,
    mapping_of,
    number,
    parse,
    text,
    tuple_of,
)
from pricing.calc.fair_result.fair import Day, Design, Fair, Payments, SoldOut
from pricing.calc.fairs.demand import BadChances, Chances, chances_of
from pricing.calc.fairs.season import FairOutcome
from pricing.calc.fairs.what_to_take import FairItem, FairRates

LARGEST = 1_000_000
MOST_ROWS = 5000
MOST_DAYS = 60
LARGEST_DEMAND = 2000
CARD, CASH = "card", "cash"
_TIME = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])", re.ASCII)

_COUNT = count(0, LARGEST)
_SHARE, _AMOUNT = number(0, 1, places=12), number(0, LARGEST, places=12)
_SIGNED = number(-LARGEST, LARGEST, places=12)
_COUNTS = mapping_of(_COUNT)


def read_fair(content: bytes | str) -> Fair:
    """Return the fair of a JSON text. Errors: WrongJson.

    Keys that these figures do not need are left alone.
    """
    fields = Fields(parse(content)).take("inputs", Fields)
    fee, bundle, orders = (fields.take(key, Fields) for key in ("fee", "bundle", "orders"))
    designs = _designs(fields)
    return Fair(
        name=fields.take("fair", text),
        rates=FairRates(
            fields.take("tax", _SHARE), fee.take("rate", _SHARE), fee.take("fixed", _AMOUNT)
        ),
        wage=fields.take("wage", _AMOUNT),
        designs=designs,
        space=fields.take("space", _AMOUNT),
        space_more=fields.take("space_more", _AMOUNT),
        bundle=_known(bundle, "pieces", designs),
        keep=bundle.take("keep", _SHARE),
        step=bundle.take("step", _AMOUNT),
        taken=_known(fields, "taken", designs),
        brought_home=_known(fields, "brought_home", designs),
        missing=_known(fields, "missing", designs),
        float_coins=_coins(fields, "float"),
        curve=_curve(fields),
        stall_fee=fields.take("stall_fee", number(0, LARGEST, places=2)),
        per_kilometre=fields.take("km_rate", _AMOUNT),
        prepare_hours=fields.take("prepare_hours", _AMOUNT),
        metres=fields.take("metres", _AMOUNT),
        days=_days(fields, designs),
        orders_gain=orders.take("gain", _AMOUNT),
        orders_share=orders.take("share", _SHARE),
        other_fairs=fields.take("other_fairs", list_of(_read_outcome, MOST_ROWS), ()),
    )


def _designs(fields: Fields) -> dict[str, Design]:
    rows = fields.take("designs", Fields)
    found = {name: _read_design(name, rows.take(name, Fields)) for name in rows.values}
    if not found:
        raise fields.refuse("Give at least one design.", "designs")
    return found


def _read_design(name: str, row: Fields) -> Design:
    return Design(
        item=FairItem(
            name=name,
            price=row.take("price", number(0, LARGEST, places=2)),
            cost=row.take("cost", _AMOUNT),
            bag=row.take("bag", _AMOUNT),
            card_share=row.take("card_share", _SHARE),
            payments_each=row.take("payments_per_piece", _AMOUNT),
            worth_after=row.take("worth_after", _AMOUNT),
            handling=row.take("handling", _AMOUNT),
        ),
        days=row.take("demand", list_of(_read_chances, MOST_DAYS)),
        space=row.take("space", _AMOUNT),
        least=row.take("min_show", _COUNT),
    )


def _read_chances(raw: Any, path: str) -> Chances:
    fields = Fields(raw, path)
    weights = {
        _whole(key, LARGEST_DEMAND, fields.at(key)): fields.take(key, _SHARE)
        for key in fields.values
    }
    if sum(weights.values()) != 1:
        raise WrongJson("The chances of a day must add up to 1.", where=path)
    try:
        return chances_of(weights)
    except BadChances as refusal:
        raise WrongJson(str(refusal), where=path) from refusal


def _whole(key: str, most: int, path: str) -> int:
    if not (key.isascii() and key.isdigit() and len(key) < 10 and int(key) <= most):
        raise WrongJson(f"Give a whole number from 0 to {most}.", where=path)
    return int(key)


def _known(fields: Fields, key: str, designs: Mapping[str, Design]) -> dict[str, int]:
    counts = fields.take(key, _COUNTS, {})
    for name in counts:
        if name not in designs:
            raise fields.refuse(f"{name} is not one of the designs.", key)
    return dict(counts)


def _coins(fields: Fields, key: str) -> dict[Decimal, int]:
    rows = fields.take(key, Fields)
    found: dict[Decimal, int] = {}
    for written in rows.values:
        try:
            value = Decimal(written)
        except InvalidOperation as error:
            raise rows.refuse("Give the value of a coin or note.", written) from error
        if not value.is_finite() or not 0 < value <= LARGEST:
            raise rows.refuse("Give the value of a coin or note.", written)
        found[value] = found.get(value, 0) + rows.take(written, _COUNT)
    return found


def _curve(fields: Fields) -> dict[int, Decimal]:
    rows = fields.take("curve", Fields)
    return {_whole(key, 23, rows.at(key)): rows.take(key, _SHARE) for key in rows.values}


def _days(fields: Fields, designs: Mapping[str, Design]) -> tuple[Day, ...]:
    rows = fields.rows("days")
    if not 1 <= len(rows) <= MOST_DAYS:
        raise fields.refuse(f"Give 1 to {MOST_DAYS} days.", "days")
    return tuple(_read_day(row, designs) for row in rows)


def _read_day(row: Fields, designs: Mapping[str, Design]) -> Day:
    drive, stand, pack = (row.take(key, _AMOUNT) for key in ("drive", "stand", "pack"))
    paid_out = row.take("paid_out", list_of(tuple_of(text, _AMOUNT), MOST_ROWS), ())
    return Day(
        name=row.take("name", text),
        payments=row.take("sales", list_of(_payments(designs), MOST_ROWS), ()),
        refunds=row.take("refunds", list_of(_refund(designs), MOST_ROWS), ()),
        deposits_in_cash=row.take("deposits_cash", list_of(_AMOUNT, MOST_ROWS), ()),
        paid_out=tuple(amount for _, amount in paid_out),
        kilometres=row.take("km", _AMOUNT),
        other=row.take("other", _AMOUNT),
        hours=drive + stand + pack,
        counted=_coins(row, "count"),
        sold_out=_sold_out(row, designs),
    )


def _payments(designs: Mapping[str, Design]) -> Reader[Payments]:
    """Read a row: card or cash, a count of each design, of bundles, how many such payments."""
    read_row = tuple_of(text, *[_COUNT] * (len(designs) + 2))

    def read(raw: Any, path: str) -> Payments:
        way, *counts, bundles, times = read_row(raw, path)
        items = dict(zip(designs, counts, strict=True))
        return Payments(_by_card(way, path), items, bundles, times)

    return read


def _refund(designs: Mapping[str, Design]) -> Reader[tuple[bool, str]]:
    def read(raw: Any, path: str) -> tuple[bool, str]:
        way, name = tuple_of(text, text)(raw, path)
        return _by_card(way, path), _design(name, designs, path)

    return read


def _by_card(way: str, path: str) -> bool:
    if way not in (CARD, CASH):
        raise WrongJson(f"Give {CARD} or {CASH}.", where=path)
    return way == CARD


def _design(name: str, designs: Mapping[str, Design], path: str) -> str:
    if name not in designs:
        raise WrongJson(f"{name} is not one of the designs.", where=path)
    return name


def _sold_out(row: Fields, designs: Mapping[str, Design]) -> SoldOut | None:
    fields = row.optional("sold_out", Fields)
    if fields is None:
        return None
    written = fields.take("time", text)
    found = _TIME.fullmatch(written)
    if not found:
        raise fields.refuse("Give a time like 13:20.", "time")
    name = _design(fields.take("design", text), designs, fields.at("design"))
    return SoldOut(name, datetime.time(int(found[1]), int(found[2])))


def _read_outcome(raw: Any, path: str) -> FairOutcome:
    row = Fields(raw, path)
    net, fees, cost, fixed = (row.take(key, _SIGNED) for key in ("net", "fees", "cogs", "fixed"))
    return FairOutcome(
        name=row.take("name", text),
        takings=row.take("gross", _SIGNED),
        profit=net - fees - cost - fixed,
        hours=row.take("hours", _AMOUNT),
        fixed=fixed,
        hidden=row.take("hidden", _AMOUNT),
        orders=row.take("orders_gain", _AMOUNT) * row.take("orders_share", _SHARE),
        metres=row.take("metres", _AMOUNT),
    )
