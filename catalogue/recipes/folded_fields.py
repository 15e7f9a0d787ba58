"""The sizes of a form as entries of another form: asked for, read, and the blank they give."""

from decimal import Decimal
from functools import cached_property
from typing import Any

from catalogue.calc.flat_patterns.pattern import BadSize, Form, UnknownForm
from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.form_blank import FormBlank, Sizes, form_blank, refusal_words
from catalogue.recipes.form_sizes import RULER_INPUT, shown_size, size_field
from maker.calc.sums import plain_text
from maker.web.fields import WorkshopForm

SIZE = "size-"  # what the names of the fields for sizes begin with


class FoldedFields(WorkshopForm):
    """Entries for the sizes of the form chosen, and their blank.

    Which sizes are asked for depends on the form, so their fields are added when it is known.
    The entry that chooses it is called `form`.
    """

    folded: Form | None = None

    def add_sizes(self, form: Form, kept: Sizes) -> None:
        """Ask for the sizes of a form; what is kept of them stands there already."""
        for asked in (*form.inputs, RULER_INPUT):
            self.fields[SIZE + asked.name] = size_field(asked, self.workshop)
            if kept:
                self.initial[SIZE + asked.name] = shown_size(asked, kept.get(asked.name))

    def size_fields(self, group: str = "") -> list[Any]:
        """Return the entries of the form's sizes, of one group if that is said."""
        asked_for = (*self.folded.inputs, RULER_INPUT) if self.folded else ()
        return [self[SIZE + asked.name] for asked in asked_for if asked.group == group or not group]

    def finished_fields(self) -> list[Any]:
        """Return the entries of the finished size, each with its letter in the drawing."""
        return self.size_fields("size")

    def allowance_fields(self) -> list[Any]:
        """Return the entries of tabs, thickness and the like."""
        return self.size_fields("allowance")

    def allowances_are_open(self) -> bool:
        """Whether something is wrong among them."""
        return any(bound.errors for bound in self.allowance_fields())

    def allowance_words(self) -> str:
        """Say in short what differs from what is usual, so that it need not be opened."""
        words = []
        for bound in self.allowance_fields():
            value, field = bound.value(), bound.field
            if value in (None, "") or not field.has_changed(
                field.initial, str(field.prepare_value(value))
            ):
                continue
            shown = (
                dict(field.choices).get(value, value)
                if hasattr(field, "choices")
                else field.prepare_value(value)
            )
            words.append(f"{bound.label.lower()} {shown}")
        return ", ".join(words)

    def read_sizes(self) -> None:
        """Gather the sizes typed; say beside the size in the way why it cannot be folded."""
        sizes = self._sizes_typed()
        self.cleaned_data["form_inputs"] = sizes
        if self.folded and not any(name.startswith(SIZE) for name in self.errors):
            try:
                form_blank(self.folded.name, sizes)
            except BadSize as refused:
                where, message = refusal_words(self.folded.name, sizes, self.workshop.unit, refused)
                self.add_error(SIZE + where if SIZE + where in self.fields else "form", message)

    def _sizes_typed(self) -> dict[str, str]:
        sizes = {}
        for name, field in self.fields.items():
            if name.startswith(SIZE):
                value = self.cleaned_data.get(name)
                value = field.initial if value in (None, "") else value
                if value not in (None, ""):
                    sizes[name.removeprefix(SIZE)] = plain_text(Decimal(value))
        return dict(sorted(sizes.items()))

    @property
    def sizes(self) -> Sizes:
        """The sizes typed so far, or those kept."""
        if not self.is_bound:
            kept: Sizes = self.initial.get("form_inputs", {})
            return kept
        if not hasattr(self, "cleaned_data"):
            self.full_clean()
        typed: Sizes = self.cleaned_data.get("form_inputs", {})
        return typed

    @cached_property
    def blank(self) -> FormBlank | None:
        """The blank of what is typed now; None while a size is missing or in the way."""
        if self.folded is None:
            return None
        try:
            return form_blank(self.folded.name, self.sizes)
        except (BadSize, UnknownForm):
            return None

    @property
    def blank_words(self) -> str:
        """Say the blank as a sentence: `Blank 12 × 12 in, 2 for each; glue line 8 in on each.`"""
        blank = self.blank
        if blank is None:
            return ""
        writing = ChangeWords(self.workshop.unit, self.workshop.currency, self.workshop.locale)
        words = f"Blank {writing.size(blank.width_mm, blank.height_mm)}"
        if blank.count > 1:
            words += f", {blank.count} for each"
        if blank.glue_bead_mm:
            on_each = " on each" if blank.count > 1 else ""
            words += f"; glue line {writing.length(blank.glue_bead_mm)}{on_each}"
        return f"{words}."

    def size_problems(self) -> list[str]:
        """Say what is wrong with the sizes typed so far; what is still empty is not."""
        told = []
        for name, errors in self.errors.items():
            if name == "form" or (name.startswith(SIZE) and self[name].data):
                # a reason of the form itself begins with the letter: “D, the depth, is …”
                letter = f"{name.removeprefix(SIZE)}, "
                label = f"{self[name].label}: "
                told += [
                    text if text.startswith(letter) else label + text for text in map(str, errors)
                ]
        return told
