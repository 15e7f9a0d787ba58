"""What is asked of a cutting plan, as rows, and the same by name as it is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.cutting_plans.stored import AskedDesign, AskedPiece, AskedPlan, AskedSupply
from catalogue.materials.models import Material
from catalogue.recipes.models import Colourway, DesignVersion

ZERO = Decimal(0)


@dataclass(frozen=True)
class DesignAsk:
    """So many of one design, as its version says, in a colourway, with choices."""

    version: DesignVersion
    quantity: int
    colourway: Colourway | None = None
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def name(self) -> str:
        """The design's name, with the colourway where there is one."""
        name = self.version.design.name
        return f"{name}, {self.colourway.name}" if self.colourway else name


@dataclass(frozen=True)
class PieceAsk:
    """Pieces or lengths typed in; a length has no height. `may_turn` None: as the sheet allows."""

    name: str
    material: Material
    width_mm: Decimal
    height_mm: Decimal | None
    count: int
    may_turn: bool | None = None


@dataclass(frozen=True)
class SheetSupply:
    """Where the sheets for one material's pieces may come from."""

    only_shelf: bool = False
    also: tuple[Material, ...] = ()
    use_offcuts: bool = True


@dataclass(frozen=True)
class PlanAsk:
    """Everything a cutting plan is asked for; supplies by the key of the material."""

    designs: tuple[DesignAsk, ...] = ()
    pieces: tuple[PieceAsk, ...] = ()
    supplies: Mapping[int, SheetSupply] = field(default_factory=dict)
    gap_mm: Decimal = ZERO
    rounds: int | None = 3
    with_spares: bool = True
    # name of a material -> the lot that is kept for it
    lots: Mapping[str, str] = field(default_factory=dict)


def asked_of(ask: PlanAsk) -> AskedPlan:
    """Return what was asked by name, as it is kept with the plan."""
    materials = {piece.material.pk: piece.material.name for piece in ask.pieces}
    for design in ask.designs:
        for role in design.version.roles.all():
            materials[role.material_id] = role.material.name
        for one in design.colourway.materials.all() if design.colourway else ():
            materials[one.material_id] = one.material.name
    return AskedPlan(
        designs=tuple(
            AskedDesign(
                design=design.version.design.name,
                version=design.version.number,
                quantity=design.quantity,
                colourway=design.colourway.name if design.colourway else None,
                choices=design.choices,
            )
            for design in ask.designs
        ),
        pieces=tuple(
            AskedPiece(
                name=piece.name,
                material=piece.material.name,
                width_mm=piece.width_mm,
                height_mm=piece.height_mm,
                count=piece.count,
                may_turn=piece.may_turn,
            )
            for piece in ask.pieces
        ),
        supplies=tuple(
            AskedSupply(
                material=materials[key],
                only_shelf=supply.only_shelf,
                also=tuple(other.name for other in supply.also),
                use_offcuts=supply.use_offcuts,
            )
            for key, supply in ask.supplies.items()
            if key in materials
        ),
        gap_mm=ask.gap_mm,
        rounds=ask.rounds,
        with_spares=ask.with_spares,
        lots=tuple(ask.lots.items()),
    )
