"""Shops of a workshop file: what was agreed with each, and its settlements."""

from typing import Any

from django.db import models

from maker.calc.strict_json import Fields
from maker.workshop.models import Workshop
from pricing.consignment.models import SettledItem, Settlement, Shop
from pricing.finished_stock.models import Place
from pricing.workshop_file import schema
from pricing.workshop_file.quotes import Versions
from pricing.workshop_file.writing import (
    Registry,
    create,
    design_version,
    read_choices,
    read_columns,
)

Values = dict[str, Any]


def settled_keys(workshop: Workshop) -> dict[int, str]:
    """Return what settled items are called by that moved finished stock (one query)."""
    rows = SettledItem.objects.filter(settlement__shop__place__workshop=workshop)
    keys = rows.filter(moves__isnull=False).order_by("pk").values_list("pk", flat=True).distinct()
    return {key: f"settled {number}" for number, key in enumerate(keys, 1)}


def shop_values(workshop: Workshop, places: dict[int, str], keys: dict[int, str]) -> list[Values]:
    """Return the shops of a workshop, their places by key (three queries)."""
    items = SettledItem.objects.select_related("version__design").order_by("pk")
    rows = (
        Shop.objects.of(workshop)
        .prefetch_related(
            models.Prefetch("settlements", Settlement.objects.order_by("pk")),
            models.Prefetch("settlements__items", items),
        )
        .order_by("pk")
    )
    return [
        {"place": places[row.place_id]}
        | schema.SHOP.written(row)
        | {
            "settlements": [
                schema.SETTLEMENT.written(each)
                | {
                    "items": [
                        {
                            **({"key": keys[item.pk]} if item.pk in keys else {}),
                            "design": item.version.design.name,
                            "version": item.version.number,
                            "choices": dict(sorted(item.choices.items())),
                        }
                        | schema.SETTLED_ITEM.written(item)
                        for item in each.items.all()
                    ]
                }
                for each in row.settlements.all()
            ]
        }
        for row in rows
    ]


def write_shops(
    rows: list[Fields], places: Registry, designs: Registry, versions: Versions
) -> Registry:
    """Store shops with their settlements; the movements are the finished stock's.

    Returned are settled items with a key.
    """
    keyed = Registry("settled item")
    taken: set[int] = set()
    kept: dict[type[models.Model], list[Any]] = {Shop: [], Settlement: [], SettledItem: []}
    for row in rows:
        place: Place = places.of(row, "place")
        if place.kind != Place.Kind.SHOP or place.pk in taken:
            raise row.refuse("A shop has a place of its own kind.", "place")
        taken.add(place.pk)
        shop = Shop(place=place, **read_columns(schema.SHOP, row, "settlements"))
        kept[Shop].append(shop)
        for inner in row.rows("settlements"):
            settlement = Settlement(shop=shop, **read_columns(schema.SETTLEMENT, inner, "items"))
            kept[Settlement].append(settlement)
            for item in inner.rows("items"):
                key = item.optional_text("key")
                version = design_version(item, designs, versions)
                choices = read_choices(item)
                settled = SettledItem(
                    settlement=settlement,
                    version=version,
                    choices=choices,
                    **read_columns(schema.SETTLED_ITEM, item),
                )
                kept[SettledItem].append(settled)
                if key is not None:
                    keyed.add(key, settled, item, "key")
    for model, made in kept.items():
        create(model, made)
    return keyed
