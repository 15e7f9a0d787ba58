"""A day at a fair with items and a bundle, opened for selling."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.utils import timezone

from maker.workshop.models import Workshop
from pricing.fair_sales.opening import open_day
from pricing.fairs.models import Fair, FairBundle, FairBundleItem, FairDay, FairDesign
from tests import factories


class Table:
    """The day `day` with a lantern at 6.50 and a star box at 11.00; 2 + 1 cost 22.50 together."""

    def __init__(
        self, workshop: Workshop, *, is_open: bool = True, on: datetime.date | None = None
    ):
        self.workshop = workshop
        self.fair = Fair.objects.create(workshop=workshop, name="Hollin Green fair", state="going")
        self.lantern = self._item("Paper lantern", "6.50", "3.41", taken=40)
        self.starbox = self._item("Star box", "11.00", "5.82", taken=21)
        self.bundle = FairBundle.objects.create(
            fair=self.fair, name="Two lanterns and a box", price=Decimal("22.50")
        )
        for item, count in ((self.lantern, 2), (self.starbox, 1)):
            FairBundleItem.objects.create(bundle=self.bundle, item=item, count=count)
        self.day = FairDay.objects.create(
            fair=self.fair,
            held_on=on or timezone.localdate(),
            opens=datetime.time(10),
            closes=datetime.time(17),
        )
        if is_open:
            self.day = open_day(day=self.day, now=timezone.now())

    def _item(self, name: str, price: str, cost: str, *, taken: int) -> FairDesign:
        version = factories.make_version(factories.make_design(self.workshop, name=name))
        return FairDesign.objects.create(
            fair=self.fair,
            version=version,
            price=Decimal(price),
            cost_each=Decimal(cost),
            taken=taken,
        )

    def address(self, rest: str = "table/") -> str:
        """Return an address of the day."""
        return f"/w/{self.workshop.slug}/fairs/{self.fair.pk}/days/{self.day.pk}/{rest}"

    def sale(self, lanterns: int = 1, boxes: int = 0, **fields: Any) -> dict[str, Any]:
        """Return a sale as a phone sends it, of so many items at their prices."""
        items = {str(self.lantern.pk): lanterns, str(self.starbox.pk): boxes}
        return {
            "uuid": str(uuid.uuid4()),
            "kind": "sale",
            "way": "cash",
            "at": int(timezone.now().timestamp() * 1000),
            "items": {key: count for key, count in items.items() if count},
            "amount": lanterns * 650 + boxes * 1100,
            **fields,
        }
