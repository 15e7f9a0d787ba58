"""Everything the designs for an enquiry are worked out from, as the database holds it."""

from collections.abc import Hashable, Iterator
from typing import Any

from django.db.models import QuerySet

from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.recipes.models import DesignVersion
from catalogue.suppliers.models import Supplier
from maker.kept import as_stored
from maker.workshop.models import OverheadItem, Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.enquiries.models import Enquiry
from pricing.prices.models import PriceListEntry


def suggested_content(enquiry: Enquiry, channel: Channel | None) -> Hashable | None:
    """Return all that the designs for an enquiry are worked out from (ten queries).

    None where it cannot be told whether a recipe is the same: it bears no stamp.
    """
    shop = enquiry.workshop
    designs = Design.objects.of(shop).in_use()
    versions = as_stored(
        DesignVersion.objects.of(shop)
        .filter(design__in=designs)
        .order_by("pk")
        .values_list("recipe_stamp", "pk", "design_id", "number", "name", "finished_size")
    )
    if any(stamp is None for stamp, *_ in versions):
        return None
    return (
        versions,
        as_stored(designs.order_by("name", "pk").values_list()),
        *(as_stored(rows) for rows in _rows(enquiry, channel)),
    )


def _rows(enquiry: Enquiry, channel: Channel | None) -> Iterator[QuerySet[Any, tuple[Any, ...]]]:
    shop = enquiry.workshop
    yield Enquiry.objects.filter(pk=enquiry.pk).values_list()
    yield Workshop.objects.filter(pk=shop.pk).values_list()
    yield OverheadItem.objects.of(shop).values_list()
    yield Material.objects.of(shop).order_by("pk").values_list()
    yield Pack.objects.in_use().filter(material__workshop=shop).order_by("pk").values_list()
    yield Supplier.objects.of(shop).order_by("pk").values_list("pk", "name", "lead_days")
    if channel is None:
        return
    yield Channel.objects.filter(pk=channel.pk).values_list()
    yield ChannelTier.objects.filter(channel=channel).order_by("pk").values_list()
    prices = PriceListEntry.objects.current().filter(channel=channel).order_by("pk")
    yield prices.values_list(
        *("pk", "design_id", "price", "choices", "bought_at_once", "includes_tax"),
        "colourway__name",
    )
