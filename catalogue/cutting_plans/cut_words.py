"""The order of cuts of one layout as sentences for someone at a trimmer.

Cuts that are alike and follow each other are one sentence. What a cut gives is named: a strip by a
letter, a piece by its number, so that the next sentence can say what to take up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from catalogue.calc.cutting import CutStep, Layout, SheetKind

Box = tuple[Decimal, Decimal, Decimal, Decimal]
Write = Callable[[Decimal], str]

SHEET = "the sheet"
_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Sentence:
    """What is done in the cuts numbered `first` to `last`."""

    first: int
    last: int
    text: str

    @property
    def numbers(self) -> str:
        """The numbers of its cuts, `3` or `3 to 5`."""
        return str(self.first) if self.first == self.last else f"{self.first} to {self.last}"


@dataclass(frozen=True, slots=True)
class _Made:
    """One cut: what it went through, the size that is set, and what came of it."""

    number: int
    part: str
    is_vertical: bool
    set_to: Decimal
    gives: str
    rest: str  # what lies behind the cut, when nothing is cut from it any more
    is_trim: bool
    goes_on: bool  # in what the cut before left


@dataclass
class _Part:
    """A rectangle that lies on the table: what it is called, and along what it was cut last."""

    name: str
    axis: bool | None


def cut_sentences(
    layout: Layout,
    sheet: SheetKind,
    *,
    gap: Decimal,
    numbers: Mapping[str, int],
    write: Write,
) -> list[Sentence]:
    """Return the sentences in the order of the cuts; `write` writes a length of the job.

    `numbers` are those of the pieces, by name.
    """
    edges = [cut for cut in layout.cuts if cut.round == 0]
    sentences = []
    if edges:
        text = f"Trim {write(sheet.trim)} off all four edges."
        sentences.append(Sentence(1, len(edges), text))
    made = _follow(layout, sheet, gap, numbers, len(edges))
    for run in _runs(made):
        sentences.append(Sentence(run[0].number, run[-1].number, _say(run, write)))
    return sentences


def _follow(
    layout: Layout, sheet: SheetKind, gap: Decimal, numbers: Mapping[str, int], edges: int
) -> list[_Made]:
    """Make every cut and note what comes of it."""
    trim = sheet.trim
    inside = (trim, trim, sheet.width - 2 * trim, sheet.height - 2 * trim)
    parts: dict[Box, _Part] = {inside: _Part(SHEET, None)}
    pieces = {
        (placed.x, placed.y, placed.width, placed.height): numbers[placed.piece]
        for placed in layout.placements
    }
    offcuts = {(left.x, left.y, left.width, left.height) for left in layout.offcuts}
    blanks = _blanks(layout, pieces)
    letters = _letters()
    made: list[_Made] = []
    last_far: Box | None = None
    for number, cut in enumerate(layout.cuts[edges:], start=edges + 1):
        box = (cut.x, cut.y, cut.width, cut.height)
        part = parts.pop(box)
        if part.axis is not None and part.axis != cut.is_vertical and "blank" not in part.name:
            # what the earlier cuts left is the last strip
            part = _Part("what is left" if cut.is_trim else f"strip {next(letters)}", None)
        near, far = _halves(cut, gap)
        gives = ""
        if near in pieces:
            gives = f"piece {pieces[near]}"
        elif near in blanks:
            gives = f"a blank for piece {blanks[near]}"
            parts[near] = _Part(f"the blank for piece {blanks[near]}", cut.is_vertical)
        elif not cut.is_trim:
            gives = f"strip {next(letters)}"
            parts[near] = _Part(gives, None)
        rest = ""
        if far is not None:
            parts[far] = _Part(part.name, cut.is_vertical)
            if far in pieces:
                rest = f"piece {pieces[far]}"
            elif far in offcuts:
                rest = "an offcut"
        made.append(
            _Made(
                number=number,
                part=part.name,
                is_vertical=cut.is_vertical,
                set_to=cut.at - (cut.x if cut.is_vertical else cut.y),
                gives=gives,
                rest=rest,
                is_trim=cut.is_trim,
                goes_on=box == last_far,
            )
        )
        last_far = far
    return made


def _letters() -> Iterator[str]:
    turn = 0
    while True:
        for letter in _LETTERS:
            yield letter + (str(turn + 1) if turn else "")
        turn += 1


def _halves(cut: CutStep, gap: Decimal) -> tuple[Box, Box | None]:
    """Return what lies before and behind a cut; what lies behind begins one gap further on."""
    begins = cut.at + gap
    if cut.is_vertical:
        near = (cut.x, cut.y, cut.at - cut.x, cut.height)
        wide = cut.x + cut.width - begins
        return near, (begins, cut.y, wide, cut.height) if wide > 0 else None
    near = (cut.x, cut.y, cut.width, cut.at - cut.y)
    high = cut.y + cut.height - begins
    return near, (cut.x, begins, cut.width, high) if high > 0 else None


def _blanks(layout: Layout, pieces: Mapping[Box, int]) -> dict[Box, int]:
    """Return the parts that hold one piece and are only trimmed to its size."""
    found = {}
    for cut in layout.cuts:
        if not cut.is_trim or cut.round == 0:
            continue
        for (x, y, width, height), number in pieces.items():
            is_corner = (cut.x, cut.y) == (x, y)
            if is_corner and width <= cut.width and height <= cut.height:
                found[(cut.x, cut.y, cut.width, cut.height)] = number
                break
    return found


def _runs(made: list[_Made]) -> list[list[_Made]]:
    """Put cuts together that are done without setting the fence anew."""
    runs: list[list[_Made]] = []
    for one in made:
        before = runs[-1][-1] if runs else None
        alike = (
            before is not None
            and before.is_vertical == one.is_vertical
            and before.set_to == one.set_to
            and before.is_trim == one.is_trim
            and _kind(before.gives) == _kind(one.gives)
            and (one.is_trim or one.goes_on)
        )
        if alike:
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs


def _kind(gives: str) -> str:
    return "strip" if gives.startswith("strip") else gives


def _say(run: list[_Made], write: Write) -> str:
    one, times = run[0], len(run)
    across = "from top to bottom" if one.is_vertical else "across"
    size = write(one.set_to)
    if one.is_trim:
        part = one.part if times == 1 else f"{times} parts alike"
        if one.part.startswith("the blank") and times > 1:
            part = f"the {times} blanks" + one.part.removeprefix("the blank")
        what = "wide" if one.is_vertical else "high"
        gives = f": {one.gives}" if one.gives and one.gives not in part else ""
        return f"Trim {part} to {size} {what}{gives}."
    again = "" if times == 1 else f" {times} times"
    told = ""
    if one.gives.startswith("strip"):
        names = [each.gives.removeprefix("strip ") for each in run]
        joined = " and " if times == 2 else " to "
        told = f": strip {names[0]}" if times == 1 else f": strips {names[0]}{joined}{names[-1]}"
    elif one.gives:
        told = f": {one.gives}"
        if times > 1:
            many = one.gives.replace("a blank", f"{times} blanks")
            told = f": {many}" if many != one.gives else f": {times} of {one.gives}"
    if run[-1].rest:
        told += f"; the rest is {run[-1].rest}"
    part = one.part[:1].upper() + one.part[1:]
    return f"{part}: set the fence to {size} and cut {across}{again}{told}."
