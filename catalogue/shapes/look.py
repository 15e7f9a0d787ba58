"""How drawings look: one ink, line widths, dashes, letters."""

from collections.abc import Callable
from dataclasses import dataclass

from catalogue.calc.flat_patterns.pattern import Point, StrokeKind
from catalogue.calc.folded.space import Flat

INK, SHEET, FOLD_TONE, HAIRLINE, SOFT = "#1f2747", "#fffdf8", "#ebe2cf", "#d8cdb6", "#4c5370"
FACE = "Source Sans 3, Pleat Sans, Pleat Sans Ext, sans-serif"
Placing = Callable[[Point], Flat]

# dashes in line widths
DASHES = {
    StrokeKind.VALLEY: (7.0, 3.5),
    StrokeKind.MOUNTAIN: (7.0, 2.2, 1.2, 2.2),
    StrokeKind.GUIDE: (1.0, 2.5),
}
GROUP_NAMES = {
    StrokeKind.CUT: "cut",
    StrokeKind.VALLEY: "fold-valley",
    StrokeKind.MOUNTAIN: "fold-mountain",
    StrokeKind.GUIDE: "guide",
}


@dataclass(frozen=True, slots=True)
class Look:
    """How large things are drawn: drawing units per mm of paper, letters and lines in units."""

    scale: float
    text: float
    line: float
    with_notes: bool = True
    # Letters are kept clear of hatching by a rim of paper, or by a patch where a rim would be
    # painted over them (WeasyPrint knows no paint-order).
    draws_patches: bool = False

    @property
    def margin(self) -> float:
        """Room beside the blank for two rows of sizes."""
        return self.text * 3.6 if self.with_notes else self.line * 4


def n(value: float) -> str:
    """Write a coordinate."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def stroke_look(kind: StrokeKind, look: Look) -> str:
    """Return the attributes of lines of one kind."""
    line = look.line * (1.25 if kind is StrokeKind.CUT else 1.0)
    dashes = " ".join(n(look.line * part) for part in DASHES.get(kind, ()))
    return f'fill="none" stroke="{INK}" stroke-width="{n(line)}" stroke-linejoin="round"' + (
        f' stroke-dasharray="{dashes}"' if dashes else ""
    )


def text_width(words: str, size: float) -> float:
    """Return about how wide a text is; our letters take half their height on average."""
    return len(words) * size * 0.52
