"""What the recipe editor sent back, put together into a document."""

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.utils.text import slugify

from catalogue.calc.recipes.areas import parse_area
from catalogue.calc.recipes.columns import HEAD, ROWS
from catalogue.calc.recipes.document import Document
from catalogue.calc.recipes.glue_rates import kept_rate
from catalogue.materials.models import Material
from catalogue.recipes.forms import CONDITIONS, ON_FOLDED_PIECES
from maker.calc.amounts import read_amount, unit_to_keep
from maker.calc.refusal import Refusal
from maker.calc.sums import plain_text
from maker.calc.units import format_length_in, length_as_typed, parse_length
from maker.web.fields import LengthField
from maker.web.readings import note_reading
from maker.workshop.models import Workshop

if TYPE_CHECKING:
    from catalogue.recipes.editor import RecipeEditor


def unit_in(materials: Mapping[str, Material], roles: list[Document], role: str) -> str:
    """Return the recipe unit of the material in a role; empty when it is not known."""
    named = next((str(row["material"]) for row in roles if row["name"] == role), "")
    return materials[named].unit if named in materials else ""


_BARE = {"in": "in", "mm": "m"}


def length_text(length_mm: Decimal, workshop: Workshop, typed_in: str = "") -> str:
    """Write a length of a fixing as it can be typed: in the unit it was typed in, if any."""
    if typed_in and (text := format_length_in(length_mm, typed_in, workshop.locale)):
        return text
    field = LengthField(allow_zero=True)
    field.use_unit(workshop.unit, workshop.locale)
    text = str(field.prepare_value(length_mm))
    return text if text.endswith("mm") else f"{text} {workshop.unit}"


class SentRecipe:
    """What was sent, put together into a document; the editor keeps which row came from where."""

    def __init__(self, editor: "RecipeEditor") -> None:
        self.editor = editor
        self.rows = {key: formset.in_order() for key, formset in editor.formsets.items()}
        self.material_names = {name.casefold(): name for name in editor.materials}
        self.role_names: dict[str, str] = {}
        self.choice_keys: dict[str, str] = {}

    def read(self) -> None:
        """Fill the editor's `document` and `places`; what cannot be read becomes an error."""
        document, places = self.editor.document, self.editor.places
        document |= _entries(self.editor.head, HEAD)
        document["roles"] = [
            {
                "name": form.cleaned_data["name"],
                "material": self.material(form.cleaned_data["material"]),
            }
            for form in self.rows["roles"]
        ]
        self._follow_new_names()
        document["options"], places["options"] = self._options()
        for kind, columns in ROWS.items():
            places[kind] = self.rows[kind]
            if kind != "roles":
                document[kind] = [self._row(kind, form, columns) for form in self.rows[kind]]
        document["colourways"], places["colourways"] = self._colourways()

    def _follow_new_names(self) -> None:
        """Let rows that still say an old name of a material's use mean the new one."""
        names = [form.cleaned_data["name"] for form in self.rows["roles"]]
        self.role_names = {name.casefold(): name for name in reversed(names)}
        for form in self.rows["roles"]:
            was = form.cleaned_data["was"].casefold()
            if was:
                self.role_names.setdefault(was, form.cleaned_data["name"])

    def material(self, text: str) -> str:
        """Return the material's own writing of a name, however it was capitalised."""
        return self.material_names.get(text.casefold(), text)

    def role(self, text: str) -> str:
        """Return the name of a material's use as it is now."""
        return self.role_names.get(text.casefold(), text)

    def _row(self, kind: str, form: Any, columns: Any) -> Document:
        row = _entries(form, columns)
        row["role"] = self.role(row["role"]) if row.get("role") else None
        if kind == "fixings":
            row["name"] = row["name"] or row["role"]
            row["amount"], row["typed_in"] = self._amount(form, row)
            if row["rate"] is not None:
                lengths = self.editor.workshop.unit
                row["rate"] = plain_text(kept_rate(Decimal(row["rate"]), row["measure"], lengths))
        when = {key: form.cleaned_data[key] for key in CONDITIONS if form.cleaned_data[key]}
        for key in ("only_with", "not_with"):
            if key in when:
                when[key] = self.choice_keys.get(when[key].casefold(), when[key])
        return {**row, "when": when}

    def _amount(self, form: Any, row: Document) -> tuple[str, str]:
        """Read how much of a fixing, in the unit of its material or as a line or an area.

        With it comes the unit a length was typed in, where it would be shown in another.
        """
        text, workshop = form.cleaned_data["amount"], self.editor.workshop
        unit, locale = workshop.unit, workshop.locale
        note_reading(text, locale)
        recipe_unit = unit_in(
            self.editor.materials, self.editor.document["roles"], row["role"] or ""
        )
        try:
            if row["measure"] in ("bead", "cut"):
                length = parse_length(text, unit, locale)
                typed = length_as_typed(text, locale)[1] or unit
                usual = length_text(length, workshop)
                is_usual = length_text(length, workshop, typed) == usual
                return plain_text(length), "" if is_usual else typed
            if row["measure"] == "area":
                return plain_text(parse_area(text, unit, locale)), ""
            if row["measure"] in ON_FOLDED_PIECES:
                return plain_text(read_amount(text, locale).in_unit("piece")), ""
            # a bare length of ribbon is in inches where lengths are
            typed_amount = read_amount(text, locale)
            amount = typed_amount.in_unit(recipe_unit or "piece", _BARE[unit])
            typed = typed_amount.unit or _BARE[unit]
            return plain_text(amount), unit_to_keep(amount, recipe_unit, typed, unit)
        except Refusal as refusal:
            if recipe_unit or row["measure"] != "amount":
                form.add_error("amount", refusal.message)
            return "0", ""

    def _options(self) -> tuple[list[Document], list[list[Any]]]:
        """Gather choices under their options; keys stay, new ones are made from the names."""
        groups: dict[str, tuple[str, list[Any]]] = {}
        name = ""
        for form in self.rows["choices"]:
            name = form.cleaned_data["option"] or name
            if not name:
                form.add_error("option", "Enter the option this choice belongs to.")
            groups.setdefault(name.casefold(), (name, []))[1].append(form)
        options, places = [], []
        keys: set[str] = set()
        # an option that kept its name keeps its key before one that was split off it
        kept = {
            title.casefold(): form.cleaned_data["option_key"]
            for title, group in groups.values()
            for form in group
            if form.cleaned_data["was"].casefold().startswith(f"{title.casefold()}: ")
        }
        for title, group in groups.values():
            other = set(kept.values()) - {kept.get(title.casefold())}
            wanted = [kept.get(title.casefold(), "")] + [
                form.cleaned_data["option_key"] for form in group
            ]
            key = _free_key(title, [one for one in wanted if one not in other], keys | other)
            keys.add(key)
            options.append({"key": key, "name": title, "choices": self._choices(key, title, group)})
            places.append(group)
        return options, places

    def _choices(self, option_key: str, title: str, group: list[Any]) -> list[Document]:
        choices: list[Document] = []
        keys: set[str] = set()
        for form in group:
            sent = dict(form.cleaned_data)
            stays = sent["key"] if sent["option_key"] == option_key else ""
            key = _free_key(sent["name"], [stays], keys)
            keys.add(key)
            for label in (f"{title}: {sent['name']}", sent["was"]):
                if label:
                    self.choice_keys.setdefault(label.casefold(), f"{option_key}={key}")
            choices.append(
                {
                    "key": key,
                    "name": sent["name"],
                    "is_default": sent["is_default"],
                    "caution": sent["caution"],
                }
            )
        return choices

    def _colourways(self) -> tuple[list[Document], list[dict[str, Any]]]:
        groups: dict[str, Document] = {}
        places: dict[str, dict[str, Any]] = {}
        name = ""
        for form in self.rows["swaps"]:
            # an error takes its entry out of cleaned_data
            sent = dict(form.cleaned_data)
            name = sent["name"] or name
            if not name:
                form.add_error("name", "Enter the colourway this belongs to.")
            if bool(sent["role"]) != bool(sent["material"]):
                missing = "material" if sent["role"] else "role"
                form.add_error(missing, "Choose both a role and the material to use instead.")
            role = self.role(sent["role"])
            colourway = groups.setdefault(name.casefold(), {"name": name, "materials": {}})
            rows = places.setdefault(name.casefold(), {})
            if role in colourway["materials"]:
                form.add_error("role", f"“{role}” is there twice in this colourway.")
            if role:
                colourway["materials"][role] = self.material(sent["material"])
            rows[role] = form
        return list(groups.values()), list(places.values())


def _free_key(name: str, wanted: list[str], taken: set[str]) -> str:
    """Return the key that is there already, or one made of the name that nothing else has."""
    for key in wanted:
        if key and key not in taken:
            return key
    start = slugify(name)[:36] or "choice"
    key, number = start, 2
    while key in taken:
        key, number = f"{start}-{number}", number + 1
    return key


def _entries(form: Any, columns: Any) -> Document:
    """Return a form's entries as a document has them; an empty one is what is left out."""
    row: Document = {}
    for key, (_, when_left_out) in columns.items():
        value = form.cleaned_data.get(key)
        if isinstance(value, Decimal):
            row[key] = plain_text(value)
        elif value in (None, ""):
            # a side of a form follows from its sizes
            row[key] = when_left_out if isinstance(when_left_out, str | int | None) else ""
        else:
            row[key] = value
    return row
