"""Sets and takes away asked prices; what a price was set against is kept with it."""

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.designs.models import Design
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.recipes.services import freeze_version
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.ingredients import as_plain, ingredients_of
from pricing.calc.rates import Ask
from pricing.channels.models import Channel
from pricing.costs.services import cost_and_price
from pricing.prices.models import PriceListEntry


class DesignPutAway(Refusal):
    """Nothing new is asked for a design that is put away."""


class PriceAlreadyReplaced(Refusal):
    """A newer price took the place of this one."""


def _kept(amount: Decimal) -> Decimal:
    """Return an amount as the database keeps it, so that the same figure compares equal."""
    return amount.quantize(Decimal("0.000001"), rounding=ROUND_HALF_UP)


def set_price(
    *,
    version: DesignVersion,
    workshop: Workshop,
    channel: Channel,
    ask: Ask,
    price: Decimal,
    from_quantity: int,
    colourway: Colourway | None,
    by: User,
) -> PriceListEntry:
    """Ask this price from now on; cost, floor and target of the moment are kept with it.

    The version is frozen, because something is promised from it. The price before it stays
    readable. Saying the same price again changes nothing, so a second click does no harm.
    A price below the floor is allowed; the page says so. Refused when the design is put away, when
    no price can be asked, and when somebody saved the recipe since `version` was read.
    """
    design = version.design
    if design.retired_on:
        raise DesignPutAway(f"“{design.name}” is put away. Bring it back first.")
    answer = cost_and_price(
        version=version, workshop=workshop, ask=ask, channel=channel, colourway=colourway
    )
    if answer.price is None:
        raise answer.no_price or Refusal("No price can be asked.")
    choices = dict(answer.cost.parts.choices)
    basis = ingredients_of(answer.cost, answer.price, ask, answer.channel, answer.rates)
    figures = {
        "version_id": version.pk,
        "colourway_id": colourway.pk if colourway else None,
        "choices": choices,
        "made_in": ask.quantity,
        "price": price,
        "includes_tax": workshop.prices_include_tax,
        "tax_rate": answer.rates.tax_rate,
        "cost_each": _kept(answer.cost.cost_each),
        "floor_each": _kept(answer.price.floor_each),
        "target_each": _kept(answer.price.price_each),
        "basis": as_plain(replace(basis, price_each=price)),
    }
    # Only now: planning sheets may take seconds, and nobody else could write meanwhile.
    with transaction.atomic():
        # two people setting a price at once take turns at the design
        Design.objects.select_for_update(no_key=True).get(pk=design.pk)
        freeze_version(version)
        before = (
            PriceListEntry.objects.current()
            .filter(design=design, channel=channel, from_quantity=from_quantity)
            .first()
        )
        if before and all(getattr(before, name) == value for name, value in figures.items()):
            return before
        if before:
            before.replaced_at = timezone.now()
            before.save(update_fields=["replaced_at"])
        return PriceListEntry.objects.create(
            design=design, channel=channel, from_quantity=from_quantity, set_by=by, **figures
        )


@transaction.atomic
def take_price_away(*, entry: PriceListEntry) -> None:
    """Stop asking a price; it stays readable."""
    entry.replaced_at = timezone.now()
    entry.save(update_fields=["replaced_at"])


@transaction.atomic
def bring_price_back(*, entry: PriceListEntry) -> None:
    """Ask a price again, unless a newer one holds by now."""
    Design.objects.select_for_update(no_key=True).get(pk=entry.design_id)
    newer = (
        PriceListEntry.objects.current()
        .filter(
            design_id=entry.design_id,
            channel_id=entry.channel_id,
            from_quantity=entry.from_quantity,
        )
        .exclude(pk=entry.pk)
    )
    if newer.exists():
        raise PriceAlreadyReplaced("A newer price holds by now. Change that one.")
    entry.replaced_at = None
    entry.save(update_fields=["replaced_at"])
