"""Reads an order from JSON text: its `inputs` as the values its figures need."""

import datetime
from collections.abc import Sequence
from typing import Any

from catalogue.calc.recipes.recipe import PackOffer
from maker.calc.strict_json import (
    Fields,
    Reader,
    WrongJson,
    count,
    day,
    list_of,
    mapping_of,
    number,
    parse,
    text,
    tuple_of,
    yes_no,
)
from pricing.calc.actuals.order_actuals import MaterialUse, WorkDone
from pricing.calc.invoicing.payments import Payment
from pricing.calc.order_result.order import (
    Actual,
    Credit,
    Material,
    Minutes,
    Order,
    Part,
    Rack,
    Sale,
)
from pricing.calc.schedule.calendar import (
    MINUTES_OF_A_DAY,
    MONDAY_TO_FRIDAY,
    MONDAY_TO_SATURDAY,
    CountedDays,
    WorkCalendar,
)
from pricing.calc.schedule.job import Promise

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
LARGEST_COUNT = 1_000_000
MOST_ROWS = 1000
MOST_DELIVERIES = 50
FIRST_DATE, LAST_DATE = datetime.date(1970, 1, 1), datetime.date(2200, 1, 1)

_COUNT, _FROM_ONE = count(0, LARGEST_COUNT), count(1, LARGEST_COUNT)
_DAYS, _MINUTES = count(0, 365), count(0, MINUTES_OF_A_DAY)
_AMOUNT = number(0, LARGEST_COUNT, places=12)
_MONEY = number(-LARGEST_COUNT, LARGEST_COUNT, places=2)
_SHARE = number(0, 1, places=12)
CARD = "card"


def read_order(content: bytes | str) -> Order:
    """Return the order of a JSON text. Errors: WrongJson.

    Keys that these figures do not need are left alone. An order without a `price` has no figures
    of money, one without `actual` none of what it really took.
    """
    fields = Fields(parse(content)).take("inputs", Fields)
    minutes = fields.take("minutes", Fields)
    weekdays = fields.take("minutes_per_weekday", Fields)
    parts = fields.take("drops", _rows(_read_part), ())
    if not 1 <= len(parts) <= MOST_DELIVERIES:
        raise fields.refuse(f"Give 1 to {MOST_DELIVERIES} deliveries.", "drops")
    materials = fields.take("materials", _rows(_read_material), ())
    return Order(
        today=fields.take("today", _date),
        late_yes_on=fields.take("late_yes", _date),
        spare_share=fields.take("reject", _SHARE),
        per_carton=fields.take("per_carton", _FROM_ONE),
        parts=parts,
        minutes=Minutes(
            **{
                key: minutes.take(key, _COUNT)
                for key in ("setup", "make", "finish", "name", "carton", "simple_saves")
            }
        ),
        calendar=WorkCalendar(
            tuple(weekdays.take(weekday, _MINUTES) for weekday in WEEKDAYS),
            frozenset(fields.take("days_off", _rows(_date), ())),
            fields.optional("short_days", _short_days) or {},
        ),
        promises=fields.optional("promised", _promises) or (),
        rack=fields.optional("rack", _read_rack),
        transit_days=fields.take("transit_days", _DAYS),
        carrier_days=CountedDays(
            MONDAY_TO_SATURDAY, frozenset(fields.take("carrier_holidays", _rows(_date), ()))
        ),
        supplier_days=CountedDays(
            MONDAY_TO_FRIDAY, frozenset(fields.take("supplier_holidays", _rows(_date), ()))
        ),
        buffer_days=fields.take("buffer_days", _DAYS),
        lead_days=fields.take("lead_days", _DAYS),
        proof_days=fields.take("proof_days", _DAYS),
        evening_minutes=fields.take("evening", _MINUTES),
        materials=materials,
        sale=_read_sale(fields, materials) if fields.has("price") else None,
        credit=_read_credit(fields, len(parts)),
        actual=fields.optional("actual", _read_actual),
    )


def _rows(read: Reader[Any]) -> Reader[tuple[Any, ...]]:
    return list_of(read, MOST_ROWS)


def _date(raw: Any, path: str) -> datetime.date:
    on = day(raw, path)
    if not FIRST_DATE <= on <= LAST_DATE:
        raise WrongJson(f"Give a date from {FIRST_DATE} to {LAST_DATE}.", where=path)
    return on


def _short_days(raw: Any, path: str) -> dict[datetime.date, int]:
    found = Fields(raw, path)
    return {_date(key, found.at(key)): found.take(key, _MINUTES) for key in found.values}


def _read_part(raw: Any, path: str) -> Part:
    row = Fields(raw, path)
    items = row.take("pieces", mapping_of(_COUNT))
    part = Part(row.take("due", _date), tuple(items.items()), row.take("named", _COUNT))
    if part.count < 1:
        raise row.refuse("A delivery needs at least one item.", "pieces")
    if part.named > part.count:
        raise row.refuse(f"{part.named} names are more than {part.count} items.", "named")
    return part


def _promises(raw: Any, path: str) -> tuple[Promise, ...]:
    """Return the promised work of a list, or of a single object."""
    if isinstance(raw, dict):
        return (_read_promise(raw, path),)
    return _rows(_read_promise)(raw, path)


def _read_promise(raw: Any, path: str) -> Promise:
    row = Fields(raw, path)
    what = row.take("what", text, "promised work")
    return Promise(what, row.take("minutes", _COUNT), row.take("due", _date))


def _read_rack(raw: Any, path: str) -> Rack:
    row = Fields(raw, path)
    return Rack(
        *(row.take(key, _FROM_ONE) for key in ("boxes_per_load", "loads_per_day", "dryings"))
    )


def _read_material(raw: Any, path: str) -> Material:
    row = Fields(raw, path)
    name = row.take("name", text, "")
    need, in_stock, reserved = (row.take(key, _AMOUNT) for key in ("need", "on_hand", "reserved"))
    size = row.optional("pack", _AMOUNT)
    pack = None if not size else PackOffer(name, size, row.take("pack_price", _AMOUNT))
    only_here = row.take("only_this_job", yes_no, False)
    return Material(name, need, in_stock, reserved, pack, only_here)


def _read_sale(fields: Fields, materials: Sequence[Material]) -> Sale:
    for place, material in enumerate(materials):
        if material.short and material.pack is None:
            message = "It must be bought, so enter how much is in a pack."
            raise fields.refuse(message, f"materials[{place}].pack")
    price = fields.take("price", Fields)
    deposit, fee = fields.take("deposit", Fields), fields.take("fee", Fields)
    return Sale(
        tax_rate=fields.take("tax", _SHARE),
        price_each=price.take("box", _AMOUNT),
        price_of_name=price.take("name", _AMOUNT),
        discount_share=price.take("discount", _SHARE),
        delivery=price.take("delivery", number(0, LARGEST_COUNT, places=2)),
        names_setup=price.take("names_setup", number(0, LARGEST_COUNT, places=2)),
        deposit_share=deposit.take("rate", _SHARE),
        deposit_step=deposit.take("step", _AMOUNT),
        fee_share=fee.take("rate", _SHARE),
        fee_fixed=fee.take("fixed", _AMOUNT),
        payments=fields.take("payments", _rows(_read_payment), ()),
    )


def _read_payment(raw: Any, path: str) -> Payment:
    received_on, amount, way = tuple_of(_date, _MONEY, text)(raw, path)
    return Payment(received_on, amount, by_card=way == CARD)


def _read_credit(fields: Fields, invoices: int) -> Credit | None:
    credit = fields.optional("credit", Fields)
    if credit is None:
        return None
    return Credit(
        credit.take("invoice", count(1, invoices)),
        credit.take("boxes", _COUNT),
        credit.take("names", _COUNT),
    )


def _read_actual(raw: Any, path: str) -> Actual:
    row = Fields(raw, path)
    return Actual(
        made=row.take("made", _COUNT),
        materials=row.take("materials", _rows(_read_use), ()),
        work=WorkDone(
            *(
                row.take(key, _AMOUNT)
                for key in ("setup_min", "std_min_per_box", "std_rate", "act_hours", "act_rate")
            )
        ),
    )


def _read_use(raw: Any, path: str) -> MaterialUse:
    row = Fields(raw, path)
    return MaterialUse(
        row.take("name", text),
        *(row.take(key, _AMOUNT) for key in ("std_per_box", "std_price", "act_qty", "act_price")),
    )
