"""A recipe as plain JSON: its exact shape, read strictly, every mistake named by its path.

Numbers that are money, lengths, amounts, minutes or shares are strings (exact), counts are
integers. The shape, with every key (those marked ? may be left out and then have the value
shown):

    {"name"? "", "finished_size"? "",
     "reject_share"? "0", "rejects_from"? 1,
     "learning"? "none" | "cumulative" | "per_unit",
     "learning_rate"? "1", "learning_floor"? "0", "learning_reference"? 1,
     "learning_made"? 0,
     "roles": [{"name", "material": name of a material}],
     "options": [{"key", "name", "choices": [{"key", "name", "is_default"? false, "caution"? ""}]}],
     "colourways": [{"name", "materials": {role name: name of a material}}],
     "pieces": [{"name", "role", "shape"? "rectangle" | "die" | "form", "width_mm", "height_mm",
                 "form"? "", "form_inputs"? {}, "die_margin_mm"? "0", "count"? 1, "layers"? 1,
                 "turning"? "material" | "free" | "fixed", "when"? {}}],
     "fixings": [{"name", "role", "basis"? "made" | "good" | "job" | "carton" | "name",
                  "measure"? "amount" | "bead" | "area" | "form_bead" | "form_area" | "cut",
                  "amount", "typed_in"? "" | "mm" | "cm" | "m" | "in" | "ft" | "yd" | "ft in",
                  "rate"? null,
                  "waste_share"? null, "when"? {}}],
     "steps": [{"name", "basis"? "made" | "job" | "batch" | "sheet" | "pass" | "good" | "carton"
                | "name" | "rack" | "night", "role"? null, "minutes"? "0", "minutes_low"? null,
                "minutes_high"? null, "per"? 1, "times"? 1, "window_minutes"? null,
                "learns"? false, "caution"? "" | "blade" | "hot_glue" | "small_parts" | "magnet"
                | "cord" | "food" | "load", "when"? {}}],
     "wears": [{"name", "basis"? "sheet" | "pass" | "made", "role"? null, "price", "life"? "1",
                "when"? {}}],
     "packings": [{"name", "kind"? "sleeve" | "mailer" | "carton", "holds"? 1, "role"? null,
                   "cost_each"? null, "when"? {}}]}

A list may be left out when it is empty. "when" holds any of "from_quantity", "to_quantity"
(integers, both ends included), "only_with" and "not_with" ("option key=choice key"). The order
of a list is the order of the recipe.

"typed_in" is the unit a length was typed in, in which it is shown again; without one, the
workshop's usual unit.

A piece of the shape "form" names a form of the library and its sizes in mm ({"W": "190.5"}, and
"ruler" for the step panels are rounded to). Its width and height follow from them: a length
that stands there, or nothing, becomes the blank of the form.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.calc.flat_patterns import form_named
from catalogue.calc.flat_patterns.pattern import BadSize, UnknownForm
from catalogue.calc.recipes.columns import (
    CHOICE,
    HEAD,
    OPTION,
    ROWS,
    WHEN,
    Columns,
    line,
)
from catalogue.calc.recipes.form_blank import RULER, form_blank, refusal_words, with_defaults
from catalogue.calc.recipes.glue_rates import told_rate
from catalogue.calc.recipes.recipe import BEAD_ML_PER_M
from maker.calc.refusal import Refusal
from maker.calc.strict_json import REQUIRED, Fields, WrongJson, anything, join, list_of
from maker.calc.sums import plain_text

Document = dict[str, Any]

MOST_ROWS = 100  # of one list; more is a mistake in a file, not a recipe
LONGEST_MM = 100_000  # as long as any typed length may be
SIDES = ("width_mm", "height_mm")
_TO_COME = "1"  # stands for a side that is not said until the form has given it
LISTS = (
    "roles", "options", "colourways", "pieces", "fixings", "steps", "wears", "packings",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DocumentProblem:
    """One mistake: where it is (`pieces[2].width_mm`) and how to mend it."""

    path: str
    message: str


class WrongRecipe(Refusal):
    """A recipe says something that cannot be; `problems` has every mistake found."""

    def __init__(self, problems: list[DocumentProblem]) -> None:
        first = problems[0]
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        super().__init__(f"{first.path}: {first.message}{more}", where=first.path)
        self.problems = tuple(problems)


class _Reading:
    """Goes through one document and gathers what is wrong with it."""

    def __init__(self, unit: str = "mm") -> None:
        self.problems: list[DocumentProblem] = []
        self.unit = unit

    def wrong(self, path: str, message: str) -> None:
        self.problems.append(DocumentProblem(path, message))

    def columns(self, value: Any, columns: Columns, path: str, also: tuple[str, ...] = ()) -> Any:
        """Read one object by its columns; `also` are keys read elsewhere."""
        try:
            fields = Fields(value, path)
        except WrongJson as wrong:
            self.wrong(path or "recipe", wrong.message)
            return {}
        read = {}
        for key, (reader, default) in columns.items():
            try:
                kept = fields.take(key, reader, default)
            except WrongJson as wrong:
                self.wrong(wrong.where, wrong.message)
            else:
                # each row its own
                read[key] = dict(kept) if isinstance(kept, Mapping) else kept
        for key in also:
            fields.has(key)
        for unknown in fields.unknown():
            self.wrong(unknown.where, unknown.message)
        return read

    def rows(self, document: Document, key: str, path: str = "") -> Iterator[tuple[str, Any]]:
        """Give each object of a list with its path."""
        path = join(path, key)
        try:
            rows = list_of(anything, MOST_ROWS)(document.get(key, []), path)
        except WrongJson as wrong:
            self.wrong(path, wrong.message)
        else:
            for number, row in enumerate(rows):
                yield f"{path}[{number}]", row

    def once(self, paths: list[tuple[str, Any]], what: str) -> None:
        """Say which names or keys are there twice, however they are capitalised."""
        seen = set()
        for path, value in paths:
            if isinstance(value, str):
                if value.casefold() in seen:
                    self.wrong(path, f"“{value}” is there twice. Name each {what} once.")
                seen.add(value.casefold())


def read_document(value: Any, unit: str = "mm") -> Document:
    """Check a document and return it with every key and in the one way numbers are written.

    `unit` is what reasons are said in. Errors: WrongRecipe with all problems. Whether a material
    exists is for the workshop to say.
    """
    reading = _Reading(unit)
    read: Document = reading.columns(value, HEAD, "", also=LISTS)
    if not isinstance(value, dict):
        raise WrongRecipe(reading.problems)
    for kind, columns in ROWS.items():
        also = () if kind == "roles" else ("when",)
        read[kind] = []
        for path, row in reading.rows(value, kind):
            is_folded = kind == "pieces" and isinstance(row, dict) and row.get("shape") == "form"
            if is_folded:
                row = {**row, **{side: row.get(side) or _TO_COME for side in SIDES}}
            kept = reading.columns(row, columns, path, also)
            if is_folded:
                _read_blank(reading, kept, path)
            if also and isinstance(row, dict):
                kept["when"] = _read_when(reading, row.get("when", {}), f"{path}.when")
            read[kind].append(kept)
    read["options"] = _read_options(reading, value)
    read["colourways"] = _read_colourways(reading, value)
    _check_together(reading, read)
    if reading.problems:
        raise WrongRecipe(reading.problems)
    return read


def _read_blank(reading: _Reading, row: Document, path: str) -> None:
    """Write the blank of a form into its row, or say which of its sizes is in the way."""
    form, sizes = row.get("form"), row.get("form_inputs")
    if not form or sizes is None:
        if form == "":
            reading.wrong(f"{path}.form", "Choose the shape it is folded from.")
        return
    try:
        known = {one.name for one in form_named(form).inputs} | {RULER}
        unknown = [name for name in sizes if name not in known]
        for name in unknown:
            reading.wrong(f"{path}.form_inputs.{name}", "This shape has no such size.")
        if unknown:
            return
        sizes = with_defaults(form, sizes)
        blank = form_blank(form, sizes)
    except UnknownForm as refused:
        reading.wrong(f"{path}.form", refused.message)
    except BadSize as refused:
        where, message = refusal_words(form, sizes, reading.unit, refused)
        reading.wrong(f"{path}.form_inputs{f'.{where}' if where else ''}", message)
    else:
        row["form_inputs"] = sizes
        row["width_mm"] = plain_text(blank.width_mm)
        row["height_mm"] = plain_text(blank.height_mm)


def _read_when(reading: _Reading, value: Any, path: str) -> Document:
    read = reading.columns(value, WHEN, path)
    first, last = read.get("from_quantity"), read.get("to_quantity")
    if first and last and first > last:
        reading.wrong(f"{path}.to_quantity", f"Enter {first} or more.")
    if read.get("only_with") and read.get("only_with") == read.get("not_with"):
        reading.wrong(f"{path}.not_with", "The same choice can't be both only when and not when.")
    return {key: kept for key, kept in read.items() if kept is not None}


def _read_options(reading: _Reading, document: Document) -> list[Document]:
    options, keys = [], []
    for path, row in reading.rows(document, "options"):
        option = reading.columns(row, OPTION, path, also=("choices",))
        option["choices"] = []
        places = []
        for place, choice in reading.rows(row if isinstance(row, dict) else {}, "choices", path):
            option["choices"].append(reading.columns(choice, CHOICE, place))
            places.append((place, option["choices"][-1]))
        if not places:
            reading.wrong(f"{path}.choices", "Add at least one choice.")
        reading.once([(f"{place}.key", kept.get("key")) for place, kept in places], "key")
        reading.once([(f"{place}.name", kept.get("name")) for place, kept in places], "choice")
        defaults = [place for place, kept in places if kept.get("is_default")]
        for place in defaults[1:]:
            reading.wrong(f"{place}.is_default", "Only one choice can be the default.")
        options.append(option)
        keys.append((path, option))
    reading.once([(f"{path}.key", option.get("key")) for path, option in keys], "key")
    reading.once([(f"{path}.name", option.get("name")) for path, option in keys], "option")
    return options


def _read_colourways(reading: _Reading, document: Document) -> list[Document]:
    colourways = []
    columns: Columns = {"name": (line(80), REQUIRED)}
    for path, row in reading.rows(document, "colourways"):
        colourway = reading.columns(row, columns, path, also=("materials",))
        materials = row.get("materials", {}) if isinstance(row, dict) else {}
        if not isinstance(materials, dict) or len(materials) > MOST_ROWS:
            reading.wrong(f"{path}.materials", "Choose a material for each role.")
            materials = {}
        each: Columns = {str(role): (line(120), REQUIRED) for role in materials}
        colourway["materials"] = reading.columns(materials, each, f"{path}.materials")
        colourways.append(colourway)
    reading.once(
        [(f"colourways[{at}].name", one.get("name")) for at, one in enumerate(colourways)],
        "colourway",
    )
    return colourways


def _check_together(reading: _Reading, read: Document) -> None:
    """Check what depends on several entries: roles and choices that are named, rates, order."""
    roles = {row.get("name") for row in read["roles"]}
    choices = {
        f"{option.get('key')}={choice.get('key')}"
        for option in read["options"]
        for choice in option["choices"]
    }
    reading.once(
        [(f"roles[{at}].name", row.get("name")) for at, row in enumerate(read["roles"])],
        "material's use",
    )
    for kind in ROWS:
        for number, row in enumerate(read[kind]):
            path = f"{kind}[{number}]"
            if row.get("role") and row["role"] not in roles:
                reading.wrong(f"{path}.role", f"No material has the role “{row['role']}”.")
            for key in ("only_with", "not_with"):
                named = row.get("when", {}).get(key)
                if named and named not in choices:
                    reading.wrong(f"{path}.when.{key}", f"No option has the choice “{named}”.")
            _check_row(reading, kind, row, path)
    for number, colourway in enumerate(read["colourways"]):
        for role in colourway["materials"]:
            if role not in roles:
                reading.wrong(
                    f"colourways[{number}].materials.{role}"[:200],
                    f"No material has the role “{role}”.",
                )


def _check_row(reading: _Reading, kind: str, row: Document, path: str) -> None:
    if kind == "fixings":
        _check_fixing(reading, row, path)
    if kind == "pieces" and row.get("shape") in ("rectangle", "die"):
        for key in ("form", "form_inputs"):
            if row.get(key):
                reading.wrong(f"{path}.{key}", "Only pieces folded from a shape have this.")
    if kind == "packings" and not row.get("role") and row.get("cost_each") is None:
        reading.wrong(f"{path}.cost_each", "Enter the unit cost, or choose a material.")
    if kind == "steps":
        if row.get("role") and row.get("basis") not in ("sheet", "pass"):
            reading.wrong(f"{path}.role", "Only work per sheet or die pass has a material.")
        low, likely, high = (row.get(key) for key in ("minutes_low", "minutes", "minutes_high"))
        if low is not None and likely is not None and Decimal(low) > Decimal(likely):
            reading.wrong(f"{path}.minutes_low", f"Enter at most {likely} min.")
        if high is not None and likely is not None and Decimal(high) < Decimal(likely):
            reading.wrong(f"{path}.minutes_high", f"Enter at least {likely} min.")


def _check_fixing(reading: _Reading, row: Document, path: str) -> None:
    """Check what the way of measuring asks for."""
    measure, rate = row.get("measure"), row.get("rate")
    bead = (
        f"Enter the glue per length: {BEAD_ML_PER_M} ml per metre, or "
        f"{told_rate(BEAD_ML_PER_M, 'bead', 'in'):.2f} ml per yard, if it is 2 mm wide."
    )
    spread = "Enter the glue per square metre or square yard."
    missing = {
        "bead": bead,
        "area": spread,
        "form_bead": bead,
        "form_area": spread,
        "cut": "Enter how many of this length you cut.",
    }
    if measure in missing and rate is None:
        reading.wrong(f"{path}.rate", missing[measure])
    if measure in ("bead", "cut") and Decimal(row.get("amount", 0)) > LONGEST_MM:
        what = "A glue line" if measure == "bead" else "A cut length"
        reading.wrong(f"{path}.amount", f"{what} is over 100 m. Check the unit.")
    if measure == "cut" and rate is not None and not _is_count(Decimal(rate)):
        reading.wrong(f"{path}.rate", "Enter a whole number, 1 to 10,000.")
    if measure in ("form_bead", "form_area") and row.get("basis", "made") != "made":
        reading.wrong(f"{path}.basis", "Glue on tabs is counted per item made.")


def _is_count(number: Decimal) -> bool:
    return number == number.to_integral_value() and 1 <= number <= 10_000
