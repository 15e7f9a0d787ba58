"""Replays the ledger of one finished item: batches leave first in, first out, at each place.

A batch made for an order is that order's: its deliveries take it first, and others take it last.
What leaves takes its share of its batch's worth, what stays keeps the rest, so not a hundredth of a
cent is lost: put in = there + gone out, for the item and at every place.
First in, first out as in IAS 2, paragraph 27 (cost formulas of inventories).
"""

import datetime
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field

from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.finished_stock.worth import NOTHING, Worth


class NotThere(Refusal):
    """More would leave a place on a date than was there; `lacking` are missing."""

    def __init__(self, message: str, *, lacking: int, key: Hashable) -> None:
        super().__init__(message, where="quantity")
        self.lacking = lacking
        self.key = key


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch as the ledger sees it: whose it is and what all its good ones cost."""

    key: int
    on: datetime.date
    worth: Worth
    order: int | None = None


@dataclass(frozen=True, slots=True)
class Movement:
    """One movement, in ledger order; `change` is above zero for what comes in.

    With `batch`, that batch arrives, or with `added`, its worth changes. Without one, what comes in
    is what went out last (came back) and what goes out is taken by the rules above; `to_place`
    gets what leaves `place`. `order` is the one it is for.
    """

    key: Hashable
    on: datetime.date
    place: int
    change: int
    batch: int | None = None
    to_place: int | None = None
    order: int | None = None
    added: Worth | None = None

    @property
    def needs_gone(self) -> bool:
        """Whether it depends on what left before, and not only on what is there."""
        return self.added is not None or (self.change > 0 and self.batch is None)


@dataclass(slots=True)
class Layer:
    """What is left of a batch at a place, or is gone."""

    batch: Batch
    count: int
    worth: Worth

    def take(self, count: int) -> "Layer":
        """Split some off with their share."""
        worth = self.worth.part(count, self.count)
        self.count -= count
        self.worth -= worth
        return Layer(self.batch, count, worth)


@dataclass(slots=True)
class Replayed:
    """What lies where after the last movement, and what each movement was worth, signed.

    Layers of a place are in the order they leave, `gone` in the order they left, with the order
    they went to.
    """

    places: dict[int, list[Layer]] = field(default_factory=dict)
    gone: list[tuple[int | None, Layer]] = field(default_factory=list)
    worths: dict[Hashable, Worth] = field(default_factory=dict)

    def count_at(self, place: int) -> int:
        """Return how many are at a place."""
        return sum(layer.count for layer in self.places.get(place, []))


@with_working_precision
def replay(
    movements: Sequence[Movement], batches: Iterable[Batch], kept: Replayed | None = None
) -> Replayed:
    """Return where everything is after all movements, which come in ledger order.

    `kept` is where everything was before them; nothing, if they are all there are. Errors: NotThere
    at the first movement that takes more than a place has.
    """
    known = {batch.key: batch for batch in batches}
    state = Replayed() if kept is None else kept
    for move in movements:
        if move.added is not None and move.batch is not None:
            worth = _revalue(state, move.batch, move.added)
        elif move.change > 0 and move.batch is not None:
            batch = known[move.batch]
            _put(state, move.place, [Layer(batch, move.change, batch.worth)])
            worth = batch.worth
        elif move.change > 0:
            back = _bring_back(state, move)
            _put(state, move.place, back)
            worth = _sum(back)
        else:
            taken = _take(state, move)
            if move.to_place is None:
                state.gone += [(move.order, layer) for layer in taken]
            else:
                _put(state, move.to_place, taken)
            worth = -_sum(taken)
        state.worths[move.key] = worth
    return state


def _sum(layers: Iterable[Layer]) -> Worth:
    return sum((layer.worth for layer in layers), NOTHING)


def _put(state: Replayed, place: int, arriving: Sequence[Layer]) -> None:
    """Lay what arrives where its batch belongs: batches leave in the order they were made."""
    layers = state.places.setdefault(place, [])
    for new in arriving:
        there = next((each for each in layers if each.batch.key == new.batch.key), None)
        if there is None:
            layers.append(Layer(new.batch, new.count, new.worth))
        else:
            there.count += new.count
            there.worth += new.worth
    layers.sort(key=lambda layer: (layer.batch.on, layer.batch.key))


def _take(state: Replayed, move: Movement) -> list[Layer]:
    layers = state.places.get(move.place, [])
    wanted, there = -move.change, sum(layer.count for layer in layers)
    if wanted > there:
        said = f"{move.on.day} {move.on:%B %Y}"
        raise NotThere(
            f"Only {there} were there on {said}, and {wanted} would leave.",
            lacking=wanted - there,
            key=move.key,
        )

    def rank(layer: Layer) -> int:
        mine = layer.batch.order is not None and layer.batch.order == move.order
        return 0 if mine else 1 if layer.batch.order is None else 2

    taken = []
    for layer in sorted(layers, key=rank):  # sorted is stable: first in, first out within a rank
        if not wanted:
            break
        some = min(layer.count, wanted)
        taken.append(layer.take(some))
        wanted -= some
    state.places[move.place] = [layer for layer in layers if layer.count]
    return taken


def _bring_back(state: Replayed, move: Movement) -> list[Layer]:
    """Take what went out last back in, of the order it went to where one is named."""
    wanted, back = move.change, []
    for order, layer in reversed(state.gone):
        if not wanted:
            break
        if not layer.count or (move.order is not None and order != move.order):
            continue
        some = min(layer.count, wanted)
        back.append(layer.take(some))
        wanted -= some
    state.gone = [(order, layer) for order, layer in state.gone if layer.count]
    if wanted:
        raise NotThere(
            f"Only {move.change - wanted} of these had gone out, "
            f"and {move.change} would come back.",
            lacking=wanted,
            key=move.key,
        )
    return back


def _revalue(state: Replayed, key: int, added: Worth) -> Worth:
    """Share a change of a batch's worth over its items, there or gone; return what is gone."""
    here = [layer for layers in state.places.values() for layer in layers]
    there = [(False, layer) for layer in here if layer.batch.key == key]
    out = [(True, layer) for _, layer in state.gone if layer.batch.key == key]
    left, count = added, sum(layer.count for _, layer in (*there, *out))
    gone = NOTHING
    for is_gone, layer in (*there, *out):
        share = left.part(layer.count, count)
        layer.worth += share
        left -= share
        count -= layer.count
        if is_gone:
            gone += share
    # nothing of it is there or gone: all were spoiled at the bench
    return gone + left
