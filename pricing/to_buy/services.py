"""The shopping list over all suppliers put together, and a draft of a receipt made from it."""

import datetime
import uuid
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.supplies.packs import PacksToBuy
from catalogue.calc.supplies.postage import SupplierTerms
from catalogue.calc.supplies.shopping import Need, shopping_list
from catalogue.calc.supplies.to_buy import ToBuy, to_buy, use_ahead, weekly_use
from catalogue.calc.supplies.year_end import is_lately
from catalogue.materials.inputs import material_values, packs_of
from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import ReceiptInput, ReceiptLineInput, draft_purchase
from catalogue.suppliers.models import Supplier
from maker.calc.refusal import Refusal
from maker.kept import Kept
from maker.workshop.models import Workshop
from pricing.to_buy.fair_needs import FairNeed, next_fair_need
from pricing.to_buy.inputs import (
    Stand,
    buying_rules,
    lead_of,
    materials_in_use,
    stands_of,
)
from pricing.to_buy.kept_lists import list_content
from pricing.to_buy.slow import LastUse, slow_among

ZERO = Decimal(0)


class NothingToBuy(Refusal):
    """Nothing of this supplier is on the list any more."""


@dataclass(frozen=True, slots=True)
class PackLine:
    """So many of one pack of a material; `cost` is None when the pack has no price."""

    material: Material
    pack: Pack
    count: int
    found: ToBuy

    @property
    def quantity(self) -> Decimal:
        """Return what is in them, in the material's unit."""
        return self.pack.quantity * self.count

    @property
    def cost(self) -> Decimal | None:
        """Return what they cost."""
        return None if self.pack.price is None else self.pack.price * self.count


@dataclass(frozen=True, slots=True)
class SupplierList:
    """What is ordered from one supplier; `to_free` is what is missing to free postage."""

    supplier: Supplier | None
    lines: tuple[PackLine, ...]
    goods: Decimal
    postage: Decimal
    to_free: Decimal | None


# a need that no pack can cover, and why not
Unpacked = tuple[Material, ToBuy, str]


@dataclass(frozen=True, slots=True)
class BuyingList:
    """Everything on the page; `without_pack` are needs that no pack can cover.

    Of slow stock it has how many materials and what they are worth.
    """

    suppliers: tuple[SupplierList, ...]
    without_pack: tuple[Unpacked, ...]
    total: Decimal
    slow: int
    slow_value: Decimal
    materials: int
    fair: FairNeed


# lists of workshops: with some thousand materials a few MB each
_LISTS: Kept[BuyingList] = Kept(2)


def buying_list(*, workshop: Workshop, on: datetime.date) -> BuyingList:
    """Say what to buy now and from whom, packs and postage together as cheap as can be.

    The number of queries does not grow with the materials.
    """
    return _LISTS.result_of(
        lambda: list_content(workshop, on),
        lambda: _list_of(workshop, on),
        lambda found: found.fair.is_proven,
    )


def _list_of(workshop: Workshop, on: datetime.date) -> BuyingList:
    rules = buying_rules(workshop)
    needs, wanted = [], []
    materials = materials_in_use(workshop)
    fair = next_fair_need(workshop, on, materials)
    stands = stands_of(workshop, materials.values(), on, fair.amounts)
    for stand in stands:
        values = material_values(stand.material, workshop)
        found = to_buy(
            stand.position,
            use_ahead(weekly_use(stand.used, stand.known_since or on, on)),
            lead_of(stand.material, workshop),
            values.packs,
            rules,
        )
        if found.amount:
            needs.append(Need(values, found.amount))
            wanted.append((stand.material, found))
    suppliers = {one.name: one for one in Supplier.objects.of(workshop).by_name()}
    terms = [
        SupplierTerms(one.name, one.carriage, one.carriage_free_from) for one in suppliers.values()
    ]
    bought = shopping_list(needs, terms=terms)
    groups: dict[str, list[PackLine]] = {}
    without = []
    for (material, found), line in zip(wanted, bought.lines, strict=True):
        if line.bought is None or not line.bought.packs:
            without.append((material, found, line.problem))
            continue
        for name, pack_line in _pack_lines(material, found, line.bought):
            groups.setdefault(name, []).append(pack_line)
    orders = {order.supplier: order for order in bought.orders}
    lists = []
    for name, lines in sorted(
        groups.items(), key=lambda group: (not group[0], group[0].casefold())
    ):
        order = orders.get(name)
        lists.append(
            SupplierList(
                supplier=suppliers.get(name),
                lines=tuple(lines),
                goods=sum((line.cost or ZERO for line in lines), ZERO),
                postage=order.carriage if order else ZERO,
                to_free=order.to_free if order else None,
            )
        )
    total = sum((one.goods + one.postage for one in lists), ZERO)
    slow = slow_among(workshop, (_last_use(stand, on) for stand in stands), on)
    return BuyingList(
        suppliers=tuple(lists),
        without_pack=tuple(without),
        total=total,
        slow=len(slow),
        slow_value=sum((one.stock_value for one in slow), ZERO),
        materials=len(stands),
        fair=fair,
    )


def _pack_lines(material: Material, found: ToBuy, bought: PacksToBuy) -> list[tuple[str, PackLine]]:
    """Return the packs bought of a material with the name of whose they are."""
    rows: dict[object, Pack] = {}
    for offer, pack in zip(
        material_values(material, material.workshop).packs, packs_of(material), strict=True
    ):
        rows.setdefault(offer, pack)
    return [
        (each.offer.supplier, PackLine(material, rows[each.offer], each.count, found))
        for each in bought.packs
    ]


def _last_use(stand: Stand, on: datetime.date) -> LastUse:
    """Return how a material was used last."""
    material = stand.material
    return LastUse(
        material_id=material.pk,
        on_hand=material.on_hand,
        stock_value=material.stock_value,
        known_since=stand.known_since,
        last_used_on=stand.last_used_on,
        used_lately=sum((amount for day, amount in stand.used if is_lately(day, on)), ZERO),
    )


def draft_from_list(
    *, workshop: Workshop, supplier: Supplier, on: datetime.date, form_key: uuid.UUID
) -> Purchase:
    """Make a draft of a receipt with what the list says of one supplier now.

    Errors: NothingToBuy; AlreadySaved for a second click.
    """
    made = Purchase.objects.of(workshop).filter(form_key=form_key).first()
    lists = () if made else buying_list(workshop=workshop, on=on).suppliers
    mine = next((one for one in lists if one.supplier and one.supplier.pk == supplier.pk), None)
    if mine is None and made is None:
        raise NothingToBuy(f"Nothing to buy from {supplier} any more.")
    lines = [
        ReceiptLineInput(
            material=line.material,
            quantity=line.quantity,
            amount=line.cost or ZERO,
            pack=line.pack,
            packs_bought=Decimal(line.count),
            typed_in=line.pack.typed_in,
        )
        for line in (mine.lines if mine else ())
    ]
    receipt = ReceiptInput(
        supplier=supplier,
        bought_on=on,
        lines=lines,
        postage=mine.postage if mine else ZERO,
        notes="From “What to buy”.",
    )
    return draft_purchase(workshop=workshop, receipt=receipt, form_key=form_key)
