"""The best combination to take within table, hours and sheets, and what one more of each brings.

Items there already need no hours and no sheets: they are offered apart, before those to make.
Gains of a newsvendor fall with every further item, so that the best mix takes those first.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.cutting.watch import Course
from maker.calc.money import with_working_precision
from pricing.calc.fairs.table_space import Mix, Offer, best_mix
from pricing.calc.fairs.what_to_take import Taking

ZERO = Decimal(0)
SECONDS = 1.0


@dataclass(frozen=True, slots=True)
class Candidate:
    """An item that may be taken: what one needs of table, time and card; how many are there."""

    name: str
    taking: Taking
    table: Decimal
    minutes: Decimal
    sheets: Decimal
    least: int = 0
    in_stock: int = 0


@dataclass(frozen=True, slots=True)
class Limits:
    """What there is, each None without a limit: table in mm, minutes, sheets."""

    table: Decimal | None = None
    minutes: Decimal | None = None
    sheets: Decimal | None = None

    def known(self) -> list[str]:
        """Return the names of those that limit."""
        return [name for name in ("table", "minutes", "sheets") if getattr(self, name) is not None]


@dataclass(frozen=True, slots=True)
class Chosen:
    """How many of each item, in their order. `may_gain` is what a better mix could gain at most."""

    counts: tuple[int, ...]
    gain: Decimal
    may_gain: Decimal


@dataclass(frozen=True, slots=True)
class Choice:
    """What may be taken, as offers for whatever limits: gains are worked out once for them all."""

    candidates: tuple[Candidate, ...]
    gains: tuple[tuple[Decimal, ...], ...]

    @with_working_precision
    def within(self, limits: Limits, seconds: float = SECONDS) -> Chosen:
        """Return the combination with the greatest expected gain.

        Exact where one thing limits; where several do, best or with its gap. Errors: DoesNotFit
        when what is needed for show does not fit.
        """
        names = limits.known()
        if not names:
            counts = tuple(_most_of(each) for each in self.candidates)
            found = (gains[count] for gains, count in zip(self.gains, counts, strict=True))
            return Chosen(counts, sum(found, ZERO), ZERO)
        pairs = zip(self.candidates, self.gains, strict=True)
        parts = [part for each, gains in pairs for part in _offers(each, gains, names)]
        bounds = [getattr(limits, name) for name in names]
        mix: Mix = best_mix(parts, bounds, Course(seconds))
        counts = tuple(
            there + made for there, made in zip(mix.counts[::2], mix.counts[1::2], strict=True)
        )
        with_none = sum((gains[0] for gains in self.gains), ZERO)
        return Chosen(counts, mix.gain + with_none, mix.may_gain)

    @with_working_precision
    def one_more_of_each(
        self, limits: Limits, chosen: Chosen, seconds: float = SECONDS
    ) -> dict[str, Decimal]:
        """Return what a decimetre of table, an hour or a sheet more would gain, by what limits."""
        found = {}
        for name, more in (("table", 100), ("minutes", 60), ("sheets", 1)):
            limit = getattr(limits, name)
            if limit is not None:
                wider = replace(limits, **{name: limit + more})
                found[name] = max(self.within(wider, seconds).gain - chosen.gain, ZERO)
        return found


def choice_of(candidates: Sequence[Candidate]) -> Choice:
    """Return candidates with the gain of every count that may be taken of each."""
    gains = (tuple(each.taking.gains_up_to(_most_of(each))) for each in candidates)
    return Choice(tuple(candidates), tuple(gains))


def _most_of(each: Candidate) -> int:
    return max(each.taking.count, each.least)


@with_working_precision
def _offers(each: Candidate, gains: Sequence[Decimal], names: Sequence[str]) -> tuple[Offer, Offer]:
    """Offer what is there, which needs table only, and what is to be made beyond that."""
    there = min(each.in_stock, _most_of(each))
    first = Offer(
        each.name,
        tuple(gain - gains[0] for gain in gains[: there + 1]),
        tuple(each.table if name == "table" else ZERO for name in names),
        min(each.least, there),
    )
    rest = Offer(
        each.name,
        tuple(gain - gains[there] for gain in gains[there:]),
        tuple(getattr(each, name) for name in names),
        max(each.least - there, 0),
    )
    return first, rest
