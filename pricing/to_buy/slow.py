"""Stock that only lies there: which it is, and what a page of it would do for."""

import datetime
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from catalogue.calc.supplies.year_end import RECENT_DAYS, Cover, SlowLimits, cover_of
from catalogue.materials.models import Material
from catalogue.stock.inputs import ledger_state
from catalogue.stock.models import StockEntry
from maker.calc.money import with_working_precision
from maker.exact_sums import Millionths, from_millionths
from maker.kept import Kept, as_stored
from maker.workshop.models import Workshop
from pricing.to_buy.inputs import MADE, USES, Doing, designs_for

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class LastUse:
    """A material: what is in stock of it, since when it is known, and when it was used last.

    `used_lately` is its use of the last 90 days.
    """

    material_id: int
    on_hand: Decimal
    stock_value: Decimal
    known_since: datetime.date | None
    last_used_on: datetime.date | None
    used_lately: Decimal


@dataclass(frozen=True, slots=True)
class Slow:
    """A material that lies there: its value, how long it does, how long it would last."""

    material_id: int
    stock_value: Decimal
    cover: Cover


@dataclass(frozen=True, slots=True)
class SlowStock:
    """A material that lies there, how long, and a design it would do for."""

    material: Material
    cover: Cover
    doing: Doing | None


@with_working_precision
def slow_among(workshop: Workshop, rows: Iterable[LastUse], on: datetime.date) -> list[Slow]:
    """Return what is slow, the most valuable first; what is new has had no time to be used."""
    limits = SlowLimits(workshop.slow_days, Decimal(workshop.slow_weeks))
    young = on - datetime.timedelta(days=workshop.slow_days)
    found = []
    for row in rows:
        if row.on_hand <= 0 or row.known_since is None or row.known_since > young:
            continue
        cover = cover_of(row.on_hand, row.last_used_on, max(row.used_lately, ZERO), on, limits)
        if cover.is_slow:
            found.append(Slow(row.material_id, row.stock_value, cover))
    return sorted(found, key=lambda row: (-row.stock_value, row.material_id))


# lists of workshops, of some hundred materials each
_LISTS: Kept[tuple[Slow, ...]] = Kept(8)


def slow_stock(workshop: Workshop, on: datetime.date) -> tuple[Slow, ...]:
    """Return everything slow in a workshop, the most valuable first (at most four queries)."""
    return _LISTS.result_of(lambda: _content(workshop, on), lambda: _slow_of(workshop, on))


def _content(workshop: Workshop, on: datetime.date) -> Hashable:
    """Return all that what is slow follows from (three queries)."""
    materials = Material.objects.of(workshop).in_use().filter(on_hand__gt=0).order_by("pk")
    return (
        *(on, workshop.slow_days, workshop.slow_weeks),
        as_stored(materials.values_list("pk", "on_hand", "stock_value")),
        *ledger_state(workshop),
    )


def _slow_of(workshop: Workshop, on: datetime.date) -> tuple[Slow, ...]:
    entries = StockEntry.objects.standing().filter(material=models.OuterRef("pk"))
    lately = on - datetime.timedelta(days=RECENT_DAYS)
    uses = entries.filter(kind__in=USES, moved_on__gt=lately, moved_on__lte=on).order_by()
    rows = (
        Material.objects.of(workshop)
        .in_use()
        .filter(on_hand__gt=0)
        .order_by()
        .values_list(
            "pk",
            Millionths("on_hand"),
            Millionths("stock_value"),
            models.Subquery(entries.order_by("moved_on").values("moved_on")[:1]),
            models.Subquery(
                entries.filter(kind__in=MADE).order_by("-moved_on").values("moved_on")[:1]
            ),
            models.Subquery(
                uses.values("material").annotate(sum=models.Sum(Millionths("change"))).values("sum")
            ),
        )
    )
    uses_of = (
        LastUse(
            key,
            from_millionths(on_hand),
            from_millionths(value),
            first,
            last,
            -from_millionths(used),
        )
        for key, on_hand, value, first, last, used in rows
    )
    return tuple(slow_among(workshop, uses_of, on))


def slow_rows(workshop: Workshop, slow: Sequence[Slow]) -> list[SlowStock]:
    """Return some slow stock with its materials, each with a design it would do for."""
    materials = Material.objects.of(workshop).select_related("picture")
    found = materials.in_bulk([row.material_id for row in slow])
    for material in found.values():
        material.workshop = workshop
    doing = designs_for(workshop, list(found.values()))
    return [
        SlowStock(found[row.material_id], row.cover, doing.get(row.material_id)) for row in slow
    ]
