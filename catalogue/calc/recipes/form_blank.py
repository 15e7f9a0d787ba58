"""The blank that follows from a form and a finished size: sides, glue, card left; remembered.

Sizes are plain numbers in text, in millimetres, as a recipe keeps them; "ruler" among them is the
step panel widths are rounded to. A size left out has the form's own for millimetres, whatever
unit the workshop types in, so that a kept recipe means one blank for good.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from catalogue.calc.flat_patterns import flat_pattern, form_named
from catalogue.calc.flat_patterns.numbers import MM_PER
from catalogue.calc.flat_patterns.outlines import area_of
from catalogue.calc.flat_patterns.pattern import (
    BadSize,
    FlatPattern,
    FlatPiece,
    FormInput,
)
from maker.calc.sums import plain_text

RULER = "ruler"
MM_PER_INCH = MM_PER["in"]
_PLACES = 6

Sizes = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class FormBlank:
    """One blank of a form. `count` of them make one finished thing; the rest is of one blank.

    `area_mm2` is the card that is left when it is cut out, which is what it weighs by.
    """

    width_mm: Decimal
    height_mm: Decimal
    count: int
    glue_bead_mm: Decimal
    glue_area_mm2: Decimal
    area_mm2: Decimal
    pattern: FlatPattern

    @property
    def piece(self) -> FlatPiece:
        """The blank with its scores and cuts."""
        return self.pattern.pieces[0]


def form_blank(form: str, sizes: Sizes) -> FormBlank:
    """Return the blank, from memory when the same was asked for before.

    Errors: UnknownForm; BadSize, whose `nearest` is in millimetres.
    """
    return _form_blank(form, tuple(sorted(sizes.items())))


def form_pattern(form: str, sizes: Sizes, unit: str) -> FlatPattern:
    """Return the pattern of kept sizes in the unit it is shown in, from memory as above."""
    return _kept_pattern(form, tuple(sorted(with_defaults(form, sizes).items())), unit)


@lru_cache(maxsize=512)
def _kept_pattern(form: str, sizes: tuple[tuple[str, str], ...], unit: str) -> FlatPattern:
    return _pattern(form, dict(sizes), unit)


def sizes_in(form: str, sizes: Sizes, unit: str) -> tuple[dict[str, Fraction], Fraction | None]:
    """Return kept sizes as exact lengths in a unit, and the step of the ruler by itself."""
    per = MM_PER_INCH if unit == "in" else Fraction(1)
    no_lengths = {one.name for one in form_named(form).inputs if not is_length(one)}
    exact = {
        name: Fraction(text) / (1 if name in no_lengths else per) for name, text in sizes.items()
    }
    ruler = exact.pop(RULER, None)
    return exact, ruler or None


@lru_cache(maxsize=2048)
def _form_blank(form: str, sizes: tuple[tuple[str, str], ...]) -> FormBlank:
    pattern = _pattern(form, dict(sizes), "mm")
    piece = pattern.pieces[0]
    removed = sum(map(area_of, piece.removed), Fraction(0))
    return FormBlank(
        width_mm=rounded(piece.width),
        height_mm=rounded(piece.height),
        count=piece.count,
        glue_bead_mm=rounded(piece.glue_bead),
        glue_area_mm2=rounded(piece.glue_area),
        area_mm2=rounded(piece.width * piece.height - removed),
        pattern=pattern,
    )


def _pattern(form: str, sizes: Sizes, unit: str) -> FlatPattern:
    exact, ruler = sizes_in(form, sizes, unit)
    return flat_pattern(form, exact, unit=unit, ruler=ruler)


def is_length(asked: FormInput) -> bool:
    """Whether what a form asks for is a length, and not a number of something or a choice."""
    return asked.is_length


def with_defaults(form: str, sizes: Sizes) -> dict[str, str]:
    """Return the sizes with those that have a usual value of their own, by name.

    What follows from other sizes stays left out, so that it follows when they are changed.
    """
    usual = {
        one.name: plain_text(rounded(one.default_mm))
        for one in form_named(form).inputs
        if one.default_mm is not None
    }
    return dict(sorted({**usual, **sizes}.items()))


def refusal_words(form: str, sizes: Sizes, unit: str, refused: BadSize) -> tuple[str, str]:
    """Return which size is in the way and why, in the unit she types in."""
    if unit == "in":
        # the reason names lengths, so it is asked for again where they are inches
        try:
            _pattern(form, with_defaults(form, sizes), "in")
        except BadSize as again:
            return again.where, again.message
    return refused.where, refused.message


def rounded(value: Fraction) -> Decimal:
    """Return a length or area with six decimals, half up."""
    return Decimal(int(value * 10**_PLACES + Fraction(1, 2))).scaleb(-_PLACES)
