"""Sets and takes away asked prices; what a price was set against is kept with it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.designs.models import Design
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.recipes.services import freeze_version
from catalogue.sheet_plans.services import PlanSheets
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.web.words import lowest_price, money
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.calc.price.ingredients import as_plain, ingredients_of
from pricing.channels.models import Channel
from pricing.costs.services import cost_and_price
from pricing.prices.inputs import Item, item_of, kept_item
from pricing.prices.models import PriceListEntry


class DesignPutAway(Refusal):
    """Nothing new is asked for a design that is put away."""


class BelowLowestPrice(Refusal):
    """A price that does not pay wage, overhead and bills is only kept when it is meant."""


class PriceAlreadyReplaced(Refusal):
    """A newer price took the place of this one."""


def _kept(amount: Decimal) -> Decimal:
    """Return an amount as the database keeps it, so that the same figure compares equal."""
    return amount.quantize(Decimal("0.000001"), rounding=ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class WorkedPrice:
    """A price to ask, with everything that is kept beside it; nothing is stored yet.

    It holds for who buys `bought_at_once` and more.
    """

    version: DesignVersion
    channel: Channel
    bought_at_once: int
    item: Item
    figures: dict[str, Any]


def work_out_price(
    *,
    version: DesignVersion,
    workshop: Workshop,
    channel: Channel,
    ask: Ask,
    price: Decimal,
    colourway: Colourway | None,
    plan_sheets: PlanSheets | None = None,
) -> WorkedPrice:
    """Return what would be kept with a price: cost, lowest price and target of the moment.

    It is kept for what one buyer takes, as the ask says, else as the channel's buyers usually do.

    Sheets may take seconds to plan, so call it outside a transaction. Refused when the design is
    put away and when no price can be asked.
    """
    design = version.design
    if design.retired_on:
        raise DesignPutAway(f"“{design.name}” is archived. Restore it first.")
    answer = cost_and_price(
        version=version,
        workshop=workshop,
        ask=ask,
        channel=channel,
        colourway=colourway,
        plan_sheets=plan_sheets,
    )
    if answer.price is None:
        raise answer.no_price or Refusal("No price is possible.")
    ask = answer.ask
    basis = ingredients_of(answer.cost, answer.price, ask, answer.channel, answer.rates)
    figures = {
        "version_id": version.pk,
        "colourway_id": colourway.pk if colourway else None,
        "choices": dict(sorted(answer.cost.parts.choices.items())),
        "made_at_once": ask.quantity,
        "price": price,
        "includes_tax": workshop.prices_include_tax,
        "tax_rate": answer.rates.tax_rate,
        "cost_each": _kept(answer.cost.cost_each),
        "floor_each": _kept(answer.price.floor_each),
        "target_each": _kept(answer.price.price_each),
        "basis": as_plain(replace(basis, price_each=price)),
    }
    item = item_of(version, colourway.name if colourway else "", answer.cost.parts.choices)
    return WorkedPrice(version, channel, ask.bought, item, figures)


def refuse_below_lowest(design: Design, price: Decimal, floor_each: Decimal) -> None:
    """Refuse a price below the lowest price of its quantity (BelowLowestPrice)."""
    if price >= floor_each:
        return
    workshop = design.workshop
    raise BelowLowestPrice(
        f"“{design.name}” at {money(price, workshop)} is below its lowest price of "
        f"{lowest_price(floor_each, workshop)}: you'd be working for less than your wage.",
        where="price",
    )


@transaction.atomic
def ask_prices(
    *, worked: Sequence[WorkedPrice], by: User, below_is_meant: bool = False
) -> list[PriceListEntry]:
    """Ask these prices from now on, all or none.

    The versions are frozen, because something is promised from them. The price before each stays
    readable. Saying the same price again changes nothing, so a second click does no harm.
    Refused when somebody saved the recipe since a price was worked out, and for a price below the
    lowest of its quantity (BelowLowestPrice) unless that is meant.
    """
    if not below_is_meant:
        for each in worked:
            figures = each.figures
            refuse_below_lowest(each.version.design, figures["price"], figures["floor_each"])
    # two people setting a price at once take turns at the design; always in the same order
    designs = {each.version.design_id for each in worked}
    list(Design.objects.select_for_update(no_key=True).filter(pk__in=designs).order_by("pk"))
    return [_ask(each, by) for each in worked]


def _ask(worked: WorkedPrice, by: User) -> PriceListEntry:
    freeze_version(worked.version)
    place = {
        "design": worked.version.design,
        "channel": worked.channel,
        "bought_at_once": worked.bought_at_once,
    }
    same = [
        entry
        for entry in PriceListEntry.objects.current().filter(**place).select_related("colourway")
        if kept_item(entry, worked.version) == worked.item
    ]
    for before in same:
        if all(getattr(before, name) == value for name, value in worked.figures.items()):
            return before
    for before in same:
        before.replaced_at = timezone.now()
        before.save(update_fields=["replaced_at"])
    return PriceListEntry.objects.create(set_by=by, **place, **worked.figures)


def set_price(
    *,
    version: DesignVersion,
    workshop: Workshop,
    channel: Channel,
    ask: Ask,
    price: Decimal,
    colourway: Colourway | None,
    by: User,
    below_is_meant: bool = False,
) -> PriceListEntry:
    """Work a price out and ask it from now on. Refused as `work_out_price` and `ask_prices`."""
    worked = work_out_price(
        version=version,
        workshop=workshop,
        channel=channel,
        ask=ask,
        price=price,
        colourway=colourway,
    )
    # only now: nobody else could write while sheets are planned
    return ask_prices(worked=[worked], by=by, below_is_meant=below_is_meant)[0]


@transaction.atomic
def take_price_away(*, entry: PriceListEntry) -> None:
    """Stop asking a price; it stays readable."""
    entry.replaced_at = timezone.now()
    entry.save(update_fields=["replaced_at"])


@transaction.atomic
def bring_price_back(*, entry: PriceListEntry) -> None:
    """Ask a price again, unless a newer one has replaced it."""
    Design.objects.select_for_update(no_key=True).get(pk=entry.design_id)
    newer = (
        PriceListEntry.objects.current()
        .filter(
            design_id=entry.design_id,
            channel_id=entry.channel_id,
            bought_at_once=entry.bought_at_once,
        )
        .exclude(pk=entry.pk)
        .with_items()
    )
    if any(kept_item(entry, other.version) == kept_item(other, other.version) for other in newer):
        raise PriceAlreadyReplaced("There is a newer price. Change that one.")
    entry.replaced_at = None
    entry.save(update_fields=["replaced_at"])
