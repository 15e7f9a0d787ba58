"""Which size, made a little smaller, takes fewer sheets for a quantity: planned, not guessed."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial

from catalogue.calc.recipes import recipe as values
from catalogue.calc.recipes.document import Document
from catalogue.calc.recipes.form_blank import rounded
from catalogue.calc.recipes.parts_list import PartsList
from catalogue.calc.sheets.fit import LEAST_SHARE, last_that_holds
from catalogue.recipes.following import follows_in
from catalogue.recipes.growing import may_change
from catalogue.recipes.resizing import resized, resized_values, shared_sizes
from maker.calc.refusal import Refusal
from maker.calc.sums import plain_text

# marks a hand cuts to without a magnifier
STEP_MM = {"in": Decimal("3.175"), "mm": Decimal(1)}
# sizes that are looked at, those of the largest blanks first, and sheets counted for all of them
MOST_SIZES = 8
MOST_PLANS = 32

Resize = Callable[[Decimal], values.Recipe]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A size that may be smaller: whose it is, what it is called, and the recipe with another.

    `key` is the entry on the page that changes sizes; a plain piece has none.
    """

    key: str
    title: str
    pieces: tuple[str, ...]
    size_mm: Decimal
    resize: Resize


@dataclass(frozen=True, slots=True)
class Saving:
    """A size with the least decrease that takes fewer sheets, and how many."""

    candidate: Candidate
    after_mm: Decimal
    sheets_before: int
    sheets: int
    recipe: values.Recipe


def candidates(
    document: Document, recipe: values.Recipe, rows: Sequence[int], unit: str
) -> list[Candidate]:
    """Return the sizes that may be advised, of the largest pieces first.

    Sizes pieces have in common are one, with what follows them; `rows` are the keys of the
    pieces, in the order of the document.
    """
    of_key = {piece.id: piece for piece in recipe.pieces}
    found: list[tuple[Decimal, Candidate]] = []
    follows = follows_in(document, unit)
    sizes = shared_sizes(document, (), follows)

    def with_size(key: str, value: Decimal) -> values.Recipe:
        made = resized(document, sizes, {key: plain_text(value)}, follows, unit)
        return resized_values(recipe, made, rows)

    for size in sizes:
        if may_change(size, document):
            area = max(_area(of_key[rows[at]]) for at in size.rows)
            title, value = size.asked.title, Decimal(size.value)
            resize = partial(with_size, size.key)
            found.append((area, Candidate(size.key, title, size.pieces, value, resize)))
    for at, row in enumerate(document["pieces"]):
        if row["shape"] == "rectangle":
            piece = of_key[rows[at]]
            for title, size_mm, resize in (
                ("width", piece.width_mm, partial(_with_width, recipe, rows[at])),
                ("height", piece.height_mm, partial(_with_height, recipe, rows[at])),
            ):
                one = Candidate("", title, (piece.name,), size_mm, resize)
                found.append((_area(piece), one))
    found.sort(key=lambda pair: -pair[0])
    return [one for _, one in found[:MOST_SIZES]]


def _area(piece: values.RecipePiece) -> Decimal:
    return piece.width_mm * piece.height_mm


def _with_width(recipe: values.Recipe, key: int, width_mm: Decimal) -> values.Recipe:
    return _with_piece(recipe, key, lambda piece: replace(piece, width_mm=width_mm))


def _with_height(recipe: values.Recipe, key: int, height_mm: Decimal) -> values.Recipe:
    return _with_piece(recipe, key, lambda piece: replace(piece, height_mm=height_mm))


def _with_piece(
    recipe: values.Recipe, key: int, change: Callable[[values.RecipePiece], values.RecipePiece]
) -> values.Recipe:
    pieces = tuple(change(one) if one.id == key else one for one in recipe.pieces)
    return replace(recipe, pieces=pieces)


def savings(
    among: Sequence[Candidate],
    *,
    unit: str,
    now: int,
    least_for: Callable[[values.Recipe], int],
    sheets_for: Callable[[values.Recipe], int],
) -> Iterator[Saving]:
    """Give for each size the least decrease that takes fewer sheets than now, where there is one.

    A size goes down in whole marks, to 85% of it at most and within the limits of its form. So
    few plans are asked for that a page may wait: where area alone says that none is saved, none
    is; else the smallest is planned, and only if that saves are sizes between looked at.
    `sheets_for` may refuse; `least_for` is a bound that costs nothing.
    """
    counting = _Counting(STEP_MM[unit], now, least_for, sheets_for)
    for one in among:
        furthest = int(one.size_mm * (1 - rounded(LEAST_SHARE)) // counting.step_mm)
        allowed = last_that_holds(furthest, partial(counting.can_be_made, one))
        if allowed and counting.saves(one, allowed):
            steps = last_that_holds(allowed, partial(counting.is_vain, one)) + 1
            found = counting.saving(one, steps)
            if found:
                yield found


class _Counting:
    """Counts the sheets of a recipe with one size smaller, each once and not more than a few."""

    def __init__(
        self,
        step_mm: Decimal,
        now: int,
        least_for: Callable[[values.Recipe], int],
        sheets_for: Callable[[values.Recipe], int],
    ) -> None:
        self.step_mm, self._now = step_mm, now
        self._least_for, self._sheets_for = least_for, sheets_for
        self._counts: dict[tuple[int, int], int | None] = {}
        self._left = MOST_PLANS

    def can_be_made(self, one: Candidate, steps: int) -> bool:
        """Say whether a size may be so many steps smaller within the limits of its form."""
        return self._recipe(one, steps) is not None

    def saves(self, one: Candidate, steps: int) -> bool:
        """Say whether it then takes fewer sheets."""
        key = (id(one), steps)
        if key not in self._counts:
            self._counts[key] = self._count(one, steps)
        count = self._counts[key]
        return count is not None and count < self._now

    def is_vain(self, one: Candidate, steps: int) -> bool:
        """Say whether it takes as many sheets all the same."""
        return not self.saves(one, steps)

    def saving(self, one: Candidate, steps: int) -> Saving | None:
        """Return the saving of a size so many steps smaller."""
        recipe, count = self._recipe(one, steps), self._counts.get((id(one), steps))
        if recipe is None or count is None:
            return None
        return Saving(one, one.size_mm - steps * self.step_mm, self._now, count, recipe)

    def _recipe(self, one: Candidate, steps: int) -> values.Recipe | None:
        try:
            return one.resize(one.size_mm - steps * self.step_mm)
        except Refusal:
            return None

    def _count(self, one: Candidate, steps: int) -> int | None:
        recipe = self._recipe(one, steps)
        if recipe is None or not self._left or self._least_for(recipe) >= self._now:
            return None
        self._left -= 1
        try:
            return self._sheets_for(recipe)
        except Refusal:
            return None


def least_sheets(parts: PartsList) -> int:
    """Return how many sheets there are at least: area over area, for each material."""
    area: dict[int | str, Decimal] = {}
    sheet: dict[int | str, Decimal] = {}
    for cut in parts.cuts:
        material = cut.material
        identity = material.identity
        area[identity] = area.get(identity, Decimal(0)) + _area(cut.piece) * cut.count
        sides = (material.width_mm, material.height_mm)
        usable = [side - 2 * material.trim_mm for side in sides]
        sheet[identity] = usable[0] * usable[1]
    return sum(int(-(-area[one] // sheet[one])) for one in area)
