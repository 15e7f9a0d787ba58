"""Which sheets take a blank, how far a size may grow for nothing, which change saves a sheet."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from catalogue.calc.flat_patterns import flat_pattern, form_named
from catalogue.calc.flat_patterns.pattern import ZERO, BadSize, FlatPattern, FormInput

# ISO 216 allows a sheet of 150 to 600 mm to be 2 mm smaller than its name says (as tabled by
# mainthebest.com, "A series paper sizes"): with less slack than this the sheet must be measured
EXACT_BELOW_MM = Fraction(2)
# A size is advised within these shares of what was asked for, and within the limits of its form:
# beyond them it is another thing, not the same one cut more cleverly (a bag of 7 1/2 in is not
# grown to 12 1/4). Sizes that are bound (a lid's tray, a handle's width) are left as they are.
LEAST_SHARE = Fraction(85, 100)
MOST_SHARE = Fraction(120, 100)

SheetsFor = Callable[[FlatPattern], int | None]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A kind of sheet, in the unit of the pattern; `trim` is cut off every edge."""

    name: str
    width: Fraction
    height: Fraction
    trim: Fraction = ZERO
    is_directional: bool = False


@dataclass(frozen=True, slots=True)
class SheetFit:
    """How a blank lies on a sheet.

    Slack is what is left along the sheet's width and height beside one blank; below zero it is
    what is missing. `is_exact` asks to measure the sheet first.
    """

    sheet: Sheet
    takes_it: bool
    is_turned: bool
    slack_across: Fraction
    slack_up: Fraction
    is_exact: bool
    per_sheet: int


@dataclass(frozen=True, slots=True)
class SizeChange:
    """One size made larger or smaller, and the sheets it then takes."""

    name: str
    title: str
    before: Fraction
    after: Fraction
    sheets: int

    @property
    def change(self) -> Fraction:
        """How much is added, below zero how much is taken away."""
        return self.after - self.before


def fits(
    pattern: FlatPattern,
    sheets: Sequence[Sheet],
    *,
    may_turn: bool = True,
    gap: Fraction = ZERO,
) -> tuple[SheetFit, ...]:
    """Return for every sheet whether it takes the blank, with how much to spare.

    A directional sheet takes it upright only. The blanks on a sheet are counted in plain rows.
    """
    return tuple(
        _fit(pattern, sheet, may_turn=may_turn and not sheet.is_directional, gap=gap)
        for sheet in sheets
    )


def _fit(pattern: FlatPattern, sheet: Sheet, *, may_turn: bool, gap: Fraction) -> SheetFit:
    (piece,) = pattern.pieces
    across, up = sheet.width - 2 * sheet.trim, sheet.height - 2 * sheet.trim
    exact_below = EXACT_BELOW_MM if pattern.unit == "mm" else EXACT_BELOW_MM * 5 / 127
    ways = [(False, piece.width, piece.height)]
    if may_turn:
        ways.append((True, piece.height, piece.width))
    found = []
    for is_turned, width, height in ways:
        slack = across - width, up - height
        takes_it = min(slack) >= 0
        count = _in_a_row(across, width, gap) * _in_a_row(up, height, gap) if takes_it else 0
        is_exact = takes_it and min(slack) < exact_below
        found.append(SheetFit(sheet, takes_it, is_turned, *slack, is_exact, count))
    # most per sheet first, then the way that leaves more beside it; upright when all is equal
    return max(found, key=lambda fit: (fit.per_sheet, min(fit.slack_across, fit.slack_up)))


def _in_a_row(room: Fraction, length: Fraction, gap: Fraction) -> int:
    return int((room + gap) // (length + gap))


def sheets_in_rows(
    sheet: Sheet, quantity: int, *, may_turn: bool = True, gap: Fraction = ZERO
) -> SheetsFor:
    """Return what counts the sheets for so many finished things, blanks in plain rows.

    A cutting plan may need fewer; give one instead where it is at hand.
    """

    def count(pattern: FlatPattern) -> int | None:
        (fit,) = fits(pattern, (sheet,), may_turn=may_turn, gap=gap)
        if not fit.takes_it:
            return None
        return -(-quantity * pattern.pieces[0].count // fit.per_sheet)

    return count


def free_sizes(
    form: str,
    inputs: Mapping[str, Fraction],
    sheets_for: SheetsFor,
    *,
    unit: str,
    step: Fraction,
) -> tuple[SizeChange, ...]:
    """Return how far each size of the finished thing may grow and take no sheet more.

    Each size by itself, the others kept; in whole steps of the ruler. `sheets_for` is asked for
    larger and larger patterns; every size returned has been asked for. Empty when the thing
    fits nowhere as it is.
    """
    search = _Search(form, inputs, sheets_for, unit, step)
    now = search.sheets_at({})
    if now is None:
        return ()
    found = []
    for asked in search.sizes():
        before = search.value(asked)
        furthest = int(before * (MOST_SHARE - 1) // step)
        steps = last_that_holds(furthest, partial(search.is_enough, asked, now))
        found.append(search.change(asked, steps, now))
    return tuple(found)


def saving_changes(
    form: str,
    inputs: Mapping[str, Fraction],
    sheets_for: SheetsFor,
    *,
    unit: str,
    step: Fraction,
    least_share: Fraction = LEAST_SHARE,
) -> tuple[SizeChange, ...]:
    """Return for each size the smallest decrease that saves a sheet, or that makes it fit at all.

    Each size by itself, in whole steps of the ruler, down to `least_share` of it. A size that
    saves nothing so far down is left out.
    """
    search = _Search(form, inputs, sheets_for, unit, step)
    now = search.sheets_at({})
    wanted = None if now is None else now - 1
    found = []
    for asked in search.sizes():
        furthest = int(search.value(asked) * (1 - least_share) // step)
        allowed = last_that_holds(furthest, partial(search.may_shrink, asked))
        # the first decrease that saves comes after the last that does not
        kept = last_that_holds(allowed, partial(search.is_vain, asked, wanted))
        if kept < allowed:
            found.append(search.change(asked, -(kept + 1), wanted))
    return tuple(found)


def largest_scale(
    form: str,
    inputs: Mapping[str, Fraction],
    sheets_for: SheetsFor,
    *,
    unit: str,
    step: Fraction,
) -> dict[str, Fraction] | None:
    """Return the sizes of the largest thing of the same shape that fits, on the ruler.

    Sizes of the finished thing shrink together, allowances stay. None when none fits, or when
    the allowances are too large for what would.
    """
    search = _Search(form, inputs, sheets_for, unit, step)
    names = [asked.name for asked in search.sizes()]
    percents = 100

    def shrunk(percent: int) -> dict[str, Fraction]:
        return {name: inputs[name] * (percents - percent) / 100 // step * step for name in names}

    if search.sheets_at({}) is not None:
        return {name: inputs[name] for name in names}
    missing = last_that_holds(percents - 1, lambda percent: search.is_too_large(shrunk(percent)))
    found = shrunk(missing + 1)
    return found if search.fits_at(found) else None


class _Search:
    """Asks for the sheets of a form with one size changed, each size once."""

    def __init__(
        self,
        form: str,
        inputs: Mapping[str, Fraction],
        sheets_for: SheetsFor,
        unit: str,
        step: Fraction,
    ) -> None:
        if step <= 0:
            raise BadSize("Enter a ruler step above 0.", where="ruler")
        self._form = form
        self._inputs = inputs
        self._sheets_for = sheets_for
        self._unit = unit
        self._step = step
        self._asked: dict[tuple[tuple[str, Fraction], ...], int | None] = {}

    def sizes(self) -> list[FormInput]:
        """Return the sizes of the finished thing that were given."""
        asked = form_named(self._form).inputs
        return [
            each
            for each in asked
            if each.group == "size" and each.is_length and each.name in self._inputs
        ]

    def value(self, asked: FormInput) -> Fraction:
        return self._inputs[asked.name]

    def sheets_at(self, changed: Mapping[str, Fraction]) -> int | None:
        """Return the sheets with some sizes changed; None when it cannot be made of one."""
        key = tuple(sorted(changed.items()))
        if key not in self._asked:
            pattern = flat_pattern(self._form, {**self._inputs, **changed}, unit=self._unit)
            self._asked[key] = self._sheets_for(pattern)
        return self._asked[key]

    def is_too_large(self, changed: Mapping[str, Fraction]) -> bool:
        """Say whether it can be folded with some sizes changed, but from none of the sheets."""
        try:
            return self.sheets_at(changed) is None
        except BadSize:
            return False

    def fits_at(self, changed: Mapping[str, Fraction]) -> bool:
        """Say whether it can be folded with some sizes changed, and from one of the sheets."""
        try:
            return self.sheets_at(changed) is not None
        except BadSize:
            return False

    def is_enough(self, asked: FormInput, most: int | None, steps: int) -> bool:
        """Say whether a size so many steps off takes no more sheets; None asks that it fits."""
        try:
            sheets = self.sheets_at(self._at(asked, steps))
        except BadSize:
            return False
        return sheets is not None and (most is None or sheets <= most)

    def may_shrink(self, asked: FormInput, steps: int) -> bool:
        """Say whether a size may be so many steps smaller within the limits of its form."""
        try:
            self.sheets_at(self._at(asked, -steps))
        except BadSize:
            return False
        return True

    def is_vain(self, asked: FormInput, most: int | None, steps: int) -> bool:
        """Say whether making a size so many steps smaller does not save enough."""
        return not self.is_enough(asked, most, -steps)

    def change(self, asked: FormInput, steps: int, most: int | None) -> SizeChange:
        changed = self._at(asked, steps)
        sheets = self.sheets_at(changed)
        return SizeChange(
            asked.name, asked.title, self.value(asked), changed[asked.name], sheets or most or 0
        )

    def _at(self, asked: FormInput, steps: int) -> dict[str, Fraction]:
        return {asked.name: self.value(asked) + steps * self._step}


def last_that_holds(furthest: int, holds: Callable[[int], bool]) -> int:
    """Return the last number up to the furthest that holds, when 0 does and so does all below it.

    Goes out in doubling strides, then halves the stride that went too far.
    """
    good, stride = 0, 1
    while good < furthest:
        reach = min(good + stride, furthest)
        if not holds(reach):
            break
        good, stride = reach, stride * 2
    else:
        return good
    bad = min(good + stride, furthest)
    while bad - good > 1:
        middle = (good + bad) // 2
        if holds(middle):
            good = middle
        else:
            bad = middle
    return good
