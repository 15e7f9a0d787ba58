"""A bench sheet in words and drawings, ready for its template. No figure in it is money."""

import base64
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any

from django.template.defaultfilters import date as date_text

from catalogue.calc.recipes.cautions import told
from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.recipe import Basis
from catalogue.recipes.folded import patterns_of
from catalogue.recipes.item_picture import item_of, item_picture
from catalogue.shapes.small_drawing import small_drawing
from catalogue.shapes.words import cut_list, score_tables, slanted_folds
from catalogue.sheet_plans.services import PlanSheets
from maker.calc.units import format_number
from maker.web.lists import count_text
from maker.web.words import amount_text
from maker.workshop.models import Workshop
from pricing.bench_sheets.asked import AskedLine, AskedSheet
from pricing.calc.papers.bench import BenchBatch, BenchStep, BenchUse, bench_batches

Values = dict[str, Any]

# Units that are measured and not counted; what is counted is told in whole ones.
_MEASURED = {"m": 2, "ml": 0, "g": 0, "l": 2, "kg": 2}
MOST_NAMES = 200  # on the bench sheet; more are a paper of their own
# what the maker is told, by the caution of a step; common practice, no source
SAFE_WORK = {
    "blade": "Blades: cut away from your hand, and keep children away.",
    "hot glue": "Hot glue and its nozzle burn: keep hands and children away.",
    "small parts": "Small parts: count them back in, away from small children and pets.",
    "magnet": "Magnets are dangerous when swallowed: count them back in.",
    "cord or loop": "Cords and loops: keep them away from small children.",
    "food contact": "Food: clean hands and bench, only what may touch food inside.",
    "load on a handle": "Handles: try one with the load before you go on.",
}


@dataclass(frozen=True, slots=True)
class PieceBlock:
    """One folded piece: its drawing, its scores and what is cut after scoring."""

    title: str
    image: str
    words: str
    tables: list[Any]
    notes: list[str]


def sheet_view(asked: AskedSheet, workshop: Workshop, plan_sheets: PlanSheets) -> Values:
    """Return every value of the paper. Refuses what `bench_batches` refuses."""
    batches = bench_batches([line.ordered for line in asked.lines], plan_sheets)
    words = ChangeWords(workshop.unit, workshop.currency, workshop.locale)
    shown = [_batch(batch, asked, workshop, words) for batch in batches]
    cautions = dict.fromkeys(["blade"] if any(batch.cuts for batch in batches) else [])
    cautions |= dict.fromkeys(
        step.step.caution for batch in batches for step in batch.steps if step.step.caution
    )
    locale = workshop.locale
    return {
        "title": asked.title,
        "about": asked.about,
        "workshop": workshop.name,
        "language": locale.replace("_", "-") if locale.startswith("en") else "en",
        "due_on": _date(asked.due_on),
        "deliveries": [
            {
                "due_on": _date(each.due_on) or "no date",
                "is_gone": each.is_gone,
                "note": each.note,
                "items": [f"{number} × {name}" for number, name in each.items],
            }
            for each in asked.deliveries
        ],
        "notes": [line.strip() for line in asked.notes.splitlines() if line.strip()],
        "batches": shown,
        "is_one": len(shown) == 1,
        "cautions": [SAFE_WORK[each] for each in cautions if each in SAFE_WORK],
        "minutes": _minutes(sum((batch.minutes for batch in batches), Decimal(0)), locale),
        "unit": workshop.unit,
    }


def _date(day: Any) -> str:
    return date_text(day, "j M Y") if day else ""


def _batch(batch: BenchBatch, asked: AskedSheet, workshop: Workshop, words: ChangeWords) -> Values:
    lines = {line.place: asked.lines[line.place] for line in batch.lines}
    labels = {place: _label(line) for place, line in lines.items()}
    is_one = len(lines) == 1
    version = next(iter(lines.values())).version

    def of(places: Sequence[int]) -> str:
        """Name the lines a row is for, where it is not for all of them."""
        if is_one or len(places) == len(lines):
            return ""
        return "; ".join(labels[place] for place in places)

    cuts = [
        {
            "name": cut.piece.name,
            "material": cut.material,
            "size": words.size(cut.piece.width_mm, cut.piece.height_mm),
            "count": cut.count,
            "notes": _cut_notes(cut.piece, of(cut.places)),
        }
        for cut in batch.cuts
    ]
    return {
        "name": batch.recipe.name,
        "version": version.number,
        "finished_size": version.finished_size,
        "pictures": _pictures(lines.values()),
        "quantity": format_number(Decimal(batch.quantity), workshop.locale),
        "made": format_number(Decimal(batch.made), workshop.locale),
        "spares": batch.spares,
        "lines": _alike(
            (
                line.quantity,
                labels[line.place] or ("as in the recipe" if not is_one else ""),
                tuple(_choices(batch, line.answers)),
            )
            for line in batch.lines
        ),
        "cuts": cuts,
        "has_cut_notes": any(cut["notes"] for cut in cuts),
        "sheets": [
            f"{count_text(count, 'sheet')} of {name}{_from_lot(asked, name)}"
            for name, count in batch.sheets
        ],
        "pieces": _pieces(batch, version, workshop),
        "uses": [
            _use(use, of(use.places), workshop, words) | {"lot": asked.lots.get(use.material, "")}
            for use in batch.uses
        ],
        "steps": [_step(step, of(step.places), workshop.locale) for step in batch.steps],
        "minutes": _minutes(batch.minutes, workshop.locale),
        "packed": [f"{count} × {name}" for name, count in batch.packed],
        "told": told(batch.recipe, batch.lines[0].answers, [each.step for each in batch.steps]),
        "names": [
            # a long list is a paper of its own
            (labels[place], line.names if len(line.names) <= MOST_NAMES else (), len(line.names))
            for place, line in lines.items()
            if line.names
        ],
    }


def _from_lot(asked: AskedSheet, material: str) -> str:
    lot = asked.lots.get(material)
    return f" from {lot}" if lot else ""


def _alike(lines: Iterable[tuple[int, str, tuple[str, ...]]]) -> list[Values]:
    """Return lines with those alike as one: a change of an order adds more as a line of its own."""
    counts: dict[tuple[str, tuple[str, ...]], int] = {}
    for quantity, label, choices in lines:
        counts[label, choices] = counts.get((label, choices), 0) + quantity
    return [
        {"quantity": quantity, "label": label, "choices": choices}
        for (label, choices), quantity in counts.items()
    ]


def _label(line: AskedLine) -> str:
    return line.colourway.name if line.colourway else ""


def _choices(batch: BenchBatch, answers: Mapping[str, str]) -> list[str]:
    return [
        f"{option.name}: {choice.name}"
        for option in batch.recipe.options
        for choice in option.choices
        if answers.get(option.key) == choice.key
    ]


def _pictures(lines: Iterable[AskedLine]) -> list[str]:
    """Return each look once, as addresses of images: at most three have room."""
    found: dict[str, None] = {}
    for line in lines:
        item = item_of(
            line.version, colourway=line.colourway, choices=dict(line.ordered.ask.choices)
        )
        picture = item_picture(item, name="i", width=300.0, height=240.0)
        if picture:
            found[base64.b64encode(str(picture.svg).encode()).decode()] = None
    return [f"data:image/svg+xml;base64,{each}" for each in list(found)[:3]]


def _cut_notes(piece: Any, of: str) -> str:
    notes = [of] if of else []
    if piece.is_die_cut:
        notes.append("die-cut from this blank")
    if piece.layers > 1:
        notes.append(f"{piece.layers} layers")
    if piece.may_turn is False:
        notes.append("keep the direction")
    return ", ".join(notes)


def _pieces(batch: BenchBatch, version: Any, workshop: Workshop) -> list[PieceBlock]:
    """Return the folded pieces that are made, each drawn once."""
    made = {cut.piece.id for cut in batch.cuts}
    blocks = []
    for number, row, pattern in patterns_of(version, workshop):
        if row.pk not in made:
            continue
        piece, unit = pattern.pieces[0], workshop.unit
        drawn = small_drawing(piece, unit, name=f"b{version.pk}p{number}")
        tables = [
            {
                "edge": table.edge,
                "rows": [
                    {
                        "number": score.number,
                        "place": score.inches if unit == "in" else score.millimetres,
                        "fold": score.fold,
                        "side": score.side,
                        "reach": "" if score.reach == "edge to edge" else score.reach,
                    }
                    for score in table.rows
                ],
            }
            for table in score_tables(piece, unit)
        ]
        notes = [*slanted_folds(piece, unit), *cut_list(piece, unit)]
        if piece.grain:
            notes.append(f"Grain of the paper {piece.grain}.")
        if drawn.numbers:
            notes.append(f"On the drawing: {'; '.join(drawn.numbers)}.")
        if tables or notes:
            blocks.append(PieceBlock(row.name, drawn.image, drawn.words, tables, notes))
    return blocks


def _use(use: BenchUse, of: str, workshop: Workshop, words: ChangeWords) -> Values:
    amount = _in_all(use.amount, use.unit)
    note = of
    if use.cuts and use.cut_mm is not None:
        cut = f"cut {use.cuts} of {words.length(use.cut_mm)}"
        note = f"{cut}, {of}" if of else cut
    return {
        "name": use.name,
        "material": use.material,
        "amount": amount_text(amount, use.unit, workshop, use.typed_in),
        "note": note,
    }


def _in_all(amount: Decimal, unit: str) -> Decimal:
    """Round up as it is laid out: nobody takes a fraction of a dot."""
    places = _MEASURED.get(unit, 0)
    return amount.quantize(Decimal(1).scaleb(-places), rounding=ROUND_CEILING)


def _step(step: BenchStep, of: str, locale: str) -> Values:
    return {
        "name": step.step.name,
        "often": _often(step),
        "minutes": "" if step.is_waiting else _minutes(step.minutes, locale),
        "is_waiting": step.is_waiting,
        "caution": step.step.caution,
        "for": of,
    }


def _often(step: BenchStep) -> str:
    """Say how often a step is done, or how long it dries."""
    count, per = step.count, step.step.per
    if step.step.basis is Basis.RACK:
        turns = f", {step.step.times} times" if step.step.times > 1 else ""
        minutes = format_number(step.step.minutes, decimals=0)
        return f"{count_text(count, 'load')} of {per}, dry {minutes} min{turns}"
    if step.step.basis is Basis.NIGHT:
        return f"{count_text(count * step.step.times, 'night')}, {per} at a time"
    return {
        Basis.JOB: "once",
        Basis.BATCH: f"{count_text(count, 'batch', 'batches')} of {per}",
        Basis.SHEET: count_text(count, "sheet"),
        Basis.PASS: count_text(count, "die pass", "die passes"),
        Basis.CARTON: count_text(count, "carton"),
        Basis.NAME: count_text(count, "name"),
        Basis.GOOD: f"{count} packed",
    }.get(step.step.basis, f"{count} made")


def _minutes(minutes: Decimal, locale: str) -> str:
    """Write planned minutes: whole ones, tenths below ten."""
    return format_number(minutes, locale, 0 if minutes >= 10 else 1)
