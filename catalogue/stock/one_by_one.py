"""A stock count of everything, one material after the other, that can be put down and taken up.

Which round of counting one is in follows from the counts themselves: counts that are no more than
a few days apart belong together. So nothing has to be begun or ended, and any device goes on.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.materials.models import Material
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop

# counts further apart than this are of two rounds
APART = datetime.timedelta(days=4)


@dataclass(frozen=True, slots=True)
class Round:
    """A round of counting: since when, how many are counted, and keys of what is still to be."""

    since: datetime.date
    counted: int
    to_count: tuple[int, ...]

    @property
    def of(self) -> int:
        """Return how many materials there are."""
        return self.counted + len(self.to_count)

    def after(self, key: int | None) -> int | None:
        """Return what to count after a material that was passed over; None when all is counted."""
        if not self.to_count:
            return None
        if key not in self.to_count:
            return self.to_count[0]
        return self.to_count[(self.to_count.index(key) + 1) % len(self.to_count)]


def round_of(workshop: Workshop, today: datetime.date) -> Round:
    """Return the round that is under way, or a new one (three queries).

    Materials come in the order of their shelves: by category, then by name.
    """
    days = (
        StockEntry.objects.of(workshop)
        .standing()
        .counts()
        .filter(moved_on__lte=today)
        .order_by("-moved_on")
        .values_list("moved_on", flat=True)
        .distinct()[:366]
    )
    since = _since(list(days), today)
    # asked once and not for each material: with thousands of movements that took seconds
    counts = (
        StockEntry.objects.of(workshop)
        .standing()
        .counts()
        .filter(moved_on__gte=since, moved_on__lte=today)
    )
    counted = set(counts.order_by().values_list("material_id", flat=True))
    materials = Material.objects.of(workshop).in_use().by_name()
    order = {key: place for place, key in enumerate(Material.Category.values)}
    rows = sorted(materials.values_list("pk", "category"), key=lambda row: order[row[1]])
    left = tuple(key for key, _ in rows if key not in counted)
    return Round(since, len(rows) - len(left), left)


def _since(days: Sequence[datetime.date], today: datetime.date) -> datetime.date:
    """Return the first day of the round; `days` with counts, the last first."""
    since = today
    for day in days:
        if since - day > APART:
            break
        since = day
    return since


def packs_to_count(material: Material) -> list[tuple[int, str, Decimal]]:
    """Return key, name and content of the packs a material is kept in (one query)."""
    rows = material.packs.in_use().in_entry_order()
    return [(pack.pk, pack.name, pack.quantity) for pack in rows]
