"""Fairs of a workshop file, each with its days, what lay on the table, sales, coins and costs.

Inside a fair days and items are spoken of by their place, from 1, bundles by name. Of two fairs
that are the same in two years the older one carries a key.
"""

from typing import Any

from django.db import models

from maker.calc.strict_json import Fields, shown, whole
from maker.workshop.models import Workshop
from pricing.fair_sales.models import TablePrice
from pricing.fairs.models import (
    Fair,
    FairBundle,
    FairBundleItem,
    FairCoin,
    FairCost,
    FairDay,
    FairDesign,
    FairHour,
    FairOrder,
    FairSale,
    FairSaleLine,
)
from pricing.finished_stock.models import Place
from pricing.orders.models import Order
from pricing.workshop_file import schema
from pricing.workshop_file.quotes import Colourways, Versions
from pricing.workshop_file.writing import (
    Registry,
    create,
    design_version,
    read_choices,
    read_columns,
)

Values = dict[str, Any]
LISTS = ("days", "designs", "bundles", "sales", "coins", "costs", "orders")


def fair_line_keys(workshop: Workshop) -> dict[int, str]:
    """Return what lines of sales are called by that moved finished stock (one query)."""
    rows = FairSaleLine.objects.filter(sale__day__fair__workshop=workshop, moves__isnull=False)
    keys = rows.order_by("pk").values_list("pk", flat=True).distinct()
    return {key: f"fair line {number}" for number, key in enumerate(keys, 1)}


def fair_values(
    workshop: Workshop,
    quotes: dict[int, str],
    expenses: dict[int, str],
    places: dict[int, str],
    lines: dict[int, str],
    enquiries: dict[int, str],
) -> list[Values]:
    """Return the fairs of a workshop (twelve queries); with keys of ordered quotes, expenses,
    places, enquiries, and lines of sales that finished stock speaks of.
    """
    rows = list(
        Fair.objects.of(workshop)
        .select_related("channel")
        .prefetch_related(
            models.Prefetch("days", FairDay.objects.order_by("pk")),
            models.Prefetch("days__hours", FairHour.objects.order_by("hour")),
            models.Prefetch("days__prices", TablePrice.objects.order_by("pk")),
            models.Prefetch(
                "designs",
                FairDesign.objects.select_related("version__design", "colourway").order_by("pk"),
            ),
            models.Prefetch("bundles", FairBundle.objects.order_by("pk")),
            models.Prefetch("bundles__items", FairBundleItem.objects.order_by("pk")),
            models.Prefetch("days__sales", FairSale.objects.select_related("order").order_by("pk")),
            models.Prefetch("days__sales__lines", FairSaleLine.objects.order_by("pk")),
            # a count is stored anew each time it is saved: rows by their own order would move
            models.Prefetch(
                "coins",
                FairCoin.objects.order_by(models.F("day_id").asc(nulls_first=True), "value"),
            ),
            models.Prefetch("costs", FairCost.objects.order_by("pk")),
            models.Prefetch("orders", FairOrder.objects.select_related("order").order_by("pk")),
        )
        .order_by("pk")
    )
    keys: dict[int, str] = {}
    for row in rows:
        if row.last_year_id:
            keys.setdefault(row.last_year_id, f"fair {len(keys) + 1}")
    return [_fair(row, keys, quotes, expenses, places, lines, enquiries) for row in rows]


def _fair(
    row: Fair,
    keys: dict[int, str],
    quotes: dict[int, str],
    expenses: dict[int, str],
    places: dict[int, str],
    keyed_lines: dict[int, str],
    enquiries: dict[int, str],
) -> Values:
    days = {day.pk: place for place, day in enumerate(row.days.all(), 1)}
    items = {item.pk: place for place, item in enumerate(row.designs.all(), 1)}
    bundles = {bundle.pk: bundle.name for bundle in row.bundles.all()}
    sales = sorted((sale for day in row.days.all() for sale in day.sales.all()), key=_by_key)
    return {
        **({"key": keys[row.pk]} if row.pk in keys else {}),
        "channel": row.channel.name if row.channel else None,
        "last_year": keys[row.last_year_id] if row.last_year_id else None,
        **({"stock_place": places[row.stock_place_id]} if row.stock_place_id else {}),
        **schema.FAIR.written(row),
        "days": [
            schema.FAIR_DAY.written(day)
            | {
                "hours": [schema.FAIR_HOUR.written(hour) for hour in day.hours.all()],
                "prices": [
                    {
                        "item": items[each.item_id] if each.item_id else None,
                        "bundle": bundles[each.bundle_id] if each.bundle_id else None,
                    }
                    | schema.TABLE_PRICE.written(each)
                    for each in day.prices.all()
                ],
            }
            for day in row.days.all()
        ],
        "designs": [
            {
                "design": item.version.design.name,
                "version": item.version.number,
                "colourway": item.colourway.name if item.colourway else None,
                "choices": dict(sorted(item.choices.items())),
            }
            | schema.FAIR_DESIGN.written(item)
            for item in row.designs.all()
        ],
        "bundles": [
            schema.FAIR_BUNDLE.written(bundle)
            | {
                "items": [
                    {"item": items[each.item_id]} | schema.FAIR_BUNDLE_ITEM.written(each)
                    for each in bundle.items.all()
                ]
            }
            for bundle in row.bundles.all()
        ],
        "sales": [
            {
                "day": days[sale.day_id],
                "order": quotes[sale.order.quote_id] if sale.order else None,
                **({"enquiry": enquiries[sale.enquiry_id]} if sale.enquiry_id else {}),
            }
            | schema.FAIR_SALE.written(sale)
            | {
                "lines": [
                    {
                        **({"key": keyed_lines[line.pk]} if line.pk in keyed_lines else {}),
                        "item": items[line.item_id],
                        "bundle": bundles[line.bundle_id] if line.bundle_id else None,
                    }
                    | schema.FAIR_SALE_LINE.written(line)
                    for line in sale.lines.all()
                ]
            }
            for sale in sales
        ],
        "coins": [
            {"day": days[coin.day_id] if coin.day_id else None} | schema.FAIR_COIN.written(coin)
            for coin in row.coins.all()
        ],
        "costs": [
            {
                "day": days[cost.day_id] if cost.day_id else None,
                "expense": expenses[cost.expense_id] if cost.expense_id else None,
            }
            | schema.FAIR_COST.written(cost)
            for cost in row.costs.all()
        ],
        "orders": [{"order": quotes[won.order.quote_id]} for won in row.orders.all()],
    }


def _by_key(row: models.Model) -> Any:
    return row.pk


def write_fairs(
    workshop: Workshop,
    rows: list[Fields],
    channels: Registry,
    designs: Registry,
    versions: Versions,
    colourways: Colourways,
    quotes: Registry,
    expenses: Registry,
    places: Registry,
    enquiries: Registry,
) -> Registry:
    """Store fairs as written, if what they speak of is there. Returned are lines with a key."""
    lines = Registry("line of a sale")
    orders = {order.quote_id: order for order in Order.objects.of(workshop)} if rows else {}
    keyed = Registry("fair with the key")
    fairs: list[Fair] = []
    for row in rows:
        key = row.optional_text("key")
        fair = Fair(
            workshop=workshop,
            channel=channels.optional(row, "channel"),
            stock_place=_stock_place(row, places, fairs),
            **read_columns(schema.FAIR, row, "last_year", *LISTS),
        )
        if key is not None:
            keyed.add(key, fair, row, "key")
        fairs.append(fair)
    for fair, row in zip(fairs, rows, strict=True):
        fair.last_year = keyed.optional(row, "last_year")
    create(Fair, fairs, also=("last_year",))
    kept: dict[type[models.Model], list[Any]] = {
        model: []
        for model in (
            FairDay, FairHour, FairDesign, FairBundle, FairBundleItem, TablePrice, FairSale,
            FairSaleLine, FairCoin, FairCost, FairOrder,
        )
    }  # fmt: skip
    for fair, row in zip(fairs, rows, strict=True):
        reader = _FairReader(fair, kept, lines)
        reader.days(row.rows("days"))
        for inner in row.rows("designs"):
            columns = _item_columns(inner, designs, versions, colourways)
            reader.items.append(
                FairDesign(fair=fair, **columns, **read_columns(schema.FAIR_DESIGN, inner))
            )
        kept[FairDesign] += reader.items
        reader.bundles(row.rows("bundles"))
        reader.prices(row.rows("days"))
        reader.sales(row.rows("sales"), quotes, orders, enquiries)
        for inner in row.rows("coins"):
            day = reader.day_or_none(inner)
            kept[FairCoin].append(
                FairCoin(fair=fair, day=day, **read_columns(schema.FAIR_COIN, inner))
            )
        for inner in row.rows("costs"):
            day = reader.day_or_none(inner)
            expense = expenses.optional(inner, "expense")
            columns = read_columns(schema.FAIR_COST, inner)
            cost = FairCost(fair=fair, day=day, expense=expense, **columns)
            if (cost.amount is None) == (expense is None):
                raise inner.refuse("A cost is an amount or an expense.", "amount")
            if cost.from_till and day is None:
                raise inner.refuse("A till is of a day.", "from_till")
            kept[FairCost].append(cost)
        for inner in row.rows("orders"):
            order = _order(inner, quotes, orders)
            if order is None:
                raise inner.refuse("Name the quote of an order.", "order")
            inner.nothing_else()
            kept[FairOrder].append(FairOrder(fair=fair, order=order))
    for model, made in kept.items():
        create(model, made)
    return lines


def _stock_place(row: Fields, places: Registry, fairs: list[Fair]) -> Place | None:
    place: Place | None = places.optional(row, "stock_place")
    if place is not None and place.kind != Place.Kind.FAIR:
        raise row.refuse("That place is not at a fair.", "stock_place")
    if place is not None and any(each.stock_place is place for each in fairs):
        raise row.refuse("That place is of another fair.", "stock_place")
    return place


def _item_columns(
    row: Fields, designs: Registry, versions: Versions, colourways: Colourways
) -> Values:
    version = design_version(row, designs, versions)
    ways = colourways[version.design_id, version.number]
    colourway = row.optional_text("colourway")
    if colourway is not None and colourway not in ways:
        raise row.refuse(f"The version has no colourway {shown(colourway)}.", "colourway")
    return {
        "version": version,
        "colourway": None if colourway is None else ways[colourway],
        "choices": read_choices(row),
    }


def _order(row: Fields, quotes: Registry, orders: dict[int, Order]) -> Order | None:
    quote = quotes.optional(row, "order")
    if quote is None:
        return None
    if quote.pk not in orders:
        raise row.refuse("That quote has no order.", "order")
    return orders[quote.pk]


class _FairReader:
    """Reads what is inside one fair; rows wait in `kept` until all of the file are read."""

    def __init__(
        self, fair: Fair, kept: dict[type[models.Model], list[Any]], lines: Registry
    ) -> None:
        self.fair = fair
        self.lines = lines
        self.kept = kept
        self.items: list[FairDesign] = []
        self._days: list[FairDay] = []
        self._bundles = Registry("bundle")

    def days(self, rows: list[Fields]) -> None:
        """Read the days with their visitors."""
        for row in rows:
            day = FairDay(fair=self.fair, **read_columns(schema.FAIR_DAY, row, "hours", "prices"))
            if day.closes <= day.opens:
                raise row.refuse("A day closes after it opens.", "closes")
            self._days.append(day)
            self.kept[FairHour] += [
                FairHour(day=day, **read_columns(schema.FAIR_HOUR, hour))
                for hour in row.rows("hours")
            ]
        self.kept[FairDay] += self._days

    def bundles(self, rows: list[Fields]) -> None:
        """Read the bundles."""
        for row in rows:
            bundle = FairBundle(fair=self.fair, **read_columns(schema.FAIR_BUNDLE, row, "items"))
            self._bundles.add(bundle.name, bundle, row, "name")
            self.kept[FairBundle].append(bundle)
            self.kept[FairBundleItem] += [
                FairBundleItem(
                    bundle=bundle,
                    item=self._item(inner),
                    **read_columns(schema.FAIR_BUNDLE_ITEM, inner),
                )
                for inner in row.rows("items")
            ]

    def prices(self, rows: list[Fields]) -> None:
        """Read the prices that were fixed when days were opened."""
        for day, row in zip(self._days, rows, strict=True):
            for inner in row.rows("prices"):
                bundle = self._bundles.optional(inner, "bundle")
                place = inner.optional("item", whole(1, len(self.items)))
                columns = read_columns(schema.TABLE_PRICE, inner)
                if (place is None) == (bundle is None):
                    raise inner.refuse("A price is of an item or of a bundle.", "item")
                item = None if place is None else self.items[place - 1]
                self.kept[TablePrice].append(
                    TablePrice(day=day, item=item, bundle=bundle, **columns)
                )

    def sales(
        self,
        rows: list[Fields],
        quotes: Registry,
        orders: dict[int, Order],
        enquiries: Registry,
    ) -> None:
        """Read what happened at the table."""
        for row in rows:
            sale = FairSale(
                day=self._days[row.take("day", whole(1, len(self._days))) - 1],
                order=_order(row, quotes, orders),
                enquiry=enquiries.optional(row, "enquiry"),
                **read_columns(schema.FAIR_SALE, row, "lines"),
            )
            self.kept[FairSale].append(sale)
            for inner in row.rows("lines"):
                key = inner.optional_text("key")
                line = FairSaleLine(
                    sale=sale,
                    item=self._item(inner),
                    bundle=self._bundles.optional(inner, "bundle"),
                    **read_columns(schema.FAIR_SALE_LINE, inner),
                )
                self.kept[FairSaleLine].append(line)
                if key is not None:
                    self.lines.add(key, line, inner, "key")

    def day_or_none(self, row: Fields) -> FairDay | None:
        """Return the day an object names by its place."""
        place = row.optional("day", whole(1, len(self._days)))
        return None if place is None else self._days[place - 1]

    def _item(self, row: Fields) -> FairDesign:
        return self.items[row.take("item", whole(1, len(self.items))) - 1]
