"""Everything one price was worked out from, small enough to be kept beside it.

A price that remembers its ingredients can be laid beside a later one: what moved, by how much, and
what it would have to be now. Costs and prices follow from them without recipe or cutting plan.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any, TypeVar

from maker.calc.json_values import written
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.cost import JobCost
from pricing.calc.costing.rates import (
    USUAL_DAY_MINUTES,
    Ask,
    ChannelRates,
    TierRates,
    WorkshopRates,
)
from pricing.calc.price.price import JobPrice, price_at
from pricing.calc.price.terms import Terms, terms_for, tier_in_order

ZERO = Decimal(0)
# of the kept form; a form that is read differently gets the next number
FORM = 2
# what the columns of a tier were called in form 1
_TIER_OF_1 = {"from_quantity": "bought_at_once", "payments": "payments_per_sale"}
# counts that only a line of an order has
IN_ORDER = ("alike", "ordered")


class UnreadableIngredients(Refusal):
    """What was kept of a price cannot be read."""


class IngredientKind(StrEnum):
    """What an item is in the cost."""

    SHEET = "sheet"
    OTHER = "other"
    PACKING = "packing"  # a material of the stock
    STATED = "stated"  # packing at a stated cost
    WEAR = "wear"


# what is bought as a material and has a price of its own
OF_STOCK = frozenset({IngredientKind.SHEET, IngredientKind.OTHER, IngredientKind.PACKING})


@dataclass(frozen=True, slots=True)
class Item:
    """So much of one thing in the whole job, in its unit, at its net cost of one unit.

    `identity` tells things apart over time: the material's id, else its name.
    """

    kind: IngredientKind
    identity: str
    name: str
    unit: str
    amount: Decimal
    unit_cost: Decimal

    @property
    @with_working_precision
    def cost(self) -> Decimal:
        """Amount x unit cost."""
        return self.amount * self.unit_cost


@dataclass(frozen=True, slots=True)
class Work:
    """The hands-on minutes of one step in the whole job."""

    name: str
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class Ingredients:
    """What a price of one piece, as shown, was worked out from.

    `channel` holds the one tier that was used, whatever the quantity; one buyer takes
    `bought_at_once` (None: all, in prices from before buyers were told apart). A price she named
    herself has ingredients too: then `price_each` is not what they give. `alike` and `ordered` are
    there for a line of an order: its items and minutes are the line's share of it.
    """

    quantity: int
    items: tuple[Item, ...]
    work: tuple[Work, ...]
    rates: WorkshopRates
    channel: ChannelRates
    is_rush: bool
    delivery: Decimal
    price_each: Decimal
    choices: tuple[tuple[str, str], ...] = ()
    bought_at_once: int | None = None
    alike: int | None = None  # items of the same recipe in the order
    ordered: int | None = None  # items in the whole order

    @property
    @with_working_precision
    def minutes(self) -> Decimal:
        """Hands-on minutes of the job."""
        return sum((each.minutes for each in self.work), ZERO)

    @property
    @with_working_precision
    def labour_cost(self) -> Decimal:
        """The wage in the cost."""
        return self.minutes * self.rates.wage_per_hour / 60

    @property
    @with_working_precision
    def cost(self) -> Decimal:
        """What the job costs, net, unrounded."""
        hour = self.rates.wage_per_hour + self.rates.overhead_per_hour
        # not by item.cost: long lists would set the precision for every item of every price
        bought = sum((item.amount * item.unit_cost for item in self.items), ZERO)
        return bought + self.minutes * hour / 60

    @property
    @with_working_precision
    def cost_each(self) -> Decimal:
        """What one good piece costs, unrounded."""
        return self.cost / self.quantity

    @property
    def ask(self) -> Ask:
        """Return what was asked for."""
        return Ask(
            self.quantity,
            self.choices,
            bought_at_once=self.bought_at_once,
            is_rush=self.is_rush,
            delivery=self.delivery,
            alike=self.alike,
            ordered=self.ordered,
        )

    @property
    def tier(self) -> TierRates:
        """Return what held for the quantity."""
        return self.channel.tiers[0]

    @property
    def terms(self) -> Terms:
        """Return what is between cost and price. Errors: ImpossibleMargin."""
        return terms_for(self.ask, self.channel, self.rates)

    @property
    @with_working_precision
    def price_exact(self) -> Decimal:
        """Return the price of one, as shown, that keeps the wanted margin, unrounded.

        Errors: ImpossibleMargin.
        """
        return self.terms.shown_each(self.cost, self.quantity)

    def left_at(self, price_each: Decimal) -> JobPrice:
        """Return what is left of a price of one, as shown."""
        return price_at(price_each, self, self.ask, self.channel, self.rates)


@with_working_precision
def ingredients_of(
    job_cost: JobCost, price: JobPrice, ask: Ask, channel: ChannelRates, rates: WorkshopRates
) -> Ingredients:
    """Return what a price was worked out from, given what cost and price were made with."""
    return Ingredients(
        quantity=job_cost.quantity,
        items=added_up(_items(job_cost)),
        work=tuple(Work(done.step.name, done.minutes) for done in job_cost.work.steps),
        rates=bare_rates(rates),
        channel=one_tier(ask, channel),
        is_rush=ask.is_rush,
        delivery=ask.delivery,
        price_each=price.price_each,
        choices=tuple(job_cost.parts.choices.items()),
        bought_at_once=ask.bought,
    )


def one_tier(ask: Ask, channel: ChannelRates) -> ChannelRates:
    """Return the channel with the one tier that holds for what is asked."""
    tier = replace(tier_in_order(ask, channel), bought_at_once=1)
    return replace(channel, tiers=(tier,), bought_at_once=None)


def added_up(items: Iterable[Item]) -> tuple[Item, ...]:
    """Return one item for each thing, without those of nothing."""
    found: dict[tuple[IngredientKind, str], Item] = {}
    for item in items:
        before = found.get((item.kind, item.identity))
        amount = item.amount + (before.amount if before else ZERO)
        found[item.kind, item.identity] = replace(item, amount=amount)
    return tuple(item for item in found.values() if item.amount)


def bare_rates(rates: WorkshopRates) -> WorkshopRates:
    """Leave out what is in the amounts already, or in words."""
    return replace(rates, overhead_how="", offcut_least_mm=None, day_minutes=USUAL_DAY_MINUTES)


def _items(job: JobCost) -> list[Item]:
    found = []
    for use in job.sheet_uses:
        cost = use.material.cost.value if use.material.cost else ZERO
        identity, name = str(use.material.identity), use.material.name
        found.append(Item(IngredientKind.SHEET, identity, name, "sheet", Decimal(use.sheets), cost))
    for kept in job.offcuts:
        cost = kept.material.cost.value if kept.material.cost else ZERO
        identity, name = str(kept.material.identity), kept.material.name
        found.append(Item(IngredientKind.SHEET, identity, name, "sheet", -kept.sheets, cost))
    for other in job.parts.uses:
        cost = other.material.cost.value if other.material.cost else ZERO
        identity, name, unit = (
            str(other.material.identity),
            other.material.name,
            other.material.unit,
        )
        found.append(Item(IngredientKind.OTHER, identity, name, unit, other.amount, cost))
    for packed in job.parts.packed:
        packing, material, count = packed.packing, packed.material, Decimal(packed.count)
        if packing.cost_each is not None:
            found.append(
                Item(
                    IngredientKind.STATED,
                    packing.name,
                    packing.name,
                    "piece",
                    count,
                    packing.cost_each,
                )
            )
        elif material is not None and material.cost is not None:
            identity = str(material.identity)
            found.append(
                Item(
                    IngredientKind.PACKING,
                    identity,
                    material.name,
                    material.unit,
                    count,
                    material.cost.value,
                )
            )
    for wear, uses in job.wear_uses:
        each = wear.price / wear.life
        found.append(Item(IngredientKind.WEAR, wear.name, wear.name, "use", Decimal(uses), each))
    return found


def at_costs(
    kept: Ingredients,
    unit_costs: Mapping[str, Decimal],
    *,
    rates: WorkshopRates,
    channel: ChannelRates,
    bought_at_once: int | None = None,
) -> Ingredients:
    """Return the same amounts and minutes at other unit costs (by identity), rates and terms.

    `bought_at_once` is what one buyer takes now, None as then; what is packed stays. For prices
    whose recipe has not changed: no cutting plan is needed, so a thousand take no time. A material
    that has no unit cost here keeps the one it had. Errors: NoTerms.
    """
    ask = replace(kept.ask, bought_at_once=bought_at_once or kept.bought_at_once)
    return replace(
        kept,
        items=tuple(_at_cost(item, unit_costs) for item in kept.items),
        rates=bare_rates(rates),
        channel=one_tier(ask, channel),
        bought_at_once=ask.bought,
    )


def _at_cost(item: Item, unit_costs: Mapping[str, Decimal]) -> Item:
    cost = unit_costs.get(item.identity, item.unit_cost) if item.kind in OF_STOCK else None
    # most of a thousand prices' items cost what they did
    return item if cost is None or cost == item.unit_cost else replace(item, unit_cost=cost)


def as_plain(ingredients: Ingredients) -> dict[str, Any]:
    """Return the ingredients as numbers and texts that JSON can hold; amounts as exact texts."""
    plain: dict[str, Any] = {"form": FORM, **written(ingredients)}
    # only a line of an order has these
    return {key: value for key, value in plain.items() if key not in IN_ORDER or value is not None}


_RATES_GONE = ("hours_per_day", "purchase_lead_days")


def as_form_2(kept: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return what was kept in form 1 as form 2, anything else as it is.

    Form 1 knew one buyer of the whole job. Rates no longer say when a job is ready. What is
    malformed is left to be refused.
    """
    if isinstance(kept, Mapping) and isinstance(kept.get("rates"), Mapping):
        rates = {key: value for key, value in kept["rates"].items() if key not in _RATES_GONE}
        kept = {**kept, "rates": rates}
    if not isinstance(kept, Mapping) or kept.get("form") != 1:
        return kept
    new = {"bought_at_once": None, **kept, "form": 2}
    channel = kept.get("channel")
    if isinstance(channel, Mapping) and isinstance(channel.get("tiers"), list):
        tiers = [
            {_TIER_OF_1.get(key, key): value for key, value in tier.items()}
            if isinstance(tier, Mapping)
            else tier
            for tier in channel["tiers"]
        ]
        new["channel"] = {**channel, "tiers": tiers}
    return new


def from_plain(kept: Mapping[str, Any]) -> Ingredients:
    """Read what `as_plain` returned. Errors: UnreadableIngredients."""
    try:
        kept = as_form_2(kept)
        if kept["form"] != FORM:
            raise UnreadableIngredients("This price was saved in an unknown format.")
        channel = dict(kept["channel"])
        tiers = tuple(_read(TierRates, tier) for tier in channel.pop("tiers"))
        return Ingredients(
            quantity=int(kept["quantity"]),
            items=tuple(
                _read(Item, {**item, "kind": IngredientKind(item["kind"])})
                for item in kept["items"]
            ),
            work=tuple(_read(Work, each) for each in kept["work"]),
            rates=_read(WorkshopRates, kept["rates"]),
            channel=_read(ChannelRates, {**channel, "tiers": tiers}),
            is_rush=bool(kept["is_rush"]),
            delivery=Decimal(kept["delivery"]),
            price_each=Decimal(kept["price_each"]),
            choices=tuple((str(key), str(choice)) for key, choice in kept["choices"]),
            bought_at_once=kept["bought_at_once"],
            **{name: int(kept[name]) for name in IN_ORDER if name in kept},
        )
    except (KeyError, TypeError, ValueError, InvalidOperation) as broken:
        raise UnreadableIngredients("This saved price can't be read.") from broken


_Row = TypeVar("_Row")
# by row, each field and whether it is a Decimal; asked once, for thousands of prices are read
_FIELDS: dict[type[Any], tuple[tuple[str, bool], ...]] = {
    row: tuple((field.name, field.type is Decimal) for field in fields(row))
    for row in (Item, Work, WorkshopRates, TierRates, ChannelRates)
}


def _read(row: type[_Row], kept: Mapping[str, Any]) -> _Row:
    """Make a row from kept texts; what it lacks has the value it has by default."""
    return row(
        **{
            name: Decimal(kept[name]) if is_decimal else kept[name]
            for name, is_decimal in _FIELDS[row]
            if name in kept
        }
    )
