"""The free edge of what hangs down in front: a lid's drop, a wallet's flap, an extension."""

from dataclasses import replace
from fractions import Fraction

from catalogue.calc.flat_patterns.asking import following, one_of
from catalogue.calc.flat_patterns.draft import Draft
from catalogue.calc.flat_patterns.numbers import said
from catalogue.calc.flat_patterns.outlines import EDGES, shaped
from catalogue.calc.flat_patterns.pattern import ZERO, FormInput, PanelKind, Sizes


def edge_inputs(across: str, down: str) -> tuple[FormInput, FormInput]:
    """Ask for the edge of what is `across` wide and hangs `down` so far, by the names of sizes."""

    def usual(sizes: Sizes) -> Fraction:
        # how far it is shaped when nobody says: what looks right, no source
        match edge_of(sizes):
            case "straight":
                return ZERO
            case "tapered":
                return sizes[across] / 8
            case _:
                return min(sizes[down], sizes[across]) / 2

    def most(sizes: Sizes) -> Fraction:
        match edge_of(sizes):
            case "straight":
                return sizes["shaped"]
            case "tapered":
                return sizes[across] / 3
            case "pointed":
                return sizes[down]
            case _:
                return min(sizes[down], sizes[across] / 2)

    by = following(
        "shaped",
        "how far the edge is shaped",
        usual,
        f"an eighth of {across} on a taper, half of {down} for a point or curve",
        f"at most a third of {across} on a taper, {down} for a point, half of {across} for a curve",
        most=most,
    )
    return one_of("edge", "free edge", *EDGES), replace(by, may_be_zero=True)


def edge_of(sizes: Sizes) -> str:
    """Return the word of the edge that was chosen."""
    return EDGES[int(sizes["edge"])]


def draw_edge(
    draft: Draft, name: str, kind: PanelKind, column: int, row: int, side: str
) -> dict[str, Fraction]:
    """Draw a panel whose free side has its edge; return the radius of a curve to be told."""
    sizes = draft.sizes
    edge = edge_of(sizes)
    cell = draft.cell(column, row)
    outline, radius = shaped(cell, side, edge, sizes["shaped"], draft.chord_error)
    draft.panel(name, kind, outline)
    return {} if radius is None else {"edge_radius": radius}


def is_curved(sizes: Sizes) -> bool:
    """Say whether the edge is cut along an arc."""
    return edge_of(sizes) == "curved" and sizes["shaped"] > 0


def say_edge(sizes: Sizes, details: dict[str, Fraction]) -> list[str]:
    """Say how the edge is marked."""
    by = said(sizes["shaped"], sizes.unit)
    match edge_of(sizes):
        case "tapered":
            return [f"Each free corner comes in by {by}."]
        case "pointed":
            return [f"The corners stop {by} short of the point in the middle."]
        case "curved" if details:
            radius = said(details["edge_radius"], sizes.unit)
            return [f"The corners stop {by} short of the curve, of radius {radius}."]
        case _:
            return []
