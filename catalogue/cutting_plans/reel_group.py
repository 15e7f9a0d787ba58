"""The job of cutting lengths from the reels of one material."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from catalogue.calc.recipes.recipe import MaterialValues
from catalogue.calc.reels.planning import Length, Reel, ReelJob
from catalogue.cutting_plans.stored import REELS, JobGroup, Source
from maker.calc.amounts import typed_amount
from maker.calc.refusal import Refusal

ZERO, ONE = Decimal(0), Decimal(1)
MM_PER_M = Decimal(1000)


class NoReel(Refusal):
    """Nothing says how long a reel is."""


def reel_group(
    material: MaterialValues,
    lengths: Sequence[tuple[str, Any]],
    *,
    only_shelf: bool,
    cut_loss_mm: Decimal,
    end_mm: Decimal,
    unit: str,
) -> JobGroup:
    """Return the job; `lengths` are names with (length in mm, count).

    The ledger counts metres, so what is on the shelf is taken to be whole reels of the largest
    pack and one opened reel with the rest. Refuses a material without a pack and without stock.
    """
    kinds = _kinds(material, only_shelf=only_shelf, lengths=unit)
    if not kinds:
        raise NoReel(
            f"Enter a pack of “{material.name}” first, so we know how long a reel is.",
            where=material.name,
        )
    is_money = len(kinds) > 1 and all(source.price is not None for _, source in kinds)
    reels = []
    for reel, source in kinds:
        # without prices a reel is taken to cost in proportion to its length
        price = reel.length_mm if len(kinds) > 1 else ONE
        reels.append(replace(reel, price=(source.price or ZERO) if is_money else price))
    return JobGroup(
        kind=REELS,
        title=material.name,
        unit=unit,
        is_money=is_money,
        sources=tuple(source for _, source in kinds),
        reels=ReelJob(
            reels=tuple(reels),
            lengths=tuple(
                Length(name=name, length_mm=length, count=count)
                for name, (length, count) in lengths
            ),
            cut_loss_mm=cut_loss_mm,
            end_mm=end_mm,
            unit=unit,
        ),
    )


def _kinds(
    material: MaterialValues, *, only_shelf: bool, lengths: str
) -> list[tuple[Reel, Source]]:
    prices: dict[Decimal, Decimal | None] = {}
    typed_in = {pack.quantity: pack.typed_in for pack in material.packs if pack.typed_in}
    for pack in sorted(material.packs, key=lambda pack: -pack.quantity):
        known = prices.get(pack.quantity)
        if pack.price is not None and (known is None or pack.price < known):
            known = pack.price
        prices[pack.quantity] = known
    sizes = list(prices)
    on_hand = max(material.on_hand, ZERO)
    whole, rest = divmod(on_hand, sizes[0]) if sizes else (ZERO, on_hand)
    found = []
    if rest:
        # costs at most what those metres cost on a new reel, so that what is there is used first
        metre = [price / size for size, price in prices.items() if price is not None]
        if material.cost is not None:
            metre.append(material.cost.value)
        worth = round(min(metre) * rest, 6) if metre else None
        found.append(_kind(material, "opened reel", rest, worth, 1))
    for size in sizes:
        # exact: reels are told apart by their names
        length = typed_amount(size, "m", lengths=lengths, typed_in=typed_in.get(size, ""))
        name = f"reel of {length}"
        if not only_shelf:
            found.append(_kind(material, name, size, prices[size], None))
        elif size == sizes[0] and whole:
            found.append(_kind(material, name, size, prices[size], int(whole)))
    return found


def _kind(
    material: MaterialValues,
    name: str,
    metres: Decimal,
    price: Decimal | None,
    available: int | None,
) -> tuple[Reel, Source]:
    if price is None and material.cost is not None:
        price = round(material.cost.value * metres, 6)
    reel = Reel(name=f"{material.name}, {name}", length_mm=metres * MM_PER_M, available=available)
    source = Source(
        name=reel.name,
        material=material.id or 0,
        material_name=material.name,
        is_offcut=False,
        width_mm=reel.length_mm,
        height_mm=ZERO,
        is_directional=False,
        price=price,
        on_hand=available or 0,
    )
    return reel, source
