"""Leaves items with a shop, takes them back, settles what it sold; each undone by the ledger."""

import datetime
import uuid
from collections.abc import Mapping
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from pricing.consignment.models import SettledItem, Settlement, Shop
from pricing.finished_stock.models import FinishedItem, FinishedMove, Place
from pricing.finished_stock.services import home_of, move, take_out, undo


class NothingChosen(Refusal):
    """Nothing was counted."""


class NameTaken(Refusal):
    """Another place is called so."""


@transaction.atomic
def save_shop(*, workshop: Workshop, shop: Shop, name: str, edit_number: int | None = None) -> Shop:
    """Store a shop and the place its items are at. Refusals: NameTaken, a lost turn."""
    same = Place.objects.of(workshop).filter(name__iexact=name)
    if same.exclude(pk=shop.place_id).exists():
        raise NameTaken(f"You already have a place “{name}”.", where="name")
    if shop.pk:
        take_turn(shop, edit_number)
        Place.objects.filter(pk=shop.place_id).update(name=name)
        shop.place.name = name
    else:
        shop.place = Place.objects.create(workshop=workshop, name=name, kind=Place.Kind.SHOP)
    shop.save()
    return shop


@transaction.atomic
def move_items(
    *,
    shop: Shop,
    counts: Mapping[FinishedItem, int],
    to_shop: bool,
    on: datetime.date,
    today: datetime.date,
    by: User | None,
    form_key: uuid.UUID,
) -> int:
    """Leave items with a shop, or take them home; return how many. Refusals: of the ledger."""
    wanted = {item: count for item, count in counts.items() if count}
    if not wanted:
        raise NothingChosen("Enter how many of at least one item.")
    home = home_of(shop.place.workshop)
    first, second = (home, shop.place) if to_shop else (shop.place, home)
    for item, count in sorted(wanted.items(), key=lambda pair: pair[0].pk):
        move(
            item=item, from_place=first, to_place=second, quantity=count, on=on, today=today,
            reason=f"{shop}"[:200], by=by, form_key=uuid.uuid5(form_key, str(item.pk)),
        )  # fmt: skip
    return sum(wanted.values())


@transaction.atomic
def settle_shop(
    *,
    shop: Shop,
    sold: Mapping[FinishedItem, tuple[int, Decimal]],
    on: datetime.date,
    today: datetime.date,
    note: str,
    by: User | None,
    form_key: uuid.UUID,
) -> Settlement:
    """Book what a shop sold at its prices: the items leave the ledger, the share is kept with it.

    The same form a second time books nothing. Refusals: NothingChosen, those of the ledger.
    """
    # one at a time, so that a second click finds what the first one booked
    Shop.objects.select_for_update(no_key=True).get(pk=shop.pk)
    known = Settlement.objects.filter(form_key=form_key).first()
    if known is not None:
        return known
    wanted = {item: each for item, each in sold.items() if each[0]}
    if not wanted:
        raise NothingChosen("Enter how many of at least one item were sold.")
    settlement = Settlement.objects.create(
        shop=shop, settled_on=on, kept_share=shop.kept_share, note=note, form_key=form_key
    )
    for item, (count, price) in sorted(wanted.items(), key=lambda pair: pair[0].pk):
        settled = SettledItem.objects.create(
            settlement=settlement,
            version=item.version,
            colourway_name=item.colourway_name,
            choices=item.choices,
            count=count,
            price_each=price,
        )
        take_out(
            item=item, place=shop.place, quantity=count, kind=FinishedMove.Kind.SOLD, on=on,
            today=today, reason=f"{shop}"[:200], by=by, settled=settled.pk,
        )  # fmt: skip
    return settlement


@transaction.atomic
def undo_settlement(*, settlement: Settlement, by: User | None) -> None:
    """Take a settlement back: its items are at the shop again. A second time does nothing."""
    row = Settlement.objects.select_for_update().select_related("shop__place").get(pk=settlement.pk)
    if row.undone_at is not None:
        return
    moves = FinishedMove.objects.filter(settled__settlement=row).standing()
    if moves.count() < row.items.count():
        raise NothingChosen("Its movements came in with an old file. Undo them in finished stock.")
    for each in moves.select_related("item").order_by("item_id", "pk"):
        undo(move=each, by=by, reason="settlement undone")
    row.undone_at = timezone.now()
    row.save(update_fields=["undone_at"])
