"""What prices and lines of quotes were worked out from, in a file: materials by name, not by id.

A material that is gone is called by the name it had; nothing is bought by that name any more.
"""

import re
from collections.abc import Mapping
from dataclasses import MISSING, fields
from decimal import Decimal
from typing import Any

from pricing.calc.costing.rates import ChannelRates, TierRates, WorkshopRates
from pricing.calc.price.ingredients import (
    FORM,
    IN_ORDER,
    OF_STOCK,
    IngredientKind,
    Item,
    UnreadableIngredients,
    Work,
    as_form_2,
    as_plain,
    from_plain,
)
from pricing.workshop_file.frozen import Check, check_shape, one_of, yes_or_no
from pricing.workshop_file.reading import Fields, WorkshopFileRefused, shown, text_value
from pricing.workshop_file.schema import whole_number

# what 34 digits can leave behind a small share
_AMOUNT = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,80})?", re.ASCII)
_LARGEST = 2_147_483_647


def with_names(basis: Any, names: Mapping[str, str]) -> Any:
    """Return a kept basis with materials by name (`names`: id as text -> name), for a file."""
    if not isinstance(basis, Mapping):
        return basis
    items = []
    for item in basis["items"]:
        identity = item["identity"]
        if item["kind"] in OF_STOCK:
            # a number left as it is would be another material's in the next database
            gone = f"{item['name']} (gone)" if identity.isdecimal() else identity
            identity = names.get(identity, gone)
        items.append({**item, "identity": identity})
    # the channel stands beside the price, by name
    return {**basis, "items": items, "channel": {**basis["channel"], "id": None}}


def with_ids(raw: Any, path: str, ids: Mapping[str, int], channel_id: int | None) -> dict[str, Any]:
    """Return a basis of a file as it is kept, with the ids materials have here.

    Refused when a key is missing, unknown or of another kind, and when a material is a number.
    """
    raw = as_form_2(raw)
    _check_basis(raw, path)
    try:
        read = as_plain(from_plain(raw))
    except UnreadableIngredients as broken:
        raise WorkshopFileRefused(broken.message, where=path) from broken
    for place, item in enumerate(read["items"]):
        if item["kind"] not in OF_STOCK:
            continue
        identity = item["identity"]
        if identity not in ids and identity.isdecimal():
            raise WorkshopFileRefused(
                f"The file has no material {shown(identity)}.",
                where=f"{path}.items[{place}].identity",
            )
        item["identity"] = str(ids.get(identity, identity))
    read["channel"]["id"] = channel_id
    return read


def _check_basis(raw: Any, path: str) -> None:
    """Refuse what is no basis; only a line of an order has the counts of its order."""
    counts = {key: raw[key] for key in IN_ORDER if key in raw} if isinstance(raw, Mapping) else {}
    for key, count in counts.items():
        _whole(1)(count, f"{path}.{key}")
    rest = {key: each for key, each in raw.items() if key not in counts} if counts else raw
    check_shape(rest, _BASIS, path)


def _amount(raw: Any, path: str) -> None:
    _signed(raw, path)
    if raw.startswith("-"):
        raise WorkshopFileRefused("This must be 0 or more.", where=path)


def _signed(raw: Any, path: str) -> None:
    if not isinstance(raw, str) or not _AMOUNT.fullmatch(raw):
        raise WorkshopFileRefused(
            f'This must be a number written as text, such as "12.5", found {shown(raw)}.',
            where=path,
        )


def _whole(smallest: int, largest: int = _LARGEST) -> Check:
    def check(raw: Any, path: str) -> None:
        whole_number(raw, path, smallest=smallest, largest=largest)

    return check


def _or_nothing(check: Check) -> Check:
    def optional(raw: Any, path: str) -> None:
        if raw is not None:
            check(raw, path)

    return optional


def _nothing(raw: Any, path: str) -> None:
    if raw is not None:
        raise WorkshopFileRefused(f"This must be null, found {shown(raw)}.", where=path)


def _pair(raw: Any, path: str) -> None:
    if not isinstance(raw, list) or len(raw) != 2:
        raise WorkshopFileRefused("This must be an option and its choice.", where=path)
    for part in raw:
        text_value(part, path)


def _one_tier(raw: Any, path: str) -> None:
    if not isinstance(raw, list) or len(raw) != 1:
        raise WorkshopFileRefused("One tier was used, and only one.", where=path)
    check_shape(raw[0], _of(TierRates, **_TIER), f"{path}[0]")


def _of(row: Any, **other: Any) -> Check:
    """Return a check of a row: amounts, texts, yes or no by its columns, others as said.

    A column with a default may be left out: it is newer than the price.
    """
    kinds: dict[Any, Check] = {Decimal: _amount, str: text_value, bool: yes_or_no}
    checks = {
        column.name: other[column.name] if column.name in other else kinds[column.type]
        for column in fields(row)
    }
    optional = {column.name for column in fields(row) if column.default is not MISSING}

    def check(raw: Any, path: str) -> None:
        values = Fields(raw, path)
        for name, inner in checks.items():
            if values.has(name) or name not in optional:
                check_shape(values.take(name), inner, values.at(name))
        values.nothing_else()

    return check


_TIER = {"bought_at_once": _whole(1), "payments_per_sale": _whole(1, 32_767)}
_BASIS: Mapping[str, Any] = {
    "form": _whole(FORM, FORM),
    "quantity": _whole(1),
    # an offcut that is kept counts against its sheet
    "items": [_of(Item, kind=one_of(lambda: list(IngredientKind)), amount=_signed)],
    "work": [_of(Work)],
    "rates": _of(
        WorkshopRates,
        currency_digits=_whole(0, 4),
        day_minutes=_whole(1, 1440),
        offcut_least_mm=_nothing,  # what offcuts are worth is in the amounts
    ),
    "channel": _of(ChannelRates, tiers=_one_tier, id=_nothing, bought_at_once=_nothing),
    "is_rush": yes_or_no,
    "delivery": _amount,
    "price_each": _amount,
    "choices": [_pair],
    "bought_at_once": _or_nothing(_whole(1)),
}
