"""Which reels a job's lengths are cut from: what the shelf gives, and what is bought."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from catalogue.calc.recipes.parts_list import PartsList
from catalogue.calc.recipes.recipe import Basis, MaterialValues, PackOffer, Recipe, RecipeFixing
from catalogue.calc.reels.planning import Length, Reel, ReelJob, ReelPlan, plan_reels

ZERO = Decimal(0)
MM_PER_M = Decimal(1000)
SECONDS = 0.5


@dataclass(frozen=True, slots=True)
class ReelsToBuy:
    """Packs to buy for lengths, and the metres (losses at the cut included) each side gives."""

    counts: dict[PackOffer, int]
    from_shelf: Decimal
    from_bought: Decimal
    how: str


def lengths_cut(recipe: Recipe, parts: PartsList) -> Iterator[tuple[RecipeFixing, Decimal, int]]:
    """Give each fixing that is cut from a reel for these parts: its length in mm and how many."""
    counts = {
        Basis.JOB: 1,
        Basis.MADE: parts.made,
        Basis.GOOD: parts.quantity,
        Basis.CARTON: parts.cartons,
        Basis.NAME: parts.names,
    }
    for fixing in recipe.fixings:
        many = counts.get(fixing.basis, 0) * fixing.cut_count
        if fixing.cut_mm is not None and many and fixing.when.holds(parts.quantity, parts.choices):
            yield fixing, fixing.cut_mm, many


def lengths_of(recipe: Recipe, parts: PartsList) -> dict[int | str, tuple[Length, ...]]:
    """Return the lengths that are cut from reels, by the identity of their material."""
    found: dict[int | str, dict[str, Length]] = {}
    for fixing, cut_mm, many in lengths_cut(recipe, parts):
        named = found.setdefault(recipe.materials[fixing.role].identity, {})
        name, number = fixing.name, 2
        while name in named:
            name, number = f"{fixing.name} ({number})", number + 1
        named[name] = Length(name, cut_mm, many)
    return {identity: tuple(named.values()) for identity, named in found.items()}


def reels_to_buy(
    material: MaterialValues, lengths: Sequence[Length], *, on_hand: Decimal = ZERO
) -> ReelsToBuy | None:
    """Return the cheapest whole reels that hold the lengths; None when no pack is known.

    The ledger counts metres, so what is on hand is taken to be whole reels of the largest pack
    and one opened reel with the rest. Packs without a price are left out, unless none has one:
    then the shortest reels are taken. Refuses a length longer than every reel.
    """
    usable = [offer for offer in dict.fromkeys(material.packs) if offer.quantity > 0]
    offers = [offer for offer in usable if offer.price is not None] or usable
    if not offers:
        return None
    largest = max(offer.quantity for offer in usable)
    whole, rest = divmod(max(on_hand, ZERO), largest)
    shelf = [
        Reel(name, metres * MM_PER_M, ZERO, many)
        for name, metres, many in (("opened reel", rest, 1), ("whole reels", largest, int(whole)))
        if metres and many
    ]
    bought = {f"{at}: {offer.name}": offer for at, offer in enumerate(offers)}
    job = ReelJob(
        reels=(
            *shelf,
            *(
                Reel(
                    name,
                    offer.quantity * MM_PER_M,
                    offer.quantity if offer.price is None else offer.price,
                )
                for name, offer in bought.items()
            ),
        ),
        lengths=tuple(lengths),
        cut_loss_mm=material.cut_loss_mm,
        end_mm=material.reel_end_mm,
        time_limit_s=SECONDS,
    )
    plan = _planned(job)
    counts = {offer: plan.reels_of(name) for name, offer in bought.items() if plan.reels_of(name)}
    given = {reel.name: ZERO for reel in job.reels}
    sizes = {length.name: length.length_mm + job.cut_loss_mm for length in lengths}
    for layout in plan.layouts:
        cut = sum((sizes[name] * many for name, many in layout.lengths), ZERO)
        given[layout.reel] += layout.times * cut / MM_PER_M
    return ReelsToBuy(
        counts=counts,
        from_shelf=sum((given[reel.name] for reel in shelf), ZERO),
        from_bought=sum((given[name] for name in bought), ZERO),
        how="whole reels for the lengths cut"
        + (
            ", proved to cost the least"
            if plan.proven
            else "; a longer search may find a cheaper plan"
        ),
    )


@lru_cache(maxsize=128)
def _planned(job: ReelJob) -> ReelPlan:
    """Plan a job once: a page answers while she types."""
    return plan_reels(job)
