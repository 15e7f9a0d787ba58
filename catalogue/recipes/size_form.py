"""The page that changes a size: its entries, and what is cut and glued before and after."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from catalogue.calc.recipes import recipe as values
from catalogue.calc.recipes.changes import ChangeWords
from catalogue.calc.recipes.document import Document, WrongRecipe, read_document
from catalogue.calc.sheets.use import PlanSheets
from catalogue.recipes.following import follows_in
from catalogue.recipes.form_sizes import shown_size, size_field
from catalogue.recipes.growing import SizeOffer
from catalogue.recipes.inputs import recipe_document, recipe_values
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.resizing import (
    QUANTITIES,
    MaterialSheets,
    SharedSize,
    SizeChange,
    glue_of,
    resized,
    resized_values,
    shared_sizes,
    sheets_of,
)
from maker.calc.amounts import format_amount
from maker.calc.sums import plain_text
from maker.web.fields import LengthField, OneLineField, WorkshopForm
from maker.workshop.models import Workshop

_LETTER = re.compile(r"\w{1,20}", re.ASCII)
_PLACE = re.compile(r"\d{1,3}", re.ASCII)
_KEY = re.compile(r"\w{1,20}-\d{1,3}", re.ASCII)
_MILLIMETRES = re.compile(r"\d{1,6}(\.\d{1,6})?", re.ASCII)
_PROBLEM = re.compile(r"pieces\[(\d+)\]\.form_inputs\.(\w+)")


def letters_apart(sent: Any) -> list[str]:
    """Return the letters that are asked for piece by piece, as the buttons of the page say."""
    apart = {letter for letter in sent.getlist("apart") if _LETTER.fullmatch(letter)}
    return sorted(apart - {sent.get("together", "")})


def pieces_on_their_own(sent: Any) -> list[int]:
    """Return the places of the pieces that follow no other, as the buttons of the page say."""
    own = {int(place) for place in sent.getlist("own") if _PLACE.fullmatch(place)}
    return sorted(own - {int(p) for p in sent.getlist("follow") if _PLACE.fullmatch(p)})


def with_offer_taken(sent: Any, workshop: Workshop) -> Any:
    """Return what was sent, with the size of an offer in its place: `take` is `H-0=114.3`."""
    key, _, value = sent.get("take", "").partition("=")
    if not _KEY.fullmatch(key) or not _MILLIMETRES.fullmatch(value):
        return sent
    field = LengthField()
    field.use_unit(workshop.unit, workshop.locale)
    sent = sent.copy()
    sent[key] = str(field.prepare_value(Decimal(value)))
    return sent


class SizesForm(WorkshopForm):
    """Every size of the folded pieces once, with the pieces it holds for."""

    finished_size = OneLineField(
        label="Finished size (as printed on tags)", max_length=80, required=False
    )

    def __init__(
        self,
        data: Any = None,
        *,
        document: Document,
        workshop: Workshop,
        apart: list[str],
        own: list[int],
    ) -> None:
        super().__init__(
            data, workshop=workshop, initial={"finished_size": document["finished_size"]}
        )
        self.before = document
        self.follows = follows_in(document, workshop.unit, own)
        self.sizes = shared_sizes(document, apart, self.follows)
        self.own = own
        for size in self.sizes:
            field = size_field(size.asked, workshop)
            field.help_text = ""
            field.required = not (size.asked.is_yes_no or size.asked.choices)
            self.fields[size.key] = field
            self.initial[size.key] = shown_size(size.asked, size.value)
        if self.is_bound:
            # one that was set apart just now was not sent and stays as it is
            kept = {
                name: str(field.prepare_value(self.initial[name]))
                for name, field in self.fields.items()
            }
            self.data = {**kept, **{name: self.data[name] for name in self.data}}
        self.after: Document | None = None
        self.offers: Sequence[SizeOffer] = ()

    def entries(self) -> list[dict[str, Any]]:
        """Return every size, whichever part of the page it stands in."""
        return [self._entry(size) for size in self.sizes]

    def finished(self) -> list[dict[str, Any]]:
        """Return the sizes of what is made, each with its field and the pieces it holds for."""
        return [self._entry(size) for size in self.sizes if size.asked.group == "size"]

    def allowances(self) -> list[dict[str, Any]]:
        """Return tabs, thickness and the like in the same way."""
        return [self._entry(size) for size in self.sizes if size.asked.group != "size"]

    def allowances_are_open(self) -> bool:
        """Whether something is wrong among them, or one was set apart."""
        return any(entry["field"].errors or entry["size"].is_apart for entry in self.allowances())

    def _entry(self, size: SharedSize) -> dict[str, Any]:
        return {
            "size": size,
            "field": self[size.key],
            "pieces": ", ".join(size.pieces),
            "offers": [offer for offer in self.offers if offer.key == size.key],
            "letter": size.asked.name,
        }

    def followers(self) -> list[dict[str, Any]]:
        """Return the pieces that follow another with what follows, and those set apart from it."""
        rows = self.before["pieces"]
        asked = {place for size in self.sizes for place in zip(size.rows, size.names, strict=True)}
        found = []
        for follow in follows_in(self.before, self.workshop.unit):
            is_own = follow.row in self.own
            names = [name for name in follow.names if is_own or (follow.row, name) not in asked]
            if names:
                found.append(
                    {
                        "place": follow.row,
                        "piece": rows[follow.row]["name"],
                        "whole": rows[follow.whole]["name"],
                        "as": follow.companion.name,
                        "letters": ", ".join(names),
                        "is_own": is_own,
                    }
                )
        return found

    def clean(self) -> None:
        """Fold everything anew; what is in the way is told beside the size it is about."""
        if self.errors:
            return
        typed = {
            size.key: plain_text(value)
            for size in self.sizes
            if (value := _number(self.cleaned_data.get(size.key))) is not None
        }
        made = resized(self.before, self.sizes, typed, self.follows, self.workshop.unit)
        made["finished_size"] = self.cleaned_data["finished_size"]
        try:
            self.after = read_document(made, self.workshop.unit)
        except WrongRecipe as wrong:
            for problem in wrong.problems:
                self.add_error(self._entry_of(problem.path), problem.message)

    def _entry_of(self, path: str) -> str | None:
        found = _PROBLEM.fullmatch(path)
        if found is None:
            return None
        for size in self.sizes:
            if (int(found[1]), found[2]) in zip(size.rows, size.names, strict=True):
                return size.key
        return None


def _number(value: Any) -> Decimal | None:
    return None if value in (None, "") else Decimal(value)


@dataclass(frozen=True, slots=True)
class Compared:
    """A line of the answer: what it is about, and its figures before and after."""

    name: str
    changes: tuple[SizeChange, ...]


class BeforeAfter:
    """What is cut and glued before and after; `after` None while a size is in the way."""

    quantities = QUANTITIES

    def __init__(
        self,
        *,
        version: DesignVersion,
        workshop: Workshop,
        after: Document | None,
        plan_sheets: PlanSheets,
    ) -> None:
        self.writing = ChangeWords(workshop.unit, workshop.currency, workshop.locale)
        self.plan_sheets = plan_sheets
        self.reasons: dict[str, None] = {}
        self.documents = (recipe_document(version), after)
        before = recipe_values(version, workshop)
        rows = [piece.pk for piece in version.pieces.all()]
        self.recipes = (before, resized_values(before, after, rows) if after else None)

    def blanks(self) -> list[Compared]:
        """The blank of each folded piece."""
        found = []
        for at, row in enumerate(self.documents[0]["pieces"]):
            if row["shape"] == "form":
                both = [self._blank(recipe.pieces[at]) if recipe else "" for recipe in self.recipes]
                found.append(Compared(row["name"], (SizeChange(*both),)))
        return found

    def _blank(self, piece: values.RecipePiece) -> str:
        size = self.writing.size(piece.width_mm, piece.height_mm)
        return f"{size}, {piece.count} for each" if piece.count > 1 else size

    def glue_line(self) -> SizeChange | None:
        """One line of glue over every glued place of one item; None if nothing is glued."""
        texts = []
        for recipe in self.recipes:
            pieces = recipe.pieces if recipe else ()
            total = sum(piece.count * piece.glue_bead_mm for piece in pieces)
            texts.append(self.writing.length(total) if total else "")
        return SizeChange(*texts) if any(texts) else None

    @cached_property
    def sheets(self) -> list[Compared]:
        """Sheets of each material for the quantities, fewest possible or best found."""

        def sheets(recipe: values.Recipe, quantity: int) -> dict[str, str]:
            found = sheets_of(recipe, quantity, self.plan_sheets)
            if recipe is not self.recipes[0]:
                self.reasons |= {reason: None for one in found for reason in self._reasons(one)}
            return {
                one.material.name: "no sheet" if one.sheets is None else str(one.sheets)
                for one in found
            }

        return self._by_material(sheets)

    def too_large(self) -> list[str]:
        """Say what cannot be cut any more, and of what."""
        return list(self.reasons) if self.sheets else []

    def _reasons(self, one: MaterialSheets) -> list[str]:
        material = one.material
        sheet = self.writing.size(material.width_mm, material.height_mm)
        told = [
            f"{piece.name}, {self.writing.size(piece.width_mm, piece.height_mm)}, is larger than "
            f"a sheet of {material.name}, {sheet}."
            for piece in one.too_large
        ]
        return told if told or one.sheets is not None else [one.reason]

    def glue(self) -> list[Compared]:
        """Glue that is measured on the folded pieces, for the quantities."""

        def glue(recipe: values.Recipe, quantity: int) -> dict[str, str]:
            return {
                name: format_amount(amount, unit, self.writing.locale, self.writing.unit)
                for name, (amount, unit) in glue_of(recipe, quantity).items()
            }

        return self._by_material(glue)

    def _by_material(self, count: Callable[[values.Recipe, int], dict[str, str]]) -> list[Compared]:
        answers = [
            [count(recipe, quantity) if recipe else {} for recipe in self.recipes]
            for quantity in self.quantities
        ]
        names = dict.fromkeys(name for both in answers for found in both for name in found)
        return [
            Compared(
                name,
                tuple(SizeChange(*(found.get(name, "") for found in both)) for both in answers),
            )
            for name in names
        ]
