"""A recipe in words for a page that only shows it: one line for each row, and what to mind."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.flat_patterns.pattern import BadSize
from catalogue.calc.recipes.areas import format_area
from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.form_blank import form_blank
from catalogue.calc.recipes.glue_rates import rate_per, rate_words
from catalogue.materials.models import Material
from catalogue.recipes.form_sizes import size_words
from catalogue.recipes.models import DesignVersion, Fixing, Piece, Step
from maker.calc.money import format_money
from maker.calc.units import format_length_in, format_number
from maker.web.words import amount_text
from maker.workshop.models import Workshop

# Common practice, no source: what a careful maker tells a helper.
CAUTIONS = {
    Step.Caution.BLADE: "Cut away from the hand; change a dull blade, it slips. "
    "Used blades go into a closed box.",
    Step.Caution.HOT_GLUE: "Hot glue burns and sticks. Put the gun on a stand, keep children "
    "away, use a low-temperature gun on foam.",
    Step.Caution.SMALL_PARTS: "Small parts can choke a small child. Ask who will get it, and "
    "don't sell it for children under 3.",
    Step.Caution.MAGNET: "Swallowed magnets injure. Use a dot where a child may reach it.",
    Step.Caution.CORD: "A cord or loop can catch around a small child’s neck. State its length.",
    Step.Caution.FOOD: "Craft card, ink and glue aren't declared for food. Wrapped food only, "
    "unless you hold a declaration.",
    Step.Caution.LOAD: "A glued handle has no rating. Hang three times the load on it for a day "
    "before you rely on it, and promise nothing.",
}
ADVICE = "Toy, food and consumer law differ from place to place: ask a licensed adviser."


@dataclass(frozen=True, slots=True)
class SummaryRow:
    """One row of the recipe: what it is, of what, how much and when."""

    name: str
    of: str = ""
    amount: str = ""
    notes: str = ""
    material: Material | None = None


@dataclass(frozen=True, slots=True)
class Caution:
    """Something that can hurt, the steps where it can, and what to do."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Summary:
    """The whole recipe in words."""

    pieces: tuple[SummaryRow, ...]
    fixings: tuple[SummaryRow, ...]
    steps: tuple[SummaryRow, ...]
    wears: tuple[SummaryRow, ...]
    packings: tuple[SummaryRow, ...]
    options: tuple[SummaryRow, ...]
    colourways: tuple[SummaryRow, ...]
    general: tuple[SummaryRow, ...]
    cautions: tuple[Caution, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered yet."""
        return not (self.pieces or self.fixings or self.steps or self.packings)


class _Words:
    """Writes rows of one version the way its workshop does."""

    def __init__(self, version: DesignVersion, workshop: Workshop) -> None:
        self.version, self.workshop = version, workshop
        self.writing = ChangeWords(workshop.unit, workshop.currency, workshop.locale)
        self.roles = {role.pk: role for role in version.roles.all()}
        self.choices = {
            choice.pk: f"{option.name}: {choice.name}"
            for option in version.options.all()
            for choice in option.choices.all()
        }

    def length(self, value: Any) -> str:
        return self.writing.length(value)

    def number(self, value: Any) -> str:
        return format_number(value, self.workshop.locale)

    def money(self, value: Any) -> str:
        return format_money(value, self.workshop.currency, self.workshop.locale, extra_digits=2)

    def material(self, row: Any) -> Material | None:
        role = self.roles.get(row.role_id)
        return role.material if role else None

    def of(self, row: Any) -> str:
        material = self.material(row)
        return material.name if material else ""

    def when(self, row: Any) -> list[str]:
        first, last = row.from_quantity, row.to_quantity
        words = []
        if first and first == last:
            words.append(f"for {first} only")
        elif first and last:
            words.append(f"for {first} to {last}")
        elif first:
            words.append(f"from {first} on")
        elif last:
            words.append(f"up to {last}")
        if row.only_with_id:
            words.append(f"only with {self.choices[row.only_with_id]}")
        if row.not_with_id:
            words.append(f"not with {self.choices[row.not_with_id]}")
        return words

    def piece(self, row: Piece) -> SummaryRow:
        notes = self.form(row) if row.shape == Piece.Shape.FORM else []
        if row.shape == Piece.Shape.DIE:
            notes.append(
                f"die-cut, with a border of {self.length(row.die_margin_mm)}"
                if row.die_margin_mm
                else "die-cut"
            )
        if row.layers > 1:
            notes.append(f"{row.layers} layers")
        if row.turning != Piece.Turning.AS_MATERIAL:
            notes.append(row.get_turning_display())
        return SummaryRow(
            f"{row.name} × {row.count}" if row.count > 1 else row.name,
            self.of(row),
            f"{self.length(row.width_mm)} × {self.length(row.height_mm)}",
            ", ".join(notes + self.when(row)),
            self.material(row),
        )

    def form(self, row: Piece) -> list[str]:
        form = FORMS.get(row.form)
        if form is None:
            return [row.form]
        words = [f"{form.title}, {size_words(form, row.form_inputs, self.workshop)}"]
        try:
            blanks = form_blank(row.form, row.form_inputs).count
        except BadSize as refused:  # kept before the form had this limit
            return [*words, refused.message]
        if blanks > 1:
            words.append(f"{blanks} blanks for each")
        return words

    def typed_length(self, row: Fixing) -> str:
        """Write the length of a fixing in the unit it was typed in, if that is kept."""
        typed = row.typed_in and format_length_in(row.amount, row.typed_in, self.workshop.locale)
        return typed or self.length(row.amount)

    def rate(self, row: Fixing) -> str:
        """Write what a length or area of glue takes: `2.8346 ml per yard`."""
        lengths = self.workshop.unit
        number = rate_words(row.rate or Decimal(0), row.measure, lengths, self.workshop.locale)
        unit = self.roles[row.role_id].material.unit
        return f"{number} {unit} per {rate_per(row.measure, lengths)}"

    def fixing(self, row: Fixing) -> SummaryRow:
        unit = self.roles[row.role_id].material.unit
        if row.measure == Fixing.Measure.BEAD:
            amount = f"{self.typed_length(row)} of line, {self.rate(row)}"
        elif row.measure == Fixing.Measure.AREA:
            area = format_area(row.amount, self.workshop.unit, self.workshop.locale)
            amount = f"{area}, {self.rate(row)}"
        elif row.measure == Fixing.Measure.CUT:
            amount = f"{self.number(row.rate)} × {self.typed_length(row)}"
        elif row.measure in (Fixing.Measure.FORM_BEAD, Fixing.Measure.FORM_AREA):
            is_line = row.measure == Fixing.Measure.FORM_BEAD
            times = self.number(row.amount)
            what = "line" if is_line else "coat"
            amount = (
                f"{times} {what}{'' if row.amount == 1 else 's'} on the folded pieces, "
                f"{self.rate(row)}"
            )
        else:
            amount = amount_text(row.amount, unit, self.workshop, row.typed_in)
        notes = [] if row.basis == Fixing.Basis.MADE else [row.get_basis_display()]
        if row.waste_share is not None:
            notes.append(f"{self.number(row.waste_share * 100)}% waste")
        said = ", ".join(notes + self.when(row))
        return SummaryRow(row.name, self.of(row), amount, said, self.material(row))

    def step(self, row: Step) -> SummaryRow:
        basis = row.get_basis_display()
        if row.basis == Step.Basis.BATCH:
            basis = f"for every {row.per}"
        elif row.basis == Step.Basis.PASS:
            basis = f"per die pass of {row.per}"
        elif row.basis == Step.Basis.RACK:
            basis = f"drying: per rack load of {row.per}"
        elif row.basis == Step.Basis.NIGHT:
            basis = f"drying: overnight per {row.per}"
        notes = []
        if row.minutes_low is not None or row.minutes_high is not None:
            low = self.number(row.minutes_low if row.minutes_low is not None else row.minutes)
            high = self.number(row.minutes_high if row.minutes_high is not None else row.minutes)
            notes.append(f"{low} to {high} min")
        if row.times > 1:
            notes.append(f"{row.times} times")
        if row.window_minutes:
            notes.append(f"{row.window_minutes} min per day for drying")
        if row.learns:
            notes.append("faster with practice")
        if row.caution:
            notes.append(f"caution: {row.get_caution_display()}")
        return SummaryRow(
            row.name,
            ", ".join(part for part in (basis, self.of(row)) if part),
            f"{self.number(row.minutes)} min" if row.minutes else "",
            ", ".join(notes + self.when(row)),
        )

    def wear(self, row: Any) -> SummaryRow:
        basis = row.get_basis_display()
        return SummaryRow(
            row.name,
            ", ".join(part for part in (basis, self.of(row)) if part),
            f"{self.money(row.price)} over {self.number(row.life)}",
            ", ".join(self.when(row)),
        )

    def packing(self, row: Any) -> SummaryRow:
        cost = self.money(row.cost_each) if row.cost_each is not None else self.of(row)
        return SummaryRow(
            row.name, f"{row.get_kind_display()} for {row.holds}", cost, ", ".join(self.when(row))
        )

    def general(self) -> tuple[SummaryRow, ...]:
        version = self.version
        rows = []
        if version.finished_size:
            rows.append(SummaryRow("Finished size", amount=version.finished_size))
        if version.reject_share:
            share = f"{self.number(version.reject_share * 100)}% spares"
            rows.append(SummaryRow("Spares", amount=share, notes=f"from {version.rejects_from} on"))
        if version.learning != DesignVersion.Learning.NONE:
            rate = f"{self.number(version.learning_rate * 100)}% of the time at double the quantity"
            floor = f"never below {self.number(version.learning_floor * 100)}%"
            if version.learning_reference > 1:
                floor += f", timed in a batch of {version.learning_reference}"
            if version.learning_made:
                floor += f", {version.learning_made} made before"
            rows.append(
                SummaryRow(
                    "Speed-up", amount=rate, notes=f"{version.get_learning_display()}; {floor}"
                )
            )
        return tuple(rows)

    def cautions(self) -> tuple[Caution, ...]:
        steps: dict[str, list[str]] = {}
        for row in self.version.steps.all():
            if row.caution:
                steps.setdefault(row.caution, []).append(row.name)
        found = []
        if self.version.design.caution:
            found.append(Caution("This design", self.version.design.caution))
        for caution, names in steps.items():
            title = f"{Step.Caution(caution).label.capitalize()}: {', '.join(names)}"
            found.append(Caution(title, CAUTIONS[Step.Caution(caution)]))
        for option in self.version.options.all():
            found += [
                Caution(f"{option.name}: {choice.name}", choice.caution)
                for choice in option.choices.all()
                if choice.caution
            ]
        return tuple(found)


def summary_of(version: DesignVersion, workshop: Workshop) -> Summary:
    """Write a version in words; no query when it was loaded `with_recipe()`."""
    words = _Words(version, workshop)
    names = {role.pk: role.name for role in version.roles.all()}
    return Summary(
        pieces=tuple(map(words.piece, version.pieces.all())),
        fixings=tuple(map(words.fixing, version.fixings.all())),
        steps=tuple(map(words.step, version.steps.all())),
        wears=tuple(map(words.wear, version.wears.all())),
        packings=tuple(map(words.packing, version.packings.all())),
        options=tuple(
            SummaryRow(
                option.name,
                amount=", ".join(
                    f"{choice.name} (default)" if choice.is_default else choice.name
                    for choice in option.choices.all()
                ),
            )
            for option in version.options.all()
        ),
        colourways=tuple(
            SummaryRow(
                colourway.name,
                amount=", ".join(
                    f"{names[one.role_id]}: {one.material.name}"
                    for one in colourway.materials.all()
                )
                or "no change",
            )
            for colourway in version.colourways.all()
        ),
        general=words.general(),
        cautions=words.cautions(),
    )
