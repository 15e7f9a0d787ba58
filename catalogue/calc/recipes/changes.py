"""The differences of two recipes in words, line by line, as a maker would say them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.calc.flat_patterns import FORMS
from catalogue.calc.recipes.glue_rates import told_rate
from maker.calc.amounts import format_amount
from maker.calc.money import format_money
from maker.calc.units import (
    format_length,
    format_length_in,
    format_number,
    format_percent,
    inch_fraction,
)

Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class ChangeWords:
    """How the workshop writes lengths and money."""

    unit: str = "mm"
    currency: str = "EUR"
    locale: str = "en_GB"
    # materials that are counted in metres, to write how much of them with a unit
    by_length: frozenset[str] = frozenset()

    def length(self, value: Decimal) -> str:
        """Write a length: 3 mm is 3 mm in a workshop of inches too, not 0.1181 in."""
        is_whole = self.unit == "mm" or inch_fraction(value)[2]
        return format_length(value, self.unit if is_whole else "mm", self.locale)

    def size(self, width: Decimal, height: Decimal) -> str:
        """Write two sides, the unit once: `12 × 12 in`."""
        first, second = self.length(width), self.length(height)
        number, _, unit = first.rpartition(" ")
        return f"{number if second.endswith(f' {unit}') else first} × {second}"


# what a list holds, in the words of a sentence
_KINDS = {
    "roles": "material",
    "pieces": "piece",
    "fixings": "fixing",
    "steps": "step",
    "wears": "wear",
    "packings": "packing",
}
_WORDS = {
    "basis": {
        "made": "per item made",
        "good": "per item sold",
        "job": "per batch",
        "batch": "per set",
        "sheet": "per sheet cut",
        "pass": "per die pass",
        "carton": "per carton",
        "name": "per name",
        "rack": "per rack load",
        "night": "overnight per batch",
    },
    "shape": {"rectangle": "cut to size", "die": "die-cut", "form": "folded from a shape"},
    "turning": {"material": "turned as the material allows", "free": "may be turned",
                "fixed": "must stay upright"},
    "measure": {"amount": "by amount", "bead": "glue line", "area": "glue spread",
                "form_bead": "glue line on every tab",
                "form_area": "glue spread on the folded pieces", "cut": "cut to length"},
    "learning": {"none": "no speed-up", "cumulative": "average speed-up",
                 "per_unit": "item-by-item speed-up"},
    "caution": {"": "none", "blade": "blade", "hot_glue": "hot glue",
                "small_parts": "small parts", "magnet": "magnet", "cord": "cord or loop",
                "food": "food contact", "load": "load on a handle"},
}  # fmt: skip
# the entries whose name is not said because the unit says it
_BARE = ("minutes", "material", "basis", "shape", "turning", "measure", "learning")
_NAMES = {
    "name": "name of the version",
    "finished_size": "finished size",
    "reject_share": "spares",
    "rejects_from": "spares from",
    "learning_rate": "time at double the quantity",
    "learning_floor": "fastest possible",
    "learning_reference": "timed in batches of",
    "learning_made": "made before",
    "die_margin_mm": "die border",
    "minutes_low": "at best",
    "minutes_high": "at worst",
    "window_minutes": "drying time per day",
    "waste_share": "waste",
    "cost_each": "cost",
    "role": "material",
    "learns": "faster with practice",
    "per": "of",
    "times": "times",
    "only_with": "only with",
    "not_with": "not with",
    "from_quantity": "from a quantity of",
    "to_quantity": "up to a quantity of",
    "is_default": "the default",
}


def _written(key: str, value: Any, writing: ChangeWords) -> str:
    if value is None:
        return "none"
    if key in _WORDS:
        return _WORDS[key].get(value, str(value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if key.endswith("_mm"):
        return writing.length(Decimal(value))
    if key.endswith("_share") or key in ("learning_rate", "learning_floor"):
        return format_percent(Decimal(value), writing.locale, 6)
    if key in ("price", "cost_each"):
        return format_money(Decimal(value), writing.currency, writing.locale, extra_digits=2)
    if key.startswith("minutes") or key == "window_minutes":
        return format_number(Decimal(value), writing.locale) + " min"
    if key in ("amount", "rate", "life"):
        return format_number(Decimal(value), writing.locale)
    return str(value) or "none"


def _entries(old: Document, new: Document, writing: ChangeWords) -> Iterator[str]:
    """Say each entry of one row that differs: `10 min -> 12 min`, `width 4 in -> 5 in`."""
    apart = {"when", "choices", "materials", "key", "typed_in", "is_length"}
    if old.get("form") or new.get("form"):
        apart |= {"form", "form_inputs", "width_mm", "height_mm"}
    for key in new:
        before, after = old.get(key), new[key]
        if key in apart:
            continue
        if key == "amount" and "measure" in new:
            yield from _amount_change(old, new, writing)
            continue
        if before == after:
            continue
        if key == "rate" and "measure" in new:
            before, after = _told_rates(old, new, writing)
        change = f"{_written(key, before, writing)} → {_written(key, after, writing)}"
        if key in ("minutes",):
            change = change.replace(" min → ", " → ")
        name = _NAMES.get(key, key.removesuffix("_mm"))
        yield change if key in _BARE else f"{name} {change}"
    if "form" in apart:
        yield from _form_entries(old, new, writing)
    before, after = old.get("when", {}), new.get("when", {})
    for key in ("from_quantity", "to_quantity", "only_with", "not_with"):
        if before.get(key) != after.get(key):
            yield _condition_change(_NAMES[key], before.get(key), after.get(key))


def _told_rates(old: Document, new: Document, writing: ChangeWords) -> list[str | None]:
    """Return two rates of glue by the yard where inches are measured."""
    return [
        row.get("rate")
        and str(told_rate(Decimal(row["rate"]), row.get("measure", ""), writing.unit))
        for row in (old, new)
    ]


def _amount_change(old: Document, new: Document, writing: ChangeWords) -> Iterator[str]:
    """Say how the amount of a fixing differs: `amount 18 in → 2 ft`."""
    typed = [row.get("typed_in", "") for row in (old, new)]
    if (old.get("amount"), typed[0]) == (new["amount"], typed[1]):
        return
    is_length = any(typed) or (old.get("is_length") and new.get("is_length"))
    words = []
    for row, typed_in in zip((old, new), typed, strict=True):
        amount = Decimal(row["amount"])
        if row["measure"] in ("bead", "cut"):
            as_typed = typed_in and format_length_in(amount, typed_in, writing.locale)
            words.append(as_typed or writing.length(amount))
        elif is_length and row["measure"] == "amount":
            words.append(format_amount(amount, "m", writing.locale, writing.unit, typed_in))
        else:
            words.append(_written("amount", row["amount"], writing))
    yield f"amount {words[0]} → {words[1]}"


def _form_entries(old: Document, new: Document, writing: ChangeWords) -> Iterator[str]:
    """Say how a folded piece differs: `W 7 1/2 → 8 in`, and then its blank."""
    before, after = old.get("form", ""), new.get("form", "")
    if before != after:
        yield f"shape {form_title(before) or 'none'} → {form_title(after) or 'none'}"
    else:
        sizes = old.get("form_inputs", {}), new.get("form_inputs", {})
        for name in sorted({*sizes[0], *sizes[1]}):
            texts = [one.get(name) for one in sizes]
            if texts[0] != texts[1]:
                said = [_size_text(after, name, text, writing) for text in texts]
                yield f"{name} {_once(*said)}"
    blanks = [
        writing.size(Decimal(row["width_mm"]), Decimal(row["height_mm"])) for row in (old, new)
    ]
    if blanks[0] != blanks[1]:
        yield f"blank {_once(*blanks)}"


def _size_text(form: str, name: str, text: str | None, writing: ChangeWords) -> str:
    """Write a size as it is typed: a length with its unit, a choice by its word."""
    inputs = FORMS[form].inputs if form in FORMS else ()
    asked = next((one for one in inputs if one.name == name), None)
    if asked and asked.choices:
        place = int(text or 0)
        return asked.choices[place] if place < len(asked.choices) else str(text)
    if text is None:
        return "left out"
    if asked and asked.is_yes_no:
        return "yes" if text == "1" else "no"
    return text if asked and asked.is_count else writing.length(Decimal(text))


def _once(before: str, after: str) -> str:
    """Say the unit of two lengths once: `7 1/2 → 8 in`."""
    number, _, unit = before.rpartition(" ")
    return f"{number if number and after.endswith(f' {unit}') else before} → {after}"


def form_title(form: str) -> str:
    """Return what a form of the library is called; its key when it is not there."""
    return FORMS[form].title if form in FORMS else form


def _condition_change(name: str, before: Any, after: Any) -> str:
    if before is None:
        return f"now {name} {after}"
    if after is None:
        return f"no longer {name} {before}"
    return f"{name} {before} → {after}"


def _by_name(rows: list[Any]) -> dict[tuple[str, int], Any]:
    """Find rows by their name; the second of the same name is another one."""
    seen: dict[str, int] = {}
    found = {}
    for row in rows:
        seen[row["name"]] = seen.get(row["name"], 0) + 1
        found[(row["name"], seen[row["name"]])] = row
    return found


def _rows(old: list[Any], new: list[Any], what: str, writing: ChangeWords) -> Iterator[str]:
    before, after = _by_name(old), _by_name(new)
    for place, row in after.items():
        if place not in before:
            yield f"{what} added: {row['name']}"
        else:
            entries = list(_entries(before[place], row, writing))
            if entries:
                yield f"{row['name']}: {', '.join(entries)}"
    for place, row in before.items():
        if place not in after:
            yield f"{what} removed: {row['name']}"
    both = [place for place in after if place in before]
    if both != [place for place in before if place in after]:
        yield f"{what} order changed"


def changes_in_words(old: Document, new: Document, writing: ChangeWords) -> list[str]:
    """Say how the second recipe differs from the first, one line for each row that does."""
    old, new = _with_labels(old, writing), _with_labels(new, writing)
    words = list(_entries(_head(old), _head(new), writing))
    for kind, what in _KINDS.items():
        words += _rows(old[kind], new[kind], what, writing)
    words += _rows(old["options"], new["options"], "option", writing)
    before = {option["key"]: option for option in old["options"]}
    for option in new["options"]:
        if option["key"] in before:
            words += [
                f"{option['name']}: {line}"
                for line in _rows(
                    before[option["key"]]["choices"], option["choices"], "choice", writing
                )
            ]
    words += _rows(old["colourways"], new["colourways"], "colourway", writing)
    ways = {way["name"]: way["materials"] for way in old["colourways"]}
    for way in new["colourways"]:
        earlier = ways.get(way["name"], way["materials"])
        words += [
            f"{way['name']}, {role}: {earlier.get(role, 'as usual')}"
            f" → {way['materials'].get(role, 'as usual')}"
            for role in sorted({*earlier, *way["materials"]})
            if earlier.get(role) != way["materials"].get(role)
        ]
    return words


def _head(document: Document) -> dict[str, Any]:
    return {key: value for key, value in document.items() if not isinstance(value, list)}


def _with_labels(document: Document, writing: ChangeWords) -> dict[str, Any]:
    """Return the document with conditions that say `Closure: dot` instead of `closure=dot`.

    Fixings say whether they are counted in metres.
    """
    labels = {
        f"{option['key']}={choice['key']}": f"{option['name']}: {choice['name']}"
        for option in document["options"]
        for choice in option["choices"]
    }
    labelled = dict(document)
    for kind in _KINDS:
        labelled[kind] = [
            {**row, "when": {key: labels.get(str(said), said) for key, said in row["when"].items()}}
            if row.get("when")
            else row
            for row in document[kind]
        ]
    by_length = {row["name"] for row in document["roles"] if row["material"] in writing.by_length}
    labelled["fixings"] = [
        {**row, "is_length": row["role"] in by_length} for row in labelled["fixings"]
    ]
    return labelled
