"""One row of the recipe editor: what it shows, what it tucks away, what it says when closed."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

from django import forms
from django.utils.safestring import SafeString

from maker.web.fields import OneLineField, WorkshopForm


@dataclass(frozen=True, slots=True)
class Names:
    """What rows may refer to: uses of materials, and choices of options.

    `materials` is the material of each role; `swatches`, by material, are there once a page shows
    its rows.
    """

    roles: list[tuple[str, str]] = field(default_factory=list)
    choices: list[tuple[str, str]] = field(default_factory=list)
    materials: dict[str, str] = field(default_factory=dict)
    swatches: dict[str, SafeString] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LinePart:
    """A part of a closed row: what it says, and the pattern and unit a page renews it by.

    What names a material bears its swatch; `of` is then the entry it is named in.
    """

    key: str
    pattern: str
    unit: str
    text: str
    of: str = ""
    swatch: SafeString | str = ""


# an entry of a line, and perhaps what another entry has to be for it to count
_FIELD = re.compile(r"\{(\w+)(?:\?(\w+)=(\w+))?\}")


# parts of a line that name a material, directly or by its role
SWATCHED = ("{material}", "{role}")


class NamedSelect(forms.Select):
    """A select that shows a name it does not know too, so that nothing sent is lost."""

    def optgroups(self, name: str, value: list[str], attrs: Any = None) -> Any:
        groups = super().optgroups(name, value, attrs)
        if value and value[0] and value[0] not in {key for key, _ in self.choices}:
            option = self.create_option(name, value[0], value[0], True, len(groups))
            groups.append((None, [option], len(groups)))
        return groups


class NameField(OneLineField):
    """A use of a material, or a choice, by name; whether it exists is seen in the whole recipe."""

    widget = NamedSelect

    def __init__(self, *, of: str, empty_label: str = "", **options: Any) -> None:
        super().__init__(max_length=200, **options)
        self.of, self.empty_label = of, empty_label

    def offer(self, names: Names) -> None:
        """Take the names of this page; they are shared by all its rows."""
        self.widget.choices = [("", self.empty_label), *getattr(names, self.of)]


class OtherMaterialField(OneLineField):
    """A material the recipe doesn't use yet, by its name; sent, it gets a role of that name."""

    def __init__(self, **options: Any) -> None:
        widget = forms.TextInput(
            attrs={"list": "materials", "autocomplete": "off", "data-no-column": ""}
        )
        super().__init__(max_length=120, required=False, widget=widget, **options)


class RecipeRowForm(WorkshopForm):
    """One row: what is always shown, and what is tucked away until it is wanted."""

    tucked: ClassVar[tuple[str, ...]] = ()
    # in a line of its own below the others
    apart: ClassVar[tuple[str, ...]] = ()
    # what the closed row says: a name and the entries it is made of. A part with an empty entry is
    # left out; `{per?basis=batch}` counts only where the basis is a batch.
    line: ClassVar[tuple[tuple[str, str], ...]] = (("name", "{name}"),)

    def __init__(self, *args: Any, names: Names, is_checked: bool = True, **options: Any) -> None:
        super().__init__(*args, **options)
        self.is_checked, self.names = is_checked, names
        for one in self.fields.values():
            if isinstance(one, NameField):
                one.offer(names)

    @property
    def errors(self) -> Any:
        """Say what is wrong; nothing while the page only shows more entries of what is typed."""
        found = super().errors
        return found if self.is_checked else {}

    @cached_property
    def changed_data(self) -> list[str]:
        """Name what was typed: a place, or what a spare row begins with, is nothing."""
        return [
            bound.name
            for bound in self.visible_fields()
            if bound.name not in ("ORDER", "DELETE")
            and not isinstance(bound.field, forms.ChoiceField)
            and bound.data
            and bound.field.has_changed(bound.field.initial, bound.data)
        ]

    @classmethod
    def begin(cls, data: Any, prefix: str) -> None:
        """Write what an empty row begins with into posted data that lacks the row."""
        for name, one in cls.base_fields.items():
            if one.initial not in (None, "", False):
                data.setdefault(f"{prefix}-{name}", str(one.initial))

    def shown_fields(self) -> list[Any]:
        """Fields that every row shows."""
        shown = self.base_fields.keys() - {*self.tucked, *self.apart}
        return [bound for bound in self.visible_fields() if bound.name in shown]

    def tucked_fields(self) -> list[Any]:
        """Fields that few rows need."""
        return [self[name] for name in self.tucked]

    def line_parts(self) -> list[LinePart]:
        """Say the row in one line: its name, then what counts most; nothing of a spare row."""
        is_spare = not (self.has_changed() if self.is_bound else self.initial)
        parts = []
        for key, pattern in self.line:
            names = [name for name, *_ in _FIELD.findall(pattern)]
            unit = next((one for name in names if (one := self._unit_of(name))), "")
            text = "" if is_spare else self._line_text(key, pattern, unit)
            of = pattern.strip("{}") if pattern in SWATCHED else ""
            swatch = self._swatch(of) if of and text else ""
            parts.append(LinePart(key, pattern, unit, text, of, swatch))
        return parts

    def _swatch(self, of: str) -> SafeString | str:
        named = str(self[of].value() or "").strip()
        material = self.names.materials.get(named, "") if of == "role" else named
        return self.names.swatches.get(material, "")

    def _line_text(self, key: str, pattern: str, unit: str) -> str:
        texts = {}
        for name, decides, wanted in _FIELD.findall(pattern):
            if decides and str(self[decides].value() or "") != wanted:
                texts[name] = ""
            elif not (text := self._told(name)):
                return ""
            else:
                texts[name] = text
        return with_unit(_FIELD.sub(lambda one: texts[one[1]], pattern).strip(), unit)

    def _unit_of(self, name: str) -> str:
        return str(getattr(self.fields[name], "unit", "") or "")

    def _told(self, name: str) -> str:
        """Return an entry as the page shows it; a choice by its words."""
        bound = self[name]
        value = bound.value()
        if isinstance(bound.field, forms.BooleanField):
            return str(bound.label) if value else ""
        text = "" if value is None else str(value).strip()
        choices = getattr(bound.field.widget, "choices", None)
        return str(dict(choices).get(text, text)) if choices and text else text

    def is_untucked(self) -> bool:
        """Whether something tucked away has to be seen at once."""
        return any(self[name].errors for name in self.tucked)

    def tucked_words(self) -> str:
        """Say in short what is tucked away, so that it need not be opened to be known."""
        return self._short_words(self.tucked)

    def line_words(self) -> str:
        """Say of what is tucked away what a closed row has to tell: cautions, when it holds."""
        return self._short_words([name for name in self.tucked if name not in ONLY_INSIDE])

    def _short_words(self, names: Iterable[str]) -> str:
        words = []
        for name in names:
            bound = self[name]
            value = bound.value()
            if name not in _SHORT or value in (None, "", False, "0", bound.field.initial):
                continue
            if isinstance(bound.field, forms.ChoiceField):
                value = dict(bound.field.choices).get(value, value)  # type: ignore[arg-type]
            # "glue line: length × ml per metre" is a glue line for short
            words.append(_SHORT[name].format(str(value).split(": ")[-1 if "with" in name else 0]))
        return ", ".join(words)


def with_unit(text: str, unit: str) -> str:
    """Put the unit behind a text that does not say one."""
    return f"{text} {unit}" if unit and text and not text[-1].isalpha() else text


# what is tucked away, in the fewest words; what is not here needs none
_SHORT = {
    "layers": "{} layers",
    "turning": "{}",
    "measure": "{}",
    "waste_share": "{}% waste",
    "learns": "practice",
    "caution": "{}",
    "minutes_low": "{} min at best",
    "minutes_high": "{} min at worst",
    "times": "{} times",
    "from_quantity": "from {}",
    "to_quantity": "up to {}",
    "only_with": "with {}",
    "not_with": "not with {}",
}
# what is of no use until the row is open
ONLY_INSIDE = ("learns", "minutes_low", "minutes_high", "waste_share", "times")
