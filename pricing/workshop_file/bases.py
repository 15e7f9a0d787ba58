"""What prices and lines of quotes were worked out from, in a file: materials by name, not by id.

A material that is gone is called by the name it had; nothing is bought by that name any more.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from maker.calc.json_values import PLAIN, value_of
from maker.calc.strict_json import (
    Fields,
    WrongJson,
    decimal,
    list_of,
    or_none,
    shown,
    tuple_of,
    whole,
)
from pricing.calc.costing.rates import ChannelRates, TierRates, WorkshopRates
from pricing.calc.price.ingredients import (
    FORM,
    OF_STOCK,
    Ingredients,
    Item,
    as_form_2,
    as_plain,
)

_LARGEST = 2_147_483_647
_COUNT = whole(1, _LARGEST)


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
    # the channel is beside the price, by name
    return {**basis, "items": items, "channel": {**basis["channel"], "id": None}}


def with_ids(raw: Any, path: str, ids: Mapping[str, int], channel_id: int | None) -> dict[str, Any]:
    """Return a basis of a file as it is kept, with the ids materials have here.

    Refused when a key is missing, unknown or of another kind, and when a material is a number.
    """
    fields = Fields(as_form_2(raw), path)
    fields.take("form", whole(FORM, FORM))
    kept = {key: value for key, value in fields.values.items() if key != "form"}
    read = as_plain(_INGREDIENTS(kept, path))
    for place, item in enumerate(read["items"]):
        if item["kind"] not in OF_STOCK:
            continue
        identity = item["identity"]
        if identity not in ids and identity.isdecimal():
            raise WrongJson(
                f"The file has no material {shown(identity)}.",
                where=f"{path}.items[{place}].identity",
            )
        item["identity"] = str(ids.get(identity, identity))
    read["channel"]["id"] = channel_id
    return read


def _nothing(raw: Any, path: str) -> None:
    if raw is not None:
        raise WrongJson(f"This must be null, found {shown(raw)}.", where=path)


_POSITIVE = {**PLAIN, Decimal: decimal(0)}
_TIER = value_of(TierRates, _POSITIVE, bought_at_once=_COUNT, payments_per_sale=whole(1, 32_767))
_INGREDIENTS = value_of(
    Ingredients,
    _POSITIVE,
    quantity=_COUNT,
    # an offcut that is kept counts against its sheet
    items=list_of(value_of(Item, _POSITIVE, amount=decimal())),
    rates=value_of(
        WorkshopRates,
        _POSITIVE,
        currency_digits=whole(0, 4),
        day_minutes=whole(1, 1440),
        offcut_least_mm=_nothing,  # what offcuts are worth is in the amounts
    ),
    # the one tier that was used
    channel=value_of(
        ChannelRates, _POSITIVE, tiers=tuple_of(_TIER), id=_nothing, bought_at_once=_nothing
    ),
    bought_at_once=or_none(_COUNT),
    # only a line of an order has these
    alike=_COUNT,
    ordered=_COUNT,
)
