"""Which answers to a design's options keep its price within a budget."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations, product

from catalogue.calc.recipes.recipe import RecipeOption

# prices worked out for one design: each may need a plan of its sheets
MOST_TRIED = 12
# answers that leave something out
_NOTHING = ("none", "no", "without", "plain", "not")


@dataclass(frozen=True, slots=True)
class Change:
    """One option answered otherwise than usual."""

    option: RecipeOption
    key: str

    @property
    def words(self) -> str:
        """Say it as a maker would: "without ribbon", "with handle: none" where it is something."""
        name = next(each.name for each in self.option.choices if each.key == self.key)
        option = self.option.name.casefold()
        first = f"{self.key} {name}".casefold().replace("_", " ").split()
        if any(word in _NOTHING for word in first):
            return f"without {option}"
        return f"with {option}: {name.casefold()}"


@dataclass(frozen=True, slots=True)
class Way:
    """A price for one, and what was answered otherwise for it."""

    price_each: Decimal
    changes: tuple[Change, ...] = ()

    @property
    def choices(self) -> dict[str, str]:
        """Return option key -> choice key of what was changed."""
        return {change.option.key: change.key for change in self.changes}

    @property
    def words(self) -> str:
        """Say all changes; empty for the design as it is."""
        return " and ".join(change.words for change in self.changes)


def way_within(
    budget: Decimal | None,
    options: Sequence[RecipeOption],
    price_of: Callable[[Mapping[str, str]], Decimal | None],
) -> tuple[Way | None, Way | None]:
    """Return the design as it is, and the way within the budget that gives up least.

    Fewest changes first, of those the dearest that is still within. The second is the first where
    that is within, or where there is no budget; None where no way is. `price_of` returns None for
    what cannot be priced; at most `MOST_TRIED` are asked.
    """
    usual_price = price_of({})
    usual = None if usual_price is None else Way(usual_price)
    if budget is None or (usual is not None and usual.price_each <= budget):
        return usual, usual
    tried = 1
    for group in _by_changes(options):
        within: list[Way] = []
        for changes in group:
            if tried == MOST_TRIED:
                break
            tried += 1
            price = price_of({change.option.key: change.key for change in changes})
            if price is not None and price <= budget:
                within.append(Way(price, changes))
        if within:
            return usual, max(within, key=lambda way: way.price_each)
    return usual, None


def _by_changes(options: Sequence[RecipeOption]) -> Iterator[list[tuple[Change, ...]]]:
    """Yield every way to answer otherwise: one change, then two, and so on."""
    others = [
        [Change(option, choice.key) for choice in option.choices if choice.key != usual_of(option)]
        for option in options
    ]
    others = [each for each in others if each]
    for count in range(1, len(others) + 1):
        yield [changes for chosen in combinations(others, count) for changes in product(*chosen)]


def usual_of(option: RecipeOption) -> str:
    """Return the key of the answer without a word."""
    return next((each.key for each in option.choices if each.is_default), option.choices[0].key)
