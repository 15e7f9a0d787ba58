"""What was asked, read: quantities as they were said, and whether contents fit into an item."""

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from maker.calc.refusal import Refusal

MOST_QUANTITIES = 6
MOST = 1_000_000
# Common practice, no source: what goes in needs a millimetre on each side.
ROOM_MM = Fraction(2)

_NUMBER = re.compile(r"(?<![\d.,])\d{1,3}(?:[ ,.]\d{3})+(?![\d])|\d+")


class NoQuantity(Refusal):
    """The words hold no quantity, or one that cannot be."""


def quantities_in(text: str) -> tuple[int, ...]:
    """Return the quantities said, in their order, each once: "120, maybe 100 or 150".

    The first is the one asked for. A thousand may be written 1,000; 100,150 may be one number or
    two and is refused. Errors: NoQuantity.
    """
    found = dict.fromkeys(_number(each) for each in _NUMBER.findall(text))
    if not found:
        raise NoQuantity("Enter a number, like 120, or 120, maybe 100 or 150.")
    if len(found) > MOST_QUANTITIES:
        raise NoQuantity(f"Enter at most {MOST_QUANTITIES} quantities.")
    for quantity in found:
        if not 1 <= quantity <= MOST:
            raise NoQuantity(f"Enter quantities from 1 to {MOST:,}.")
    return tuple(found)


def _number(text: str) -> int:
    first, *groups = re.split(r"\D", text)
    whole = first + "".join(groups)
    # nobody asks for 1 or 2 and then for 250, nor for 000
    if len(first) > 1 and groups and not any(group.startswith("0") for group in groups):
        apart = ", ".join((first, *groups))
        raise NoQuantity(f"“{text}” can be read two ways. Enter {apart} or {whole}.")
    return int(whole)


def too_small_by(
    inside_mm: Sequence[Fraction | Decimal], contents_mm: Sequence[Fraction | Decimal]
) -> Fraction:
    """Return how much is missing on the side that is shortest, in mm; zero where it fits.

    Both have three lengths in any order: contents may be turned, but not tilted. `ROOM_MM` is
    wanted on each length.
    """
    inside = sorted(Fraction(length) for length in inside_mm)
    contents = sorted(Fraction(length) for length in contents_mm)
    pairs = zip(inside, contents, strict=True)
    return max(max(needed + ROOM_MM - there, Fraction(0)) for there, needed in pairs)
