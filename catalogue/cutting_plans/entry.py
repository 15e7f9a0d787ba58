"""The entry of a new plan: rows, then what they lead to (how each is made, where sheets come from).

Which questions there are depends on the answers so far, so the whole page is built anew from what
was sent each time; what was not asked yet has its default. The number of queries is constant.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django.db.models import Count, Sum

from catalogue.cutting_plans.asks import DesignAsk, PieceAsk, PlanAsk
from catalogue.cutting_plans.forms import (
    OPTION_PREFIX,
    DesignRows,
    DetailForm,
    PieceRows,
    PlanForm,
    SupplyForm,
)
from catalogue.cutting_plans.inputs import WantedPieces, wanted_of
from catalogue.designs.models import Design
from catalogue.materials.models import Material
from catalogue.offcuts.models import Offcut
from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.web.rows import rows_by_key
from maker.web.words import amount_text
from maker.workshop.models import Workshop

MOST_NAME = 120
ZERO = Decimal(0)


@dataclass(frozen=True)
class SupplyEntry:
    """The question where one material comes from, with what is wanted of it."""

    title: str
    wanted: str
    form: SupplyForm


@dataclass(frozen=True)
class First:
    """What a link or an older plan fills in: rows, and answers by the names of the fields."""

    designs: tuple[dict[str, Any], ...] = ()
    pieces: tuple[dict[str, Any], ...] = ()
    details: tuple[Mapping[str, str], ...] = ()
    supplies: Mapping[int, Mapping[str, Any]] | None = None
    plan: Mapping[str, Any] | None = None


class PlanEntry:
    """All shapes of the page, read together."""

    def __init__(self, workshop: Workshop, data: Any = None, first: First | None = None) -> None:
        self.workshop, self.data, self.first = workshop, data, first or First()
        self.refusal: Refusal | None = None
        designs = Design.objects.of(workshop).in_use().by_name()
        kinds = [Material.Kind.SHEET, Material.Kind.LENGTH]
        materials = Material.objects.of(workshop).in_use().filter(kind__in=kinds).by_name()
        if data is None and self.first == First():
            # nothing is chosen yet: they are only named
            designs = designs.only("workshop", "name")
            materials = materials.only("workshop", "name", "kind")
        self.materials = rows_by_key(materials)
        self.sheets = {key: row for key, row in self.materials.items() if row.is_sheet}
        self.form = PlanForm(data, initial=self._first_plan(), workshop=workshop)
        self.designs = DesignRows(
            data,
            prefix="designs",
            initial=list(self.first.designs),
            workshop=workshop,
            rows=rows_by_key(designs),
            chosen="design",
        )
        self.pieces = PieceRows(
            data,
            prefix="pieces",
            initial=list(self.first.pieces),
            workshop=workshop,
            rows=self.materials,
            chosen="material",
        )
        if data is not None:
            self.form.is_valid()
        self.rows_are_valid = data is None or (self.designs.is_valid() & self.pieces.is_valid())
        self.details = self._details()
        self.supplies = self._supplies()

    def _first_plan(self) -> dict[str, Any]:
        first = {"form_key": uuid.uuid4(), "rounds": "3", "seconds": "30", "with_spares": True}
        return {**first, **(self.first.plan or {})}

    def _chosen(self) -> list[tuple[int, Design, int]]:
        """Return the design rows that can be read: place, design, quantity."""
        if self.data is None:
            return [
                (at, row["design"], row["quantity"]) for at, row in enumerate(self.first.designs)
            ]
        found = []
        for at, form in enumerate(self.designs.forms):
            given = getattr(form, "cleaned_data", {})
            is_whole = given.get("design") is not None and given.get("quantity")
            if is_whole and not given.get("DELETE") and form.has_changed():
                found.append((at, given["design"], given["quantity"]))
        return found

    def _details(self) -> list[tuple[int, DetailForm]]:
        """Return how each design is made (three queries): with quantity."""
        chosen = self._chosen()
        numbers: dict[int, dict[int, int]] = {}
        rows = DesignVersion.objects.of(self.workshop).filter(
            design__in=[design.pk for _, design, _ in chosen]
        )
        for key, of, number in rows.newest_first().values_list("pk", "design_id", "number"):
            numbers.setdefault(of, {})[number] = key
        wanted: list[tuple[int, Design, int, int]] = []
        for at, design, quantity in chosen:
            if known := numbers.get(design.pk):
                wanted.append((at, design, quantity, self._version(at, design, known)))
        versions = {
            version.pk: version
            for version in DesignVersion.objects.of(self.workshop)
            .filter(pk__in=[key for *_, key in wanted])
            .with_recipe()
        }
        forms = []
        for at, design, quantity, key in wanted:
            data, initial = self._answers(at, design)
            form = DetailForm(
                data,
                prefix=f"detail-{at}",
                initial=initial,
                design=design,
                version=versions[key],
                numbers=sorted(numbers[design.pk], reverse=True),
            )
            # a choice another version does not have is none: the default holds
            form.is_valid()
            forms.append((quantity, form))
        return forms

    def _answers(self, at: int, design: Design) -> tuple[Any, dict[str, Any]]:
        """Return what was sent about a row, if it was about this design, and what comes first."""
        if self.data is not None and self.data.get(f"detail-{at}-design") == str(design.pk):
            return self.data, {}
        first = self.first.details[at] if at < len(self.first.details) else {}
        if self.data is None and first:
            named = {f"detail-{at}-{name}": value for name, value in first.items()}
            return {**named, f"detail-{at}-design": str(design.pk)}, {}
        return None, {}

    def _version(self, at: int, design: Design, numbers: Mapping[int, int]) -> int:
        data, _ = self._answers(at, design)
        said = str((data or {}).get(f"detail-{at}-version", ""))
        number = int(said) if said.isascii() and said.isdigit() and len(said) < 9 else 0
        return numbers.get(number, numbers[max(numbers)])

    def _supplies(self) -> list[SupplyEntry]:
        """Return the questions about each material that is wanted (one query)."""
        if not self.rows_are_valid:
            return []
        try:
            wanted = wanted_of(self._asked(), self.workshop)
        except Refusal as refusal:
            self.refusal = refusal
            return []
        boxes = {
            key: (sizes, many)
            for key, sizes, many in Offcut.objects.of(self.workshop)
            .on_hand()
            .filter(material__in=wanted)
            .values("material")
            .annotate(sizes=Count("pk"), many=Sum("count"))
            .values_list("material", "sizes", "many")
        }
        return [self._supply(key, one, boxes.get(key)) for key, one in wanted.items()]

    def _supply(self, key: int, one: WantedPieces, box: tuple[int, int] | None) -> SupplyEntry:
        prefix = f"m{key}"
        data = self.data if self.data is not None and f"{prefix}-supply" in self.data else None
        first = (self.first.supplies or {}).get(key)
        if self.data is None and first:
            data = {f"{prefix}-{name}": value for name, value in first.items()}
        sizes, many = box or (0, 0)
        form = SupplyForm(
            data,
            prefix=prefix,
            sheets=self.sheets,
            material=one.material,
            shelf_text=amount_text(
                max(one.material.on_hand, ZERO), one.material.unit, self.workshop
            ),
            offcut_text=f"{many} in {sizes} size{'' if sizes == 1 else 's'}" if many else "",
            is_reel=not one.pieces,
        )
        pieces = sum(count for *_, count, _ in one.pieces) + sum(count for *_, count in one.lengths)
        what = "piece" if one.pieces else "length"
        return SupplyEntry(
            title=one.material.name,
            wanted=f"{pieces:,} {what}{'' if pieces == 1 else 's'} of "
            f"{len(one.pieces) + len(one.lengths)} kind"
            f"{'' if len(one.pieces) + len(one.lengths) == 1 else 's'}",
            form=form,
        )

    def _asked(self) -> PlanAsk:
        """Return what the rows ask for, without the materials' answers."""
        designs = tuple(
            DesignAsk(form.of_version, quantity, form.colourway(), form.choices())
            for quantity, form in self.details
        )
        pieces: list[PieceAsk] = []
        if self.data is not None:
            pieces = [_piece(form.cleaned_data) for form in self.pieces.kept()]
        else:
            pieces = [_piece(row) for row in self.first.pieces]
        given = getattr(self.form, "cleaned_data", {})
        spares = given.get("with_spares", True) if self.form.is_bound else True
        return PlanAsk(designs=designs, pieces=tuple(pieces), with_spares=bool(spares))

    @property
    def has_supplies_to_see(self) -> bool:
        """Whether what the sheets may come from is few, not as usual, or wrong."""
        return len(self.supplies) < 4 or any(
            entry.form.errors
            or entry.form["supply"].value() != "buy"
            or any(
                entry.form[name].value() for name in ("also", "also_2") if name in entry.form.fields
            )
            for entry in self.supplies
        )

    def is_valid(self) -> bool:
        """Say whether everything that was sent can be read."""
        # every form is asked, so that all errors are told at once
        wrong = [
            entry.title
            for entry in self.supplies
            if entry.form.is_bound and not entry.form.is_valid()
        ]
        is_readable = self.form.is_valid() and self.rows_are_valid and self.refusal is None
        return is_readable and not wrong

    def ask(self) -> PlanAsk:
        """Return all that is asked; only after `is_valid`."""
        supplies = {
            int((entry.form.prefix or "m0")[1:]): entry.form.supply_asked()
            for entry in self.supplies
        }
        return replace(
            self._asked(),
            supplies=supplies,
            gap_mm=self.form.cleaned_data["gap"] or ZERO,
            rounds=self.form.rounds_asked(),
            with_spares=self.form.cleaned_data["with_spares"],
        )

    def name(self) -> str:
        """Return the name typed, or what is cut in short."""
        typed: str = self.form.cleaned_data["name"]
        if typed:
            return typed
        asked = self._asked()
        parts = [f"{one.quantity} × {one.name}" for one in asked.designs]
        parts += [f"{one.count} × {one.name}" for one in asked.pieces]
        name = ", ".join(parts)
        return name if len(name) <= MOST_NAME else name[: MOST_NAME - 1] + "…"

    def refuse(self, refusal: Refusal) -> None:
        """Keep why the plan cannot be asked for, for the head of the page."""
        self.refusal = refusal

    @property
    def formsets(self) -> list[Any]:
        """The rows, for the summary of errors."""
        return [self.designs, self.pieces]

    @property
    def more_errors(self) -> list[str]:
        """What stands in no form of the summary: a refusal, a material's answers."""
        said = [self.refusal.message] if self.refusal else []
        for entry in self.supplies:
            for errors in entry.form.errors.values():
                said += [f"{entry.title}: {error}" for error in errors]
        return said


def _piece(row: Mapping[str, Any]) -> PieceAsk:
    material: Material = row["material"]
    return PieceAsk(
        name=row["name"],
        material=material,
        width_mm=row["width"],
        height_mm=row.get("height") if material.is_sheet else None,
        count=row["count"],
        may_turn={"free": True, "fixed": False}.get(row.get("turning") or ""),
    )


def option_answers(given: Mapping[str, str]) -> dict[str, str]:
    """Return the options named in an address, as the names of the fields."""
    return {name: value for name, value in given.items() if name.startswith(OPTION_PREFIX)}
