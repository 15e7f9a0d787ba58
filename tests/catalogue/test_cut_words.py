"""The sentences at the trimmer: made step by step on paper they must give every piece."""

import re
from collections import Counter
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.check import check_cuts
from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind, plan_cuts
from catalogue.cutting_plans.cut_words import cut_sentences, in_bench_order

D = Decimal


def write(length: Decimal) -> str:
    return f"{length.normalize():f} mm"


def told(layout, job):
    numbers = {piece.name: at for at, piece in enumerate(job.pieces, start=1)}
    ordered = in_bench_order(layout, job.gap)
    sheet = next(sheet for sheet in job.sheets if sheet.name == layout.sheet)
    return ordered, cut_sentences(ordered, sheet, gap=job.gap, numbers=numbers, write=write)


def job_of(pieces, *, gap="0", trim="0", rounds=3, sheet=("300", "200")):
    width, height = sheet
    return CuttingJob(
        (SheetKind("card", D(width), D(height), D(1), None, D(trim)),),
        tuple(
            PieceKind(f"p{at}", D(width), D(height), count, may_turn)
            for at, (width, height, count, may_turn) in enumerate(pieces)
        ),
        gap=D(gap),
        rounds=rounds,
        time_limit_s=0.3,
    )


def pieces_told(sentences):
    """Count the pieces a sentence says it gives, read from its words alone."""
    found = Counter()
    for sentence in sentences:
        text = sentence.text
        cuts = sentence.last - sentence.first + 1
        if text.startswith("Trim"):
            if part := re.search(r"blanks? for piece (\d+)", text):
                found[int(part[1])] += cuts
            elif piece := re.search(r": piece (\d+)\.", text):
                found[int(piece[1])] += cuts
            continue
        strips = 1
        if names := re.match(r"Strips (.*?):", text):
            strips = count_strips(names[1])
        if many := re.search(r": (\d+) of piece (\d+)", text):
            assert int(many[1]) == cuts
            found[int(many[2])] += cuts
        elif one := re.search(r": piece (\d+)", text):
            found[int(one[1])] += 1
        if rest := re.search(r"the rest(?: of each)? is piece (\d+)", text):
            found[int(rest[1])] += strips
    return found


LETTERS = [
    letter + (str(turn) if turn > 1 else "")
    for turn in range(1, 30)
    for letter in "ABCDEFGHJKLMNPQRSTUVWXYZ"
]


def strips_in(names):
    if " to " in names:
        first, last = names.split(" to ")
        return LETTERS[LETTERS.index(first) : LETTERS.index(last) + 1]
    return re.split(r", | and ", names)


def count_strips(names):
    return len(strips_in(names))


def strips_taken_up(text):
    names = re.match(r"Strips? (.*?):", text) or re.match(r"Trim strip (\w+) to", text)
    return set(strips_in(names[1])) if names else set()


def strips_laid_down(text):
    found = re.findall(r"(?::|is) strips? ([A-Z0-9]+(?:(?:, | and | to )[A-Z0-9]+)*)", text)
    return {name for names in found for name in strips_in(names)}


SIDE = st.integers(12, 120)
PIECE = st.tuples(SIDE, SIDE, st.integers(1, 9), st.booleans())


@settings(max_examples=40)
@given(
    st.lists(PIECE, min_size=1, max_size=4),
    st.sampled_from(["0", "1.5"]),
    st.sampled_from(["0", "3"]),
    st.sampled_from([2, 3]),
)
def test_the_sentences_give_every_piece_once(pieces, gap, trim, rounds):
    job = job_of(pieces, gap=gap, trim=trim, rounds=rounds)
    for layout in plan_cuts(job).layouts:
        ordered, sentences = told(layout, job)
        # the planner's own check makes the cuts one after the other in this order
        check_cuts(ordered, job)
        assert Counter(ordered.cuts) == Counter(layout.cuts)
        numbers = {piece.name: at for at, piece in enumerate(job.pieces, start=1)}
        wanted = Counter(numbers[placed.piece] for placed in layout.placements)
        # a piece as large as the sheet needs no word
        if layout.cuts:
            assert pieces_told(sentences) == wanted, [one.text for one in sentences]
        # what is taken up was named when it came off, and nothing is called what is left
        known = set()
        for one in sentences:
            assert strips_taken_up(one.text) <= known, [each.text for each in sentences]
            known |= strips_laid_down(one.text)
            assert "what is left" not in one.text
            assert "parts alike" not in one.text
        assert known == set().union(*(strips_taken_up(one.text) for one in sentences))
        # every cut has its sentence, in order
        assert [n for one in sentences for n in range(one.first, one.last + 1)] == list(
            range(1, len(layout.cuts) + 1)
        )


def test_the_fence_is_set_once_for_all_strips():
    # by hand: two rows of three on 300 x 200, cut at 100 high and then at 100 wide
    job = job_of([(100, 100, 6, False)])
    [layout] = plan_cuts(job).layouts
    _, sentences = told(layout, job)
    assert [one.text for one in sentences] in (
        [
            "The sheet: set the fence to 100 mm and cut across: strip A; the rest is strip B.",
            "Strips A and B: set the fence to 100 mm and cut each from top to bottom twice: "
            "4 of piece 1; the rest of each is piece 1.",
        ],
        [
            "The sheet: set the fence to 100 mm and cut from top to bottom twice: "
            "strips A and B; the rest is strip C.",
            "Strips A to C: set the fence to 100 mm and cut each across: 3 of piece 1; "
            "the rest of each is piece 1.",
        ],
    )


def test_edges_are_trimmed_first():
    job = job_of([(100, 100, 2, False)], trim="3")
    [layout] = plan_cuts(job).layouts
    _, sentences = told(layout, job)
    assert (sentences[0].numbers, sentences[0].text) == ("1 to 4", "Trim 3 mm off all four edges.")
