"""Works out why a price changed between two sides, and between two quotes. Stores nothing."""

from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.changes.history import History, cost_history, price_history, total_history
from pricing.calc.costing.rates import Ask
from pricing.calc.price.ingredients import Ingredients, at_costs, from_plain, ingredients_of
from pricing.channels.models import Channel
from pricing.costs.services import cost_and_price
from pricing.prices.models import PriceListEntry


class NotKept(Refusal):
    """The price was set before what it was worked out from was kept with it."""


@dataclass(frozen=True, slots=True)
class PricedJob:
    """What a price can be worked out for; `version` comes from `with_recipe()`."""

    version: DesignVersion
    ask: Ask
    channel: Channel | None
    colourway: Colourway | None


@dataclass(frozen=True, slots=True)
class Histories:
    """The same change of one price three ways; the price of one comes first."""

    old: Ingredients
    new: Ingredients
    price: History
    cost: History
    total: History


def ingredients_today(job: PricedJob, workshop: Workshop) -> Ingredients:
    """Return what a job's price is worked out from today. Refuses as the cost page does."""
    answer = cost_and_price(
        version=job.version,
        workshop=workshop,
        ask=job.ask,
        channel=job.channel,
        colourway=job.colourway,
    )
    if answer.price is None:
        raise answer.no_price or Refusal("No price is possible.")
    return ingredients_of(answer.cost, answer.price, answer.ask, answer.channel, answer.rates)


def kept_ingredients(entry: PriceListEntry) -> Ingredients:
    """Return what a price of the list was worked out from. Refusals: NotKept, unreadable."""
    if entry.basis is None:
        raise NotKept(
            "This older price has no cost on record. Choose a later one or save it "
            "again on the Price page."
        )
    return from_plain(entry.basis)


def job_of(entry: PriceListEntry, version: DesignVersion) -> PricedJob:
    """Return the job a price of the list was set for; `version` is the entry's, loaded whole."""
    ask = Ask(
        entry.made_at_once,
        tuple(sorted(entry.choices.items())),
        bought_at_once=entry.bought_at_once,
    )
    way = next((row for row in version.colourways.all() if row.pk == entry.colourway_id), None)
    return PricedJob(version, ask, None, way)


def histories_between(
    old: Ingredients, new: Ingredients, *, with_options: Ingredients | None = None
) -> Histories:
    """Return the three price histories. Refused when either price has no sum behind it."""
    return Histories(
        old,
        new,
        price_history(old, new, with_options=with_options),
        cost_history(old, new, with_options=with_options),
        total_history(old, new, with_options=with_options),
    )


def with_new_choices(
    old: Ingredients, new: Ingredients, job: PricedJob, workshop: Workshop
) -> Ingredients | None:
    """Return the old job with the new choices at its old costs and rates.

    None when the choices are the same, or when the old job is no longer made as it was (its
    minutes follow practice, for instance): then what the choices take shows in its materials.
    """
    if dict(old.choices) == dict(new.choices):
        return None
    known = {option.key for option in job.version.options.all()}
    wanted = tuple((key, choice) for key, choice in new.choices if key in known)
    costs = {item.identity: item.unit_cost for item in old.items}

    def as_then(ask: Ask) -> Ingredients:
        today = ingredients_today(replace(job, ask=ask), workshop)
        then = at_costs(today, costs, rates=old.rates, channel=old.channel)
        return replace(then, is_rush=old.is_rush, delivery=old.delivery, price_each=old.price_each)

    try:
        before = as_then(replace(job.ask, choices=old.choices))
        if (_amounts(before), before.work) != (_amounts(old), old.work):
            return None
        return as_then(replace(job.ask, choices=wanted))
    except Refusal:
        return None


def _amounts(side: Ingredients) -> dict[tuple[str, str], Decimal]:
    return {(item.kind.value, item.identity): item.amount for item in side.items}
