"""Colours as they were said, read against the colourways of a design."""

import re
from collections.abc import Iterable, Sequence

# a comma within a number is a thousand
_APART = re.compile(r"[;/\n]|(?<!\d),|,(?!\d)")
_AND = re.compile(r"\band\b|[&+]", re.IGNORECASE)
_NUMBER = re.compile(r"\d{1,3}(?:[ ,.]\d{3})+(?!\d)|\d+")
_FILLERS = {"x", "×", "of", "in", "each", "half", "the"}
_NOT_WANTED = {"no", "not", "without"}

Wish = tuple[str, int | None]


def split_by_colour(text: str, colourways: Sequence[str], quantity: int) -> list[tuple[str, int]]:
    """Return colourway and quantity of each line: "60 moss, 60 plum".

    Quantities that were said are taken as said; what is left of `quantity` is shared evenly by
    the others, and what that leaves over is the first one's. Empty when a colour matches no
    colourway or more than one, or when there is not one item for each.
    """
    wishes = list(_wishes(text, colourways))
    if any(wish is None for wish in wishes):
        return []
    said: dict[str, int | None] = {}
    for name, count in filter(None, wishes):
        before = said.get(name)
        said[name] = count if before is None else before + (count or 0)
    open_ones = [name for name, count in said.items() if count is None]
    left = quantity - sum(count or 0 for count in said.values())
    if left < len(open_ones) and open_ones:
        return []
    each, over = divmod(left, len(open_ones)) if open_ones else (0, 0)
    found = []
    for name, count in said.items():
        mine = each if count is None else count
        if open_ones and name == open_ones[0]:
            mine += over
        found.append((name, mine))
    return found if all(count > 0 for _, count in found) else []


def _wishes(text: str, colourways: Sequence[str]) -> Iterable[Wish | None]:
    """Yield each colour that is wanted; None for one that is not a colourway."""
    for part in filter(str.strip, _APART.split(text)):
        if _NOT_WANTED & set(_words(part)[:1]):
            continue
        whole = _wish(part, colourways)
        if whole is not None:
            yield whole
        else:
            yield from (_wish(each, colourways) for each in _AND.split(part))


def _wish(part: str, colourways: Sequence[str]) -> Wish | None:
    number = _NUMBER.search(part)
    said = part.replace(number[0], " ", 1) if number else part
    words = [word for word in _words(said) if word not in _FILLERS]
    alike = [name for name in colourways if _words(name) == words]
    if not alike and words:
        alike = [name for name in colourways if set(words) <= set(_words(name))]
    if len(alike) != 1:
        return None
    return alike[0], int(re.sub(r"\D", "", number[0])) if number else None


def _words(text: str) -> list[str]:
    return [word.strip(".:()'\"") for word in text.casefold().split()]
