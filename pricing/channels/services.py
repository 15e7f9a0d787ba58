"""Writes about channels that touch more than one row or can be refused."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from maker.workshop.services import claim_name
from pricing.channels.models import Channel, ChannelTier


class ChannelsAlreadyThere(Refusal):
    """The usual channels are only offered to a workshop without any."""


class ChannelPutAway(Refusal):
    """A channel that is put away has no place in the order."""


# Starting points, to be changed by her; common practice, no source.
# One buyer takes one at a stall and online; None: what is ordered.
_USUAL: tuple[tuple[str, str, int | None, Decimal, tuple[dict[str, Any], ...]], ...] = (
    (
        "Craft fair",
        Channel.Kind.FAIR,
        1,
        Decimal(0),
        (
            {
                "margin": Decimal("0.30"),
                "fee_share": Decimal("0.0175"),
                "price_step": Decimal("0.5"),
            },
        ),
    ),
    (
        "Orders",
        Channel.Kind.DIRECT,
        None,
        Decimal("0.20"),
        (
            {"margin": Decimal("0.35"), "price_step": Decimal("0.50")},
            {
                "bought_at_once": 12,
                "margin": Decimal("0.30"),
                "payments_per_sale": 2,
                "price_step": Decimal("0.05"),
                "deposit_share": Decimal("0.40"),
            },
            {
                "bought_at_once": 60,
                "margin": Decimal("0.25"),
                "payments_per_sale": 2,
                "price_step": Decimal("0.05"),
                "deposit_share": Decimal("0.40"),
            },
        ),
    ),
    (
        "Online",
        Channel.Kind.ONLINE,
        1,
        Decimal(0),
        (
            {
                "margin": Decimal("0.30"),
                "fee_share": Decimal("0.07"),
                "fixed_fee": Decimal("0.25"),
                "price_step": Decimal("0.05"),
            },
        ),
    ),
    (
        "Shops",
        Channel.Kind.WHOLESALE,
        None,
        Decimal(0),
        ({"margin": Decimal("0.15"), "price_step": Decimal("0.05")},),
    ),
)


@transaction.atomic
def add_usual_channels(*, workshop: Workshop) -> list[Channel]:
    """Give a workshop without channels a fair, orders, online and shops to start from.

    Refused when it has channels already, so that a second click changes nothing.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    if Channel.objects.of(workshop).exists():
        raise ChannelsAlreadyThere("You already have sales channels. Edit those.")
    channels = []
    for position, (name, kind, bought, rush, tiers) in enumerate(_USUAL):
        channel = Channel.objects.create(
            workshop=workshop,
            position=position,
            name=name,
            kind=kind,
            bought_at_once=bought,
            rush_share=rush,
        )
        for tier in tiers:
            ChannelTier.objects.create(channel=channel, **tier)
        channels.append(channel)
    return channels


@transaction.atomic
def save_channel(
    *, channel: Channel, tiers: Sequence[Mapping[str, Any]], edit_number: int | None
) -> Channel:
    """Store a channel and replace its tiers, which nothing else refers to.

    Refused when another channel has the name, and when somebody saved the channel after it was
    opened.
    """
    claim_name(channel, f"You already have a channel “{channel.name}”. Choose another name.")
    if channel.pk:
        take_turn(channel, edit_number)
    channel.save()
    channel.tiers.all().delete()
    ChannelTier.objects.bulk_create(ChannelTier(channel=channel, **tier) for tier in tiers)
    return channel


@transaction.atomic
def move_channel(*, channel: Channel, by: int) -> None:
    """Move a channel up (-1) or down (+1) in its workshop's order; at the end it stays.

    Errors: ChannelPutAway when somebody put it away meanwhile.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=channel.workshop_id)
    rows = list(Channel.objects.filter(workshop_id=channel.workshop_id).in_use().in_order())
    place = next((n for n, row in enumerate(rows) if row.pk == channel.pk), None)
    if place is None:
        raise ChannelPutAway(f"“{channel}” is archived. Restore it first.")
    goal = min(max(place + by, 0), len(rows) - 1)
    rows.insert(goal, rows.pop(place))
    for position, row in enumerate(rows):
        row.position = position
    Channel.objects.bulk_update(rows, ["position"])
