"""The order of cuts of one layout as sentences for someone at a trimmer.

Cuts that are alike and follow each other are one sentence. What a cut gives is named: a strip by a
letter, a piece by its number, so that the next sentence can say what to take up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from catalogue.calc.cutting.planning import CutStep, Layout, SheetKind

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
    rest: str  # what lies behind the cut, when it is not cut on in the same direction
    is_trim: bool


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
    cuts = layout.cuts[edges:]
    parts: dict[Box, str] = {(trim, trim, sheet.width - 2 * trim, sheet.height - 2 * trim): SHEET}
    pieces = {
        (placed.x, placed.y, placed.width, placed.height): numbers[placed.piece]
        for placed in layout.placements
    }
    blanks = _blanks(layout, pieces)
    ways = {(cut.x, cut.y, cut.width, cut.height): cut.is_vertical for cut in cuts}
    letters = _letters()

    def named(box: Box) -> tuple[str, str]:
        """Return what a part is said to be when it comes off, and its name from then on."""
        if box in pieces:
            return f"piece {pieces[box]}", ""
        if box in blanks:
            return f"a blank for piece {blanks[box]}", f"the blank for piece {blanks[box]}"
        if box not in ways:
            return "an offcut", ""
        strip = f"strip {next(letters)}"
        return strip, strip

    made: list[_Made] = []
    for number, cut in enumerate(cuts, start=edges + 1):
        box = (cut.x, cut.y, cut.width, cut.height)
        part = parts.pop(box)
        near, far = _halves(cut, gap)
        gives, parts[near] = named(near)
        if box in blanks and near in blanks:
            gives = ""  # it is trimmed a second time
        rest = ""
        if far is not None and far not in blanks and ways.get(far) == cut.is_vertical:
            parts[far] = part  # it stays where it is, and the next cut goes on in it
        elif far is not None:
            rest, parts[far] = named(far)
        made.append(
            _Made(
                number=number,
                part=part,
                is_vertical=cut.is_vertical,
                set_to=cut.at - (cut.x if cut.is_vertical else cut.y),
                gives=gives,
                rest=rest,
                is_trim=cut.is_trim,
            )
        )
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


def in_bench_order(layout: Layout, gap: Decimal) -> Layout:
    """Return the layout with its cuts in an order that sets the fence as rarely as it can.

    Strips do not wait for each other, so what is cut at the same fence is cut from all of them.
    """
    ordered = [cut for cut in layout.cuts if cut.round == 0]
    rest = [cut for cut in layout.cuts if cut.round != 0]
    for turn in sorted({(cut.is_trim, cut.round) for cut in rest}):
        chains = _chains([cut for cut in rest if (cut.is_trim, cut.round) == turn], gap)
        while chains:
            fence = _fence(chains[0][0])
            for chain in chains:
                while chain and _fence(chain[0]) == fence:
                    ordered.append(chain.pop(0))
            chains = [chain for chain in chains if chain]
    return replace(layout, cuts=tuple(ordered))


def _fence(cut: CutStep) -> tuple[bool, Decimal]:
    return cut.is_vertical, cut.at - (cut.x if cut.is_vertical else cut.y)


def _chains(cuts: list[CutStep], gap: Decimal) -> list[list[CutStep]]:
    """Put the cuts of one strip together: each goes on in what the one before left."""
    chains: list[list[CutStep]] = []
    by_rest: dict[Box, list[CutStep]] = {}
    for cut in cuts:
        chain = by_rest.pop((cut.x, cut.y, cut.width, cut.height), None)
        if chain is None:
            chain = []
            chains.append(chain)
        chain.append(cut)
        _, far = _halves(cut, gap)
        if far is not None:
            by_rest[far] = chain
    return chains


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
            and (one.is_trim or not before.rest or before.part != one.part)
        )
        if alike:
            runs[-1].append(one)
        else:
            runs.append([one])
    return [part for run in runs for part in _even(run)]


def _even(run: list[_Made]) -> list[list[_Made]]:
    """Part a run where strips are cut a different number of times or leave something else."""
    if run[0].is_trim:
        return [run]
    parts: list[list[list[_Made]]] = []
    for strip in _by_part(run):
        before = parts[-1][-1] if parts else None
        if before and len(before) == len(strip) and _kind(before[-1].rest) == _kind(strip[-1].rest):
            parts[-1].append(strip)
        else:
            parts.append([strip])
    return [[one for strip in part for one in strip] for part in parts]


def _by_part(run: list[_Made]) -> list[list[_Made]]:
    strips: list[list[_Made]] = []
    for one in run:
        if strips and strips[-1][-1].part == one.part:
            strips[-1].append(one)
        else:
            strips.append([one])
    return strips


def _kind(gives: str) -> str:
    return "strip" if gives.startswith("strip") else gives


def _say(run: list[_Made], write: Write) -> str:
    one = run[0]
    size = write(one.set_to)
    if one.is_trim:
        return _say_trim(run, size)
    strips = _by_part(run)
    each = len(strips[0])
    across = "from top to bottom" if one.is_vertical else "across"
    again = {1: "", 2: " twice"}.get(each, f" {each} times")
    of_each = " each" if len(strips) > 1 else ""
    told = _gives(run)
    rests = [strip[-1].rest for strip in strips]
    if rests[0]:
        is_many = len(rests) > 1 and rests[0].startswith("strip")
        what = f"{_names(rests)}, one of each" if is_many else rests[0]
        told += f"; the rest{' of each' if of_each and not is_many else ''} is {what}"
    part = _names([strip[0].part for strip in strips])
    part = part[:1].upper() + part[1:]
    return f"{part}: set the fence to {size} and cut{of_each} {across}{again}{told}."


def _say_trim(run: list[_Made], size: str) -> str:
    one, times = run[0], len(run)
    what = "wide" if one.is_vertical else "high"
    part = one.part
    if times > 1:
        part = f"the {times} blanks" + one.part.removeprefix("the blank")
    gives = f": {one.gives}" if one.gives and one.gives not in part else ""
    return f"Trim {part} to {size} {what}{gives}."


def _gives(run: list[_Made]) -> str:
    one, times = run[0], len(run)
    if not one.gives:
        return ""
    if one.gives.startswith("strip"):
        return f": {_names([each.gives for each in run])}"
    if times == 1:
        return f": {one.gives}"
    many = one.gives.replace("a blank", f"{times} blanks")
    return f": {many}" if many != one.gives else f": {times} of {one.gives}"


def _names(names: list[str]) -> str:
    """Write `strip A`, `strips A and C`, `strips A to D` where no letter between is missing."""
    if len(names) == 1:
        return names[0]
    letters = [name.removeprefix("strip ") for name in names]
    turn = _letters()
    known: list[str] = []
    while letters[-1] not in known and len(known) < 5000:
        known.append(next(turn))
    at = [known.index(letter) for letter in letters if letter in known]
    if len(at) == len(letters) > 2 and at == list(range(at[0], at[0] + len(at))):
        return f"strips {letters[0]} to {letters[-1]}"
    return f"strips {', '.join(letters[:-1])} and {letters[-1]}"
