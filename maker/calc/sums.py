"""How a figure came about, from one source: exact for scripts, rounded for people.

    how = (money(cost) + money(fees)) / share(kept)
    str(how)           "(126.156863 + 0) / 0.7025"
    told(how, write)   "€126.16 ÷ 70.25%"

For people numbers are written by `write`, and what changes nothing is left out: nothing added or
taken away, times one, divided by one.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

# writes a number of a unit: "money", "unit cost", "share" (0 to 1), "factor" or "" for any other;
# with the recipe unit behind it "amount m", "quantity m", "stock m", "unit cost m" and "told m" for
# the mere word; a quantity that was typed in another unit of length "quantity m in ft"
Write = Callable[[Decimal | int, str], str]

_FIRM = 3
_BINDS = {"+": 1, "-": 1, "x": 2, "/": 2}
_SIGNS = {"+": "+", "-": "−", "x": "×", "/": "÷"}
# sums of words that the program writes; a dash in a name that somebody gave stays a dash
_SUMMED = (
    r"(?:total|tax|deposit|net|fees|cost of today|cost|profit|labour\)|goods before tax|goods"
    r"|delivery before tax|expected|likely|needed|current price|extra\)?|postage|discount|hours|1)"
)
# what words with numbers in them say to scripts, and what people read instead
_FOR_PEOPLE = tuple(
    (re.compile(found), instead)
    for found, instead in (
        (r"(?<=[\d)]) \+ 0(?![\d.])", ""),
        (r"(?<=[\d)]) x (?=[\d(])", " × "),
        (r"(?<=[\d)]) - (?=[\d(])", " − "),
        (r"(?:^|(?<=[\d)]) )/ (?=[\d(])", " ÷ "),
        (rf"\b({_SUMMED}) - (?={_SUMMED}(?:\W|$))", r"\1 − "),
        (rf"\b({_SUMMED}\)?) / (?={_SUMMED}|\(\d)", r"\1 ÷ "),
        (r"(?<=\d min) / (?=\d)", " ÷ "),
        (r"^ ", ""),
        (r", (?:shown to )?4 decimals$|^4 decimals(?:, |$)", ""),
        (r"(?<=[\d)a-z]),? up(?= \(|$)", ", rounded up"),
    )
)


class How:
    """A sum or a saying with numbers in it; `str()` writes it exactly."""

    __slots__ = ()
    binds = _FIRM

    def __add__(self, other: "How") -> "How":
        return _Operation("+", self, other)

    def __sub__(self, other: "How") -> "How":
        return _Operation("-", self, other)

    def __mul__(self, other: "How") -> "How":
        return _Operation("x", self, other)

    def __truediv__(self, other: "How") -> "How":
        return _Operation("/", self, other)

    def then(self, words: str) -> "How":
        """Return it with words behind it, after a comma."""
        return say("{}, {}", self, words)

    def __str__(self) -> str:
        return self.written(_exactly, signs={})

    def told(self, write: Write) -> str:
        """Return it for people: rounded, without what changes nothing."""
        return self.bare().written(write, signs=_SIGNS)

    def bare(self) -> "How":
        """Return it without what changes nothing."""
        return self

    def is_just(self, number: int) -> bool:
        """Whether it is this number and nothing else."""
        return False

    def written(self, write: Write, *, signs: dict[str, str]) -> str:
        """Write it with these signs, numbers by `write`."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class _Value(How):
    number: Decimal | int
    unit: str

    def is_just(self, number: int) -> bool:
        return self.number == number

    def written(self, write: Write, *, signs: dict[str, str]) -> str:
        return write(self.number, self.unit)


@dataclass(frozen=True, slots=True)
class _Operation(How):
    sign: str
    left: How
    right: How

    @property
    def binds(self) -> int:  # type: ignore[override]
        return _BINDS[self.sign]

    def bare(self) -> How:
        left, right = self.left.bare(), self.right.bare()
        neutral = 0 if self.sign in "+-" else 1
        if right.is_just(neutral):
            return left
        if left.is_just(neutral) and self.sign in "+x":
            return right
        return _Operation(self.sign, left, right)

    def is_just(self, number: int) -> bool:
        return number == 0 and self.sign == "x" and (self.left.is_just(0) or self.right.is_just(0))

    def written(self, write: Write, *, signs: dict[str, str]) -> str:
        sign = signs.get(self.sign, self.sign)
        left = self._part(self.left, write, signs, closed=self.left.binds < self.binds)
        closed = self.right.binds < self.binds or (
            self.right.binds == self.binds and self.sign in "-/"
        )
        right = self._part(self.right, write, signs, closed=closed)
        return f"{left} {sign} {right}".strip()

    @staticmethod
    def _part(part: How, write: Write, signs: dict[str, str], *, closed: bool) -> str:
        text = part.written(write, signs=signs)
        return f"({text})" if closed else text


@dataclass(frozen=True, slots=True)
class _Saying(How):
    words: str
    parts: tuple[How, ...]

    def bare(self) -> How:
        return _Saying(self.words, tuple(part.bare() for part in self.parts))

    def written(self, write: Write, *, signs: dict[str, str]) -> str:
        return self.words.format(*(part.written(write, signs=signs) for part in self.parts))


@dataclass(frozen=True, slots=True)
class _Literal(How):
    words: str

    def written(self, write: Write, *, signs: dict[str, str]) -> str:
        return self.words


# the figure of the line above, with which a sum goes on
ABOVE: How = _Literal("")


def say(words: str, *parts: How | str) -> How:
    """Return words with numbers, sums or other words where `{}` stands."""
    return _Saying(words, tuple(_how(part) for part in parts))


def literal(words: str) -> How:
    """Return words as they are, whatever they hold: a name somebody gave."""
    return _Literal(words)


def joined(words: str, parts: Sequence[How | str]) -> How:
    """Return parts one after the other with words between them."""
    return say(words.join("{}" for _ in parts), *parts)


def _how(part: How | str) -> How:
    return _Literal(part) if isinstance(part, str) else part


def money(amount: Decimal) -> How:
    """An amount of money, for people in whole coins."""
    return _Value(amount, "money")


def unit_cost(amount: Decimal, per: str = "") -> How:
    """What one small unit costs, for people with two decimals more than coins have."""
    return _Value(amount, f"unit cost {per}".rstrip())


def share(part: Decimal) -> How:
    """A share from 0 to 1, for people in percent."""
    return _Value(part, "share")


def factor(number: Decimal) -> How:
    """A factor, for people with up to four decimals."""
    return _Value(number, "factor")


def number(value: Decimal | int) -> How:
    """A count or minutes."""
    return _Value(value, "")


def amount(value: Decimal, unit: str) -> How:
    """An amount of material with its unit, for people in the unit they measure in."""
    return _Value(value, f"amount {unit}")


def quantity(value: Decimal, unit: str, typed_in: str = "") -> How:
    """An amount of material in a sum, for people in the unit a length was `typed_in`.

    Exactly it is a mere number.
    """
    return _Value(value, f"quantity {unit} in {typed_in}" if typed_in else f"quantity {unit}")


def stock(value: Decimal, unit: str) -> How:
    """An amount of material that is multiplied by what one unit costs."""
    return _Value(value, f"stock {unit}")


def unit_of(unit: str) -> How:
    """A recipe unit itself, for people the one its cost is told by: `yd` for `m` in inches."""
    return _Value(1, f"told {unit}")


def _exactly(value: Decimal | int, unit: str) -> str:
    kind, _, of = unit.partition(" ")
    if kind == "told":
        return of
    return f"{plain_text(value)} {of}" if kind == "amount" else plain_text(value)


def told(how: "How | str", write: Write) -> str:
    """Return a how for people, its signs as they are printed and without what is for scripts."""
    return _for_people(how if isinstance(how, str) else how.told(write))


@lru_cache(maxsize=4096)  # a page has hundreds of them, most of them seen before
def _for_people(text: str) -> str:
    for found, instead in _FOR_PEOPLE:
        text = found.sub(instead, text)
    return text


def plain_text(value: Decimal | int, digits: int = 0) -> str:
    """Write a number exactly, without exponent and needless zeros, with at least `digits`."""
    text = format(value, "f") if isinstance(value, Decimal) else str(value)
    whole, _, decimals = text.partition(".")
    decimals = decimals.rstrip("0").ljust(digits, "0")
    if not value:
        whole = "0"
    return f"{whole}.{decimals}" if decimals else whole
