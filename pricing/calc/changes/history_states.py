"""What is put in place of what, one after another, between two prices of one thing."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from maker.calc import sums
from pricing.calc.price.ingredients import OF_STOCK, IngredientKind, Ingredients, Item

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class PriceState:
    """The old ingredients with one more thing as in the new ones, and what that was."""

    key: str
    label: str
    how: sums.How | str
    ingredients: Ingredients


def states_between(
    old: Ingredients, new: Ingredients, with_options: Ingredients | None
) -> Iterator[PriceState]:
    """Yield the old ingredients with one more thing as in the new ones, until all are."""
    state = old
    if with_options is not None:
        state = with_options
        yield PriceState("options", "options", _say_choices(old, new), state)
    if state.quantity != new.quantity:
        said = f"{new.quantity} instead of {state.quantity} share the fixed fees"
        state = _scaled(state, new)
        yield PriceState("quantity", "quantity", said, state)
    for changes in (_prices, _uses, _wear_and_packing):
        for changed in changes(state, new):
            state = changed.ingredients
            yield changed
    if state.work != new.work:
        how = _say_minutes(state, new)
        state = replace(state, work=new.work)
        yield PriceState("minutes", "minutes", how, state)
    for key, label, change, say in _RATES_AND_TERMS:
        before, state = state, change(state, new)
        if state != before:
            yield PriceState(key, label, sums.say("{} → {}", say(before), say(state)), state)


def _scaled(side: Ingredients, new: Ingredients) -> Ingredients:
    """Return the same costs of one item for another quantity; an order stays one buyer's."""
    quantity = new.quantity
    are_orders = all(each.ask.bought == each.quantity for each in (side, new))
    factor = Decimal(quantity) / side.quantity
    return replace(
        side,
        quantity=quantity,
        bought_at_once=quantity if are_orders else side.ask.bought,
        items=tuple(replace(item, amount=item.amount * factor) for item in side.items),
        work=tuple(replace(work, minutes=work.minutes * factor) for work in side.work),
    )


def _prices(state: Ingredients, new: Ingredients) -> Iterator[PriceState]:
    """Yield the price of each material both sides know."""
    bought = {item.identity: item for item in new.items if item.kind in OF_STOCK}
    for identity, item in bought.items():
        was = [i for i in state.items if i.identity == identity and i.kind in OF_STOCK]
        if not was or was[0].unit_cost == item.unit_cost:
            continue
        before, after = (sums.unit_cost(each.unit_cost, item.unit) for each in (was[0], item))
        how = sums.say("{} → {} per {}", before, after, sums.unit_of(item.unit))
        items = tuple(
            replace(each, unit_cost=item.unit_cost) if each in was else each for each in state.items
        )
        state = replace(state, items=items)
        yield PriceState(f"price.{identity}", f"price of {item.name}", how, state)


def _uses(state: Ingredients, new: Ingredients) -> Iterator[PriceState]:
    """Yield how much of each material goes into one piece, with those that come and go."""
    items = [
        i
        for i in (*state.items, *new.items)
        if i.kind in (IngredientKind.SHEET, IngredientKind.OTHER)
    ]
    for item in {(i.kind, i.identity): i for i in items}.values():
        key = (item.kind, item.identity)
        was, now = _item(state, key), _item(new, key)
        if was != now:
            before, after = (
                sums.amount((i.amount if i else ZERO) / new.quantity, item.unit) for i in (was, now)
            )
            how = sums.say("{} → {} per item", before, after)
            state = _with_items(state, {key}, new)
            yield PriceState(f"use.{key[0].value}.{key[1]}", f"use of {item.name}", how, state)


def _wear_and_packing(state: Ingredients, new: Ingredients) -> Iterator[PriceState]:
    """Yield wear and packing, each as a whole."""
    for key, label, kinds in (
        ("wear", "wear of tools", {IngredientKind.WEAR}),
        ("packing", "packing", {IngredientKind.PACKING, IngredientKind.STATED}),
    ):
        items = [i for i in (*state.items, *new.items) if i.kind in kinds]
        keys = {(i.kind, i.identity) for i in items}
        if any(_item(state, each) != _item(new, each) for each in keys):
            how = sums.say("{} → {} per item", _cost_each(state, keys), _cost_each(new, keys))
            state = _with_items(state, keys, new)
            yield PriceState(key, label, how, state)


_Key = tuple[IngredientKind, str]


def _item(side: Ingredients, key: _Key) -> Item | None:
    return next((item for item in side.items if (item.kind, item.identity) == key), None)


def _with_items(state: Ingredients, keys: set[_Key], new: Ingredients) -> Ingredients:
    kept = [item for item in state.items if (item.kind, item.identity) not in keys]
    taken = [item for item in new.items if (item.kind, item.identity) in keys]
    return replace(state, items=(*kept, *taken))


def _cost_each(side: Ingredients, keys: set[_Key]) -> sums.How:
    cost = sum((i.cost for i in side.items if (i.kind, i.identity) in keys), ZERO)
    return sums.money(cost / side.quantity)


def _say_minutes(old: Ingredients, new: Ingredients) -> sums.How:
    """Say the minutes of one piece in all, and the step that changed most."""
    before, after = (sums.number(side.minutes / side.quantity) for side in (old, new))
    was, now = (_by_step(side) for side in (old, new))
    name = max({**was, **now}, key=lambda step: abs(now.get(step, ZERO) - was.get(step, ZERO)))
    return sums.say(
        "{} → {} min per item, mostly “{}”: {} → {}",
        before,
        after,
        name,
        sums.number(was.get(name, ZERO)),
        sums.number(now.get(name, ZERO)),
    )


def _by_step(side: Ingredients) -> dict[str, Decimal]:
    minutes: dict[str, Decimal] = {}
    for work in side.work:
        minutes[work.name] = minutes.get(work.name, ZERO) + work.minutes / side.quantity
    return minutes


_Change = Callable[[Ingredients, Ingredients], Ingredients]


def _wage(side: Ingredients, new: Ingredients) -> Ingredients:
    return replace(side, rates=replace(side.rates, wage_per_hour=new.rates.wage_per_hour))


def _overhead(side: Ingredients, new: Ingredients) -> Ingredients:
    hour = new.rates.overhead_per_hour
    return replace(side, rates=replace(side.rates, overhead_per_hour=hour))


def _buyers(side: Ingredients, new: Ingredients) -> Ingredients:
    bought = new.ask.bought
    return side if side.ask.bought == bought else replace(side, bought_at_once=bought)


def _fees(side: Ingredients, new: Ingredients) -> Ingredients:
    # all of the new tier but what has a step of its own
    tier = replace(new.tier, margin=side.tier.margin, price_step=side.tier.price_step)
    channel = replace(side.channel, tiers=(tier,), listing_fee=new.channel.listing_fee)
    return replace(side, channel=channel, delivery=new.delivery)


def _commission(side: Ingredients, new: Ingredients) -> Ingredients:
    share = new.channel.commission_share
    return replace(side, channel=replace(side.channel, commission_share=share))


def _tax(side: Ingredients, new: Ingredients) -> Ingredients:
    rate, inside = new.rates.tax_rate, new.rates.prices_include_tax
    return replace(side, rates=replace(side.rates, tax_rate=rate, prices_include_tax=inside))


def _margin(side: Ingredients, new: Ingredients) -> Ingredients:
    tier = replace(side.tier, margin=new.tier.margin)
    return replace(side, channel=replace(side.channel, tiers=(tier,)))


def _rush(side: Ingredients, new: Ingredients) -> Ingredients:
    channel = replace(side.channel, rush_share=new.channel.rush_share)
    return replace(side, channel=channel, is_rush=new.is_rush)


def _say_fees(side: Ingredients) -> sums.How:
    tier, listing = side.tier, side.channel.listing_fee
    fixed = sums.number(tier.payments_per_sale) * sums.money(tier.fixed_fee)
    said = sums.say("{} per payment, {}", sums.share(tier.fee_share), fixed)
    return sums.say("{}, listing {}", said, sums.money(listing)) if listing else said


def _say_tax(side: Ingredients) -> sums.How:
    rate = sums.share(side.rates.tax_rate)
    return rate if side.rates.prices_include_tax else sums.say("{} on top", rate)


def _say_rush(side: Ingredients) -> sums.How:
    return sums.share(side.channel.rush_share if side.is_rush else ZERO)


# key, label, what is put in place of the old, how a side is said
_RATES_AND_TERMS: tuple[tuple[str, str, _Change, Callable[[Ingredients], sums.How]], ...] = (
    ("wage", "hourly wage", _wage, lambda side: sums.money(side.rates.wage_per_hour)),
    (
        "overhead",
        "hourly overhead",
        _overhead,
        lambda side: sums.money(side.rates.overhead_per_hour),
    ),
    ("buyers", "bought at once", _buyers, lambda side: sums.number(side.ask.bought)),
    ("fees", "fees", _fees, _say_fees),
    (
        "commission",
        "commission",
        _commission,
        lambda side: sums.share(side.channel.commission_share),
    ),
    ("tax", "tax", _tax, _say_tax),
    ("margin", "margin", _margin, lambda side: sums.share(side.tier.margin)),
    ("rush", "rush", _rush, _say_rush),
)


def _say_choices(old: Ingredients, new: Ingredients) -> str:
    before, after = dict(old.choices), dict(new.choices)
    return ", ".join(
        f"{key}: {before.get(key, 'none')} → {after.get(key, 'none')}"
        for key in dict.fromkeys([*before, *after])
        if before.get(key) != after.get(key)
    )
