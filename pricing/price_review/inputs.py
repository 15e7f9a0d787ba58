"""What prices were set against and what it costs today, in a fixed number of queries."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.materials.inputs import unit_costs
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.changes.repricing import Repricing, Trigger, is_due, reprice, triggers_of
from pricing.calc.costing.rates import ChannelRates, WorkshopRates
from pricing.calc.price.ingredients import Ingredients, UnreadableIngredients, at_costs, from_plain
from pricing.calc.times.timings import timing_drift as timing_drift_of
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Today:
    """Costs, rates and terms of a day, and how far a price may be off before it is shown.

    `unit_costs` by material id as text; `timed` has, by recipe version, how far the timed minutes
    of each step are from the recipe's.
    """

    on: datetime.date
    unit_costs: Mapping[str, Decimal]
    rates: WorkshopRates
    channels: Mapping[int | None, ChannelRates]
    threshold: Decimal
    timing_threshold: Decimal
    after_months: int
    timed: Mapping[int, Mapping[str, Decimal]] = field(default_factory=dict)


def today_of(workshop: Workshop, on: datetime.date) -> Today:
    """Return what holds on a day (five queries). Refused when overhead has no hours."""
    channels: dict[int | None, ChannelRates] = {None: channel_rates(None)}
    for channel in Channel.objects.of(workshop).with_tiers():
        channels[channel.pk] = channel_rates(channel)
    return Today(
        on=on,
        unit_costs=unit_costs(workshop),
        rates=workshop_rates(workshop),
        channels=channels,
        threshold=workshop.reprice_share,
        timing_threshold=workshop.timing_share,
        after_months=workshop.reprice_after_months,
    )


@dataclass(frozen=True, slots=True)
class Checked:
    """A price compared with today: its triggers, or why it cannot be compared."""

    then: Ingredients | None
    now: Ingredients | None
    triggers: tuple[Trigger, ...] = ()
    timing_drift: Decimal = ZERO
    is_old: bool = False
    problem: str = ""


NOT_KEPT = "This older price has no cost on record. Save it again on the Price page."


def check(
    basis: object,
    *,
    version_id: int,
    channel_id: int | None,
    set_on: datetime.date,
    today: Today,
    is_order: bool = False,
) -> Checked:
    """Compare one kept price with today; no query, no cutting plan.

    An older price, which does not say what one buyer takes, is compared with what buyers usually
    take in its channel, unless it is one of an order.
    """
    if not isinstance(basis, Mapping):
        return Checked(None, None, problem=NOT_KEPT)
    then = now = None
    try:
        then = from_plain(basis)
        channel = today.channels[channel_id]
        asked = then.ask if is_order else then.ask.sold_through(channel)
        now = at_costs(
            then,
            today.unit_costs,
            rates=today.rates,
            channel=channel,
            bought_at_once=asked.bought,
        )
        timing_drift = timing_drift_of(then.work, today.timed.get(version_id, {}))
        is_old = is_due(set_on, today.on, today.after_months)
        triggers = triggers_of(
            then,
            now,
            threshold=today.threshold,
            timing_drift=timing_drift,
            timing_threshold=today.timing_threshold,
            is_old=is_old,
        )
    except UnreadableIngredients as unreadable:
        return Checked(None, None, problem=unreadable.message)
    except Refusal as refusal:
        return Checked(then, now, problem=refusal.message)
    return Checked(then, now, triggers, timing_drift, is_old)


def explain(checked: Checked, today: Today) -> Repricing | None:
    """Return why a price is off and what would put it right; None where it cannot be said."""
    if checked.then is None or checked.now is None or checked.problem:
        return None
    return reprice(
        checked.then,
        checked.now,
        threshold=today.threshold,
        timing_drift=checked.timing_drift,
        timing_threshold=today.timing_threshold,
        is_old=checked.is_old,
    )
