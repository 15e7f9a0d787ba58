"""Brings files of older versions of the format up to the one that is written now.

What is malformed stays as it is: it is refused where it is read.
"""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

# since version 4: what is made at once and what is bought at once have one name everywhere
_CHANNEL_TIER = {"from_quantity": "bought_at_once", "payments": "payments_per_sale"}
_PRICE = {"from_quantity": "bought_at_once", "made_in": "made_at_once"}
# since version 4: minutes of each weekday
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
# kinds of channel where each buyer takes one and pays apart
_ONE_BY_ONE = ("fair", "online")


def as_version_4(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return a document of version 1 to 3 with the names of version 4.

    The hours of a working day are those of each weekday that was worked. Fairs and web shops
    sell one by one there, other channels what is ordered; several payments
    without a deposit stood for several buyers, so that each of them pays once.
    """
    return {
        **document,
        "workshop": _workshop(document.get("workshop")),
        **{
            key: [renew(row) for row in document[key]]
            for key, renew in (("channels", _channel), ("prices", _price))
            if isinstance(document.get(key), list)
        },
    }


def as_version_6(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return a document of version 4 or 5 with the places of fairs.

    A place at a fair was the fair's of its name; of several the newest has it.
    """
    rows, places = document.get("fairs"), document.get("finished_places")
    if not isinstance(rows, list) or not isinstance(places, list):
        return dict(document)
    keys = {
        place["name"]: place.get("key")
        for place in places
        if isinstance(place, dict)
        and place.get("kind") == "fair"
        and isinstance(place.get("name"), str)
    }
    fairs = []
    for row in reversed(rows):
        name = row.get("name") if isinstance(row, dict) else None
        has_place = isinstance(name, str) and name in keys
        fairs.append({**row, "stock_place": keys.pop(name)} if has_place else row)
    return {**document, "fairs": fairs[::-1]}


def _workshop(row: Any) -> Any:
    if not isinstance(row, dict):
        return row
    new = dict(row)
    hours, weekdays = new.pop("hours_per_day", "3.5"), new.pop("working_weekdays", "12345")
    if not isinstance(hours, str) or not isinstance(weekdays, str):
        return row
    try:
        minutes = round(Decimal(hours) * 60)
    except (InvalidOperation, TypeError, ValueError, OverflowError):
        return row
    for number, name in enumerate(_WEEKDAYS, 1):
        new[f"{name}_minutes"] = minutes if str(number) in str(weekdays) else 0
    return new


def _channel(row: Any) -> Any:
    if not isinstance(row, dict):
        return row
    one_by_one = row.get("kind") in _ONE_BY_ONE
    new = {"bought_at_once": 1, **row} if one_by_one else dict(row)
    if isinstance(row.get("tiers"), list):
        new["tiers"] = [_tier(tier, one_by_one=one_by_one) for tier in row["tiers"]]
    return new


def _tier(tier: Any, *, one_by_one: bool) -> Any:
    new = _renamed(tier, _CHANNEL_TIER)
    if one_by_one and isinstance(new, dict) and new.get("deposit_share", "0") == "0":
        new.pop("payments_per_sale", None)
    return new


def _price(row: Any) -> Any:
    return _renamed(row, _PRICE)


def _renamed(row: Any, names: Mapping[str, str]) -> Any:
    if not isinstance(row, dict):
        return row
    return {names.get(key, key): value for key, value in row.items()}
