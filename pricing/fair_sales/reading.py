"""Reads what a phone sends, strictly: sales as JSON, nothing taken for granted.

Three ways it can go: a sale that can be booked, one that is kept with the reason why it cannot
(`BadSale`), and something that cannot even be told apart from another (`Unreadable`).
"""

import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from maker.calc.refusal import Refusal

MOST_AT_ONCE = 100
MOST_BYTES = 300_000
MOST_COUNT = 9_999
# of minor units
MOST_AMOUNT = 10**9
MOST_TEXT = 8_000
# milliseconds of a clock that tells a year up to 2100
LAST_MOMENT = 4_102_444_800_000
KINDS = ("sale", "refund", "swap", "given", "broken", "order", "sold_out", "undo")
WAYS = ("card", "cash", "none")


class Unreadable(Refusal):
    """Not a list of sales, or a sale without a number of its own."""


class BadSale(Refusal):
    """A sale that cannot be booked as it was sent."""


@dataclass(frozen=True, slots=True)
class SentSale:
    """One thing that happened at the table, as a phone tells it; amounts in minor units.

    `items` went over the table, `back` came back, by key of the item; `of` is what is undone. An
    order says who wants what (`note`), and by when.
    """

    uuid: UUID
    kind: str
    way: str = "none"
    items: Mapping[int, int] = field(default_factory=dict)
    back: Mapping[int, int] = field(default_factory=dict)
    bundles: Mapping[int, int] = field(default_factory=dict)
    amount: int = 0
    discount: int = 0
    reason: str = ""
    note: str = ""
    customer: str = ""
    needed_on: datetime.date | None = None
    is_spoiled: bool = False
    of: UUID | None = None


@dataclass(frozen=True, slots=True)
class SentBatch:
    """What was sent at once: the phone's name, its clock at that moment, and sales unread."""

    phone: str
    clock: datetime.datetime | None
    sales: tuple[Any, ...]


def read_batch(body: bytes) -> SentBatch:
    """Return what was sent. Errors: Unreadable."""
    if len(body) > MOST_BYTES:
        raise Unreadable(f"Send at most {MOST_BYTES:,} bytes at once.")
    try:
        sent = json.loads(body)
    # a RecursionError for lists in lists in lists
    except (ValueError, RecursionError) as error:
        raise Unreadable("Send a list of sales as JSON.") from error
    if not isinstance(sent, dict) or not isinstance(sent.get("sales"), list):
        raise Unreadable("Send a list of sales as JSON.")
    if len(sent["sales"]) > MOST_AT_ONCE:
        raise Unreadable(f"Send at most {MOST_AT_ONCE} sales at once.")
    phone = sent.get("phone", "")
    if not _is_text(phone, 40):
        raise Unreadable("Send a name of the phone of at most 40 letters.")
    return SentBatch(phone, moment_of(sent.get("now")), tuple(sent["sales"]))


def uuid_of(raw: Any) -> UUID:
    """Return the number of its own that a sale has. Errors: Unreadable."""
    text = raw.get("uuid") if isinstance(raw, dict) else None
    found = _uuid(text)
    if found is None:
        raise Unreadable("This sale has no number of its own.")
    return found


def moment_of(value: Any) -> datetime.datetime | None:
    """Return what a clock showed in milliseconds since 1970; None if that is not a time."""
    if not isinstance(value, int) or isinstance(value, bool) or not 0 < value < LAST_MOMENT:
        return None
    return datetime.datetime.fromtimestamp(value / 1000, datetime.UTC)


def text_of(raw: Any) -> str:
    """Return what was sent as text that any database keeps."""
    return json.dumps(raw, ensure_ascii=True)[:MOST_TEXT]


def read_sale(raw: Any) -> SentSale:
    """Return one sale. Errors: Unreadable, BadSale."""
    own = uuid_of(raw)
    kind, way = raw.get("kind"), raw.get("way", "none")
    if kind not in KINDS:
        raise BadSale("It does not say what happened.", where="kind")
    if way not in WAYS:
        raise BadSale("It does not say how it was paid.", where="way")
    reason, note = raw.get("reason", ""), raw.get("note", "")
    if not _is_text(reason, 120) or not _is_text(note, 300):
        raise BadSale("Its note is too long or has letters that cannot be kept.", where="note")
    customer = raw.get("customer", "")
    if not _is_text(customer, 120):
        raise BadSale("The customer’s name is too long or cannot be kept.", where="customer")
    spoiled = raw.get("spoiled", False)
    if not isinstance(spoiled, bool):
        raise BadSale("It does not say whether items can be sold again.", where="spoiled")
    sale = SentSale(
        uuid=own,
        kind=kind,
        way=way,
        items=_counts(raw.get("items", {}), least=0 if kind == "sold_out" else 1),
        back=_counts(raw.get("back", {})),
        bundles=_counts(raw.get("bundles", {})),
        amount=_whole(raw.get("amount", 0), "amount"),
        discount=_whole(raw.get("discount", 0), "discount"),
        reason=reason.strip(),
        note=note.strip(),
        customer=customer.strip(),
        needed_on=_date(raw.get("needed", "")),
        is_spoiled=spoiled,
        of=_uuid(raw.get("of")),
    )
    _check(sale)
    return sale


def _check(sale: SentSale) -> None:
    """Refuse what cannot have happened, whatever the prices are."""
    has_items, has_back = bool(sale.items), bool(sale.back)
    needs = {
        "sale": (True, False),
        "refund": (False, True),
        "swap": (True, True),
        "given": (True, False),
        "broken": (True, False),
        "order": (False, False),
        "sold_out": (True, False),
        "undo": (False, False),
    }[sale.kind]
    if (has_items, has_back) != needs:
        raise BadSale("It does not say which items.", where="items")
    if sale.kind == "undo" and sale.of is None:
        raise BadSale("It does not say what is undone.", where="of")
    if sale.kind in ("given", "broken", "sold_out", "undo") and (sale.amount or sale.way != "none"):
        raise BadSale("Nothing is paid for this.", where="amount")
    if sale.amount and sale.way == "none":
        raise BadSale("It does not say how it was paid.", where="way")
    if sale.kind == "sale" and sale.way == "none":
        raise BadSale("It does not say how it was paid.", where="way")
    if sale.kind == "order" and sale.amount < 0:
        raise BadSale("A deposit is above 0.", where="amount")
    if sale.kind == "order" and not sale.note:
        raise BadSale("It does not say who ordered what.", where="note")
    if sale.discount and sale.kind not in ("sale", "swap"):
        raise BadSale("There is no discount on this.", where="discount")
    if sale.discount < 0:
        raise BadSale("A discount is above 0.", where="discount")
    if sale.discount and not sale.reason:
        raise BadSale("The discount has no reason.", where="reason")


def _uuid(text: Any) -> UUID | None:
    if not isinstance(text, str) or len(text) != 36:
        return None
    try:
        return UUID(text)
    except ValueError:
        return None


def _date(text: Any) -> datetime.date | None:
    """Return a date as a browser's field sends it; None for none."""
    if text == "":
        return None
    try:
        return datetime.date.fromisoformat(text)
    except (TypeError, ValueError) as error:
        raise BadSale("Its date cannot be read.", where="needed") from error


def _whole(value: Any, where: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or abs(value) > MOST_AMOUNT:
        raise BadSale("An amount cannot be read.", where=where)
    return value


def _is_text(value: Any, most: int) -> bool:
    """Whether it is text that any database keeps: no NUL, no half of a letter."""
    if not isinstance(value, str) or len(value) > most or "\0" in value:
        return False
    return not any(0xD800 <= ord(letter) <= 0xDFFF for letter in value)


def _counts(raw: Any, least: int = 1) -> dict[int, int]:
    if not isinstance(raw, dict) or len(raw) > 200:
        raise BadSale("Its items cannot be read.", where="items")
    found = {}
    for key, count in raw.items():
        is_count = isinstance(count, int) and not isinstance(count, bool)
        if not (key.isascii() and key.isdigit() and len(key) < 19) or not is_count:
            raise BadSale("Its items cannot be read.", where="items")
        if not least <= count <= MOST_COUNT:
            raise BadSale("A quantity of its items cannot be meant.", where="items")
        found[int(key)] = count
    return found
